// The side of the areas: what is chosen, and all of them by group.

import {bounds_of, fit_shape} from "./area_shapes.js";
import {h, key_cap} from "./dom.js";
import {count} from "./words.js";

function field(id, words, input, key) {
    return h("p", {class: "row"}, h("label", {htmlFor: id}, words, key ? [" ", key_cap(key)] : null), input);
}

function number_field(id, words, value, change, more = {}) {
    return field(id, words, h("input", {type: "number", id, value, step: "any", ...more,
        onchange: (event) => {
            if (event.target.value !== "" && Number.isFinite(event.target.valueAsNumber))
                change(event.target.valueAsNumber);
        }}));
}

export function area_panel(view) {
    const {picked} = view;
    if (!picked.length)
        return h("p", {class: "quiet"}, view.areas.length
            ? ["Choose an area on the photo, in the list, or with ", key_cap("."), " and ", key_cap(","), "."]
            : ["Areas are what looks are counted on: a pack, a brand's block, a price rail."]);
    const one = picked.length === 1 ? picked[0] : null;
    const groups = [...new Set(view.areas.map((area) => area.group).filter(Boolean))];
    const same_group = picked.every((area) => area.group === picked[0].group);
    const box = one && bounds_of(one);
    const reshape = (name) => (value) => view.amend(one.id,
        {points: fit_shape(one, {...box, [name]: value})});
    return [
        one ? field("area-name", "Name", h("input", {type: "text", id: "area-name", value: one.name,
            maxLength: 200, onchange: (event) => view.amend(one.id, {name: event.target.value.trim()})}), "n")
            : h("h2", {}, count(picked.length, "area"), " chosen"),
        field("area-group", "Group", h("input", {type: "text", id: "area-group",
            value: same_group ? picked[0].group : "", maxLength: 400, list: undefined,
            placeholder: same_group ? "shelf/brand" : "different ones", "aria-describedby": "group-told",
            onchange: (event) => view.set_group(event.target.value.trim())}), "g"),
        h("p", {class: "quiet", id: "group-told"}, "Outermost first, parted by “/”: every level is measured too."),
        groups.length ? h("p", {class: "choices"}, groups.slice(0, 6).map((group) => h("button",
            {type: "button", class: "small", onclick: () => view.set_group(group)}, group))) : null,
        one ? h("div", {class: "numbers"},
            number_field("area-x", "Left", Math.round(box.x * 100) / 100, reshape("x")),
            number_field("area-y", "Top", Math.round(box.y * 100) / 100, reshape("y")),
            number_field("area-w", "Width", Math.round(box.w * 100) / 100, reshape("w"), {min: 1}),
            number_field("area-h", "Height", Math.round(box.h * 100) / 100, reshape("h"), {min: 1})) : null,
        h("p", {class: "choices"},
            h("button", {type: "button", onclick: () => view.begin_copy()}, "Copy along a row ", key_cap("c")),
            h("button", {type: "button", onclick: () => view.drop()}, "Delete ", key_cap("Delete"))),
    ];
}

export function copy_panel(view) {
    const {copying} = view;
    const set = (name) => (value) => {
        copying[name] = name === "count" ? Math.min(Math.max(Math.round(value), 1), 200) : value;
        view.show_copy();
    };
    const live = (name) => ({oninput: (event) => Number.isFinite(event.target.valueAsNumber) &&
        set(name)(event.target.valueAsNumber)});
    return h("form", {onsubmit: (event) => {
        event.preventDefault();
        view.keep_copy();
    }},
    h("h2", {}, "Copy along a row"),
    number_field("copy-count", "How many", copying.count, set("count"), {min: 1, max: 200, ...live("count")}),
    number_field("copy-dx", "Each further right, px", copying.dx, set("dx"), live("dx")),
    number_field("copy-dy", "Each further down, px", copying.dy, set("dy"), live("dy")),
    h("p", {class: "quiet"}, "The photo shows where they will be. Names are counted on."),
    h("p", {class: "choices"}, h("button", {type: "submit", class: "main"}, "Copy ", key_cap("Enter")),
        h("button", {type: "button", onclick: () => view.leave_copy()}, "Leave")));
}

// Areas under their groups, as a tree.
export function area_list(view) {
    const tree = {groups: new Map(), areas: []};
    for (const area of view.areas) {
        let node = tree;
        for (const part of area.group ? area.group.split("/") : []) {
            if (!node.groups.has(part))
                node.groups.set(part, {groups: new Map(), areas: []});
            node = node.groups.get(part);
        }
        node.areas.push(area);
    }
    const draw = (node) => h("ul", {},
        [...node.groups].map(([name, inner]) => h("li", {class: "group"}, h("strong", {}, name), draw(inner))),
        node.areas.map((area) => h("li", {}, h("button", {type: "button", id: `area-${area.id}`,
            "aria-pressed": String(view.chosen.has(area.id)),
            onclick: (event) => {
                view.last_chosen = area.id;
                view.choose(area.id, event.shiftKey);
            }}, area.name))));
    return view.areas.length ? draw(tree) : null;
}
