// What the whole page knows: the study, how far it is settled, what can be undone. Views are told of
// changes; every few seconds the program is asked whether somebody else changed something.

import {get} from "./api.js";

export const desk = {study: null, progress: null, undo: null, redo: null};

const listeners = new Set();

export function on_change(listener) {
    listeners.add(listener);
    return () => listeners.delete(listener);
}

function tell(elsewhere) {
    for (const listener of listeners)
        listener(elsewhere);
}

export function take_study(study) {
    desk.study = study;
    take(study);
}

// Takes what an answer says about the whole. elsewhere: it was not asked for by this page's person.
export function take(answer, elsewhere = false) {
    if (answer.progress)
        desk.progress = answer.progress;
    if ("undo" in answer)
        desk.undo = answer.undo;
    if ("redo" in answer)
        desk.redo = answer.redo;
    tell(elsewhere);
}

export const walk_of = (id) => desk.study.walks.find((walk) => walk.id === id);
export const photo_of = (id) => desk.study.photos.find((photo) => photo.id === id);
export const reason_words = (id) =>
    desk.study.reasons.find((reason) => reason.id === id)?.words ?? id;

const PULSE_MS = 4000;

export function start_pulse() {
    setInterval(async () => {
        if (document.hidden || !desk.study?.reviewer)
            return;
        try {
            const answer = await get("/api/pulse", {quiet: true});
            if (answer.progress.version !== desk.progress?.version)
                take(answer, true);
        } catch {
            // the next thing the person does will tell them
        }
    }, PULSE_MS);
}
