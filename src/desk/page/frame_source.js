// Frames of one walk, decoded by the program and kept in a small cache: the page never seeks in a
// video itself, so what is shown is exactly the frame asked for.

import {link, picture} from "./api.js";

const KEEP = 48;
const WIDTHS = [480, 640, 960, 1280, 1600, 1920, 2560, 3840];

export class FrameSource {
    constructor(walk) {
        this.walk = walk;
        this.kept = new Map();  // key -> promise of a bitmap, the latest used last
    }

    // The width to ask for where a frame is shown this wide (device px).
    width_for(shown_px) {
        const width = WIDTHS.find((each) => each >= shown_px) ?? this.walk.width_px;
        return Math.min(width, this.walk.width_px);
    }

    url(frame_us, width, more = {}) {
        return link("/api/frame", {walk: this.walk.id, t_us: frame_us,
            width: width < this.walk.width_px ? width : null, ...more});
    }

    has(frame_us, width) {
        return this.kept.get(`${frame_us}/${width}`)?.bitmap ?? null;
    }

    asked(frame_us, width) {
        return this.kept.has(`${frame_us}/${width}`);
    }

    frame(frame_us, width, more = {}) {
        return this.keep(`${frame_us}/${width}`, () => this.url(frame_us, width, more));
    }

    // A part of the frame at its full resolution; the part is in whole frame px.
    part(frame_us, [x, y, w, h]) {
        return this.keep(`${frame_us}/${x},${y},${w},${h}`,
            () => link("/api/frame", {walk: this.walk.id, t_us: frame_us, x, y, w, h}));
    }

    keep(key, url) {
        let promise = this.kept.get(key);
        if (promise) {
            this.kept.delete(key);
        } else {
            promise = picture(url());
            promise.then((bitmap) => (promise.bitmap = bitmap), () => {
                if (this.kept.get(key) === promise)
                    this.kept.delete(key);
            });
            // Bitmaps are left to the collector: one that is closed may still be on the screen.
            while (this.kept.size >= KEEP)
                this.kept.delete(this.kept.keys().next().value);
        }
        this.kept.set(key, promise);
        return promise;
    }
}

const sources = new Map();

export function frame_source(walk) {
    if (!sources.has(walk.id))
        sources.set(walk.id, new FrameSource(walk));
    return sources.get(walk.id);
}

// --- photos ---------------------------------------------------------------------------------------

const photo_bitmaps = new Map();

// At most this wide: more than a screen shows, and every browser takes it as one picture.
const PHOTO_MAX_PX = 4096;

export function photo_url(photo) {
    return photo.width_px > PHOTO_MAX_PX
        ? `${photo.picture}${photo.picture.includes("?") ? "&" : "?"}width=${PHOTO_MAX_PX}`
        : photo.picture;
}

export function photo_bitmap(photo) {
    if (!photo_bitmaps.has(photo.id)) {
        const promise = picture(photo_url(photo));
        promise.then((bitmap) => (promise.bitmap = bitmap), () => photo_bitmaps.delete(photo.id));
        photo_bitmaps.set(photo.id, promise);
    }
    return photo_bitmaps.get(photo.id);
}
