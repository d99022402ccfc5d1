// Requests to the program, as docs/desk.md tells them.
//
// Every change is sent at once and answered when it is on disk; nothing of value is kept in the page
// alone. A change that could not be sent is never dropped quietly: it stays on the screen with its
// reason and a button that tries again, and the browser asks before such a page is closed.

import {h, replace} from "./dom.js";

export class Refusal extends Error {
    constructor(status, code, sentence) {
        super(sentence);
        this.status = status;
        this.code = code;
    }
}

let waiting = 0;   // requests a person waits for
let changing = 0;  // of these, changes
let life_timer = 0;

// After 100 ms a line runs along the top for as long as somebody waits.
function wait(by) {
    waiting += by;
    if (waiting > 0 && !life_timer) {
        life_timer = setTimeout(() => document.documentElement.classList.add("working"), 100);
    } else if (waiting === 0) {
        clearTimeout(life_timer);
        life_timer = 0;
        document.documentElement.classList.remove("working");
    }
}

async function answer_of(response) {
    if (response.ok)
        return response.status === 204 ? null : response.json();
    let told = {};
    try {
        told = await response.json();
    } catch {
        // an answer without JSON: the status has to do
    }
    throw new Refusal(response.status, told.code ?? "failed",
        told.error ?? `The program answered ${response.status}.`);
}

// A change sent while the page is being left goes on without it.
let leaving = false;
addEventListener("pagehide", () => (leaving = true), {capture: true});
addEventListener("pageshow", () => (leaving = false));

async function ask(method, path, body, {quiet = false, signal = undefined} = {}) {
    const options = {method, signal, cache: "no-store", credentials: "same-origin", keepalive: leaving};
    if (body !== undefined) {
        options.body = JSON.stringify(body);
        options.headers = {"Content-Type": "application/json"};
    }
    if (!quiet)
        wait(1);
    if (method !== "GET")
        changing++;
    try {
        let response;
        try {
            response = await fetch(path, options);
        } catch (error) {
            if (error.name === "AbortError")
                throw error;
            throw new Refusal(0, "unreachable",
                "The program does not answer. Is `lookfall desk` still running?");
        }
        return await answer_of(response);
    } finally {
        if (!quiet)
            wait(-1);
        if (method !== "GET")
            changing--;
    }
}

export const get = (path, options) => ask("GET", path, undefined, options);
export const post = (path, body = {}, options) => ask("POST", path, body, options);
export const put = (path, body, options) => ask("PUT", path, body, options);
export const remove = (path, body, options) => ask("DELETE", path, body, options);

// A link with parameters; those without a value are left out.
export function link(path, parameters) {
    const pairs = Object.entries(parameters)
        .filter(([, value]) => value !== null && value !== undefined && value !== "");
    return pairs.length ? `${path}?${new URLSearchParams(pairs)}` : path;
}

// A picture, decoded off the page's own thread. Fails like the others.
export async function picture(path, {quiet = true, signal = undefined} = {}) {
    if (!quiet)
        wait(1);
    try {
        let response;
        try {
            response = await fetch(path, {signal, credentials: "same-origin"});
        } catch (error) {
            if (error.name === "AbortError")
                throw error;
            throw new Refusal(0, "unreachable",
                "The program does not answer. Is `lookfall desk` still running?");
        }
        if (!response.ok)
            await answer_of(response);
        const bitmap = await createImageBitmap(await response.blob());
        const own = response.headers.get("Lookfall-Frame-Us");
        bitmap.frame_us = own === null ? null : Number(own);
        return bitmap;
    } finally {
        if (!quiet)
            wait(-1);
    }
}

// --- what is told to the person ------------------------------------------------------------------

let say_timer = 0;

// A sentence at the foot of the page; undo: what takes it back, as a button.
export function say(sentence, undo = null) {
    const place = document.getElementById("says");
    replace(place, h("p", {}, sentence,
        undo ? h("button", {type: "button", onclick: undo.action}, undo.words) : null));
    place.classList.add("shown");
    clearTimeout(say_timer);
    say_timer = setTimeout(() => place.classList.remove("shown"), 8000);
}

// What was said of a view that is left: its button would act on what nobody sees any more.
export function say_nothing() {
    document.getElementById("says").classList.remove("shown");
}

const unsent = new Map();
let troubles = 0;

function show_trouble() {
    const place = document.getElementById("trouble");
    replace(place, [...unsent.entries()].map(([id, entry]) => h("p", {},
        h("strong", {}, entry.what), " ", entry.sentence, " ",
        entry.again ? h("button", {type: "button", onclick: () => {
            unsent.delete(id);
            show_trouble();
            entry.again();
        }}, "Try again") : null,
        h("button", {type: "button", onclick: () => {
            unsent.delete(id);
            show_trouble();
        }}, entry.again ? "Leave it" : "Close"))));
    place.classList.toggle("shown", unsent.size > 0);
}

// Something went wrong. again: what to do to try once more; an entry with it holds the page, and
// none of them pushes another one off the screen.
export function tell_trouble(what, error, again = null) {
    if (error.name === "AbortError")
        return;
    if (!(error instanceof Refusal))
        console.error(error);
    unsent.set(again ? ++troubles : `${what}${error.message}`, {what, sentence: error.message, again});
    show_trouble();
}

export function clear_trouble() {
    for (const [id, entry] of unsent)
        if (!entry.again)
            unsent.delete(id);
    show_trouble();
}

addEventListener("beforeunload", (event) => {
    if (changing > 0 || [...unsent.values()].some((entry) => entry.again))
        event.preventDefault();
});
