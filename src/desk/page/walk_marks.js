// Marks on a walk: names with keys of one's own choice; a key pressed shortly notes a moment, a key
// held a span. The name's key works while the walk plays.

import {get, post, put, remove, say, tell_trouble} from "./api.js";
import {fresh_id, h, key_cap, replace} from "./dom.js";
import {clock, count, span} from "./words.js";

const HOLD_MS = 350;  // a key held longer notes a span

export class WalkMarks {
    // host: t_us(), frame_end(), go_to(t), changed()
    constructor(walk, host) {
        Object.assign(this, {walk, host});
        this.names = [];
        this.rows = [];
        this.chosen = null;
        this.running = new Map();  // name -> {from_us, at_ms}
        this.name_list = h("div", {class: "names"});
        this.list = h("ol", {class: "marks"});
        this.element = h("aside", {class: "mark-side", "aria-label": "Marks"}, this.name_list, this.list);
        this.draft_key = "lookfall.mark-name";
    }

    close() {
        this.closed = true;
    }

    async load() {
        const [names, marks] = await Promise.all([get("/api/mark-names"),
            get(`/api/marks?walk=${this.walk.id}`)]);
        this.names = names.rows;
        this.take(marks);
        this.draw();
    }

    // The walk's marks as they are now, and the way back the program keeps for this person.
    take({rows, undo, redo}) {
        this.rows = rows;
        this.undo_words = undo;
        this.redo_words = redo;
    }

    draw() {
        if (this.closed)
            return;
        this.draw_names();
        this.draw_list();
        this.host.changed();
    }

    draw_names() {
        const draft = JSON.parse(sessionStorage.getItem(this.draft_key) ?? "{}");
        const id = fresh_id("mark");
        const name = h("input", {type: "text", id, maxLength: 100, value: draft.name ?? "",
            placeholder: "asks for help"});
        const key = h("input", {type: "text", class: "one-key", maxLength: 1, value: draft.key ?? "",
            "aria-label": "Its key, a letter or digit", placeholder: "key"});
        const form = h("form", {oninput: () => sessionStorage.setItem(this.draft_key,
            JSON.stringify({name: name.value, key: key.value})), onsubmit: (event) => {
            event.preventDefault();
            this.add_name(name.value.trim(), key.value.toLowerCase());
        }}, h("label", {htmlFor: id}, "New name"), name, key, h("button", {type: "submit"}, "Add"));
        replace(this.name_list, h("h2", {}, "Marks"), h("p", {class: "choices"},
            h("button", {type: "button", class: "small", disabled: !this.undo_words, id: "marks-undo",
                title: this.undo_words, onclick: () => this.go_back(false)}, "Take back ", key_cap("Ctrl+z")),
            h("button", {type: "button", class: "small", disabled: !this.redo_words, id: "marks-redo",
                title: this.redo_words, onclick: () => this.go_back(true)}, "Again ", key_cap("Ctrl+y"))),
            h("p", {class: "quiet"}, "Press a name's key for a moment, hold it for a span."),
            h("ul", {}, this.names.map((entry) => h("li", {class: this.running.has(entry.name)
                ? "running" : null},
            h("button", {type: "button", class: "note", onclick: () => this.add(entry.name,
                this.host.t_us(), null)}, entry.name, " ", entry.key ? key_cap(entry.key) : null),
            h("span", {class: "quiet"}, this.running.has(entry.name) ? "… held"
                : entry.marks ? entry.marks.toLocaleString("en") : ""),
            h("button", {type: "button", class: "small", "aria-label": `Change ${entry.name}`,
                onclick: () => this.edit_name(entry)}, "Change")))), form);
    }

    async names_from(what, request) {
        try {
            this.names = (await request).rows;
            this.draw();
            return true;
        } catch (error) {
            tell_trouble(what, error);
            return false;
        }
    }

    async add_name(name, key) {
        if (!name)
            return;
        if (key && !/^[a-z0-9]$/.test(key)) {
            say("A mark's key is a letter or a digit; the other keys work the walk.");
            return;
        }
        if (await this.names_from("The name was not added.", post("/api/mark-names",
            {name, key: key || null}))) {
            sessionStorage.removeItem(this.draft_key);
            this.draw();
        }
    }

    edit_name(entry) {
        const name = h("input", {type: "text", value: entry.name, maxLength: 100, "aria-label": "Name"});
        const key = h("input", {type: "text", class: "one-key", maxLength: 1, value: entry.key ?? "",
            "aria-label": "Its key, a letter or digit"});
        const dialog = h("dialog", {class: "small-form", "aria-label": `Change ${entry.name}`},
            h("form", {method: "dialog", onsubmit: async (event) => {
                event.preventDefault();
                const one = key.value.toLowerCase();
                if (one && !/^[a-z0-9]$/.test(one)) {
                    say("A mark's key is a letter or a digit; the other keys work the walk.");
                    return;
                }
                if (await this.names_from("The name was not changed.", put("/api/mark-names", {
                    name: entry.name, new_name: name.value.trim(), key: one || null}))) {
                    dialog.close();
                    this.load().catch(() => {});
                }
            }}, h("p", {class: "row"}, h("span", {}, "Name"), name), h("p", {class: "row"},
                h("span", {}, "Key"), key), h("p", {class: "choices"},
                h("button", {type: "submit", class: "main"}, "Keep"),
                h("button", {type: "button", disabled: entry.marks > 0,
                    title: entry.marks ? `${count(entry.marks, "mark")} have this name` : null,
                    onclick: async () => {
                        if (await this.names_from("The name was not removed.",
                            remove("/api/mark-names", {name: entry.name})))
                            dialog.close();
                    }}, "Remove the name"),
                h("button", {type: "button", onclick: () => dialog.close()}, "Leave"))));
        dialog.onclose = () => dialog.remove();
        document.body.append(dialog);
        dialog.showModal();
    }

    draw_list() {
        replace(this.list, this.rows.map((mark) => h("li", {"aria-current": mark.id === this.chosen
            ? "true" : null},
        h("button", {type: "button", class: "mark", id: `mark-${mark.id}`,
            onclick: () => this.choose(mark.id, true)},
        h("strong", {}, mark.name), h("span", {class: "number"}, ` ${clock(mark.from_us)}`),
        mark.to_us === null ? null : h("span", {class: "quiet"}, ` for ${span(mark.to_us - mark.from_us)}`)),
        mark.id === this.chosen ? this.editor(mark) : null)));
        if (!this.rows.length)
            replace(this.list, h("li", {class: "quiet"}, this.names.length ? "No marks on this walk yet."
                : "First add a name above."));
    }

    editor(mark) {
        const change = (changes) => this.change(mark, changes);
        return h("div", {class: "edit"},
            h("label", {}, "Name ", h("select", {onchange: (event) => change({name: event.target.value})},
                this.names.map((entry) => h("option", {selected: entry.name === mark.name}, entry.name)))),
            h("button", {type: "button", onclick: () => change({from_us: this.host.t_us(),
                to_us: mark.to_us !== null && mark.to_us <= this.host.t_us() ? null : mark.to_us})},
            "Starts here ", key_cap("[")),
            h("button", {type: "button", onclick: () => this.end_here(mark)}, "Ends here ", key_cap("]")),
            mark.to_us === null ? null : h("button", {type: "button",
                onclick: () => change({to_us: null})}, "Only a moment"),
            h("button", {type: "button", onclick: () => this.drop(mark)}, "Delete ", key_cap("Delete")),
            h("p", {class: "quiet"}, `by ${mark.who}`));
    }

    choose(id, go) {
        this.chosen = id;
        const mark = this.rows.find((row) => row.id === id);
        if (mark && go)
            this.host.go_to(mark.from_us);
        this.draw();
        document.getElementById(`mark-${id}`)?.scrollIntoView({block: "nearest"});
    }

    step(by) {
        if (!this.rows.length)
            return;
        const now = this.rows.findIndex((row) => row.id === this.chosen);
        const t = this.host.t_us();
        const next = now >= 0 ? now + by : by > 0 ? this.rows.findIndex((row) => row.from_us > t)
            : this.rows.findLastIndex((row) => row.from_us < t);
        if (this.rows[next])
            this.choose(this.rows[next].id, true);
    }

    get mark() {
        return this.rows.find((row) => row.id === this.chosen) ?? null;
    }

    end_here(mark) {
        const t = this.host.t_us();
        if (t <= mark.from_us)
            say("The end has to come after the start.");
        else
            this.change(mark, {to_us: t});
    }

    // After a change: names with their counts, marks, the way back.
    async reload() {
        const [names, marks] = await Promise.all([get("/api/mark-names", {quiet: true}),
            get(`/api/marks?walk=${this.walk.id}`, {quiet: true})]);
        this.names = names.rows;
        this.take(marks);
    }

    // Sends a change; what came of it is drawn, and a failure told with a way to try again.
    async send(request, done, what, again) {
        try {
            done(await request());
        } catch (error) {
            tell_trouble(what, error, again);
        }
        try {
            await this.reload();
        } catch (error) {
            tell_trouble("The marks cannot be shown as they are now.", error);
        }
        this.draw();
    }

    add(name, from_us, to_us) {
        return this.send(() => post("/api/marks", {walk: this.walk.id, name, from_us, to_us}), (mark) => {
            this.chosen = mark.id;
            say(`${name} at ${clock(from_us, 1)}${to_us === null ? "" : `, for ${span(to_us - from_us)}`}`,
                {words: "Take back (Ctrl Z)", action: () => this.go_back(false)});
        }, `The mark “${name}” was not kept.`, () => this.add(name, from_us, to_us));
    }

    change(mark, changes) {
        const {name, from_us, to_us} = {...mark, ...changes};
        return this.send(() => put(`/api/marks/${mark.id}`, {name, from_us, to_us}), () => {},
            "The mark was not changed.", () => this.change(mark, changes));
    }

    drop(mark) {
        return this.send(() => remove(`/api/marks/${mark.id}`), () => {
            this.chosen = null;
            say(`Deleted ${mark.name} at ${clock(mark.from_us, 1)}`, {words: "Take back (Ctrl Z)",
                action: () => this.go_back(false)});
        }, "The mark was not deleted.", () => this.drop(mark));
    }

    go_back(redo) {
        const words = redo ? this.redo_words : this.undo_words;
        if (!words) {
            say(redo ? "There is nothing to do again." : "There is nothing of yours to take back on this walk.");
            return;
        }
        return this.send(() => post(`/api/marks/${redo ? "redo" : "undo"}`, {walk: this.walk.id}),
            () => say(`${redo ? "Done again" : "Taken back"}: ${words}`), "That did not work.", null);
    }

    press(name) {
        this.running.set(name, {from_us: this.host.t_us(), at_ms: performance.now()});
        this.draw_names();
    }

    release(name) {
        const begun = this.running.get(name);
        if (!begun)
            return;
        this.running.delete(name);
        const to_us = this.host.t_us();
        const held = performance.now() - begun.at_ms >= HOLD_MS && to_us > begun.from_us;
        this.add(name, begun.from_us, held ? to_us : null);
    }

    commands() {
        const of_mark = (keys, words, action) => ({keys, words, action, group: "Marks",
            when: () => this.mark !== null});
        return [
            ...this.names.filter((entry) => entry.key).map((entry) => ({keys: [entry.key],
                words: `${entry.name} (hold for a span)`, group: "Marks",
                action: () => this.press(entry.name), up: () => this.release(entry.name)})),
            {keys: ["."], words: "Next mark", group: "Marks", action: () => this.step(1)},
            {keys: [","], words: "Mark before", group: "Marks", action: () => this.step(-1)},
            of_mark(["["], "The chosen mark starts here", () => this.change(this.mark, {from_us: this.host.t_us()})),
            of_mark(["]"], "The chosen mark ends here", () => this.end_here(this.mark)),
            {keys: ["Ctrl+z"], words: "Take back my last change of marks", group: "Marks",
                action: () => this.go_back(false)},
            {keys: ["Ctrl+y", "Ctrl+Shift+z"], show: ["Ctrl+y"], words: "Do it again", group: "Marks",
                action: () => this.go_back(true)},
            {...of_mark(["Delete", "Backspace"], "Delete the chosen mark", () => this.drop(this.mark)), show: ["Delete"]},
        ];
    }
}
