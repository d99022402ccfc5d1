// The frame: its picture, the photo warped over it, signs on top, and a loupe.
//
// Positions are whole frame px (docs/frames.md); the picture may have been fetched smaller.

import {h, s} from "./dom.js";
import {aim_glyph, crumb_glyph, gaze_glyph, tie_glyph} from "./glyphs.js";
import {draw_mesh} from "./mesh.js";

const LOUPE_TIMES = 2.5;  // as large as the frame is shown, but at least
const LOUPE_LEAST = 3;    // this many screen px per frame px

export class FramePane {
    // on_click([x, y]), and part_of(rect): a promise of the frame's part at full resolution
    constructor({on_click = null, part_of = null, label}) {
        this.picture = h("canvas", {class: "picture"});
        this.cover = h("canvas", {class: "cover"});
        this.signs = s("svg", {class: "signs", "aria-hidden": "true"});
        this.loupe = h("canvas", {class: "loupe", hidden: true});
        this.told = h("p", {class: "over"});
        this.element = h("div", {class: "pane frame", role: "img", "aria-label": label},
            this.picture, this.cover, this.signs, this.loupe, this.told);
        this.part_of = part_of;
        this.bitmap = null;
        this.size = [1, 1];
        this.zoom = 1;
        this.signs_now = {};
        this.warp = null;
        this.loupe_on = false;
        this.pointer = null;
        this.watch = new ResizeObserver(() => this.draw());
        this.watch.observe(this.element);
        if (on_click)
            this.element.onclick = (event) => on_click(this.frame_point(event));
        this.element.onpointermove = (event) => {
            this.pointer = this.frame_point(event);
            this.draw_loupe();
        };
        this.element.onpointerleave = () => {
            this.pointer = null;
            this.draw_loupe();
        };
        this.element.onwheel = (event) => {
            event.preventDefault();
            this.set_zoom(this.zoom * Math.exp(-event.deltaY / 400), this.frame_point(event));
        };
    }

    close() {
        this.watch.disconnect();
    }

    get shown_px() {
        return Math.ceil(this.fitted().scale * this.size[0] * this.zoom * devicePixelRatio);
    }

    // Where the frame lies in the pane: pane = offset + scale * (frame + 0.5).
    fitted() {
        const [w, hgt] = [this.element.clientWidth, this.element.clientHeight];
        const scale = Math.min(w / this.size[0], hgt / this.size[1]) || 1;
        return {scale, w, h: hgt};
    }

    place() {
        const {scale, w, h: hgt} = this.fitted();
        const k = scale * this.zoom;
        const middle = this.zoom > 1 && this.centre ? this.centre
            : [this.size[0] / 2 - 0.5, this.size[1] / 2 - 0.5];
        const clamp = (offset, room, length) =>
            length <= room ? (room - length) / 2 : Math.min(0, Math.max(room - length, offset));
        return {
            k,
            x: clamp(w / 2 - k * (middle[0] + 0.5), w, k * this.size[0]),
            y: clamp(hgt / 2 - k * (middle[1] + 0.5), hgt, k * this.size[1]),
            w, h: hgt,
        };
    }

    pane_point([x, y]) {
        const p = this.place();
        return [p.x + p.k * (x + 0.5), p.y + p.k * (y + 0.5)];
    }

    frame_point(event) {
        const box = this.element.getBoundingClientRect();
        const p = this.place();
        return [(event.clientX - box.left - p.x) / p.k - 0.5,
            (event.clientY - box.top - p.y) / p.k - 0.5];
    }

    inside([x, y]) {
        return x >= -0.5 && y >= -0.5 && x <= this.size[0] - 0.5 && y <= this.size[1] - 0.5;
    }

    set_zoom(zoom, centre) {
        this.zoom = Math.min(Math.max(zoom, 1), 8);
        this.centre = centre ?? this.centre;
        this.draw();
        this.on_zoom?.();
    }

    show(bitmap, size) {
        this.bitmap = bitmap;
        this.size = size;
        this.element.dataset.frameUs = bitmap.frame_us;  // the time the program says it has
        this.draw();
    }

    tell(sentence) {
        this.told.textContent = sentence ?? "";
    }

    // signs: {gaze, crumbs: [[x, y]], aim, ties: [{point, number, open}]}
    set_signs(signs) {
        this.signs_now = signs;
        this.draw_signs();
        this.draw_loupe();
    }

    // warp: null, or {mesh, image, photo_size, shift, strength, difference}
    set_warp(warp) {
        this.warp = warp;
        this.draw_warp();
    }

    fit_canvas(canvas) {
        const {w, h: hgt} = this.fitted();
        const [width, height] = [Math.round(w * devicePixelRatio), Math.round(hgt * devicePixelRatio)];
        if (canvas.width !== width || canvas.height !== height)
            [canvas.width, canvas.height] = [width, height];
        const context = canvas.getContext("2d");
        context.setTransform(1, 0, 0, 1, 0, 0);
        context.clearRect(0, 0, width, height);
        context.setTransform(devicePixelRatio, 0, 0, devicePixelRatio, 0, 0);
        return context;
    }

    draw() {
        const context = this.fit_canvas(this.picture);
        if (this.bitmap) {
            const p = this.place();
            context.imageSmoothingQuality = "high";
            context.drawImage(this.bitmap, p.x, p.y, p.k * this.size[0], p.k * this.size[1]);
        }
        this.draw_warp();
        this.draw_signs();
        this.draw_loupe();
    }

    draw_warp() {
        const context = this.fit_canvas(this.cover);
        const warp = this.warp;
        this.cover.hidden = !warp;
        if (!warp)
            return;
        this.cover.style.opacity = warp.difference ? 1 : warp.strength;
        this.cover.classList.toggle("difference", warp.difference);
        const p = this.place();
        context.beginPath();
        context.rect(p.x, p.y, p.k * this.size[0], p.k * this.size[1]);
        context.clip();
        draw_mesh(context, warp, (point) => [p.x + p.k * (point[0] + 0.5),
            p.y + p.k * (point[1] + 0.5)], devicePixelRatio);
    }

    draw_signs() {
        const {gaze, crumbs = [], ties = [], aim} = this.signs_now;
        const place = (point) => this.pane_point(point);
        this.signs.replaceChildren(...crumbs.map((point) => crumb_glyph(place(point))),
            ...(gaze ? [gaze_glyph(place(gaze))] : []),
            ...ties.map((tie) => tie_glyph(place(tie.point), tie.number, tie.open)),
            ...(aim ? [aim_glyph(place(aim))] : []));
    }

    async draw_loupe() {
        const {gaze, aim} = this.signs_now;
        const centre = this.pointer && this.inside(this.pointer) ? this.pointer : aim ?? gaze;
        this.loupe.hidden = !this.loupe_on || !centre || !this.part_of;
        if (this.loupe.hidden)
            return;
        const loupe_px = this.loupe.offsetWidth;
        const times = Math.max(LOUPE_TIMES * this.place().k, LOUPE_LEAST);
        const reach = loupe_px / times / 2;
        // parts on a coarse grid, so that moving the pointer asks for a new one only now and then
        const grid = 160;
        const w = Math.min(2 * grid, this.size[0]);
        const hgt = Math.min(2 * grid, this.size[1]);
        const snap = (value, length, whole) => Math.min(Math.max(
            Math.round((value - length / 2) / grid) * grid, 0), whole - length);
        const part = [snap(centre[0], w, this.size[0]), snap(centre[1], hgt, this.size[1]), w, hgt];
        const turn = (this.loupe_turn = (this.loupe_turn ?? 0) + 1);
        let bitmap;
        try {
            bitmap = await this.part_of(part);
        } catch {
            return;
        }
        if (turn !== this.loupe_turn || this.loupe.hidden)
            return;
        const size = Math.round(loupe_px * devicePixelRatio);
        if (this.loupe.width !== size)
            this.loupe.width = this.loupe.height = size;
        const [px, py] = this.pane_point(centre);
        const {w: room_w} = this.fitted();
        // beside the point, never over it
        this.loupe.style.left = `${px + loupe_px + 40 < room_w ? px + 34 : px - loupe_px - 34}px`;
        this.loupe.style.top = `${Math.max(4, py - loupe_px / 2)}px`;
        const context = this.loupe.getContext("2d");
        const k = times * devicePixelRatio;
        context.setTransform(1, 0, 0, 1, 0, 0);
        context.fillStyle = "#000";
        context.fillRect(0, 0, size, size);
        context.setTransform(k, 0, 0, k, -k * (centre[0] - reach), -k * (centre[1] - reach));
        context.drawImage(bitmap, part[0] - 0.5, part[1] - 0.5, part[2], part[3]);
        context.setTransform(devicePixelRatio, 0, 0, devicePixelRatio, 0, 0);
        const c = loupe_px / 2;
        for (const [width, colour] of [[3, "#000"], [1, "#fff"]]) {
            context.lineWidth = width;
            context.strokeStyle = colour;
            context.beginPath();
            for (const [x, y] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
                context.moveTo(c + 6 * x, c + 6 * y);
                context.lineTo(c + 16 * x, c + 16 * y);
            }
            context.stroke();
        }
    }
}
