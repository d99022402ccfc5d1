// Areas of interest on a photo: drawn, moved, reshaped, named, put into groups, copied along a row.

import {get, post, put, remove, say, tell_trouble} from "./api.js";
import {AreaDraw} from "./area_draw.js";
import {AreaMap} from "./area_map.js";
import {area_list, area_panel, copy_panel} from "./area_panel.js";
import {bounds_of_all, fit_shape, bounds_of, move_shape, rounded} from "./area_shapes.js";
import {h, key_cap, replace} from "./dom.js";
import {set_commands} from "./keys.js";
import {desk, photo_of} from "./state.js";
import {count} from "./words.js";

const SETTLE_MS = 350;  // arrow keys are kept together as one change when they rest this long

export async function open(root, id) {
    const photo = photo_of(id) ?? desk.study.photos[0];
    if (!photo)
        throw new Error("This study has no photo yet: lookfall photo add");
    const view = new AreasView(root, photo);
    await view.load();
    return view;
}

class AreasView {
    constructor(root, photo) {
        this.root = root;
        this.photo = photo;
        this.areas = [];
        this.chosen = new Set();
        this.copying = null;
        this.waiting = new Map();  // id -> points not sent yet
        this.map = new AreaMap({choose: (id, more) => this.choose(id, more),
            changed: (list) => this.amend_all(list),
            drawn: (...what) => this.pen.pointer(...what)});
        this.pen = new AreaDraw(this.map, {done: (shape) => this.add(shape),
            changed: () => this.draw_tools()});
        this.tools = h("div", {class: "tools", role: "group", "aria-label": "Drawing"});
        this.list = h("div", {class: "area-list"});
        this.panel = h("div", {class: "area-panel",
            onchange: ({target}) => (target.defaultValue = target.value)});  // no more being typed
        this.panel.addEventListener("focusout", () => setTimeout(() => {
            if (this.panel_late && !this.closed)
                this.draw_side();
        }));
        replace(root, h("div", {class: "areas"},
            h("div", {class: "stage"}, this.tools, this.map.element),
            h("aside", {"aria-label": "Areas"}, this.panel, this.list)));
        this.map.start();
        this.map.show(photo);
        this.on_leave = () => this.leave();
        addEventListener("pagehide", this.on_leave);
        this.set_keys();
    }

    close() {
        this.leave();
        this.closed = true;
        this.pen.leave();
        removeEventListener("pagehide", this.on_leave);
        this.map.close();
    }

    async load() {
        this.take(await get(`/api/areas?photo=${this.photo.id}`));
    }

    // An answer: the photo's areas as they are now.
    take({rows, undo, redo}) {
        if (this.closed)
            return;
        this.areas = rows;
        this.undo_words = undo;
        this.redo_words = redo;
        for (const [id, points] of this.waiting)
            if (this.area(id))
                this.area(id).points = points;
        this.chosen = new Set([...this.chosen].filter((id) => this.area(id)));
        this.draw();
    }

    area(id) {
        return this.areas.find((area) => area.id === id);
    }

    get picked() {
        return this.areas.filter((area) => this.chosen.has(area.id));
    }

    draw() {
        this.map.set(this.areas, this.chosen);
        this.draw_tools();
        this.draw_side();
    }

    draw_side() {
        replace(this.list, area_list(this));
        const inside = this.panel.contains(document.activeElement) ? document.activeElement : null;
        const holds = `${this.copying ? "copies of " : ""}${[...this.chosen]}`;
        // What somebody is typing stays as it is, whatever comes back meanwhile: a field taken off the
        // page counts as filled in, with half a word in it.
        this.panel_late = holds === this.panel_holds && !!inside && inside.value !== inside.defaultValue;
        if (this.panel_late)
            return;
        this.panel_holds = holds;
        replace(this.panel, this.copying ? copy_panel(this) : area_panel(this));
        const field = inside && document.getElementById(inside.id);
        if (!field)
            return;
        field.focus();
        if (inside.type === "text")
            field.setSelectionRange(inside.selectionStart, inside.selectionEnd);
    }

    draw_tools() {
        const tool = (shape, words, key) => h("button", {type: "button",
            "aria-pressed": String(this.pen.shape === shape),
            onclick: () => this.pen.begin(shape)}, words, " ", key_cap(key));
        replace(this.tools,
            desk.study.photos.length > 1 ? h("label", {class: "group"}, "Photo ", h("select", {
                onchange: (event) => location.assign(`#/areas/${event.target.value}`)},
            desk.study.photos.map((photo) => h("option", {value: photo.id,
                selected: photo.id === this.photo.id}, photo.name)))) : null,
            h("div", {class: "group"}, tool("rect", "Rectangle", "r"), tool("ellipse", "Ellipse", "e"),
                tool("polygon", "Polygon", "p")),
            h("div", {class: "group"},
                h("button", {type: "button", disabled: !this.undo_words, title: this.undo_words,
                    onclick: () => this.step(false)}, "Take back ", key_cap("u")),
                h("button", {type: "button", disabled: !this.redo_words, title: this.redo_words,
                    onclick: () => this.step(true)}, "Again ", key_cap("y"))),
            h("p", {class: "quiet"}, this.areas.length ? count(this.areas.length, "area")
                : "Draw the first area."));
        // over the photo, since a line that comes and goes would move the photo under the pen
        this.map.tell(this.pen.words());
    }

    // --- choosing --------------------------------------------------------------------------------

    choose(id, more) {
        if (id === null)
            this.chosen = new Set();
        else if (more)
            this.chosen.has(id) ? this.chosen.delete(id) : this.chosen.add(id);
        else
            this.chosen = new Set([id]);
        this.leave_copy();
        this.draw();
    }

    step_choice(by, more) {
        if (!this.areas.length)
            return;
        const now = this.areas.findIndex((area) => area.id === this.last_chosen);
        const next = this.areas[(now + by + this.areas.length) % this.areas.length] ?? this.areas[0];
        this.last_chosen = next.id;
        this.choose(next.id, more);
        const {x, y, w, h: hgt} = bounds_of(next);
        this.map.keep_in_view([x + w / 2, y + hgt / 2]);
        document.getElementById(`area-${next.id}`)?.scrollIntoView({block: "nearest"});
    }

    // --- changing --------------------------------------------------------------------------------

    async request(what, send, again) {
        try {
            this.take(await send());
            return true;
        } catch (error) {
            tell_trouble(what, error, again);
            return false;
        }
    }

    fresh_name() {
        for (let n = this.areas.length + 1; ; n++)
            if (!this.areas.some((area) => area.name === `area ${n}`))
                return `area ${n}`;
    }

    async add(shape) {
        const known = new Set(this.areas.map((area) => area.id));
        const group = this.picked.length === 1 ? this.picked[0].group : "";
        const body = {photo: this.photo.id, name: this.fresh_name(), group, ...shape,
            points: rounded(shape.points)};
        if (await this.request("The area was not kept.", () => post("/api/areas", body),
            () => this.add(shape))) {
            const fresh = this.areas.find((area) => !known.has(area.id));
            this.chosen = new Set(fresh ? [fresh.id] : []);
            this.last_chosen = fresh?.id;
            this.draw();
            const name = document.getElementById("area-name");
            name?.focus();
            name?.select();
        }
    }

    amend(id, changes) {
        return this.amend_all([{id, ...changes}]);
    }

    // Changes of one or more areas, as one step. list: [{id, any of name, group, points}]
    amend_all(list) {
        if (!list.length)
            return true;
        const areas = list.map((changes) => changes.points
            ? {shape: this.area(changes.id)?.shape, ...changes, points: rounded(changes.points)} : changes);
        const send = () => this.request(`${list.length > 1 ? "The areas were" : "The area was"} not changed.`,
            () => put("/api/areas", {photo: this.photo.id, areas}), send);
        return send();
    }

    set_group(group) {
        return this.amend_all(this.picked.filter((area) => area.group !== group)
            .map((area) => ({id: area.id, group})));
    }

    async drop() {
        const ids = [...this.chosen];
        const send = () => this.request(`${ids.length > 1 ? "The areas were" : "The area was"} not deleted.`,
            () => remove("/api/areas", {photo: this.photo.id, ids}), send);
        if (ids.length && await send())
            say(`Deleted ${count(ids.length, "area")}`, {words: "Take back (U)",
                action: () => this.step(false)});
    }

    async step(redo) {
        await this.flush();
        if (!(redo ? this.redo_words : this.undo_words)) {
            say(redo ? "There is nothing to do again." : "There is nothing to take back.");
            return;
        }
        const words = redo ? this.redo_words : this.undo_words;
        if (await this.request("That did not work.", () => post(`/api/areas/${redo ? "redo" : "undo"}`,
            {photo: this.photo.id})))
            say(`${redo ? "Done again" : "Taken back"}: ${words}`);
    }

    // Arrow keys show at once and are sent together when they rest, or when the page is left.
    nudge(f) {
        for (const area of this.picked) {
            const points = f(area);
            this.waiting.set(area.id, points);
            this.map.show_shape(area.id, points);
        }
        this.map.draw_handles();
        clearTimeout(this.settle_timer);
        this.settle_timer = setTimeout(() => this.flush(), SETTLE_MS);
    }

    flush() {
        clearTimeout(this.settle_timer);
        const waiting = [...this.waiting].map(([id, points]) => ({id, points}));
        this.waiting.clear();
        return this.amend_all(waiting);
    }

    // The view or the page is left: what rests or is still being typed is sent.
    leave() {
        this.flush();
        const field = document.activeElement;
        if (this.panel.contains(field) && field.value !== field.defaultValue)
            field.dispatchEvent(new Event("change"));
    }

    order(by) {
        const ids = this.areas.map((area) => area.id);
        const picked = ids.filter((id) => this.chosen.has(id));
        if (picked.length !== 1)
            return;
        const at = ids.indexOf(picked[0]);
        const to = Math.min(Math.max(at + by, 0), ids.length - 1);
        if (to === at)
            return;
        ids.splice(at, 1);
        ids.splice(to, 0, picked[0]);
        this.request("The order was not changed.", () => post("/api/areas/order",
            {photo: this.photo.id, ids}));
    }

    // --- copying along a row ---------------------------------------------------------------------

    begin_copy() {
        if (!this.picked.length) {
            say("First choose the area to copy.");
            return;
        }
        const box = bounds_of_all(this.picked);
        this.copying = {count: 1, dx: Math.round(box.w * 100) / 100, dy: 0};
        this.draw_side();
        this.show_copy();
        document.getElementById("copy-count")?.focus();
        document.getElementById("copy-count")?.select();
    }

    show_copy() {
        const {count: n, dx, dy} = this.copying;
        this.map.set_drafts(this.picked.flatMap((area) => Array.from({length: Math.min(n, 200)},
            (_, i) => ({shape: area.shape, points: move_shape(area, dx * (i + 1), dy * (i + 1))}))), null);
    }

    leave_copy() {
        if (!this.copying)
            return;
        this.copying = null;
        this.map.set_drafts([], null);
        this.draw_side();
    }

    async keep_copy() {
        const {count: n, dx, dy} = this.copying;
        if (await this.request("The copies were not made.", () => post("/api/areas/copy",
            {photo: this.photo.id, ids: this.picked.map((area) => area.id), count: n, dx, dy}))) {
            this.leave_copy();
            document.getElementById("view").focus({preventScroll: true});
        }
    }

    // --- keys ------------------------------------------------------------------------------------

    set_keys() {
        const act = (keys, words, action, more = {}) => ({keys, words, action, group: "Areas", ...more});
        const arrows = [["Left", -1, 0], ["Right", 1, 0], ["Up", 0, -1], ["Down", 0, 1]];
        const by_arrows = (with_key, far, words, f) => arrows.map(([name, dx, dy], k) => ({
            keys: [`${with_key}Arrow${name}`], repeat: true, group: "Move", words: k ? null : words,
            show: [`${with_key}ArrowLeft`, "ArrowRight", "ArrowUp", "ArrowDown"],
            when: () => this.chosen.size > 0, action: () => this.nudge((area) => f(area, dx * far, dy * far))}));
        const grow = (area, dx, dy) => {
            const box = bounds_of(area);
            return fit_shape(area, {...box, w: Math.max(box.w + dx, 1), h: Math.max(box.h + dy, 1)});
        };
        set_commands([
            act(["r"], "Draw a rectangle", () => this.pen.begin("rect")),
            act(["e"], "Draw an ellipse", () => this.pen.begin("ellipse")),
            act(["p"], "Draw a polygon", () => this.pen.begin("polygon")),
            act(["."], "Choose the next area", () => this.step_choice(1, false), {repeat: true}),
            act([","], "Choose the one before", () => this.step_choice(-1, false), {repeat: true}),
            act([">"], "Choose the next one too", () => this.step_choice(1, true)),
            act(["n"], "Name it", () => document.getElementById("area-name")?.focus()),
            act(["g"], "Put it into a group", () => document.getElementById("area-group")?.focus()),
            act(["c"], "Copy along a row", () => this.begin_copy()),
            act(["["], "One down in the pile", () => this.order(-1)),
            act(["]"], "One up in the pile", () => this.order(1)),
            act(["Delete", "Backspace"], "Delete", () => this.drop(), {show: ["Delete"]}),
            act(["u", "Ctrl+z"], "Take back", () => this.step(false)),
            act(["y", "Ctrl+y", "Ctrl+Shift+z"], "Do it again", () => this.step(true), {show: ["y", "Ctrl+y"]}),
            ...by_arrows("", 1, "Move by a px", move_shape),
            ...by_arrows("Shift+", 10, "Move by ten", move_shape),
            ...by_arrows("Ctrl+", 1, "Make wider, narrower, lower, higher", grow),
            act(["f"], "Whole photo, or close up", () => this.map.shown_whole && this.picked.length
                ? this.close_up() : this.map.whole(), {group: "Look"}),
            act(["+", "="], "Nearer", () => this.map.zoom_by(1), {show: ["+"], group: "Look", repeat: true}),
            act(["-"], "Further off", () => this.map.zoom_by(-1), {group: "Look", repeat: true}),
            act(["Escape"], "Choose nothing", () => this.choose(null, false)),
        ], this.root);
    }

    close_up() {
        const {x, y, w, h: hgt} = bounds_of_all(this.picked);
        this.map.focus([[x, y], [x + w, y + hgt]], Math.max(w, hgt) / 2);
    }
}
