// Stretches with what is needed to show them, fetched before they are asked for.

import {get} from "./api.js";
import {with_filters} from "./filters.js";
import {frame_source, photo_bitmap} from "./frame_source.js";
import {index_at} from "./geometry.js";
import {lineup_part} from "./lineup.js";
import {sample_of_frame} from "./settle_place.js";
import {desk, walk_of} from "./state.js";

const AHEAD = 2;

export class StretchLoader {
    constructor(filters) {
        this.filters = filters;
        this.waiting = new Map();  // id -> promise of a bundle
        this.shown_px = 960;       // how wide frames are shown
    }

    async fetch(id, quiet) {
        const data = await get(with_filters(`/api/stretch/${id}`, this.filters), {quiet});
        const walk = walk_of(data.walk);
        const source = frame_source(walk);
        const width = source.width_for(this.shown_px);
        const show_us = data.frames.length
            ? data.frames[index_at(data.frames, data.show_us)] : data.show_us;
        const {gx, gy} = data.samples;
        const i = sample_of_frame(data, show_us);
        const part = gx[i] === null ? null : lineup_part(walk, [gx[i], gy[i]]);
        // what was looked at is fetched with the frame; where that fails its tile stays empty
        const [bitmap] = await Promise.all([source.frame(show_us, width),
            part && source.part(show_us, part).catch(() => null)]);
        return {data, walk, source, width, show_us, bitmap};
    }

    // A bundle: fetched now, or earlier.
    load(id) {
        const early = this.waiting.get(id);
        this.waiting.delete(id);
        return early ?? this.fetch(id, false);
    }

    ahead(rows) {
        for (const row of rows.slice(0, AHEAD)) {
            if (this.waiting.has(row.id))
                continue;
            const promise = this.fetch(row.id, true);
            promise.catch(() => this.waiting.delete(row.id));
            this.waiting.set(row.id, promise);
        }
        for (const id of this.waiting.keys())
            if (!rows.some((row) => row.id === id))
                this.waiting.delete(id);
    }

    // After an undo, or when somebody else decided, what was fetched early may be out of date.
    forget() {
        this.waiting.clear();
    }

    async neighbour(id, before) {
        const {rows} = await get(with_filters(`/api/stretch/${id}/after`,
            {...this.filters, count: 1, before: before ? 1 : null}));
        return rows[0]?.id ?? null;
    }
}

export function warm_photos() {
    for (const photo of desk.study.photos.slice(0, 4))
        photo_bitmap(photo).catch(() => {});
}

