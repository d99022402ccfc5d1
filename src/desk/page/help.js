// The keys of the view that is open, from the table the keyboard itself works by.

import {h, key_cap} from "./dom.js";
import {all_commands, single_keys} from "./keys.js";

const COLUMNS = 3;

// The groups in columns about equally long: the longest first, each where there is most room.
function in_columns(groups) {
    const columns = Array.from({length: COLUMNS}, () => ({lines: 0, groups: []}));
    for (const group of [...groups].sort((a, b) => b[1].length - a[1].length)) {
        const column = columns.reduce((a, b) => b.lines < a.lines ? b : a);
        column.groups.push(group);
        column.lines += group[1].length + 2;  // the heading takes room too
    }
    return columns.map((column) => column.groups);
}

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
        h("div", {class: "groups"}, in_columns(groups).map((column) =>
            h("div", {}, column.map(([name, list]) => h("section", {}, h("h2", {}, name),
                h("dl", {}, list.map((command) =>
                    h("div", {}, h("dt", {}, (command.show ?? command.keys)
                        .map((key, i) => [i ? " " : null, key_cap(key)])),
                    h("dd", {}, command.words))))))))),
        h("p", {class: "quiet"}, "Everything can also be reached with Tab and Enter."));
    dialog.onclose = () => dialog.remove();
    dialog.onclick = (event) => {
        if (event.target === dialog)
            dialog.close();
    };
    document.body.append(dialog);
    dialog.showModal();
}
