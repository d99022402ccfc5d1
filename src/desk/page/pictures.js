// Pictures of what people looked at, drawn by the program as the choices change.

import {Refusal, link} from "./api.js";
import {h, key_cap, replace} from "./dom.js";
import {set_commands} from "./keys.js";
import {desk} from "./state.js";
import {count, span} from "./words.js";

const KINDS = [["heat", "Heat map"], ["focus", "Only what was looked at"], ["scanpath", "Scanpath"],
    ["areas", "Areas with their measures"], ["timeline", "Who looked where when"],
    ["transitions", "From area to area"], ["difference", "Where two groups differ"]];
const SPREADS = ["0.25deg", "0.5deg", "1deg", "1.5deg", "2deg", "3deg"];
const REST_MS = 300;  // choices that change quickly are drawn once
const KEPT = "lookfall.picture";

export async function open(root) {
    const view = new PicturesView(root);
    view.draw();
    return view;
}

class PicturesView {
    constructor(root) {
        const {photos} = desk.study;
        if (!photos.length)
            throw new Error("This study has no photo yet: lookfall photo add");
        this.choice = {kind: "heat", photo: photos[0].id, group: "", against: "", spread: "1deg",
            doubtful: false, level: "0", ...JSON.parse(sessionStorage.getItem(KEPT) ?? "{}")};
        if (!photos.some((photo) => photo.id === this.choice.photo))
            this.choice.photo = photos[0].id;
        this.groups = [...new Set(desk.study.walks.map((walk) => walk.group).filter(Boolean))];
        this.side = h("aside", {class: "filters", "aria-label": "What is drawn"});
        this.image = h("img", {alt: ""});
        this.told = h("p", {class: "quiet", role: "status"});
        replace(root, h("div", {class: "pictures"}, this.side,
            h("div", {class: "sheet"}, this.told, h("div", {class: "drawn"}, this.image))));
        set_commands([
            {keys: ["ArrowDown"], words: "Next kind of picture", group: "Pictures", action: () => this.step_kind(1)},
            {keys: ["ArrowUp"], words: "Kind before", group: "Pictures", action: () => this.step_kind(-1)},
            {keys: ["]"], words: "Spread each look wider", group: "Pictures", action: () => this.step_spread(1)},
            {keys: ["["], words: "Narrower", group: "Pictures", action: () => this.step_spread(-1)},
        ], root);
    }

    close() {
        this.closed = true;
        clearTimeout(this.timer);
        this.running?.abort();
        URL.revokeObjectURL(this.image.src);
    }

    set(name, value) {
        this.choice[name] = value;
        sessionStorage.setItem(KEPT, JSON.stringify(this.choice));
        this.draw_side();
        clearTimeout(this.timer);
        this.timer = setTimeout(() => this.draw_picture(), REST_MS);
    }

    step_kind(by) {
        const now = KINDS.findIndex(([kind]) => kind === this.choice.kind);
        this.set("kind", KINDS[(now + by + KINDS.length) % KINDS.length][0]);
    }

    step_spread(by) {
        const now = SPREADS.indexOf(this.choice.spread) + by;
        this.set("spread", SPREADS[Math.min(Math.max(now, 0), SPREADS.length - 1)]);
    }

    get spreads() {
        return ["heat", "focus", "difference"].includes(this.choice.kind);
    }

    get by_area() {
        return ["areas", "timeline", "transitions"].includes(this.choice.kind);
    }

    address(more) {
        const {kind, photo, group, against, spread, doubtful, level} = this.choice;
        return link("/api/draw", {kind, photo, group, doubtful: doubtful ? 1 : null,
            against: kind === "difference" ? against : null, kernel: this.spreads ? spread : null,
            level: this.by_area ? level : null, ...more});
    }

    draw() {
        this.draw_side();
        this.draw_picture();
    }

    draw_side() {
        const {choice} = this;
        const held = this.side.contains(document.activeElement) ? document.activeElement.id : null;
        const pick = (name, words, options, key) => {
            const id = `picture-${name}`;
            return h("p", {}, h("label", {htmlFor: id}, words, key ? [" ", key] : null),
                h("select", {id, onchange: (event) => this.set(name, name === "photo"
                    ? Number(event.target.value) : event.target.value)},
                options.map(([value, text]) => h("option", {value, selected: value === choice[name]}, text))));
        };
        const groups = this.groups.map((group) => [group, group]);
        replace(this.side, h("h2", {}, "Draw"),
            pick("kind", "Picture", KINDS, [key_cap("ArrowUp"), " ", key_cap("ArrowDown")]),
            desk.study.photos.length > 1 ? pick("photo", "Photo",
                desk.study.photos.map((photo) => [photo.id, photo.name])) : null,
            groups.length ? pick("group", "Of", [["", "Everybody"], ...groups]) : null,
            choice.kind === "difference" ? pick("against", "Against", [["", "Choose a group"], ...groups]) : null,
            this.spreads ? pick("spread", "Spread of a look", SPREADS.map((value) =>
                [value, value.replace("deg", "°")]), [key_cap("["), " ", key_cap("]")]) : null,
            this.by_area ? pick("level", "Level of areas", [["0", "The areas themselves"],
                ["1", "Outermost groups"], ["2", "Groups inside them"]]) : null,
            h("label", {class: "check"}, h("input", {type: "checkbox", id: "picture-doubtful", checked: choice.doubtful,
                onchange: (event) => this.set("doubtful", event.target.checked)}), h("span", {}, "Doubtful looks too")),
            h("h2", {}, "Save as"),
            h("p", {class: "choices"}, ["png", "svg", "pdf"].map((format) => h("a", {class: "save",
                href: this.address({format, width: 2400}), download: `${choice.kind}.${format}`}, format.toUpperCase()))));
        if (held)
            document.getElementById(held)?.focus();
    }

    async draw_picture() {
        this.running?.abort();
        const running = (this.running = new AbortController());
        if (this.choice.kind === "difference" && (!this.choice.group || !this.choice.against)) {
            replace(this.told, this.groups.length > 1 ? "Choose two groups to compare."
                : "The walks of this study are not in groups; walk add --group puts them there.");
            this.image.hidden = true;
            return;
        }
        replace(this.told, "Drawing ... ", h("progress", {"aria-label": "Drawing"}));
        this.image.classList.add("old");
        const width = Math.min(2400, Math.max(600, Math.round(this.image.parentElement.clientWidth * devicePixelRatio)));
        try {
            const response = await fetch(this.address({width}), {signal: running.signal, credentials: "same-origin"});
            if (!response.ok)
                throw new Refusal(response.status, "", (await response.json()).error);
            const facts = JSON.parse(response.headers.get("Lookfall-Picture") ?? "{}");
            const blob = await response.blob();
            if (this.closed || running !== this.running)
                return;
            URL.revokeObjectURL(this.image.src);
            this.image.src = URL.createObjectURL(blob);
            this.image.alt = KINDS.find(([kind]) => kind === this.choice.kind)[1];
            this.image.hidden = false;
            this.image.classList.remove("old");
            replace(this.told, facts.looks === undefined ? "" : `${count(facts.looks, "look")} of ${count(facts.people,
                "person", "people")}, ${span(facts.look_s * 1e6)}`, facts.unsettled_s > 0
                ? `; ${span(facts.unsettled_s * 1e6)} of gaze is not settled` : "");
        } catch (error) {
            if (error.name === "AbortError" || this.closed)
                return;
            this.image.hidden = true;
            replace(this.told, error.message);
        }
    }
}
