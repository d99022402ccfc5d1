// Playing a walk exact to the frame: the frame shown is always the one whose time has come, taken
// from the program one by one. Where frames do not come fast enough the walk's clock waits for them
// instead of running ahead; at high speeds frames are left out evenly.

import {index_at} from "./geometry.js";

const AT_ONCE = 4;    // requests under way
const AHEAD = 10;     // frames asked for ahead
const SHOWN_HZ = 30;  // pictures a second at most

export class Player {
    // times: of all frames, us; show(index, bitmap) draws; changed() after starting and stopping
    constructor(source, times, {show, changed, width}) {
        Object.assign(this, {source, times, show, changed, width});
        this.index = 0;
        this.speed = 1;
        this.playing = false;
        this.shown = -1;
        this.flying = 0;
    }

    get t_us() {
        return this.playing ? this.clock_us : this.times[this.index];
    }

    close() {
        this.closed = true;
        this.stop();
    }

    async seek(index) {
        this.index = Math.min(Math.max(index, 0), this.times.length - 1);
        if (this.playing)
            this.start_clock();
        const turn = (this.turn = (this.turn ?? 0) + 1);
        const bitmap = await this.source.frame(this.times[this.index], this.width());
        if (turn === this.turn && !this.closed && !this.playing) {
            this.shown = this.index;
            this.show(this.index, bitmap);
        }
    }

    seek_us(t_us) {
        return this.seek(index_at(this.times, t_us));
    }

    start_clock() {
        this.clock_us = this.times[this.index];
        this.last_ms = performance.now();
    }

    set_speed(speed) {
        this.speed = speed;
        this.changed();
    }

    toggle() {
        this.playing ? this.stop() : this.play();
    }

    play() {
        if (this.playing || this.times.length < 2)
            return;
        if (this.index >= this.times.length - 1)
            this.index = 0;
        this.playing = true;
        this.waited_ms = 0;
        this.start_clock();
        this.tick();
        this.changed();
    }

    stop() {
        if (!this.playing)
            return;
        this.playing = false;
        cancelAnimationFrame(this.request);
        this.changed();
    }

    // How many frames one picture stands for at this speed.
    get stride() {
        const rate = (this.times.length - 1) / (this.times.at(-1) - this.times[0]) * 1e6;
        return Math.max(1, Math.round(rate * this.speed / SHOWN_HZ));
    }

    tick() {
        if (!this.playing || this.closed)
            return;
        const now = performance.now();
        const gap_ms = now - this.last_ms;
        this.last_ms = now;
        const {stride} = this;
        const width = this.width();
        let want_us = this.clock_us + gap_ms * 1000 * this.speed;
        let due = index_at(this.times, want_us);
        if (stride > 1) {
            due = Math.max(this.index, due - (due % stride));
        } else if (due > this.index + 1) {
            // the browser was busy for longer than a frame: none is left out for that
            due = this.index + 1;
            want_us = this.times[due];
        }
        this.ask_ahead(due, stride, width);
        const bitmap = this.source.has(this.times[due], width);
        if (bitmap || due === this.shown) {
            this.clock_us = want_us;
            this.index = due;
            if (bitmap && due !== this.shown) {
                this.shown = due;
                this.show(due, bitmap);
            }
        } else {
            // the clock stands until the frame is there
            this.waited_ms += gap_ms;
            this.clock_us = Math.min(want_us, this.times[due]);
        }
        if (this.index >= this.times.length - stride && want_us >= this.times.at(-1)) {
            this.stop();
            return;
        }
        this.request = requestAnimationFrame(() => this.tick());
    }

    ask_ahead(due, stride, width) {
        for (let k = 0; k < AHEAD && this.flying < AT_ONCE; k++) {
            const index = due + k * stride;
            if (index >= this.times.length)
                break;
            const t = this.times[index];
            if (this.source.asked(t, width))
                continue;
            this.flying++;
            this.source.frame(t, width, {play: 1}).catch((error) => {
                this.stop();
                this.failed?.(error);
            }).finally(() => this.flying--);
        }
    }
}
