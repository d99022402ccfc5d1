// The walks of the study: what became of their gaze, and a way into each.

import {band_fills, fit_canvas, legend} from "./bands.js";
import {h, replace} from "./dom.js";
import {set_commands} from "./keys.js";
import {desk} from "./state.js";
import {STATES, STATE_WORDS, clock, count, percent} from "./words.js";

export async function open(root) {
    const {walks} = desk.study;
    let chosen = Math.min(Number(sessionStorage.getItem("lookfall.walk") ?? 0),
        Math.max(walks.length - 1, 0));
    const canvases = [];
    const watch = new ResizeObserver(() => draw_bands());

    function draw_bands() {
        const fills = band_fills();
        canvases.forEach((canvas, i) => {
            const {context, w, h: hgt} = fit_canvas(canvas);
            const {states} = walks[i];
            const total = STATES.reduce((sum, name) => sum + (states[name] ?? 0), 0);
            let x = 0;
            for (const state of [4, 5, 3, 2, 1, 0]) {
                const part = w * (states[STATES[state]] ?? 0) / Math.max(total, 1);
                const fill = fills(context, state);
                if (fill && part > 0) {
                    context.fillStyle = fill;
                    context.fillRect(x, 0, part, hgt);
                }
                x += part;
            }
        });
    }

    const rows = walks.map((walk, i) => {
        const canvas = h("canvas", {class: "band", role: "img"});
        canvases.push(canvas);
        const total = STATES.reduce((sum, name) => sum + (walk.states[name] ?? 0), 0);
        const told = total ? STATES.map((name, k) => walk.states[name]
            ? `${percent(walk.states[name] / total)} ${STATE_WORDS[k]}` : null).filter(Boolean).join(", ")
            : "not cast yet";
        canvas.setAttribute("aria-label", told);
        canvas.title = told;
        return h("tr", {id: `walk-${i}`, "aria-selected": i === chosen, onclick: () => enter(i)},
            h("td", {}, h("a", {href: `#/walk/${walk.id}`, onclick: () => remember(i)}, walk.name)),
            h("td", {}, walk.participant ?? ""), h("td", {}, walk.group ?? ""),
            h("td", {class: "number"}, clock(walk.end_us, 0)),
            h("td", {class: "wide"}, canvas),
            h("td", {class: "number"}, walk.cast === 1 ? percent((walk.states.sure ?? 0) / Math.max(total - (walk.states.lost ?? 0), 1))
                : walk.cast > 0 ? `${percent(walk.cast)} cast` : "not cast"));
    });

    replace(root, h("div", {class: "walks"},
        h("h1", {}, count(walks.length, "walk")),
        walks.length ? h("table", {class: "work"}, h("thead", {}, h("tr", {},
            ["Walk", "Participant", "Group", "Length", "What became of its gaze", "Sure"]
                .map((words) => h("th", {scope: "col"}, words)))), h("tbody", {}, rows))
            : h("p", {class: "quiet"}, "This study has no walks yet: lookfall walk add"),
        walks.length ? legend([4, 5, 3, 2, 1]) : null));
    canvases.forEach((canvas) => watch.observe(canvas));

    function remember(i) {
        sessionStorage.setItem("lookfall.walk", i);
    }

    function choose(i) {
        document.getElementById(`walk-${chosen}`)?.setAttribute("aria-selected", "false");
        chosen = Math.min(Math.max(i, 0), walks.length - 1);
        const row = document.getElementById(`walk-${chosen}`);
        row?.setAttribute("aria-selected", "true");
        row?.scrollIntoView({block: "nearest"});
    }

    function enter(i) {
        if (!walks[i])
            return;
        remember(i);
        location.assign(`#/walk/${walks[i].id}`);
    }

    set_commands([
        {keys: ["Enter"], words: "Open the chosen walk", group: "List", action: () => enter(chosen)},
        {keys: ["ArrowDown"], words: "Next walk", group: "List", repeat: true,
            action: () => choose(chosen + 1)},
        {keys: ["ArrowUp"], words: "Walk before", group: "List", repeat: true,
            action: () => choose(chosen - 1)},
    ], root);
    return {close: () => watch.disconnect()};
}
