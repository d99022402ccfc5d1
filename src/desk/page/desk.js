// Start, the bar on top, and which view is open. The address after # names the view, so that a
// reload comes back to the same place:
//   #/doubts?FILTERS   #/stretch/77?FILTERS   #/walks   #/walk/3?t=12080000   #/areas/1   #/pictures

import {Refusal, clear_trouble, get, say_nothing, tell_trouble} from "./api.js";
import {h, key_cap, replace} from "./dom.js";
import {open_help} from "./help.js";
import {set_commands, set_general, set_opening} from "./keys.js";
import {open_sign_in} from "./sign_in.js";
import {desk, on_change, start_pulse, take_study} from "./state.js";
import {minutes, percent, span} from "./words.js";
import * as areas from "./areas.js";
import * as pictures from "./pictures.js";
import * as settle from "./settle.js";
import * as walk from "./walk.js";
import * as walks from "./walks.js";
import * as work from "./work.js";

const VIEWS = {doubts: work, stretch: settle, walks, walk, areas, pictures};
const TABS = [
    {view: "doubts", holds: ["doubts", "stretch"], words: "Doubts", key: "D"},
    {view: "walks", holds: ["walks", "walk"], words: "Walks", key: "W"},
    {view: "areas", holds: ["areas"], words: "Areas", key: "A"},
    {view: "pictures", holds: ["pictures"], words: "Pictures", key: "P"},
];

let open_view = null;  // what the open view gave: {close, change}
let open_tab = null;
let routing = 0;

function read_address() {
    const [path, query] = location.hash.replace(/^#\/?/, "").split("?");
    const [view, id] = path.split("/");
    return {view: VIEWS[view] ? view : "doubts", id: id ? Number(id) : null,
        query: new URLSearchParams(query ?? "")};
}

function draw_bar() {
    const bar = document.getElementById("bar");
    const {study, progress} = desk;
    const here = read_address().view;
    const done = progress ? progress.share : 1;
    const focused = bar.contains(document.activeElement) ? document.activeElement.id : null;
    // the study's own part stays: its picture would be read anew each time it is put back
    const first = bar.firstElementChild ?? bar.appendChild(h("div", {class: "study"},
        h("img", {src: "/mark.svg", alt: "", width: 28, height: 28}),
        h("span", {title: study.name}, study.name)));
    while (bar.lastElementChild !== first)
        bar.lastElementChild.remove();
    bar.append(
        h("nav", {"aria-label": "Parts of the desk"}, TABS.map((tab) =>
            h("a", {href: `#/${tab.view}`, id: `tab-${tab.view}`,
                "aria-current": tab.holds.includes(here) ? "page" : null},
            tab.words, " ", key_cap(tab.key)))),
        progress?.stretches && study.reviewer ? h("div", {class: "progress",
            title: `${span(progress.left_us)} of doubtful gaze left`},
            h("progress", {max: 1, value: done, "aria-label": "Doubtful gaze settled"}),
            h("span", {}, `${percent(done)} settled`,
                progress.minutes_left !== null && progress.left_us > 0
                    ? `, ${minutes(progress.minutes_left)} left` : "")) : h("div"),
        h("div", {class: "who"},
            h("button", {type: "button", id: "who", onclick: () => sign_in(true)},
                study.reviewer ?? "Sign in",
                study.blind ? h("span", {class: "tag"}, "blind") : null),
            h("button", {type: "button", id: "help", onclick: open_help}, "Keys ", key_cap("?"))));
    if (focused)
        document.getElementById(focused)?.focus();
}

async function route() {
    const turn = ++routing;
    open_view?.close();
    open_view = null;
    set_commands([]);
    set_opening(true);
    clear_trouble();
    draw_bar();
    const {view, id, query} = read_address();
    const tab = TABS.find((each) => each.holds.includes(view));
    if (tab !== open_tab)
        say_nothing();
    open_tab = tab;
    // each opening has an element of its own: one that comes late draws where nobody sees it
    const root = h("div", {class: "view"}, h("p", {class: "quiet"}, "One moment ..."));
    replace(document.getElementById("view"), root);
    document.getElementById("view").focus({preventScroll: true});
    try {
        const opened = await VIEWS[view].open(root, id, query);
        if (turn === routing)
            open_view = opened;
        else
            opened.close();
    } catch (error) {
        if (turn !== routing)
            return;
        replace(root, h("div", {class: "notice"}, h("h1", {}, "This cannot be shown"),
            h("p", {}, error.message), h("p", {}, h("a", {href: "#/doubts"}, "To the doubts"))));
        if (!(error instanceof Refusal))
            console.error(error);
    } finally {
        if (turn === routing)
            set_opening(false);
    }
}

function sign_in(can_leave) {
    return open_sign_in(can_leave, (study) => {
        take_study(study);
        route();
    });
}

set_general([
    {keys: ["D"], words: "Doubts", group: "Go to", action: () => location.assign("#/doubts")},
    {keys: ["W"], words: "Walks", group: "Go to", action: () => location.assign("#/walks")},
    {keys: ["A"], words: "Areas", group: "Go to", action: () => location.assign("#/areas")},
    {keys: ["P"], words: "Pictures", group: "Go to", action: () => location.assign("#/pictures")},
    {keys: ["?"], words: "This list of keys", group: "Go to", action: open_help},
]);

try {
    take_study(await get("/api/study"));
    document.title = `${desk.study.name}: lookfall desk`;
    on_change((elsewhere) => {
        draw_bar();
        open_view?.change?.(elsewhere);
    });
    addEventListener("hashchange", route);
    start_pulse();
    if (desk.study.reviewer)
        route();
    else {
        draw_bar();
        sign_in(false);
    }
} catch (error) {
    tell_trouble("The desk did not open.", error, () => location.reload());
}
