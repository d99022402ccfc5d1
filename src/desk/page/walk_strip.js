// The whole walk as a strip: confidence over time, states as bands, marks, and where one is. Below it
// the same for the seconds around. A click or drag goes there.

import {band_colours, band_fills, fit_canvas} from "./bands.js";
import {h} from "./dom.js";

export class WalkStrip {
    constructor(label, go_to) {
        this.canvas = h("canvas", {role: "img", "aria-label": label});
        this.element = h("div", {class: "strip"}, this.canvas);
        this.strip = null;
        this.marks = [];
        this.t_us = 0;
        const seek = (event) => {
            const box = this.canvas.getBoundingClientRect();
            const share = Math.min(Math.max((event.clientX - box.left) / box.width, 0), 1);
            go_to(this.from + share * (this.to - this.from));
        };
        this.canvas.onpointerdown = (event) => {
            this.canvas.setPointerCapture(event.pointerId);
            seek(event);
        };
        this.canvas.onpointermove = (event) => {
            if (this.canvas.hasPointerCapture(event.pointerId))
                seek(event);
        };
        this.watch = new ResizeObserver(() => this.redraw());
        this.watch.observe(this.canvas);
        this.ground = document.createElement("canvas");
    }

    close() {
        this.watch.disconnect();
    }

    // strip: as the program gives it; from and to: what is shown of it
    set(strip, from, to) {
        Object.assign(this, {strip, from, to});
        this.redraw();
    }

    set_marks(marks, chosen) {
        Object.assign(this, {marks, chosen});
        this.redraw();
    }

    at(t_us) {
        this.t_us = t_us;
        this.draw_cursor();
    }

    x(t) {
        return this.w * (t - this.from) / (this.to - this.from);
    }

    redraw() {
        if (!this.strip || !this.canvas.clientWidth)
            return;
        const {context: c, w, h: hgt} = fit_canvas(this.canvas);
        this.w = w;
        const colour = band_colours();
        const fills = band_fills();
        const {strip} = this;
        const slice = (strip.to_us - strip.from_us) / strip.bins;
        const mark_room = 13;
        const band = Math.round((hgt - mark_room) * 0.36);
        const foot = hgt - band - 4;
        c.fillStyle = colour("wash");
        c.fillRect(0, mark_room, w, foot - mark_room + 2);
        // bands: the state most samples of a slice have; runs of one state are one rectangle
        const main = strip.states.map((n) => n.some(Boolean) ? n.indexOf(Math.max(...n)) : -1);
        for (let i = 0; i < main.length;) {
            let j = i + 1;
            while (j < main.length && main[j] === main[i])
                j++;
            const pattern = main[i] >= 0 ? fills(c, main[i]) : null;
            if (pattern) {
                c.fillStyle = pattern;
                const x0 = this.x(strip.from_us + i * slice);
                c.fillRect(x0, hgt - band, Math.max(1, this.x(strip.from_us + j * slice) - x0), band);
            }
            i = j;
        }
        const line = (values, style, width) => {
            c.strokeStyle = style;
            c.lineWidth = width;
            c.beginPath();
            let pen = false;
            values.forEach((value, i) => {
                if (value === null) {
                    pen = false;
                    return;
                }
                const x = this.x(strip.from_us + (i + 0.5) * slice);
                const y = foot - value * (foot - mark_room - 2);
                pen ? c.lineTo(x, y) : c.moveTo(x, y);
                pen = true;
            });
            c.stroke();
        };
        line(strip.confidence_low, colour("line"), 1);
        line(strip.confidence, colour("ink"), 1.5);
        for (const mark of this.marks) {
            const x0 = this.x(mark.from_us);
            const x1 = mark.to_us === null ? x0 : this.x(mark.to_us);
            if (x1 < -8 || x0 > w + 8)
                continue;
            c.fillStyle = mark.id === this.chosen ? colour("accent") : colour("mark");
            c.beginPath();
            if (mark.to_us === null) {
                c.moveTo(x0 - 5, 1);
                c.lineTo(x0 + 5, 1);
                c.lineTo(x0, 11);
            } else {
                c.rect(x0, 3, Math.max(3, x1 - x0), 7);
            }
            c.fill();
        }
        this.ground.width = this.canvas.width;
        this.ground.height = this.canvas.height;
        this.ground.getContext("2d").drawImage(this.canvas, 0, 0);
        this.draw_cursor();
    }

    draw_cursor() {
        if (!this.strip || !this.w)
            return;
        const c = this.canvas.getContext("2d");
        c.setTransform(1, 0, 0, 1, 0, 0);
        c.clearRect(0, 0, this.canvas.width, this.canvas.height);
        c.drawImage(this.ground, 0, 0);
        c.setTransform(devicePixelRatio, 0, 0, devicePixelRatio, 0, 0);
        const colour = band_colours();
        const x = Math.min(Math.max(this.x(this.t_us), 1.5), this.w - 1.5);
        for (const [width, style] of [[5, colour("paper")], [2, colour("ink")]]) {
            c.strokeStyle = style;
            c.lineWidth = width;
            c.beginPath();
            c.moveTo(x, 0);
            c.lineTo(x, this.canvas.clientHeight);
            c.stroke();
        }
    }
}
