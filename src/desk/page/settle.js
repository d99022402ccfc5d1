// One stretch: the frame, the photo, the line-up of places it may be, and one decision.

import {get, say, tell_trouble} from "./api.js";
import {h, replace} from "./dom.js";
import {read_filters, with_filters} from "./filters.js";
import {FramePane} from "./frame_pane.js";
import {set_commands} from "./keys.js";
import {Lineup} from "./lineup.js";
import {PhotoPane} from "./photo_pane.js";
import {SettleDecide} from "./settle_decide.js";
import {settle_commands} from "./settle_keys.js";
import {StretchLoader, warm_photos} from "./settle_load.js";
import {SettleStrip} from "./settle_strip.js";

export async function open(root, id, query) {
    const view = new SettleView(root, read_filters(query));
    await view.go(id, true);
    return view;
}

class SettleView extends SettleDecide {
    constructor(root, filters) {
        super();
        this.filters = filters;
        this.loader = new StretchLoader(filters);
        this.scope = "stretch";
        this.still = false;
        this.warp_on = false;
        this.difference = false;
        this.strength = 0.6;
        this.look = null;      // candidate under the pointer or the focus
        this.look_kept = 0;    // candidate chosen for the warp
        this.aim = null;
        this.tie = null;
        this.playing = null;
        this.deciding = 0;     // decisions on their way
        this.going = 0;        // stretches that are opening
        this.build(root);
        warm_photos();
    }

    build(root) {
        this.frame = new FramePane({label: "The frame, with the gaze point",
            on_click: (point) => this.tie && this.frame.inside(point) && this.tie.set_frame(point),
            part_of: (part) => this.bundle.source.part(this.frame_us, part)});
        this.frame.on_zoom = () => this.sharpen();
        this.photo = new PhotoPane({label: "The photo, with the guess",
            on_click: (point) => this.photo_clicked(point)});
        this.lineup = new Lineup({
            answer: (kind, extra) => this.decide(kind, extra),
            look: (k) => this.look_at(k), tie: () => this.open_tie(), aim: () => this.open_aim()});
        this.strip = new SettleStrip((t) => this.go_time(t));
        this.head = h("section", {class: "head", "aria-label": "This stretch"});
        this.tools = h("div", {class: "tools", role: "group", "aria-label": "How it is shown"});
        this.ask = h("div", {class: "ask"}, this.lineup.element);
        this.legend = h("div", {class: "strip-words"});
        replace(root, h("div", {class: "settle"}, this.head,
            h("div", {class: "panes"}, this.frame.element, this.photo.element), this.tools,
            this.ask, h("div", {class: "time"}, this.strip.element, this.legend)));
        this.root = root;
        this.photo.start();
    }

    close() {
        this.closed = true;
        this.stop();
        this.tie?.close();
        this.frame.close();
        this.photo.close();
        this.strip.close();
    }

    // --- which stretch -------------------------------------------------------------------------------

    async go(id, first = false, started = performance.now()) {
        const turn = (this.turn = (this.turn ?? 0) + 1);
        this.stop();
        this.loader.shown_px = this.frame.shown_px > 2 ? Math.max(this.frame.shown_px,
            Math.round(this.frame.element.clientWidth * devicePixelRatio)) : 960;
        let bundle;
        this.going++;
        try {
            bundle = await this.loader.load(id);
        } catch (error) {
            if (first || turn !== this.turn)
                throw error;
            tell_trouble("The stretch cannot be shown.", error, () => this.go(id));
            return;
        } finally {
            this.going--;
        }
        if (turn !== this.turn || this.closed)
            return;
        this.leave_modes();
        this.bundle = bundle;
        if (first)  // before that there is nothing to decide about
            set_commands(settle_commands(this), this.root);
        const {data, walk} = bundle;
        history.replaceState(null, "", with_filters(`#/stretch/${data.id}`, this.filters));
        this.version = data.version;
        this.look = null;
        this.look_kept = 0;
        this.other_photo = null;
        this.frame.zoom = 1;
        this.lineup.set_scale(walk);
        this.lineup.set(data, this.guess_words(), this.ghost_photos());
        this.strip.set(data, walk.interval_us);
        this.frame_us = bundle.show_us;
        this.frame.show(bundle.bitmap, [walk.width_px, walk.height_px]);
        this.i = this.sample_of_frame(bundle.show_us);
        this.draw_head();
        this.draw_tools();
        this.draw(true);
        requestAnimationFrame(() => requestAnimationFrame(() => {
            performance.measure("stretch shown", {start: started, end: performance.now(), detail: data.id});
            // not before: what is decoded ahead would take the time of what is to be seen now
            if (turn === this.turn && !this.closed)
                this.loader.ahead(data.next);
        }));
        if (data.id === Number(sessionStorage.getItem("lookfall.tying")))
            this.open_tie();
    }

    // A key that is held goes on once the next stretch is there.
    async step_stretch(by, event = null) {
        if (event?.repeat && (this.going || this.deciding) || this.refuses())
            return;
        this.going++;
        try {
            await (by > 0 ? this.go_next() : this.go_before());
        } finally {
            this.going--;
        }
    }

    async go_next(started = performance.now()) {
        const next = this.bundle.data.next.find((row) => row.id !== this.bundle.data.id);
        let id = next?.id ?? null;
        try {
            id ??= await this.loader.neighbour(this.bundle.data.id, false);
        } catch (error) {
            tell_trouble("The next stretch cannot be found.", error, () => this.go_next());
            return;
        }
        if (id === null || id === this.bundle.data.id) {
            say("That was the last one of this list.");
            this.back();
            return;
        }
        await this.go(id, false, started);
    }

    async go_before() {
        try {
            const id = await this.loader.neighbour(this.bundle.data.id, true);
            if (id !== null)
                await this.go(id);
        } catch (error) {
            tell_trouble("The stretch before cannot be found.", error);
        }
    }

    back() {
        location.assign(with_filters("#/doubts", this.filters));
    }

    // The stretch again, as it is now, at the same place.
    async refresh() {
        this.loader.forget();
        const turn = this.turn;
        const fresh = await get(with_filters(`/api/stretch/${this.bundle.data.id}`, this.filters),
            {quiet: true});
        if (this.closed || turn !== this.turn)
            return;
        this.bundle.data = fresh;
        this.version = fresh.version;
        this.strip.set(fresh, this.bundle.walk.interval_us);
        this.i = Math.min(this.i, fresh.samples.t_us.length - 1);
        this.draw_head();
        this.draw();
        this.loader.ahead(fresh.next);
    }

    async change(elsewhere) {
        if (!elsewhere || this.tie || !this.bundle)
            return;
        const before = this.version;
        try {
            await this.refresh();
            if (this.version !== before)
                say("Somebody else decided on this stretch just now.");
        } catch (error) {
            if (error.status === 410)
                tell_trouble("This stretch is no more.", error);
        }
    }
}
