// Who decided what on a stretch, newest first, each to be lifted on its own.

import {h} from "./dom.js";
import {DECISIONS, clock, span} from "./words.js";

export function placements_list(data, lift) {
    if (!data.placements.length)
        return null;
    return h("details", {class: "placements"},
        h("summary", {}, `Decisions (${data.placements.filter((p) => !p.lifted).length})`),
        h("ul", {}, data.placements.map((placement) => h("li", {class: placement.lifted ? "lifted" : null},
            h("strong", {}, placement.who), ` ${DECISIONS[placement.kind] ?? placement.kind}`,
            h("span", {class: "quiet"}, ` ${clock(placement.from_us, 1)}, ${span(placement.to_us - placement.from_us)}, ${new Date(placement.at).toLocaleString()}`,
                placement.blind ? ", blind" : "", placement.lifted ? ", lifted" : ""),
            placement.lifted ? null : h("button", {type: "button", onclick: () => lift(placement)},
                "Lift")))));
}
