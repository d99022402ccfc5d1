// Where one is in a stretch: by frame, fixation, sample, and playing it round and round.

import {say} from "./api.js";
import {index_at, nearest_index} from "./geometry.js";

// The sample of a stretch that stands for a frame: the first at or after its time that has gaze,
// within the frame; else the nearest.
export function sample_of_frame({frames, samples: {t_us, gx}}, frame_us) {
    const end = frames[index_at(frames, frame_us) + 1] ?? Infinity;
    const inside = (i) => t_us[i] >= frame_us && t_us[i] < end && gx[i] !== null;
    const best = nearest_index(t_us, frame_us, inside);
    return best >= 0 ? best : Math.max(0, nearest_index(t_us, frame_us));
}

// A part of SettleView (settle.js).
export class SettlePlace {
    get samples() {
        return this.bundle.data.samples;
    }

    get t_us() {
        return this.samples.t_us[this.i];
    }

    sample_of_frame(frame_us) {
        return sample_of_frame(this.bundle.data, frame_us);
    }

    go_sample(i) {
        this.i = Math.min(Math.max(i, 0), this.samples.t_us.length - 1);
        this.show_frame(this.frame_for(this.t_us));
        this.draw();
    }

    frame_for(t_us) {
        const {frames} = this.bundle.data;
        return frames.length ? frames[index_at(frames, t_us)] : t_us;
    }

    step_frame(by) {
        const {frames} = this.bundle.data;
        const next = frames[index_at(frames, this.frame_us) + by];
        if (next === undefined)
            return false;
        this.i = this.sample_of_frame(next);
        this.show_frame(next);
        this.draw();
        return true;
    }

    step_fixation(by) {
        const {fixations} = this.bundle.data;
        if (!fixations.length) {
            say("No fixations are known here; lookfall fixate finds them.");
            return;
        }
        const now = this.t_us;
        const next = by > 0 ? fixations.find((f) => f.from_us > now)
            : fixations.findLast((f) => f.to_us <= now || f.from_us < now - 1);
        if (next)
            this.go_time((next.from_us + next.to_us) / 2);
    }

    go_time(t) {
        this.go_sample(nearest_index(this.samples.t_us, t));
    }

    async show_frame(frame_us) {
        this.frame_us = frame_us;
        const {source, walk} = this.bundle;
        const width = source.width_for(this.frame.shown_px);
        const turn = (this.frame_turn = (this.frame_turn ?? 0) + 1);
        try {
            const bitmap = source.has(frame_us, width) ?? await source.frame(frame_us, width);
            if (turn === this.frame_turn && !this.closed) {
                this.frame.tell("");
                this.frame.show(bitmap, [walk.width_px, walk.height_px]);
            }
        } catch (error) {
            if (turn === this.frame_turn)
                this.frame.tell(error.message);
        }
    }

    sharpen() {
        this.show_frame(this.frame_us);
    }

    play() {
        if (this.playing) {
            this.stop();
            return;
        }
        const {frames} = this.bundle.data;
        const gap = frames.length > 1 ? (frames[frames.length - 1] - frames[0]) / (frames.length - 1)
            : 40000;
        this.playing = setInterval(() => {
            if (!this.step_frame(1)) {
                this.i = this.sample_of_frame(frames[0]);
                this.show_frame(frames[0]);
                this.draw();
            }
        }, Math.max(gap / 1000, 15));
        this.draw_tools();
    }

    stop() {
        clearInterval(this.playing);
        this.playing = null;
        if (this.bundle)
            this.draw_tools();
    }
}
