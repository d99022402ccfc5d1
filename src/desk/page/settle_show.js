// How a stretch is drawn: signs on both panes, the line-up, the warp, the head and the tools.

import {get, link, say} from "./api.js";
import {legend} from "./bands.js";
import {h, key_cap, replace} from "./dom.js";
import {photo_bitmap} from "./frame_source.js";
import {ellipse_outline, index_at, nearest_index} from "./geometry.js";
import {lineup_part} from "./lineup.js";
import {placements_list} from "./placements.js";
import {SettlePlace} from "./settle_place.js";
import {desk, photo_of, reason_words} from "./state.js";
import {STATE_WORDS, clock, percent, span} from "./words.js";

const SCOPES = ["stretch", "fixation", "sample"];

const TAIL_US = 300000;  // how much of the path up to here is drawn on the photo

// A part of SettleView (settle.js).
export class SettleShow extends SettlePlace {
    guess_words() {
        const {samples} = this.bundle.data;
        return samples.guess_photo.some((photo) => photo !== null) ? "As guessed"
            : "As guessed: on no photo";
    }

    // Names of the photos its ghosts lie on, where that has to be told.
    ghost_photos() {
        const {data} = this.bundle;
        const ids = new Set([...data.samples.guess_photo.filter(Boolean), ...data.rivals.map((rival) => rival.photo)]);
        return new Map(ids.size > 1 ? [...ids].map((id) => [id, photo_of(id)?.name]) : []);
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

    // A ghost is a shift of a guess on its own photo: elsewhere there is no place for it.
    rivals_here(photo) {
        const guess = this.guess_at(this.i);
        if (!guess)
            return [];
        return this.bundle.data.rivals.slice(0, 6).map((rival, k) => ({number: k + 1, rival,
            point: [guess[0] + rival.dx, guess[1] + rival.dy],
            fits: rival.photo === photo.id && this.samples.guess_photo[this.i] === photo.id}));
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
        for (let k = i; k >= 0 && samples.t_us[k] > samples.t_us[i] - TAIL_US; k--)
            if (samples.guess_photo[k] === photo.id && this.guess_at(k))
                tail.push(this.guess_at(k));
        if (arrived) {
            const around = photo.width_px / 9;
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
        const part = gaze && lineup_part(walk, gaze);
        const turn = (this.tile_turn = (this.tile_turn ?? 0) + 1);
        const guess = this.guess_at(this.i);
        const guess_photo = photo_of(this.samples.guess_photo[this.i] ?? -1);
        const places = () => [
            guess && guess_photo ? {point: guess, photo: guess_photo,
                image: photo_bitmap(guess_photo).bitmap} : null,
            ...this.rivals_here(guess_photo ?? photo).map(({point, fits}) => fits
                ? {point, photo: guess_photo, image: photo_bitmap(guess_photo).bitmap}
                : {words: "not at this moment"})];
        const draw = () => this.lineup.draw_places(places(), guess_photo && this.pose_here(guess_photo),
            walk.lens, gaze);
        const early = photo_bitmap(guess_photo ?? photo).bitmap;
        draw();
        try {
            const bitmap = part ? await source.part(this.frame_us, part) : null;
            if (turn === this.tile_turn && !this.closed)
                this.lineup.draw_source(bitmap, part, gaze);
            await photo_bitmap(guess_photo ?? photo);
            if (!early && turn === this.tile_turn && !this.closed)
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
            const rival = k > 0 && !this.tie && this.bundle.data.rivals[k - 1].photo === photo.id
                ? this.bundle.data.rivals[k - 1] : null;
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
            h("button", {type: "button", onclick: () => this.step_stretch(-1)}, "Before ", key_cap("ArrowUp")),
            h("h1", {}, reason_words(data.reason)),
            h("p", {}, h("strong", {}, walk.name), ` at ${clock(data.from_us, 1)}, ${span(data.stake_us)} of gaze`,
                data.confidence === null ? "" : `, confidence ${percent(data.confidence)}`, " ", state,
                data.by.length ? h("span", {class: "quiet"}, ` by ${data.by.join(", ")}`) : null),
            placements_list(data, (placement) => this.lift(placement)),
            h("button", {type: "button", onclick: () => this.step_stretch(1)}, "Next ", key_cap("ArrowDown")));
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
                h("input", {type: "range", id: "strength", min: 0.1, max: 1,
                    step: 0.1, "aria-label": "Strength of the warp", value: this.strength, disabled: !this.warp_on || this.difference,
                    oninput: (event) => this.set_strength(Number(event.target.value))}),
                pressed("Difference", "d", this.difference, () => this.set_difference()),
                pressed("Loupe", "l", this.frame.loupe_on, () => this.set_loupe())),
            this.tie ? null : h("fieldset", {class: "group scope"}, h("legend", {}, "Holds for ", key_cap("s")),
                SCOPES.map((scope) => h("label", {}, h("input", {type: "radio",
                    name: "scope", id: `scope-${scope}`, checked: this.scope === scope,
                    onchange: () => this.set_scope(scope)}), scope))),
            this.tie || this.scope !== "stretch" ? null : h("label", {class: "check"}, h("input", {type: "checkbox",
                id: "still", checked: this.still, onchange: (event) => this.set_still(event.target.checked)}),
            " click: one still point ", key_cap("h")));
        if (held)
            document.getElementById(held)?.focus();
    }

    // --- how it is shown -----------------------------------------------------------------------------

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
        const now = SCOPES.indexOf(this.scope);
        this.set_scope(SCOPES[(now + 1) % SCOPES.length]);
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
}
