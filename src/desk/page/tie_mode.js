// Ties: points of the frame tied to points of the photo, tried by the engine before they are kept.
//
// A tie has two ends, set in turn: the frame's, then the photo's. Ties may be on several frames of
// the stretch. What is tied so far is kept in the browser's session, so that a reload loses nothing.

import {get, post, remove, tell_trouble} from "./api.js";
import {h, key_cap, replace} from "./dom.js";
import {percent} from "./words.js";

const POLL_MS = 150;

const FIXES = ["", "One tie shifts the guess.", "Two fix shift, turn and size.",
    "Three make the shift, turn and size surer.", "Four or more fix the whole pose."];

export class TieMode {
    // host: {stretch, version, photo, frame_us, changed(), keep(job), leave()}
    constructor(host) {
        this.host = host;
        this.key = `lookfall.ties.${host.stretch.id}`;
        const draft = JSON.parse(sessionStorage.getItem(this.key) ?? "null");
        this.ties = draft?.photo === host.photo.id ? draft.ties : [];
        this.open = draft?.photo === host.photo.id ? draft.open : null;
        this.job = null;
        this.result = null;
        this.told = "";
        this.element = h("section", {class: "ties", "aria-label": "Tie points"});
        this.draw();
    }

    keep_draft() {
        if (this.ties.length || this.open)
            sessionStorage.setItem(this.key, JSON.stringify({photo: this.host.photo.id,
                ties: this.ties, open: this.open}));
        else
            sessionStorage.removeItem(this.key);
    }

    changed() {
        this.forget();
        this.keep_draft();
        this.draw();
        this.host.changed();
    }

    set_frame(point) {
        this.open = {t_us: this.host.frame_us(), frame: point};
        this.changed();
    }

    set_photo(point) {
        if (!this.open) {
            this.told = "First the point on the frame, then the same point on the photo.";
            this.draw();
            return;
        }
        this.ties.push({...this.open, photo: point});
        this.open = null;
        this.told = "";
        this.changed();
    }

    take_back() {
        if (this.open)
            this.open = null;
        else
            this.ties.pop();
        this.changed();
    }

    // The frame's signs for one frame, and the photo's.
    frame_signs(frame_us) {
        const signs = this.ties.map((tie, i) => ({...tie, number: i + 1}))
            .filter((tie) => tie.t_us === frame_us)
            .map((tie) => ({point: tie.frame, number: tie.number}));
        if (this.open && this.open.t_us === frame_us)
            signs.push({point: this.open.frame, number: this.ties.length + 1, open: true});
        return signs;
    }

    photo_signs() {
        return this.ties.map((tie, i) => ({point: tie.photo, number: i + 1}));
    }

    forget() {
        clearTimeout(this.timer);
        if (this.job !== null)
            remove(`/api/tie/${this.job}`, undefined, {quiet: true}).catch(() => {});
        this.job = null;
        this.result = null;
        this.running = null;
    }

    close() {
        this.closed = true;
        this.forget();
    }

    async attempt() {
        if (this.result) {
            this.host.keep(this.job);
            return;
        }
        if (!this.ties.length || this.running)
            return;
        const running = this.running = {done: 0, total: 1};
        this.told = "";
        this.draw();
        try {
            const {job} = await post("/api/tie", {stretch: this.host.stretch.id,
                version: this.host.version(), photo: this.host.photo.id, ties: this.ties});
            if (this.running !== running) {  // the ties have changed meanwhile
                remove(`/api/tie/${job}`, undefined, {quiet: true}).catch(() => {});
                return;
            }
            this.job = job;
            this.poll();
        } catch (error) {
            if (this.running !== running)
                return;
            this.running = null;
            this.told = error.message;
            this.draw();
        }
    }

    async poll() {
        const job = this.job;
        let answer;
        try {
            answer = await get(`/api/tie/${job}`, {quiet: true});
        } catch (error) {
            this.running = null;
            tell_trouble("The engine stopped following.", error);
            this.draw();
            return;
        }
        if (this.closed || job !== this.job)
            return;
        if (answer.state === "running") {
            this.running = answer;
            this.timer = setTimeout(() => this.poll(), POLL_MS);
        } else {
            this.running = null;
            this.result = answer.result;
            this.told = answer.error ?? (answer.state === "cancelled" ? "Stopped." : "");
        }
        this.draw();
        this.host.changed();
    }

    // What was kept needs no draft any more.
    kept() {
        sessionStorage.removeItem(this.key);
        this.job = null;
    }

    draw() {
        const {result, running} = this;
        const step = this.open ? "Now the same point on the photo"
            : this.ties.length ? "Another point on the frame, or try it" : "A point on the frame that you recognise on the photo";
        const gain = result ? h("div", {class: "gain"}, h("dl", {}, [
            ["Confidence before", percent(result.confidence_before ?? 0)],
            ["Confidence now", percent(result.confidence ?? 0)],
            ["Sure now", percent(result.sure ?? 0)]].map(([words, value]) =>
            h("div", {}, h("dt", {}, words), h("dd", {}, value)))),
        h("p", {}, "The photo pane and the warp show the new result. Nothing is kept yet.")) : null;
        const holds_focus = this.element.contains(document.activeElement);
        replace(this.element,
            h("div", {class: "now"}, h("h2", {}, result ? "Keep this?" : step),
                gain ?? h("p", {}, `${FIXES[Math.min(this.ties.length, 4)]} Click, or steer with the arrow keys and press `,
                    key_cap(" "), "."),
                this.told ? h("p", {class: "told", role: "alert"}, this.told) : null,
                running ? h("p", {role: "status"}, "The engine follows through the stretch ",
                    h("progress", {max: running.total || 1, value: running.done,
                        "aria-label": "Followed"})) : null),
            h("ol", {class: "pairs"}, this.ties.map((tie, i) => h("li", {},
                `frame ${tie.frame.map(Math.round).join(", ")} to photo ${tie.photo.map(Math.round).join(", ")} `,
                h("button", {type: "button", "aria-label": `Remove tie ${i + 1}`, onclick: () => {
                    this.ties.splice(i, 1);
                    this.changed();
                }}, "×")))),
            h("div", {class: "choices"},
                h("button", {type: "button", class: "main", id: "tie-go", disabled: !this.ties.length || !!running,
                    onclick: () => this.attempt()}, result ? "Keep it " : "Try it ", key_cap("Enter")),
                h("button", {type: "button", disabled: !this.ties.length && !this.open,
                    onclick: () => this.take_back()}, "Take back a point ", key_cap("Backspace")),
                h("button", {type: "button", onclick: () => this.host.leave()}, "Leave ties ",
                    key_cap("Escape"))));
        if (holds_focus)
            document.getElementById("view").focus({preventScroll: true});
    }
}
