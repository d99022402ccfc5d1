// A walk's samples, poses and fixations, fetched in pieces as they come near.

import {get, link} from "./api.js";
import {index_at, nearest_index} from "./geometry.js";

const PIECE_US = 20e6;

export class WalkData {
    constructor(walk, arrived) {
        this.walk = walk;
        this.arrived = arrived;
        this.pieces = new Map();
    }

    piece(number) {
        let piece = this.pieces.get(number);
        if (!piece) {
            piece = {data: null};
            this.pieces.set(number, piece);
            if (this.pieces.size > 12)
                this.pieces.delete(this.pieces.keys().next().value);
            get(link("/api/around", {walk: this.walk.id, from_us: Math.round(number * PIECE_US),
                to_us: Math.round((number + 1) * PIECE_US)}), {quiet: true}).then((data) => {
                piece.data = data;
                this.arrived(number);
            }, (error) => {
                this.pieces.delete(number);
                this.failed?.(error);
            });
        }
        return piece.data;
    }

    at(t_us) {
        const number = Math.floor(Math.max(t_us, 0) / PIECE_US);
        const data = this.piece(number);
        if (t_us - number * PIECE_US > PIECE_US * 0.6)
            this.piece(number + 1);
        return data;
    }

    forget() {
        this.pieces.clear();
    }

    // The sample that stands for the frame from frame_us to end_us, and those around it.
    look(frame_us, end_us) {
        const data = this.at(frame_us);
        if (!data || !data.samples.t_us.length)
            return null;
        const {samples} = data;
        const first = index_at(samples.t_us, frame_us);
        const near = [];
        for (let i = first; i < samples.t_us.length && samples.t_us[i] < end_us; i++)
            if (samples.t_us[i] >= frame_us)
                near.push(i);
        const best = near.find((i) => samples.gx[i] !== null) ?? near[0] ??
            nearest_index(samples.t_us, frame_us);
        return {samples, i: best, near, data};
    }
}
