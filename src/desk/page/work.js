// The worklist: what is doubtful, most gaze at stake first.

import {get, link, tell_trouble} from "./api.js";
import {fresh_id, h, key_cap, replace} from "./dom.js";
import {filter_query, read_filters, with_filters} from "./filters.js";
import {set_commands} from "./keys.js";
import {open_agreement} from "./agreement.js";
import {desk, photo_of, reason_words, walk_of} from "./state.js";
import {undo_commands} from "./undo.js";
import {by_names, clock, count, minutes, percent, span} from "./words.js";

const PAGE = 100;

export async function open(root, _id, query) {
    const filters = read_filters(query);
    let list = await get(link("/api/worklist", {...filters, count: PAGE}));
    let rows = list.rows;
    let chosen = 0;
    let closed = false;
    let filling = false;
    let drawn_most = 0;

    const summary = h("section", {class: "summary", "aria-label": "How far it is settled"});
    const side = h("aside", {class: "filters", "aria-label": "Filters"});
    const table_body = h("tbody");
    const table = h("table", {class: "work", "aria-label": "Doubtful stretches"},
        h("thead", {}, h("tr", {}, ["", "At stake", "Why it is doubtful", "Walk", "At", "Photo",
            "Confidence", ""].map((words) => h("th", {scope: "col"}, words)))), table_body);
    const foot = h("p", {class: "quiet foot"});
    const scroll = h("div", {class: "scroll", onscroll: () => fill_more()}, table, foot);
    replace(root, h("div", {class: "worklist"}, side, h("div", {class: "list"}, summary, scroll)));

    function draw_summary() {
        const p = desk.progress;
        const start = h("button", {type: "button", class: "main", disabled: !rows.length,
            onclick: () => enter(chosen)}, filters.settled === "yes" ? "Look at it" : "Start",
        " ", key_cap("Enter"));
        const facts = [
            [percent(p.share), p.stretches ? `settled: ${p.settled.toLocaleString("en")} of ${count(p.stretches, "stretch", "stretches")}`
                : "nothing is doubtful in this study"],
            [span(p.left_us), "of gaze left"],
            [p.left_us === 0 ? "done" : p.minutes_left === null ? "?" : minutes(p.minutes_left),
                p.left_us === 0 ? "nothing is left"
                    : p.minutes_left === null ? "time left; known after five"
                        : `left, at ${p.pace_s.toFixed(1)} s each`],
        ];
        const uncast = desk.study.walks.filter((walk) => walk.cast < 1).length;
        if (!p.stretches && uncast === desk.study.walks.length)  // nothing is known: that is not "settled"
            facts.splice(0);
        if (uncast)
            facts.push([count(uncast, "walk"), uncast > 1 ? "are not cast yet" : "is not cast yet"]);
        if (p.most && p.left_us > 0 && p.most.stretches < p.stretches - p.settled)
            facts.push([count(p.most.stretches, "stretch", "stretches"),
                `hold ${percent(p.most.share)} of it${p.most.minutes === null ? ""
                    : `, ${minutes(p.most.minutes)}`}`]);
        replace(summary, h("dl", {}, facts.map(([value, words]) =>
            h("div", {}, h("dt", {}, value), h("dd", {}, words)))), start);
    }

    function choose_filter(name, value) {
        const next = {...filters, [name]: value};
        location.replace(with_filters("#/doubts", next));
    }

    function draw_filters() {
        const named = (name, words, options, value) => {
            const id = fresh_id("filter");
            return h("p", {}, h("label", {htmlFor: id}, words), h("select", {id,
                onchange: (event) => choose_filter(name, event.target.value)},
            options.map(([key, text]) => h("option", {value: key, selected: key === value}, text))));
        };
        const by_walk = new Map(list.by_walk.map(([id, n]) => [id, n]));
        const asked = filters.reason?.split(",") ?? null;
        const is_on = (reason) => asked ? asked.includes(reason.id) : reason.listed;
        const reasons = desk.study.reasons.filter((reason) =>
            (list.reasons[reason.id] ?? 0) > 0 || (asked && is_on(reason)));
        const toggle = (reason) => {
            const on = desk.study.reasons.filter((other) =>
                other === reason ? !is_on(other) : is_on(other)).map((other) => other.id);
            const standard = desk.study.reasons.filter((other) => other.listed)
                .map((other) => other.id);
            choose_filter("reason", on.join() === standard.join() ? "" : on.join() || "none");
        };
        replace(side,
            h("h2", {}, "Show"),
            named("settled", "Which", [["", "To be settled"], ["yes", "Settled"], ["all", "All"]],
                filters.settled ?? ""),
            named("order", "First", [["", "Most gaze at stake"], ["time", "By walk and time"]],
                filters.order ?? ""),
            named("walk", "Walk", [["", "All walks"], ...desk.study.walks
                .filter((walk) => by_walk.has(walk.id) || String(walk.id) === filters.walk)
                .map((walk) => [String(walk.id), `${walk.name} (${by_walk.get(walk.id) ?? 0})`])],
            filters.walk ?? ""),
            desk.study.photos.length > 1 ? named("photo", "Photo", [["", "All photos"],
                ...desk.study.photos.map((photo) => [String(photo.id), photo.name])],
            filters.photo ?? "") : null,
            h("fieldset", {}, h("legend", {}, "Why it is doubtful"), reasons.map((reason) =>
                h("label", {class: "check"}, h("input", {type: "checkbox", checked: is_on(reason),
                    onchange: () => toggle(reason)}), h("span", {}, reason.words),
                h("span", {class: "n"}, (list.reasons[reason.id] ?? 0).toLocaleString("en")))),
            reasons.length ? null : h("p", {class: "quiet"}, "Nothing")),
            desk.study.reviewers.length > 1 ? h("button", {type: "button",
                onclick: open_agreement}, "How well reviewers agree") : null);
    }

    function row_of(row, i, most) {
        const walk = walk_of(row.walk);
        const photo = row.photo === null ? null : photo_of(row.photo);
        return h("tr", {id: `row-${i}`, "aria-selected": i === chosen, class: row.settled
            ? "settled" : null, onclick: () => enter(i)},
        h("td", {class: "order"}, i + 1),
        h("td", {class: "stake"}, h("span", {class: "bar", style: {"--part":
            `${Math.max(2, 100 * row.stake_us / most)}%`}}), h("span", {}, span(row.stake_us)),
        row.left_us > 0 && row.left_us < row.stake_us
            ? h("span", {class: "quiet"}, ` ${span(row.left_us)} left`) : null),
        h("td", {}, h("a", {href: with_filters(`#/stretch/${row.id}`, filters),
            onclick: (event) => event.stopPropagation()}, reason_words(row.reason))),
        h("td", {}, walk.name),
        h("td", {class: "number"}, clock(row.from_us, 1)),
        h("td", {}, photo ? photo.name : h("span", {class: "quiet"}, "none")),
        h("td", {class: "number"}, row.confidence === null ? "" : percent(row.confidence)),
        h("td", {class: "quiet"}, row.settled ? `settled by ${by_names(row.by)}`
            : row.by.length ? `begun by ${by_names(row.by)}` : ""));
    }

    // known: rows that are drawn already, and stay unless the bars' measure grows.
    function draw_rows(known = 0) {
        const most = rows.reduce((so_far, row) => Math.max(so_far, row.stake_us), 1);
        if (!known || most > drawn_most) {
            known = 0;
            drawn_most = most;
            replace(table_body);
        }
        table_body.append(...rows.slice(known).map((row, i) => row_of(row, known + i, most)));
        table.hidden = rows.length === 0;
        const filtered = Object.keys(filters).length > 0;
        replace(foot, rows.length < list.total
            ? `${count(list.total - rows.length, "more stretch", "more stretches")} below`
            : rows.length ? `${count(list.total, "stretch", "stretches")}, ${span(list.left_us)} of gaze left`
                : desk.study.walks.length === 0 ? "This study has no walks yet: lookfall walk add"
                    : desk.study.walks.every((walk) => walk.cast === 0)
                        ? "Nothing is cast yet: run lookfall cast, then come back."
                        : filtered ? "Nothing fits these filters."
                            : "Nothing is left to settle. Well done.");
    }

    async function fill_more() {
        if (filling || closed || rows.length >= list.total ||
            scroll.scrollTop + scroll.clientHeight < scroll.scrollHeight - 600)
            return;
        filling = true;
        try {
            const more = await get(link("/api/worklist", {...filters, from: rows.length,
                count: PAGE}));
            const known = rows.length;
            rows = [...rows, ...more.rows];
            if (!closed)
                draw_rows(known);
        } catch (error) {
            tell_trouble("The list did not go on.", error, fill_more);
        } finally {
            filling = false;
        }
    }

    function choose(i) {
        if (!rows.length)
            return;
        document.getElementById(`row-${chosen}`)?.setAttribute("aria-selected", "false");
        chosen = Math.min(Math.max(i, 0), rows.length - 1);
        const row = document.getElementById(`row-${chosen}`);
        row.setAttribute("aria-selected", "true");
        row.scrollIntoView({block: "nearest"});
    }

    function enter(i) {
        if (rows[i])
            location.assign(with_filters(`#/stretch/${rows[i].id}`, filters));
    }

    function draw() {
        draw_summary();
        draw_filters();
        draw_rows();
    }

    draw();
    requestAnimationFrame(() => requestAnimationFrame(() =>
        performance.mark("worklist shown", {detail: list.total})));
    set_commands([
        {keys: ["Enter"], words: "Open the chosen stretch", group: "List",
            action: () => enter(chosen)},
        {keys: ["ArrowDown"], words: "Next in the list", group: "List", repeat: true,
            action: () => choose(chosen + 1)},
        {keys: ["ArrowUp"], words: "The one before", group: "List", repeat: true,
            action: () => choose(chosen - 1)},
        {keys: ["PageDown"], words: "Ten further", group: "List", repeat: true,
            action: () => choose(chosen + 10)},
        {keys: ["PageUp"], words: "Ten back", group: "List", repeat: true,
            action: () => choose(chosen - 10)},
        {keys: ["Home"], words: "To the top", group: "List", action: () => choose(0)},
        ...undo_commands((step) => {
            if (step.stretch !== null)
                location.assign(with_filters(`#/stretch/${step.stretch}`, filters));
        }),
    ], root);

    let refreshing = false;
    return {
        close: () => (closed = true),
        async change() {
            draw_summary();
            if (refreshing || filter_query(filters) === null)
                return;
            refreshing = true;
            try {
                const fresh = await get(link("/api/worklist", {...filters,
                    count: Math.min(Math.max(rows.length, PAGE), 1000)}), {quiet: true});
                if (closed || fresh.version === list.version)
                    return;
                list = fresh;
                rows = fresh.rows;
                chosen = Math.min(chosen, Math.max(rows.length - 1, 0));
                draw();
            } catch {
                // the next pulse tries again
            } finally {
                refreshing = false;
            }
        },
    };
}
