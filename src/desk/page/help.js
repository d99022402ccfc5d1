// The keys of the view that is open, from the table the keyboard itself works by.

import {h, key_cap} from "./dom.js";
import {all_commands, single_keys} from "./keys.js";

export function open_help() {
    const groups = new Map();
    for (const command of all_commands()) {
        if (!command.words)
            continue;
        const list = groups.get(command.group ?? "Here") ?? [];
        list.push(command);
        groups.set(command.group ?? "Here", list);
    }
    const dialog = h("dialog", {class: "help", "aria-label": "Keys"},
        h("div", {class: "head"}, h("h1", {}, "Keys"),
            h("label", {class: "check"}, h("input", {type: "checkbox", checked: single_keys.on,
                onchange: (event) => (single_keys.on = event.target.checked)}),
            " Single letters are commands"),
            h("button", {type: "button", autofocus: true, onclick: () => dialog.close()}, "Close ",
                key_cap("Escape"))),
        h("div", {class: "groups"}, [...groups].map(([name, list]) =>
            h("section", {}, h("h2", {}, name), h("dl", {}, list.map((command) =>
                h("div", {}, h("dt", {}, (command.show ?? command.keys)
                    .map((key, i) => [i ? " " : null, key_cap(key)])),
                h("dd", {}, command.words))))))),
        h("p", {class: "quiet"}, "Everything can also be reached with Tab and Enter."));
    dialog.onclose = () => dialog.remove();
    dialog.onclick = (event) => {
        if (event.target === dialog)
            dialog.close();
    };
    document.body.append(dialog);
    dialog.showModal();
}
