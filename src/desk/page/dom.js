// Making elements. h("button", {class: "go", onclick: f}, "Go") gives an element; a property that
// the element knows is set as such, anything else becomes an attribute; null and false are left
// out. s() does the same for SVG.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, children) {
    for (const child of children.flat(Infinity))
        if (child !== null && child !== undefined && child !== false)
            node.append(child);
    return node;
}

export function h(tag, props = {}, ...children) {
    const node = document.createElement(tag);
    for (const [name, value] of Object.entries(props)) {
        if (value === null || value === undefined)
            continue;
        if (name.startsWith("aria-"))  // "true" and "false" are words there
            node.setAttribute(name, String(value));
        else if (value === false)
            continue;
        else if (name === "class")
            node.className = value;
        else if (name === "style")
            for (const [key, part] of Object.entries(value))
                key.startsWith("--") ? node.style.setProperty(key, part) : (node.style[key] = part);
        else if (name.startsWith("on") || name in node)
            node[name] = value;
        else
            node.setAttribute(name, value === true ? "" : value);
    }
    return fill(node, children);
}

export function s(tag, attributes = {}, ...children) {
    const node = document.createElementNS(SVG, tag);
    for (const [name, value] of Object.entries(attributes))
        if (value !== null && value !== undefined && value !== false)
            node.setAttribute(name, value);
    return fill(node, children);
}

export function replace(node, ...children) {
    node.replaceChildren();
    return fill(node, children);
}

// A key as it is shown to people.
const KEY_NAMES = {
    " ": "Space", ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓", Escape: "Esc",
    PageUp: "Page ↑", PageDown: "Page ↓", Delete: "Del",
};

export function key_cap(combination) {
    // "Shift+ArrowLeft" or "+" alone
    const parts = combination.length > 1 ? combination.split("+") : [combination];
    // keys are printed in capitals, so a capital letter is told by the Shift it needs
    const named = (part) => KEY_NAMES[part] ?? (/^[A-Z]$/.test(part) ? `⇧${part}`
        : part.length === 1 ? part.toUpperCase() : part);
    return h("kbd", {}, parts.map(named).join(" "));
}

// A button with its key in it.
export function key_button(words, combination, action, props = {}) {
    return h("button", {type: "button", onclick: action, ...props}, words,
        combination ? [" ", key_cap(combination)] : null);
}

let names = 0;
export function fresh_id(stem) {
    return `${stem}-${++names}`;
}
