// One place for the keyboard. A view gives a list of commands
//   {keys: ["Enter"], words: "Keep the guess", action: f, group: "Settle", repeat: true, when: f}
// and gets them called; the help lists the same table, so it cannot be out of date. A command with
// `up` is told of the key's release too (marks that are held).
//
// Keys typed into a field are the field's own. Where a control has the focus, the keys by which a
// control is worked (Enter, Space, arrows in lists) stay the control's. Single-letter commands can
// be switched off (WCAG 2.2, 2.1.4): then only combinations with Ctrl and named keys are heard.

import {say} from "./api.js";

let commands = [];
let general = [];
let captures = [];
let opening = false;
const held = new Map();

const SWITCH = "lookfall.single-keys";

export const single_keys = {
    get on() {
        return localStorage.getItem(SWITCH) !== "off";
    },
    set on(value) {
        localStorage.setItem(SWITCH, value ? "on" : "off");
    },
};

// root: the view's own element; a view that was left while it was still opening has no say.
export function set_commands(list, root = null) {
    if (root && !root.isConnected)
        return;
    commands = list;
    captures = [];
}

// While a view is opening its keys have nothing to work on. They are not kept for later, since what
// they would decide about has not been seen yet; but whoever presses one is told.
export function set_opening(on) {
    opening = on;
}

export function set_general(list) {
    general = list;
}

// While a mode is on (aiming, drawing) its commands come first. Returns what ends it.
export function capture(list) {
    captures.unshift(list);
    return () => {
        captures = captures.filter((entry) => entry !== list);
    };
}

export function all_commands() {
    return [...captures.flat(), ...commands, ...general];
}

export function combination_of(event) {
    const named = event.key.length > 1 || event.key === " ";
    let name = event.key;
    // Shift with a letter is the capital letter, so it is named only with named keys.
    if (event.shiftKey && (named || event.ctrlKey))
        name = `Shift+${name.length === 1 ? name.toLowerCase() : name}`;
    if (event.ctrlKey || event.metaKey)
        name = `Ctrl+${name}`;
    if (event.altKey)
        name = `Alt+${name}`;
    return name;
}

function typing(target) {
    return target.closest?.("input:not([type=checkbox]):not([type=radio]):not([type=range]):not([type=color]), textarea, select, [contenteditable]");
}

// Whether the focused control itself needs this key.
function control_needs(target, key) {
    if (!target.closest)
        return false;
    if (target.closest("input[type=range]"))
        return key.startsWith("Arrow") || ["Home", "End", "PageUp", "PageDown"].includes(key);
    if (target.closest("button, a[href], summary, input[type=checkbox], input[type=radio]"))
        return key === "Enter" || key === " ";
    return false;
}

function find(name) {
    for (const command of all_commands())
        if (command.keys.includes(name) && (!command.when || command.when()))
            return command;
    return null;
}

addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.isComposing || document.querySelector("dialog[open]"))
        return;
    const name = combination_of(event);
    if (typing(event.target)) {
        if (name === "Escape")
            event.target.blur();
        return;
    }
    if (control_needs(event.target, event.key))
        return;
    const letter = event.key.length === 1 && event.key !== " " && !event.ctrlKey && !event.metaKey;
    if (letter && !single_keys.on)
        return;
    const command = find(name);
    if (!command) {
        if (opening && (letter || event.key === "Enter") && !event.repeat)
            say("Still opening: that key was not taken. Press it again.");
        return;
    }
    event.preventDefault();
    if (event.repeat && !command.repeat)
        return;
    if (command.up && !held.has(event.code))
        held.set(event.code, command);
    command.action(event);
});

addEventListener("keyup", (event) => {
    const command = held.get(event.code);
    if (!command)
        return;
    held.delete(event.code);
    command.up(event);
});

// A key let go while the window was away is never told of: whatever is held ends.
addEventListener("blur", () => {
    for (const command of held.values())
        command.up(null);
    held.clear();
});
