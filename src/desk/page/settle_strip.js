// The stretch in time: states, confidence, fixations, and where one is. A click goes there.

import {band_colours, band_fills, fit_canvas, runs_of} from "./bands.js";
import {h} from "./dom.js";

export class SettleStrip {
    constructor(go_to) {
        this.canvas = h("canvas", {role: "img"});
        this.element = h("div", {class: "strip"}, this.canvas);
        this.data = null;
        this.t_us = 0;
        const seek = (event) => {
            const box = this.canvas.getBoundingClientRect();
            const share = (event.clientX - box.left) / box.width;
            go_to(this.from + Math.min(Math.max(share, 0), 1) * (this.to - this.from));
        };
        this.canvas.onpointerdown = (event) => {
            this.canvas.setPointerCapture(event.pointerId);
            seek(event);
        };
        this.canvas.onpointermove = (event) => {
            if (this.canvas.hasPointerCapture(event.pointerId))
                seek(event);
        };
        this.watch = new ResizeObserver(() => this.draw());
        this.watch.observe(this.canvas);
    }

    close() {
        this.watch.disconnect();
    }

    set(data, interval_us) {
        this.data = data;
        this.from = data.from_us;
        this.to = Math.max(data.to_us, data.from_us + interval_us);
        this.canvas.setAttribute("aria-label",
            "States and confidence over the stretch, left to right");
        this.draw();
    }

    at(t_us, scope_from, scope_to) {
        Object.assign(this, {t_us, scope_from, scope_to});
        this.draw();
    }

    draw() {
        const {data} = this;
        if (!data || !this.canvas.clientWidth)
            return;
        const {context: c, w, h: hgt} = fit_canvas(this.canvas);
        const colour = band_colours();
        const fill = band_fills();
        const x = (t) => w * (t - this.from) / (this.to - this.from);
        const {samples} = data;
        const band = hgt * 0.42;
        const top = 7;
        // confidence above, states below
        const line_top = top + 2;
        const line_foot = hgt - band - 6;
        c.fillStyle = colour("wash");
        c.fillRect(0, top, w, line_foot - top + 2);
        if (this.scope_to > this.scope_from) {
            c.fillStyle = colour("scope");
            c.fillRect(x(this.scope_from), top, Math.max(2, x(this.scope_to) - x(this.scope_from)),
                hgt - top);
        }
        for (const run of runs_of(samples.t_us, samples.state, this.to)) {
            const pattern = fill(c, run.state);
            if (!pattern)
                continue;
            c.fillStyle = pattern;
            c.fillRect(x(run.from), hgt - band, Math.max(1, x(run.to) - x(run.from)), band);
        }
        c.strokeStyle = colour("ink");
        c.lineWidth = 1.5;
        c.beginPath();
        let pen = false;
        samples.t_us.forEach((t, i) => {
            const value = samples.confidence[i];
            if (value === null) {
                pen = false;
                return;
            }
            const y = line_foot - value * (line_foot - line_top);
            pen ? c.lineTo(x(t), y) : c.moveTo(x(t), y);
            pen = true;
        });
        c.stroke();
        // fixations as brackets along the top
        c.strokeStyle = colour("accent");
        c.lineWidth = 2;
        c.beginPath();
        for (const fixation of data.fixations) {
            const [a, b] = [Math.max(1, x(fixation.from_us)), Math.min(w - 1, x(fixation.to_us))];
            c.moveTo(a, 7);
            c.lineTo(a, 2);
            c.lineTo(b, 2);
            c.lineTo(b, 7);
        }
        c.stroke();
        const here = Math.min(Math.max(x(this.t_us), 1.5), w - 1.5);
        c.strokeStyle = colour("paper");
        c.lineWidth = 5;
        c.beginPath();
        c.moveTo(here, 0);
        c.lineTo(here, hgt);
        c.stroke();
        c.strokeStyle = colour("ink");
        c.lineWidth = 2;
        c.stroke();
    }
}
