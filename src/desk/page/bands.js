// States as bands and confidence as a line, on a canvas. Each state has its own pattern, so that it
// is told from the others without colour; the legend is drawn by the same code. Patterns grow with the
// letters.

import {h} from "./dom.js";
import {letter_scale} from "./glyphs.js";
import {STATE_WORDS} from "./words.js";

function tile_of(draw, size = 8) {
    const tile = document.createElement("canvas");
    const scale = devicePixelRatio * letter_scale();
    tile.width = tile.height = Math.round(size * scale);
    const context = tile.getContext("2d");
    context.scale(tile.width / size, tile.width / size);
    draw(context, size);
    return tile;
}

export function band_colours() {
    const style = getComputedStyle(document.documentElement);
    return (name) => style.getPropertyValue(`--${name}`).trim();
}

// What fills a state's band: a function of the context, since patterns belong to one.
export function band_fills() {
    const colour = band_colours();
    const lines = (fill, ink, ...strokes) => tile_of((c, n) => {
        c.fillStyle = fill;
        c.fillRect(0, 0, n, n);
        c.strokeStyle = ink;
        c.lineWidth = 1.6;
        c.beginPath();
        for (const [x0, y0, x1, y1] of strokes) {
            c.moveTo(x0, y0);
            c.lineTo(x1, y1);
        }
        c.stroke();
    });
    const dots = (fill, ink) => tile_of((c, n) => {
        c.fillStyle = fill;
        c.fillRect(0, 0, n, n);
        c.fillStyle = ink;
        c.beginPath();
        c.arc(2, 2, 1.1, 0, 7);
        c.arc(6, 6, 1.1, 0, 7);
        c.fill();
    });
    const tiles = [
        null,
        dots(colour("band-away"), colour("band-ink")),
        lines(colour("band-blocked"), colour("band-ink"), [0, 0, 8, 8], [0, 8, 8, 0]),
        lines(colour("band-doubtful"), colour("band-ink"), [-2, 6, 6, -2], [2, 10, 10, 2]),
        lines(colour("band-sure"), colour("band-sure")),
        lines(colour("band-placed"), colour("band-placed-ink"), [0, 6, 8, 6]),
    ];
    return (context, state) => {
        const tile = tiles[state];
        if (!tile)
            return null;
        const pattern = context.createPattern(tile, "repeat");
        pattern.setTransform(new DOMMatrix().scale(1 / devicePixelRatio));
        return pattern;
    };
}

export function fit_canvas(canvas) {
    const [w, hgt] = [canvas.clientWidth, canvas.clientHeight];
    canvas.width = Math.round(w * devicePixelRatio);
    canvas.height = Math.round(hgt * devicePixelRatio);
    const context = canvas.getContext("2d");
    context.setTransform(devicePixelRatio, 0, 0, devicePixelRatio, 0, 0);
    context.clearRect(0, 0, w, hgt);
    return {context, w, h: hgt};
}

// Runs of equal state, each from its first time to the next run's.
export function runs_of(times, states, end) {
    const runs = [];
    for (let i = 0; i < times.length; i++) {
        const last = runs[runs.length - 1];
        if (last && last.state === states[i])
            continue;
        if (last)
            last.to = times[i];
        runs.push({state: states[i], from: times[i], to: end});
    }
    return runs;
}

export function legend(states = [4, 3, 2, 1, 5, 0]) {
    const fills = band_fills();
    const [w, hgt] = [22, 12].map((length) => length * letter_scale());
    return h("ul", {class: "legend", "aria-label": "States"}, states.map((state) => {
        const canvas = h("canvas", {width: w * devicePixelRatio, height: hgt * devicePixelRatio,
            "aria-hidden": "true"});
        const context = canvas.getContext("2d");
        context.scale(devicePixelRatio, devicePixelRatio);
        context.fillStyle = fills(context, state) ?? "transparent";
        context.fillRect(0, 0, w, hgt);
        return h("li", {}, canvas, STATE_WORDS[state]);
    }));
}
