// One walk: frames with gaze, the photo beside it in step, the strip below, marks.

import {get, link, tell_trouble} from "./api.js";
import {legend} from "./bands.js";
import {h, key_cap, replace} from "./dom.js";
import {FramePane} from "./frame_pane.js";
import {frame_source, photo_bitmap} from "./frame_source.js";
import {ellipse_outline} from "./geometry.js";
import {set_commands} from "./keys.js";
import {PhotoPane} from "./photo_pane.js";
import {Player} from "./player.js";
import {desk, photo_of, walk_of} from "./state.js";
import {WalkData} from "./walk_data.js";
import {WalkMarks} from "./walk_marks.js";
import {WalkStrip} from "./walk_strip.js";
import {STATE_WORDS, clock, percent} from "./words.js";

const SPEEDS = [0.1, 0.25, 0.5, 1, 2, 4, 8, 16];
const NEAR_US = 5e6;    // the lower strip shows this much to each side
const TAIL_US = 800000; // how much of the path stays on the photo

export async function open(root, id, query) {
    const walk = walk_of(id);
    if (!walk)
        throw new Error("The study has no such walk.");
    const {first_us, step_us} = await get(`/api/walk/${id}/frames`);
    let t = first_us;
    const times = [first_us, ...step_us.map((step) => (t += step))];
    const view = new WalkView(root, walk, times);
    await view.begin(Number(query.get("t") ?? times[0]));
    return view;
}

class WalkView {
    constructor(root, walk, times) {
        Object.assign(this, {root, walk, times});
        this.source = frame_source(walk);
        this.warp_on = false;
        this.frame = new FramePane({label: `Frames of ${walk.name} with gaze`,
            part_of: (part) => this.source.part(this.times[this.player.index], part)});
        this.photo = new PhotoPane({label: "The photo, the cast point in step"});
        this.data = new WalkData(walk, () => this.draw());
        this.data.failed = (error) => tell_trouble("The gaze cannot be shown.", error);
        this.player = new Player(this.source, times, {
            show: (index, bitmap) => this.show(index, bitmap), changed: () => this.draw_tools(),
            width: () => this.source.width_for(this.frame.shown_px)});
        this.player.failed = (error) => tell_trouble("The walk stopped playing.", error);
        this.frame.on_zoom = () => this.seek(this.player.index);
        this.whole = new WalkStrip("The whole walk: confidence and states", (t) => this.seek_us(t));
        this.near = new WalkStrip("The seconds around", (t) => this.seek_us(t));
        this.marks = new WalkMarks(walk, {t_us: () => this.times[this.player.index],
            go_to: (t) => this.seek_us(t), changed: () => this.show_marks(),
            frame_end: () => this.times[this.player.index + 1] ?? this.walk.end_us});
        this.tools = h("div", {class: "tools", role: "group", "aria-label": "Playing"});
        this.words = h("p", {class: "strip-words"});
        this.head = h("section", {class: "head"}, h("h1", {}, walk.name),
            h("p", {class: "quiet"}, [walk.participant, walk.group,
                clock(walk.end_us, 0), `${walk.frames.toLocaleString("en")} frames`].filter(Boolean).join(" · ")));
        replace(root, h("div", {class: "walk"}, this.head,
            h("div", {class: "panes"}, this.frame.element, this.photo.element), this.tools,
            h("div", {class: "time"}, this.whole.element, this.near.element, this.words, legend([4, 5, 3, 2, 1])),
            this.marks.element));
        this.photo.start();
        this.set_keys();
        for (const photo of desk.study.photos.slice(0, 4))
            photo_bitmap(photo).catch(() => {});
    }

    async begin(t_us) {
        this.draw_tools();
        await Promise.all([this.load_strip(), this.marks.load(), this.seek_us(t_us)]);
    }

    close() {
        this.closed = true;
        this.marks.close();
        this.player.close();
        this.frame.close();
        this.photo.close();
        this.whole.close();
        this.near.close();
    }

    // Slices too short to have a sample each would show as gaps.
    bins(span_us, most) {
        return Math.max(1, Math.min(most, Math.floor(span_us / (2 * this.walk.interval_us))));
    }

    async load_strip() {
        const from = this.times[0];
        const end = Math.max(this.walk.end_us, this.times.at(-1) + 1);
        const strip = await get(link(`/api/walk/${this.walk.id}/strip`, {from_us: from,
            to_us: end, bins: this.bins(end - from, 1600)}));
        if (!this.closed)
            this.whole.set(strip, strip.from_us, strip.to_us);
        this.near_from = null;
        this.load_near();
    }

    // The strip of the seconds around follows in steps, so that it is not asked for at each frame.
    async load_near() {
        const t = this.times[this.player.index];
        if (this.near_from !== null && this.near_from !== undefined &&
            t > this.near_from + NEAR_US * 0.5 && t < this.near_from + NEAR_US * 1.5)
            return;
        const from = Math.max(this.times[0], Math.round(t - NEAR_US));
        if (from === this.near_from)
            return;
        this.near_from = from;
        try {
            const strip = await get(link(`/api/walk/${this.walk.id}/strip`, {from_us: from,
                to_us: from + 2 * NEAR_US, bins: this.bins(2 * NEAR_US, 800)}), {quiet: true});
            if (!this.closed && from === this.near_from)
                this.near.set(strip, from, from + 2 * NEAR_US);
        } catch {
            this.near_from = null;
        }
    }

    change(elsewhere) {
        if (elsewhere) {
            this.data.forget();
            this.load_strip().catch(() => {});
            this.draw();
        }
    }

    show_marks() {
        this.whole.set_marks(this.marks.rows, this.marks.chosen);
        this.near.set_marks(this.marks.rows, this.marks.chosen);
        this.set_keys();
    }

    async seek(index) {
        try {
            const seen = this.player.seek(index);
            this.draw();
            await seen;
        } catch (error) {
            if (!this.closed)
                this.frame.tell(error.message);
        }
    }

    seek_us(t_us) {
        let index = 0;
        let high = this.times.length;
        while (index < high) {
            const middle = (index + high) >> 1;
            this.times[middle] <= t_us ? (index = middle + 1) : (high = middle);
        }
        return this.seek(index - 1);
    }

    show(_index, bitmap) {
        this.frame.show(bitmap, [this.walk.width_px, this.walk.height_px]);
        this.draw();
    }

    draw() {
        if (this.closed)
            return;
        const {index} = this.player;
        const frame_us = this.times[index];
        const end_us = this.times[index + 1] ?? this.walk.end_us;
        this.whole.at(frame_us);
        this.near.at(frame_us);
        this.load_near();
        this.remember();
        const look = this.data.look(frame_us, end_us);
        if (!look) {
            this.frame.set_signs({});
            replace(this.words, h("strong", {}, clock(frame_us)), ` · frame ${index + 1}`);
            return;
        }
        const {samples, i, near} = look;
        const gaze_of = (k) => samples.gx[k] === null ? null : [samples.gx[k], samples.gy[k]];
        this.frame.set_signs({gaze: gaze_of(i),
            crumbs: near.filter((k) => k !== i && gaze_of(k)).map(gaze_of)});
        const photo = photo_of(samples.photo[i] ?? this.photo.photo?.id ?? desk.study.photos[0]?.id);
        if (photo) {
            this.photo.show(photo);
            this.draw_photo(photo, samples, i);
            this.draw_warp(photo, frame_us);
        }
        replace(this.words, h("strong", {}, clock(frame_us)),
            ` · frame ${(index + 1).toLocaleString("en")} · ${STATE_WORDS[samples.state[i]] ?? "not cast"}`,
            samples.confidence[i] === null ? "" : ` · confidence ${percent(samples.confidence[i])}`);
    }

    draw_photo(photo, samples, i) {
        const on = (k) => samples.photo[k] === photo.id && samples.x[k] !== null;
        const point = on(i) ? [samples.x[i], samples.y[i]] : null;
        const tail = [];
        for (let k = i; k >= 0 && samples.t_us[k] > samples.t_us[i] - TAIL_US; k--)
            if (on(k))
                tail.unshift([samples.x[k], samples.y[k]]);
        const placed = samples.placement[i] > 0;
        const cov = samples.cov[i];
        if (point)
            this.photo.keep_in_view(point);
        this.photo.set_signs({guess: placed ? null : point, placed: placed ? point : null, tail,
            ellipse: point && cov && !placed ? ellipse_outline(point, cov) : null});
        this.photo.tell(point ? "" : STATE_WORDS[samples.state[i]] ?? "");
    }

    async draw_warp(photo, frame_us) {
        if (!this.warp_on || this.player.playing) {
            this.frame.set_warp(null);
            return;
        }
        const turn = (this.warp_turn = (this.warp_turn ?? 0) + 1);
        try {
            const [mesh, image] = await Promise.all([get(link("/api/warp", {walk: this.walk.id,
                t_us: frame_us, photo: photo.id}), {quiet: true}), photo_bitmap(photo)]);
            if (turn === this.warp_turn && !this.closed)
                this.frame.set_warp({mesh, image, photo_size: [photo.width_px, photo.height_px],
                    strength: 0.6, difference: false});
        } catch {
            this.frame.set_warp(null);
        }
    }

    // The address keeps up, so that a reload comes back here; not at each frame while it plays.
    remember() {
        clearTimeout(this.remember_timer);
        this.remember_timer = setTimeout(() => {
            if (!this.closed)
                history.replaceState(null, "",
                    `#/walk/${this.walk.id}?t=${this.times[this.player.index]}`);
        }, 400);
    }

    draw_tools() {
        const {player} = this;
        const speed = SPEEDS.indexOf(player.speed);
        const button = (words, key, action, more = {}) => h("button", {type: "button",
            onclick: action, ...more}, words, words ? " " : null, key_cap(key));
        const held = this.tools.contains(document.activeElement) ? document.activeElement.id : null;
        replace(this.tools,
            h("div", {class: "group"},
                button("", "ArrowLeft", () => this.seek(player.index - 1), {"aria-label": "Frame before"}),
                button(player.playing ? "Stop" : "Play", " ", () => player.toggle(), {id: "play",
                    "aria-pressed": String(player.playing)}),
                button("", "ArrowRight", () => this.seek(player.index + 1), {"aria-label": "Next frame"})),
            h("div", {class: "group"},
                button("Slower", "ArrowDown", () => this.faster(-1), {disabled: speed <= 0}),
                h("output", {class: "speed", "aria-label": "Speed"}, `${player.speed} ×`),
                button("Faster", "ArrowUp", () => this.faster(1), {disabled: speed >= SPEEDS.length - 1})),
            h("div", {class: "group"},
                button("Warp", "/", () => this.toggle_warp(), {"aria-pressed": String(this.warp_on)}),
                button("Loupe", "*", () => this.toggle_loupe(),
                    {"aria-pressed": String(this.frame.loupe_on)})));
        if (held)
            document.getElementById(held)?.focus();
    }

    faster(by) {
        const now = SPEEDS.indexOf(this.player.speed);
        this.player.set_speed(SPEEDS[Math.min(Math.max(now + by, 0), SPEEDS.length - 1)]);
    }

    toggle_warp() {
        this.warp_on = !this.warp_on;
        this.draw_tools();
        this.draw();
    }

    toggle_loupe() {
        this.frame.loupe_on = !this.frame.loupe_on;
        this.frame.draw_loupe();
        this.draw_tools();
    }

    jump(seconds) {
        this.seek_us(this.times[this.player.index] + seconds * 1e6);
    }

    // Letters and digits belong to the marks; the walk itself is worked by all other keys.
    set_keys() {
        const go = (keys, words, action, more = {}) => ({keys, words, action, group: "Walk",
            repeat: true, ...more});
        const {player} = this;
        set_commands([
            go([" "], "Play, stop", () => player.toggle(), {repeat: false}),
            go(["ArrowRight"], "Next frame", () => this.seek(player.index + 1)),
            go(["ArrowLeft"], "Frame before", () => this.seek(player.index - 1)),
            go(["Shift+ArrowRight"], "A second on", () => this.jump(1)),
            go(["Shift+ArrowLeft"], "A second back", () => this.jump(-1)),
            go(["PageDown"], "Ten seconds on", () => this.jump(10)),
            go(["PageUp"], "Ten seconds back", () => this.jump(-10)),
            go(["Home"], "To the start", () => this.seek(0)),
            go(["End"], "To the end", () => this.seek(this.times.length - 1)),
            go(["ArrowUp"], "Faster", () => this.faster(1)),
            go(["ArrowDown"], "Slower", () => this.faster(-1)),
            go(["/"], "Warp the photo over the frame", () => this.toggle_warp()),
            go(["*"], "Loupe", () => this.toggle_loupe()),
            go(["+", "="], "Photo nearer", () => this.photo.zoom_by(1), {show: ["+"]}),
            go(["-"], "Photo further off", () => this.photo.zoom_by(-1)),
            ...this.marks.commands(),
            {keys: ["Escape"], words: "Back to the walks", group: "Walk",
                action: () => location.assign("#/walks")},
        ], this.root);
    }
}
