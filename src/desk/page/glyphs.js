// The signs drawn on frames and photos. Each is told apart by its form, not by its colour, and has
// a dark edge around a light line, so that it shows on any picture. Sizes are CSS px where a letter is 16 px
// high, and grow with the letters.

import {s} from "./dom.js";

function twice(shape) {
    return [shape("edge"), shape("line")];
}

const diamond = (r) => `M0 ${-r} ${r} 0 0 ${r} ${-r} 0Z`;

let letter = {at: -1, scale: 1};

// The letter size changes with the window alone; it is read anew at most once a second.
export function letter_scale() {
    const now = performance.now();
    if (letter.at < 0 || now - letter.at > 1000)
        letter = {at: now, scale: parseFloat(getComputedStyle(document.documentElement).fontSize) / 16};
    return letter.scale;
}

function at([x, y], name, ...parts) {
    return s("g", {class: `glyph ${name}`, transform:
        `translate(${x.toFixed(2)} ${y.toFixed(2)}) scale(${letter_scale().toFixed(3)})`}, ...parts);
}

// Where the person looks, on the frame: a ring of four arcs around the open point.
export function gaze_glyph(point) {
    return at(point, "gaze", twice((c) => s("path", {class: c,
        d: "M-9 -4A10 10 0 0 1 -4 -9M4 -9A10 10 0 0 1 9 -4M9 4A10 10 0 0 1 4 9M-4 9A10 10 0 0 1 -9 4"})),
    twice((c) => s("circle", {class: c, r: 1.2})));
}

export function crumb_glyph(point) {
    return at(point, "crumb", twice((c) => s("circle", {class: c, r: 1.6})));
}

// Where the engine casts it, on the photo.
export function guess_glyph(point) {
    return at(point, "guess", twice((c) => s("path", {class: c, d: diamond(8)})),
        s("circle", {class: "dot", r: 1.5}));
}

// Another place that looks alike: a broken outline with its number.
export function ghost_glyph(point, number, chosen) {
    return at(point, chosen ? "ghost chosen" : "ghost",
        twice((c) => s("path", {class: c, d: diamond(8)})),
        s("rect", {class: "plate", x: 8, y: -17, width: 14, height: 15, rx: 3}),
        s("text", {x: 15, y: -5}, number));
}

// Where a person put it.
export function placed_glyph(point) {
    return at(point, "placed", twice((c) => s("path", {class: c, d: diamond(9)})),
        s("path", {class: "tick", d: "M-3.5 0 -1 2.8 4 -2.6"}));
}

// The mark that is steered by the arrow keys.
export function aim_glyph(point) {
    return at(point, "aim", twice((c) => s("path", {class: c,
        d: "M-22 0H-5M5 0H22M0 -22V-5M0 5V22"})), twice((c) => s("rect",
        {class: c, x: -5, y: -5, width: 10, height: 10})));
}

// One end of a tie, numbered.
export function tie_glyph(point, number, open) {
    return at(point, open ? "tie open" : "tie", twice((c) => s("path", {class: c,
        d: "M-5 -5 5 5M5 -5-5 5"})),
    s("circle", {class: "plate", cx: 13, cy: -13, r: 8.5}), s("text", {x: 13, y: -9}, number));
}

export function outline(points, name) {
    const d = `M${points.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L")}Z`;
    return s("g", {class: name}, twice((c) => s("path", {class: c, d})));
}

export function trail(points, name) {
    if (points.length < 2)
        return null;
    const d = `M${points.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L")}`;
    return s("g", {class: name}, twice((c) => s("path", {class: c, d})));
}
