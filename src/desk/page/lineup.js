// The line-up: what the person looked at, cut from the frame, and beside it the places on the photo
// it may be, cut out at the same scale and turned the same way. Each place is the answer's button.

import {h, key_cap, replace} from "./dom.js";
import {local_affine} from "./geometry.js";
import {letter_scale} from "./glyphs.js";

const TILE = {w: 148, h: 96};  // CSS px at the standard letter size; the style may stretch it
const ACROSS_DEG = 6;          // what a tile shows, side to side

const size_of = (canvas) => [Math.round((canvas.clientWidth || TILE.w) * devicePixelRatio),
    Math.round((canvas.clientHeight || TILE.h) * devicePixelRatio)];

// Where several are drawn all sizes are read first: reading one after another was changed makes the
// browser lay out the page anew.
function fit(canvas, [w, hgt] = size_of(canvas)) {
    if (canvas.width !== w || canvas.height !== hgt)
        [canvas.width, canvas.height] = [w, hgt];
    const context = canvas.getContext("2d");
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.clearRect(0, 0, canvas.width, canvas.height);
    return {context, w: canvas.width, h: canvas.height};
}

// Grows with the letters, as all signs do.
function cross({context, w, h: hgt}) {
    context.setTransform(1, 0, 0, 1, 0, 0);
    const [x, y, r] = [w / 2, hgt / 2, devicePixelRatio * letter_scale()];
    for (const [width, colour] of [[4.5 * r, "rgba(0,0,0,.8)"], [2 * r, "#fff"]]) {
        context.lineWidth = width;
        context.strokeStyle = colour;
        context.beginPath();
        for (const [dx, dy] of [[1, 1], [-1, 1], [1, -1], [-1, -1]]) {
            context.moveTo(x + 5 * r * dx, y + 5 * r * dy);
            context.lineTo(x + 12 * r * dx, y + 12 * r * dy);
        }
        context.stroke();
    }
}

// In the middle of a tile that has no picture.
function write({context, w, h: hgt}, words) {
    const size = 13 * devicePixelRatio * letter_scale();
    context.font = `${size}px system-ui, sans-serif`;
    context.fillStyle = getComputedStyle(context.canvas).color;
    context.textAlign = "center";
    context.textBaseline = "middle";
    // in two lines where one is too long
    const cut = context.measureText(words).width > w * 0.94 ? words.lastIndexOf(" ") : -1;
    const lines = cut < 0 ? [words] : [words.slice(0, cut), words.slice(cut + 1)];
    lines.forEach((line, i) => context.fillText(line, w / 2,
        hgt / 2 + (i - (lines.length - 1) / 2) * 1.3 * size, w * 0.94));
}

const across_px = (walk) => ACROSS_DEG * (walk.degree_px || walk.width_px / 82);

// The part of the frame that the tiles show around the gaze, in whole frame px.
export function lineup_part(walk, gaze) {
    const reach = Math.ceil(across_px(walk) / 2) + 2;
    const x = Math.max(0, Math.floor(gaze[0] - reach));
    const y = Math.max(0, Math.floor(gaze[1] - reach));
    const w = Math.min(walk.width_px, Math.ceil(gaze[0] + reach)) - x;
    const hgt = Math.min(walk.height_px, Math.ceil(gaze[1] + reach)) - y;
    return w >= 16 && hgt >= 16 ? [x, y, w, hgt] : null;
}

export class Lineup {
    // answer(kind, extra) settles; look(k) shows candidate k (0: the guess) on the panes, null: none
    constructor({answer, look, tie, aim}) {
        this.call = {answer, look, tie, aim};
        this.element = h("section", {class: "lineup", "aria-label": "Where did this look fall?"});
        this.tiles = [];
    }

    // guess_words: what the guess says; photos: names by id, where there is more than one to tell apart
    set(stretch, guess_words, photos = new Map()) {
        this.source_canvas = h("canvas");
        const picture = h("figure", {class: "source"}, this.source_canvas,
            h("figcaption", {}, "Looked at"));
        this.tiles = [];
        const candidate = (k, words, key, action) => {
            const canvas = h("canvas");
            this.tiles.push(canvas);
            return h("button", {type: "button", class: "tile", id: `tile-${k}`, onclick: action,
                onmouseenter: () => this.call.look(k), onmouseleave: () => this.call.look(null),
                onfocus: () => this.call.look(k), onblur: () => this.call.look(null)}, canvas,
            h("span", {class: "words"}, words, " ", key_cap(key)));
        };
        const ghost_words = (rival, i) => photos.has(rival.photo)
            ? [`Ghost ${i + 1}`, h("small", {}, ` ${photos.get(rival.photo)}`)] : `Ghost ${i + 1}`;
        const plain = (words, key, action, more, id) => h("button", {type: "button", id,
            class: "plain", onclick: action}, h("span", {}, words, " ", key_cap(key)),
        h("small", {}, more));
        const rivals = stretch.rivals.slice(0, 6);
        this.element.classList.toggle("many", rivals.length > 3);
        replace(this.element, picture,
            h("div", {class: "tiles"},
                candidate(0, guess_words, "Enter", () => this.call.answer("accept")),
                rivals.map((rival, i) => candidate(i + 1, ghost_words(rival, i), String(i + 1),
                    () => this.call.answer("rival", {rival: i})))),
            h("div", {class: "plains"},
                plain("Elsewhere on the photo", "p", this.call.aim, "or click the photo", "say-point"),
                plain("Tie points", "t", this.call.tie, "the engine follows from there", "say-tie"),
                plain("On no photo", "n", () => this.call.answer("away"), "shelf end, floor, people", "say-away"),
                plain("Something in front", "b", () => this.call.answer("blocked"), "a hand, a person", "say-blocked")));
    }

    // The frame's part around the gaze; part: [x, y, w, h] in whole frame px.
    draw_source(bitmap, part, gaze) {
        if (!this.source_canvas?.isConnected)
            return;
        const area = fit(this.source_canvas);
        if (!bitmap || !gaze)
            return;
        const k = this.scale();
        area.context.setTransform(k, 0, 0, k, area.w / 2 - k * gaze[0], area.h / 2 - k * gaze[1]);
        area.context.drawImage(bitmap, part[0] - 0.5, part[1] - 0.5, part[2], part[3]);
        cross(area);
    }

    // Device px per frame px, the same for all: a tile may be narrower than what it is held against.
    scale() {
        return (this.source_canvas.clientWidth || TILE.w) * devicePixelRatio / this.across_px;
    }

    set_scale(walk) {
        this.across_px = across_px(walk);
    }

    // places: for each tile null, {words} where it has nothing to show now, or {point, photo, image}; pose:
    // photo_from_frame near it, or null
    draw_places(places, pose, lens, gaze) {
        const affine = pose && gaze ? local_affine(pose, lens, gaze) : null;
        const k = this.scale();
        const sizes = this.tiles.map(size_of);
        this.tiles.forEach((canvas, i) => {
            const area = fit(canvas, sizes[i]);
            const place = places[i];
            if (place?.words)
                write(area, place.words);
            if (!place?.image)
                return;
            const {photo, point, image} = place;
            let inverse;
            if (affine) {
                const [a, b, c, d] = affine.jacobian;
                inverse = [d / affine.det, -b / affine.det, -c / affine.det, a / affine.det];
            } else {
                const s = this.across_px * 8 / photo.width_px;
                inverse = [s, 0, 0, s];
            }
            const [m0, m2, m1, m3] = inverse.map((value) => value * k);
            area.context.setTransform(m0, m1, m2, m3,
                area.w / 2 - m0 * point[0] - m2 * point[1],
                area.h / 2 - m1 * point[0] - m3 * point[1]);
            area.context.imageSmoothingQuality = "high";
            area.context.drawImage(image, -0.5, -0.5, photo.width_px, photo.height_px);
            cross(area);
        });
    }
}
