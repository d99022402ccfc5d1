// One stretch: the frame, the photo, the line-up of places it may be, and one decision.

import {get, link, post, say, tell_trouble} from "./api.js";
import {h, key_cap, replace} from "./dom.js";
import {filter_query, read_filters, with_filters} from "./filters.js";
import {FramePane} from "./frame_pane.js";
import {photo_bitmap} from "./frame_source.js";
import {ellipse_outline, index_at, nearest_index} from "./geometry.js";
import {capture, set_commands} from "./keys.js";
import {legend} from "./bands.js";
import {Lineup} from "./lineup.js";
import {PhotoPane} from "./photo_pane.js";
import {placements_list} from "./placements.js";
import {settle_commands} from "./settle_keys.js";
import {StretchLoader, warm_photos} from "./settle_load.js";
import {SettleStrip} from "./settle_strip.js";
import {desk, photo_of, reason_words, take} from "./state.js";
import {TieMode} from "./tie_mode.js";
import {step_back} from "./undo.js";
import {DECISIONS, STATE_WORDS, clock, count, percent, span} from "./words.js";

const SCOPES = [["stretch", "the whole stretch"], ["fixation", "this fixation"],
    ["sample", "this sample"]];

export async function open(root, id, query) {
    const view = new SettleView(root, read_filters(query));
    await view.go(id, true);
    return view;
}

class SettleView {
    constructor(root, filters) {
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
        this.photo.start();
        set_commands(settle_commands(this));
    }

    close() {
        this.closed = true;
        this.stop();
        this.tie?.close();
        this.frame.close();
        this.photo.close();
        this.strip.close();
    }

    // --- which stretch ---------------------------------------------------------------------------

    async go(id, first = false, started = performance.now()) {
        const turn = (this.turn = (this.turn ?? 0) + 1);
        this.stop();
        this.loader.shown_px = this.frame.shown_px > 2 ? Math.max(this.frame.shown_px,
            Math.round(this.frame.element.clientWidth * devicePixelRatio)) : 960;
        let bundle;
        try {
            bundle = await this.loader.load(id);
        } catch (error) {
            if (first || turn !== this.turn)
                throw error;
            tell_trouble("The stretch cannot be shown.", error, () => this.go(id));
            return;
        }
        if (turn !== this.turn || this.closed)
            return;
        this.leave_modes();
        this.bundle = bundle;
        const {data, walk} = bundle;
        history.replaceState(null, "", with_filters(`#/stretch/${data.id}`, this.filters));
        this.version = data.version;
        this.look = null;
        this.look_kept = 0;
        this.other_photo = null;
        this.frame.zoom = 1;
        this.lineup.set_scale(walk);
        this.lineup.set(data, this.guess_words());
        this.strip.set(data, walk.interval_us);
        this.frame_us = bundle.show_us;
        this.frame.show(bundle.bitmap, [walk.width_px, walk.height_px]);
        this.i = this.sample_of_frame(bundle.show_us);
        this.draw_head();
        this.draw_tools();
        this.draw(true);
        requestAnimationFrame(() => requestAnimationFrame(() => performance.measure(
            "stretch shown", {start: started, end: performance.now(), detail: data.id})));
        this.loader.ahead(data.next);
        if (data.id === Number(sessionStorage.getItem("lookfall.tying")))
            this.open_tie();
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

    // --- where in it -----------------------------------------------------------------------------

    get samples() {
        return this.bundle.data.samples;
    }

    get t_us() {
        return this.samples.t_us[this.i];
    }

    // The sample that stands for a frame: the first at or after its time that has gaze, within the
    // frame; else the nearest.
    sample_of_frame(frame_us) {
        const {frames} = this.bundle.data;
        const end = frames[index_at(frames, frame_us) + 1] ?? Infinity;
        const {t_us, gx} = this.samples;
        const inside = (i) => t_us[i] >= frame_us && t_us[i] < end && gx[i] !== null;
        const best = nearest_index(t_us, frame_us, inside);
        return best >= 0 ? best : Math.max(0, nearest_index(t_us, frame_us));
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

    // --- drawing ---------------------------------------------------------------------------------

    guess_words() {
        const {samples} = this.bundle.data;
        return samples.guess_photo.some((photo) => photo !== null) ? "As guessed"
            : "As guessed: on no photo";
    }

    shown_photo() {
        const {samples, i, bundle} = this;
        return photo_of(this.other_photo ?? samples.guess_photo[i] ?? samples.photo[i] ??
            bundle.data.photo ?? desk.study.photos[0]?.id);
    }

    guess_at(i) {
        const {samples} = this;
        return samples.guess_photo[i] === null || samples.guess_x[i] === null ? null
            : [samples.guess_x[i], samples.guess_y[i]];
    }

    rivals_here(photo) {
        const guess = this.guess_at(this.i);
        if (!guess)
            return [];
        return this.bundle.data.rivals.slice(0, 6).map((rival, k) => ({number: k + 1, rival,
            point: [guess[0] + rival.dx, guess[1] + rival.dy], fits: rival.photo === photo.id}));
    }

    // The pose nearest to the frame shown, of this photo.
    pose_here(photo) {
        const {poses} = this.tie?.result ?? this.bundle.data;
        const best = nearest_index(poses.map((pose) => pose.t_us), this.frame_us,
            (k) => (poses[k].photo ?? photo.id) === photo.id);
        return best < 0 ? null : poses[best].m;
    }

    draw(arrived = false) {
        const {samples, i, bundle} = this;
        const photo = this.shown_photo();
        const gaze = samples.gx[i] === null ? null : [samples.gx[i], samples.gy[i]];
        const {frames} = bundle.data;
        const end = frames[index_at(frames, this.frame_us) + 1] ?? bundle.data.to_us;
        const crumbs = [];
        samples.t_us.forEach((t, k) => {
            if (k !== i && t >= this.frame_us && t < end && samples.gx[k] !== null)
                crumbs.push([samples.gx[k], samples.gy[k]]);
        });
        this.frame.set_signs({gaze, crumbs, aim: this.tie && this.aim?.on === "frame" ? this.aim.point : null,
            ties: this.tie?.frame_signs(this.frame_us) ?? []});
        this.frame.tell(gaze ? "" : "No gaze at this moment");
        if (!photo) {
            this.photo.tell("This study has no photo.");
            return;
        }
        const changed = this.photo.show(photo);
        this.draw_photo(photo, arrived || changed);
        this.draw_tiles(photo, gaze);
        this.draw_warp(photo);
        const [from, to] = this.scope_span();
        this.strip.at(this.t_us, from, to);
        const state = samples.state[i];
        replace(this.legend, h("span", {class: "here"}, clock(this.t_us), " · ", STATE_WORDS[state],
            samples.confidence[i] === null ? "" : ` · confidence ${percent(samples.confidence[i])}`),
        this.legend_list ??= legend([3, 4, 2, 1, 5]));
    }

    draw_photo(photo, arrived) {
        const {samples, i} = this;
        const trial = this.tie?.result?.samples;
        const t = trial ? nearest_index(trial.t_us, this.t_us) : -1;
        const fits = samples.guess_photo[i] === photo.id;
        let guess = fits ? this.guess_at(i) : null;
        let cov = samples.cov[i];
        if (t >= 0) {
            guess = trial.x[t] === null ? null : [trial.x[t], trial.y[t]];
            cov = trial.cov?.[t] ?? null;
        }
        const ghosts = t >= 0 ? [] : this.rivals_here(photo).filter((ghost) => ghost.fits)
            .map((ghost) => ({...ghost, chosen: ghost.number === (this.look ?? this.look_kept)}));
        const placed = samples.placement[i] && samples.photo[i] === photo.id
            ? [samples.x[i], samples.y[i]] : null;
        const tail = [];
        for (let k = Math.max(0, i - 40); k <= i; k++)
            if (samples.guess_photo[k] === photo.id && this.guess_at(k))
                tail.push(this.guess_at(k));
        if (arrived) {
            const around = photo.width_px / 14;
            const points = [guess, placed, ...ghosts.map((ghost) => ghost.point)].filter(Boolean);
            this.photo.focus(points, around);
        } else if (guess) {
            this.photo.keep_in_view(guess);
        }
        this.photo.set_signs({guess, ghosts, placed, tail: t >= 0 ? [] : tail,
            ellipse: guess && cov ? ellipse_outline(guess, cov) : null,
            ties: this.tie?.photo_signs() ?? [],
            aim: this.aim?.on === "photo" ? this.aim.point : null});
        this.photo.tell(guess || placed ? "" : samples.placement[i]
            ? `Settled: ${STATE_WORDS[samples.state[i]]}` : "The engine has no place here");
    }

    async draw_tiles(photo, gaze) {
        if (this.tie)
            return;
        const {walk, source} = this.bundle;
        const part = gaze && this.lineup.part_at(gaze, [walk.width_px, walk.height_px]);
        const turn = (this.tile_turn = (this.tile_turn ?? 0) + 1);
        const guess = this.guess_at(this.i);
        const guess_photo = photo_of(this.samples.guess_photo[this.i] ?? -1);
        const places = () => [
            guess && guess_photo ? {point: guess, photo: guess_photo,
                image: photo_bitmap(guess_photo).bitmap} : null,
            ...this.rivals_here(photo).map(({point, rival}) => {
                const on = photo_of(rival.photo) ?? photo;
                return {point, photo: on, image: photo_bitmap(on).bitmap};
            })];
        const draw = () => this.lineup.draw_places(places(), guess_photo && this.pose_here(guess_photo),
            walk.lens, gaze);
        draw();
        try {
            const bitmap = part ? await source.part(this.frame_us, part) : null;
            if (turn === this.tile_turn && !this.closed)
                this.lineup.draw_source(bitmap, part, gaze);
            await photo_bitmap(guess_photo ?? photo);
            if (turn === this.tile_turn && !this.closed)
                draw();
        } catch {
            // the panes say what is wrong with the picture
        }
    }

    async draw_warp(photo) {
        const k = this.look || this.look_kept;
        if (!this.warp_on || this.closed) {
            this.frame.set_warp(null);
            return;
        }
        const {walk} = this.bundle;
        const turn = (this.warp_turn = (this.warp_turn ?? 0) + 1);
        try {
            const [mesh, image] = await Promise.all([
                get(link("/api/warp", {walk: walk.id, t_us: this.frame_us, photo: photo.id,
                    tie: this.tie?.result ? this.tie.job : null}), {quiet: true}),
                photo_bitmap(photo)]);
            if (turn !== this.warp_turn || this.closed)
                return;
            const rival = k > 0 && !this.tie ? this.bundle.data.rivals[k - 1] : null;
            this.frame.set_warp({mesh, image, photo_size: [photo.width_px, photo.height_px],
                shift: rival ? [rival.dx, rival.dy] : [0, 0], strength: this.strength,
                difference: this.difference});
            this.frame.tell(mesh.x.length ? "" : "The photo was not found in this frame");
        } catch (error) {
            if (turn === this.warp_turn)
                this.frame.tell(error.message);
        }
    }

    draw_head() {
        const {data, walk} = this.bundle;
        const state = data.settled ? h("span", {class: "tag"}, "settled")
            : data.left_us < data.stake_us ? h("span", {class: "tag"}, `${span(data.left_us)} left`) : null;
        replace(this.head,
            h("button", {type: "button", onclick: () => this.go_before()}, "Before ", key_cap("ArrowUp")),
            h("h1", {}, reason_words(data.reason)),
            h("p", {}, h("strong", {}, walk.name), ` at ${clock(data.from_us, 1)}, ${span(data.stake_us)} of gaze`,
                data.confidence === null ? "" : `, confidence ${percent(data.confidence)}`, " ", state,
                data.by.length ? h("span", {class: "quiet"}, ` by ${data.by.join(", ")}`) : null),
            placements_list(data, (placement) => this.lift(placement)),
            h("button", {type: "button", onclick: () => this.go_next()}, "Next ", key_cap("ArrowDown")));
    }

    draw_tools() {
        const pressed = (words, key, on, action) => h("button", {type: "button",
            "aria-pressed": String(on), onclick: action}, words, " ", key_cap(key));
        const held = this.tools.contains(document.activeElement) ? document.activeElement.id : null;
        replace(this.tools,
            h("div", {class: "group"},
                h("button", {type: "button", onclick: () => this.step_frame(-1), "aria-label": "Frame before"}, key_cap("ArrowLeft")),
                pressed(this.playing ? "Stop" : "Play", " ", !!this.playing, () => this.play()),
                h("button", {type: "button", onclick: () => this.step_frame(1), "aria-label": "Next frame"}, key_cap("ArrowRight"))),
            h("div", {class: "group"},
                pressed("Warp", "w", this.warp_on, () => this.set_warp(!this.warp_on)),
                h("label", {}, h("span", {class: "quiet"}, "strength "), h("input", {type: "range", id: "strength", min: 0.1, max: 1,
                    step: 0.1, value: this.strength, disabled: !this.warp_on || this.difference,
                    oninput: (event) => this.set_strength(Number(event.target.value))})),
                pressed("Difference", "d", this.difference, () => this.set_difference()),
                pressed("Loupe", "l", this.frame.loupe_on, () => this.set_loupe())),
            h("fieldset", {class: "group scope"}, h("legend", {}, "Holds for ", key_cap("s")),
                SCOPES.map(([scope, words]) => h("label", {}, h("input", {type: "radio",
                    name: "scope", id: `scope-${scope}`, checked: this.scope === scope,
                    onchange: () => this.set_scope(scope)}), words))),
            this.scope === "sample" ? null : h("label", {class: "check"}, h("input", {type: "checkbox",
                id: "still", checked: this.still, onchange: (event) => this.set_still(event.target.checked)}),
            " a click is one still point ", key_cap("h")));
        if (held)
            document.getElementById(held)?.focus();
    }

    // --- how it is shown -------------------------------------------------------------------------

    set_warp(on) {
        this.warp_on = on;
        this.draw_tools();
        this.draw_warp(this.shown_photo());
    }

    set_strength(value) {
        this.strength = Math.min(Math.max(Math.round(value * 10) / 10, 0.1), 1);
        if (this.frame.warp) {
            this.frame.warp.strength = this.strength;
            this.frame.cover.style.opacity = this.strength;
        }
    }

    step_strength(by) {
        this.warp_on = true;
        this.difference = false;
        this.set_strength(this.strength + by);
        this.draw_tools();
        this.draw_warp(this.shown_photo());
    }

    set_difference() {
        this.difference = !this.difference;
        if (this.difference)
            this.warp_on = true;
        this.draw_tools();
        this.draw_warp(this.shown_photo());
    }

    set_loupe() {
        this.frame.loupe_on = !this.frame.loupe_on;
        this.frame.draw_loupe();
        this.draw_tools();
    }

    look_at(k) {
        this.look = k;
        const photo = this.shown_photo();
        if (photo && this.bundle) {
            this.draw_photo(photo, false);
            this.draw_warp(photo);
        }
    }

    next_look() {
        const n = this.bundle.data.rivals.slice(0, 6).length + 1;
        this.look_kept = (this.look_kept + 1) % n;
        this.warp_on = true;
        say(this.look_kept ? `Warp as if ghost ${this.look_kept} were right` : "Warp as guessed");
        this.draw_tools();
        this.draw();
    }

    next_photo() {
        const {photos} = desk.study;
        const now = photos.findIndex((photo) => photo.id === this.shown_photo().id);
        this.other_photo = photos[(now + 1) % photos.length].id;
        say(`Photo ${photo_of(this.other_photo).name}`);
        this.draw();
    }

    set_scope(scope) {
        this.scope = scope;
        this.draw_tools();
        this.draw();
    }

    next_scope() {
        const now = SCOPES.findIndex(([scope]) => scope === this.scope);
        this.set_scope(SCOPES[(now + 1) % SCOPES.length][0]);
    }

    set_still(on) {
        this.still = on;
        this.draw_tools();
    }

    scope_span() {
        const {data} = this.bundle;
        if (this.scope === "stretch")
            return [data.from_us, data.to_us];
        if (this.scope === "sample")
            return [this.t_us, this.samples.t_us[this.i + 1] ?? data.to_us];
        const fixation = data.fixations.find((f) => f.from_us <= this.t_us && this.t_us < f.to_us);
        return fixation ? [fixation.from_us, fixation.to_us] : [this.t_us, this.t_us];
    }

    // --- deciding --------------------------------------------------------------------------------

    photo_clicked(point) {
        if (!this.photo.photo_has(point))
            return;
        if (this.tie)
            this.tie.set_photo(point);
        else
            this.decide_point(point);
    }

    decide_point(point) {
        this.decide("point", {photo: this.photo.photo.id, x: point[0], y: point[1],
            move: this.still && this.scope === "stretch" ? "still" : null});
    }

    async decide(kind, extra = {}) {
        if (this.deciding)
            return;
        const started = performance.now();
        const {data} = this.bundle;
        const body = {stretch: data.id, version: this.version, kind, scope: kind === "tie" ? "stretch"
            : this.scope, t_us: this.t_us, ...extra};
        for (const name of Object.keys(body))
            if (body[name] === null)
                delete body[name];
        if (kind === "rival" && !data.rivals[extra.rival]) {
            say(`There is no ghost ${extra.rival + 1} here.`);
            return;
        }
        this.deciding = true;
        this.ask.classList.add("deciding");
        // a button that keeps the focus would take the next Enter for itself
        document.getElementById("view").focus({preventScroll: true});
        try {
            const answer = await post("/api/decision", body);
            take(answer);
            await this.decided(kind, answer, started);
        } catch (error) {
            await this.refused(error, kind, extra);
        } finally {
            this.deciding = false;
            this.ask.classList.remove("deciding");
        }
    }

    async decided(kind, answer, started) {
        if (kind === "tie")
            this.tie?.kept();
        const {data} = this.bundle;
        say(`${DECISIONS[kind]}: ${reason_words(data.reason)}, ${clock(data.from_us, 1)}`,
            {words: "Take back (U)", action: () => this.undo(false)});
        this.version = answer.stretch.version;
        if (answer.stretch.settled) {
            await this.go_next(started);
            return;
        }
        this.leave_modes();
        await this.refresh();
        const {t_us, placement, gx} = this.samples;
        const open = t_us.findIndex((_, k) => k > this.i && !placement[k] && gx[k] !== null);
        const any = open >= 0 ? open : t_us.findIndex((_, k) => !placement[k] && gx[k] !== null);
        if (any >= 0)
            this.go_sample(any);
        say(`${DECISIONS[kind]}; ${span(answer.stretch.left_us)} of this stretch left`,
            {words: "Take back (U)", action: () => this.undo(false)});
    }

    async refused(error, kind, extra) {
        if (error.status === 409 && error.code === "changed") {
            try {
                await this.refresh();
            } catch {
                // told below
            }
            tell_trouble("Not kept: somebody else decided here meanwhile.",
                {message: "This is what it looks like now; decide again where you still want to.", status: 409});
        } else if (error.status === 410) {
            tell_trouble("Not kept: this stretch is no more.", error);
            this.loader.forget();
            this.back();
        } else {
            tell_trouble("Not kept.", error, () => this.decide(kind, extra));
        }
    }

    async lift(placement) {
        try {
            take(await post("/api/lift", {placement: placement.id}));
            say(`Lifted what ${placement.who} decided`, {words: "Take back (U)",
                action: () => this.undo(false)});
            await this.refresh();
        } catch (error) {
            tell_trouble("Not lifted.", error);
        }
    }

    undo(redo) {
        return step_back(redo, async (step) => {
            this.loader.forget();
            if (step.stretch !== null)
                await this.go(step.stretch);
            else
                await this.refresh();
        });
    }

    // --- aiming and tying ------------------------------------------------------------------------

    open_aim() {
        if (this.tie || this.aim)
            return;
        this.aim = {on: "photo", point: this.guess_at(this.i) ?? this.photo.centre};
        this.end_aim = capture(this.aim_commands({keys: ["Enter", " "], words: "It falls here",
            group: "Aim", action: () => {
                const {point} = this.aim;
                this.leave_modes();
                this.decide_point(point);
            }}));
        say("Steer the mark with the arrow keys, Enter puts it, Esc leaves.");
        this.draw();
    }

    aim_commands(...more) {
        const move = (dx, dy, far) => () => {
            const px = this.aim.on === "photo" ? this.photo.px_per_photo_px : this.frame.place().k;
            this.aim.point = [this.aim.point[0] + dx * far / px, this.aim.point[1] + dy * far / px];
            this.draw();
            if (this.aim.on === "photo")
                this.photo.keep_in_view(this.aim.point);
        };
        const arrows = [["Left", -1, 0], ["Right", 1, 0], ["Up", 0, -1], ["Down", 0, 1]];
        return [...more,
            ...[["", 8, "Move the mark"], ["Shift+", 40, "Move it far"], ["Ctrl+", 1, "Move it a little"]]
                .flatMap(([with_key, far, words]) => arrows.map(([name, dx, dy], k) => ({
                    keys: [`${with_key}Arrow${name}`], repeat: true, group: "Aim",
                    show: [`${with_key}ArrowLeft`, "ArrowRight", "ArrowUp", "ArrowDown"],
                    words: k ? null : words, action: move(dx, dy, far)}))),
            {keys: ["Escape"], words: "Leave it", group: "Aim", action: () => {
                this.leave_modes();
                this.draw();
            }}];
    }

    open_tie() {
        if (this.tie || !this.shown_photo())
            return;
        this.leave_modes();
        this.stop();
        const {data} = this.bundle;
        sessionStorage.setItem("lookfall.tying", data.id);
        this.tie = new TieMode({stretch: data, photo: this.shown_photo(),
            version: () => this.version, frame_us: () => this.frame_us,
            changed: () => this.tie_changed(), keep: (job) => this.decide("tie", {job}),
            leave: () => {
                this.leave_modes();
                this.draw();
            }});
        const gaze = this.samples.gx[this.i] === null ? null
            : [this.samples.gx[this.i], this.samples.gy[this.i]];
        this.aim = {on: "frame", point: gaze ?? this.frame.size.map((length) => length / 2)};
        this.end_aim = capture(this.aim_commands(
            {keys: [" "], words: "Put an end of the tie here", group: "Aim", action: () =>
                this.aim.on === "frame" ? this.tie.set_frame(this.aim.point)
                    : this.tie.set_photo(this.aim.point)},
            {keys: ["Enter"], words: "Try the ties; keep what came out", group: "Aim",
                action: () => this.tie.attempt()},
            {keys: ["Backspace"], words: "Take back a point", group: "Aim",
                action: () => this.tie.take_back()}));
        this.lineup.element.replaceWith(this.tie.element);
        this.draw();
    }

    tie_changed() {
        if (!this.tie)
            return;
        // the aim goes to the end that is next
        if (this.tie.open && this.aim.on === "frame")
            this.aim = {on: "photo", point: this.guess_at(this.i) ?? this.photo.centre};
        else if (!this.tie.open && this.aim.on === "photo")
            this.aim = {on: "frame", point: this.aim.frame ?? this.tie.ties.at(-1)?.frame ??
                this.frame.size.map((length) => length / 2)};
        if (this.tie.result)
            this.warp_on = true;
        this.draw_tools();
        this.draw();
    }

    leave_modes() {
        this.end_aim?.();
        this.end_aim = null;
        this.aim = null;
        if (this.tie) {
            sessionStorage.removeItem("lookfall.tying");
            this.tie.element.replaceWith(this.lineup.element);
            this.tie.close();
            this.tie = null;
        }
    }

    see_walk() {
        location.assign(`#/walk/${this.bundle.walk.id}?t=${Math.round(this.t_us)}`);
    }
}
