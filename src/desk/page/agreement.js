// How far reviewers who placed the same samples agree.

import {get, tell_trouble} from "./api.js";
import {h, key_cap} from "./dom.js";
import {percent} from "./words.js";

export async function open_agreement() {
    let rows;
    try {
        ({rows} = await get("/api/agreement"));
    } catch (error) {
        tell_trouble("The agreement cannot be shown.", error);
        return;
    }
    const degrees = (value) => value === null ? "–" : `${value.toFixed(2)}°`;
    const head = ["First", "Second", "Decided by both", "Samples", "Median distance",
        "95% within", "Same state", "Cohen's kappa"];
    const dialog = h("dialog", {class: "agreement", "aria-label": "How well reviewers agree"},
        h("div", {class: "head"}, h("h1", {}, "How well reviewers agree"),
            h("button", {type: "button", onclick: () => dialog.close()}, "Close ",
                key_cap("Escape"))),
        rows.length ? h("table", {}, h("thead", {}, h("tr", {}, head.map((words) =>
            h("th", {scope: "col"}, words)))), h("tbody", {}, rows.map((row) => h("tr", {},
            h("td", {}, row.first), h("td", {}, row.second), h("td", {class: "number"}, row.pairs),
            h("td", {class: "number"}, row.samples),
            h("td", {class: "number"}, degrees(row.median_deg)),
            h("td", {class: "number"}, degrees(row.p95_deg)),
            h("td", {class: "number"}, row.same_state === null ? "–" : percent(row.same_state)),
            h("td", {class: "number"}, row.kappa === null ? "–" : row.kappa.toFixed(2))))))
            : h("p", {}, "Nobody has settled the same stretches yet. A second person signs in ",
                "with “a second look, blind” and works through a part of them."));
    dialog.onclose = () => dialog.remove();
    document.body.append(dialog);
    dialog.showModal();
}
