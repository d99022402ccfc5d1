// Deciding on a stretch: the answers, what becomes of them, aiming by keys, ties.

import {post, say, tell_trouble} from "./api.js";
import {capture} from "./keys.js";
import {SettleShow} from "./settle_show.js";
import {reason_words, take} from "./state.js";
import {TieMode} from "./tie_mode.js";
import {step_back} from "./undo.js";
import {DECISIONS, capital, clock, span} from "./words.js";

// A part of SettleView (settle.js).
export class SettleDecide extends SettleShow {
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

    // While a decision is on its way, or another stretch is opening, the next one is not seen yet. What is
    // pressed meanwhile is not kept for it, nor meant for the one that is left, but never dropped without
    // a word either.
    refuses() {
        if (this.deciding)
            say("Not taken: the decision before is still on its way. Press again.");
        else if (this.going)
            say("Not taken: another stretch is still opening. Press again.");
        return this.deciding > 0 || this.going > 0;
    }

    decide(kind, extra = {}) {
        if (this.refuses())
            return;
        const {data} = this.bundle;
        if (kind === "rival" && !data.rivals[extra.rival]) {
            say(`There is no ghost ${extra.rival + 1} here.`);
            return;
        }
        const body = {stretch: data.id, version: this.version, kind, scope: kind === "tie" ? "stretch"
            : this.scope, t_us: this.t_us, ...extra};
        for (const name of Object.keys(body))
            if (body[name] === null)
                delete body[name];
        return this.send(body, this.bundle);
    }

    // Sends what was decided about the stretch of this bundle, also when it is sent once more later
    // and another one is on the screen by then.
    async send(body, bundle) {
        const started = performance.now();
        this.deciding++;
        this.ask.classList.add("deciding");
        // a button that keeps the focus would take the next Enter for itself
        document.getElementById("view").focus({preventScroll: true});
        try {
            const answer = await post("/api/decision", body);
            take(answer);
            await this.decided(body.kind, bundle, answer, started);
        } catch (error) {
            await this.refused(error, body, bundle);
        } finally {
            this.deciding--;
            this.ask.classList.toggle("deciding", this.deciding > 0);
        }
    }

    shows(bundle) {
        return !this.closed && this.bundle === bundle;
    }

    async decided(kind, bundle, answer, started) {
        const {data} = bundle;
        say(`${capital(DECISIONS[kind])}: ${reason_words(data.reason)}, ${clock(data.from_us, 1)}`,
            {words: "Take back (U)", action: () => this.undo(false)});
        if (!this.shows(bundle)) {
            this.loader.forget();
            return;
        }
        if (kind === "tie")
            this.tie?.kept();
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
        say(`${capital(DECISIONS[kind])}; ${span(answer.stretch.left_us)} of this stretch left`,
            {words: "Take back (U)", action: () => this.undo(false)});
    }

    async refused(error, body, bundle) {
        const what = `Not kept: ${DECISIONS[body.kind]}, ${bundle.walk.name} at ${clock(bundle.data.from_us, 1)}.`;
        if (error.status === 409 && error.code === "changed") {
            try {
                if (this.shows(bundle))
                    await this.refresh();
            } catch {
                // told below
            }
            tell_trouble(`${what} Somebody else decided here meanwhile.`,
                {message: "Look at what it is now, and decide again where you still want to.", status: 409});
        } else if (error.status === 410) {
            tell_trouble(`${what} This stretch is no more.`, error);
            this.loader.forget();
            if (this.shows(bundle))
                this.back();
        } else {
            tell_trouble(what, error, () => this.send(body, bundle));
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

    // --- aiming and tying ----------------------------------------------------------------------------

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
