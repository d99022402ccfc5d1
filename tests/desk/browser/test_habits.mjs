// The desk's habits: the keyboard alone is enough and its place is seen, contrast, signs of life, nothing
// lost when the program does not answer, nothing fetched from elsewhere.

import {api_get, copy_of, desk_test, equal, go, holds, lookfall, open_desk, open_stretch, open_window, said, shown, sign_in,
    stand_between, test} from "./harness.mjs";
import {studies} from "./studies.mjs";

test("from sign-in to a settled stretch by the keyboard alone; nothing comes from elsewhere", async () => {
    const desk = await open_desk(copy_of(studies.wrong));
    const {page, close} = await open_window(desk.url, {name: null});
    const asked = [];
    page.on("request", (request) => asked.push(request.url()));
    await page.waitForSelector("#sign-name");
    equal(await page.evaluate(() => document.activeElement.id), "sign-name", "the name has the focus");
    await sign_in(page, "Ana");
    await page.waitForSelector("tr[aria-selected=true]");
    await page.keyboard.press("ArrowDown");
    await page.keyboard.press("Enter");
    await page.waitForSelector(".lineup .tile");
    // by Tab to the button "On no photo"
    let found = false;
    for (let i = 0; i < 60 && !found; i++) {
        await page.keyboard.press("Tab");
        found = await page.evaluate(() => document.activeElement.id === "say-away");
        const seen = await page.evaluate(() => {
            const style = getComputedStyle(document.activeElement);
            const box = document.activeElement.getBoundingClientRect();
            return {outline: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
                area: box.width * box.height, what: document.activeElement.outerHTML.slice(0, 80),
                body: document.activeElement === document.body};
        });
        holds(seen.body || (seen.outline && seen.area > 0), `the focus is seen on ${seen.what}`);
    }
    holds(found, "Tab reaches the button");
    const before = await page.evaluate(() => location.hash);
    await page.keyboard.press("Enter");
    await page.waitForFunction((hash) => location.hash !== hash, before);
    equal(await page.evaluate(() => document.activeElement.id), "view", "focus after a decision");
    const origin = new URL(desk.url).origin;
    const other = asked.filter((url) => !url.startsWith(origin) && !url.startsWith("blob:") && !url.startsWith("data:"));
    equal(other, [], "requests to elsewhere");
    await page.keyboard.press("?");
    await page.waitForSelector("dialog.help");
    await page.keyboard.press("Escape");
    await page.waitForSelector("dialog.help", {state: "detached"});
    await close();
    await desk.stop();
});

// WCAG 2.2, 1.4.3 and 1.4.11 by its own formulas (relative luminance, contrast ratio): every text against
// what lies behind it, and the edges of controls against what they lie on.
function low_contrast() {
    const parse = (text) => {
        const m = /rgba?\(([^)]+)\)/.exec(text);
        const [r, g, b, a = 1] = m[1].split(/[ ,/]+/).map(Number);
        return {r, g, b, a};
    };
    const over = (top, under) => ({r: top.r * top.a + under.r * (1 - top.a), g: top.g * top.a + under.g * (1 - top.a),
        b: top.b * top.a + under.b * (1 - top.a), a: 1});
    const luminance = ({r, g, b}) => {
        const f = (v) => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
        return 0.2126 * f(r) + 0.7152 * f(g) + 0.0722 * f(b);
    };
    const ratio = (a, b) => {
        const [x, y] = [luminance(a), luminance(b)].sort((p, q) => q - p);
        return (x + 0.05) / (y + 0.05);
    };
    const behind = (element) => {
        const layers = [];
        for (let e = element; e; e = e.parentElement) {
            const colour = parse(getComputedStyle(e).backgroundColor);
            layers.push(colour);
            if (colour.a === 1)
                break;
        }
        return layers.reverse().reduce((under, top) => over(top, under), {r: 255, g: 255, b: 255, a: 1});
    };
    const found = [];
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    let texts = 0;
    for (let node; (node = walker.nextNode());) {
        const e = node.parentElement;
        if (!node.textContent.trim() || e.closest("svg, noscript, .skip, [hidden]") || !e.checkVisibility({checkVisibilityCSS: true}))
            continue;
        if (e.closest(":disabled"))  // WCAG leaves disabled controls out
            continue;
        texts++;
        const style = getComputedStyle(e);
        const size = parseFloat(style.fontSize);
        const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
        const value = ratio(over(parse(style.color), behind(e)), behind(e));
        if (value < (large ? 3 : 4.5))
            found.push(`${value.toFixed(2)} "${node.textContent.trim().slice(0, 30)}"`);
    }
    for (const e of document.querySelectorAll("button, select, input[type=text], input[type=number]")) {
        const style = getComputedStyle(e);
        if (!e.checkVisibility({checkVisibilityCSS: true}) || e.disabled || parse(style.borderColor).a === 0)
            continue;
        const outside = behind(e.parentElement);
        const best = Math.max(ratio(over(parse(style.borderColor), outside), outside), ratio(behind(e), outside));
        if (best < 3)
            found.push(`edge ${best.toFixed(2)} ${e.textContent.slice(0, 30)}`);
    }
    return {texts, found};
}

for (const scheme of ["light", "dark"])
    desk_test(`contrast of WCAG 2.2 AA in every view, ${scheme}`, () => studies.wrong, async ({page}) => {
        const {rows} = await api_get(page, "/api/worklist?count=1");
        const {walks, photos} = await api_get(page, "/api/study");
        const views = [["#/doubts", ".work tbody tr"], [`#/stretch/${rows[0].id}`, ".lineup .tile"],
            ["#/walks", ".walks table"], [`#/walk/${walks[0].id}`, ".mark-side form"],
            [`#/areas/${photos[0].id}`, ".areas .tools button"], ["#/pictures", ".pictures select"]];
        for (const [hash, ready] of views) {
            await go(page, hash);
            await page.waitForSelector(ready);
            for (const dialog of [false, true]) {
                if (dialog) {
                    await page.keyboard.press("?");
                    await page.waitForSelector("dialog.help");
                }
                const {texts, found} = await page.evaluate(low_contrast);
                holds(texts > 5, `there is text in ${hash}`);
                equal(found, [], `too little contrast in ${hash}`);
                if (dialog)
                    await page.keyboard.press("Escape");
            }
        }
    }, {colorScheme: scheme});

const uncast = () => {
    const study = copy_of(studies.cast);
    lookfall("walk", "add", study, "--name", "later", "--video", studies.video("w01"), "--gaze", studies.gaze("w01"));
    return study;
};

desk_test("walks that are not cast are told of, not called settled", uncast, async ({page}) => {
    await page.waitForSelector(".summary dt");
    holds(/1 walk\s*is not cast yet/.test(await page.textContent(".summary")), "one of three is not cast");
});

desk_test("where nothing is cast nothing is called settled", () => {
    const study = copy_of(studies.cast);
    for (const walk of ["w01", "w02"])
        lookfall("walk", "remove", study, "--name", walk);
    lookfall("walk", "add", study, "--name", "later", "--video", studies.video("w01"), "--gaze", studies.gaze("w01"));
    return study;
}, async ({page}) => {
    await page.waitForSelector(".summary dt");
    holds(!/settled|done|nothing is/.test(await page.textContent(".summary")), "the summary");
    holds(!/settled/.test(await page.textContent("#bar")), "the bar");
    holds(/run lookfall cast/.test(await page.textContent(".list")), "what to do");
});

desk_test("what takes longer shows that it works", () => studies.wrong, async ({page}) => {
    await stand_between(page, "**/api/worklist*", "/api/worklist?count=1", async (route) => {
        await new Promise((resolve) => setTimeout(resolve, 600));
        await route.continue();
    });
    await go(page, "#/walks");
    await page.waitForSelector(".walks");
    await go(page, "#/doubts");
    const running = () => page.evaluate(() => document.getAnimations().length);
    await page.waitForSelector("html.working");
    holds(await running() > 0, "something moves");
    await page.waitForSelector(".work tbody tr");
    await page.waitForFunction(() => !document.documentElement.classList.contains("working"));
    equal(await running(), 0, "what moves unseen, and takes the browser's time");
});

desk_test("a decision that cannot be sent stays on the screen until it is", () => studies.wrong, async ({page}) => {
    const id = (await api_get(page, "/api/worklist?count=1")).rows[0].id;
    await open_stretch(page, id);
    page.expects_trouble = true;
    const cut = await stand_between(page, "**/api/decision", "/api/decision", (route) => route.abort());
    await page.keyboard.press("n");
    await page.waitForSelector("#trouble.shown button");
    holds((await page.evaluate(() => location.hash)).startsWith(`#/stretch/${id}`), "the stretch stays");
    equal((await api_get(page, `/api/stretch/${id}`)).settled, false, "settled");
    cut.off();
    await page.click("#trouble button");
    await page.waitForFunction((gone) => !location.hash.startsWith(`#/stretch/${gone}`), id);
    equal((await api_get(page, `/api/stretch/${id}`)).settled, true, "settled");
});

desk_test("of two decisions that cannot be sent each is sent again for its own stretch", () => studies.wrong,
    async ({page}) => {
        const [a, b] = (await api_get(page, "/api/worklist?count=2")).rows.map((row) => row.id);
        const states = async (id) => {
            const {samples, settled} = await api_get(page, `/api/stretch/${id}`);
            return [settled, ...new Set(samples.state.filter((state) => state > 0))];
        };
        page.expects_trouble = true;
        await open_stretch(page, a);
        const cut = await stand_between(page, "**/api/decision", "/api/decision", (route) => route.abort());
        const unsent = (n) => page.waitForFunction((wanted) =>
            document.querySelectorAll("#trouble p").length === wanted, n);
        await page.keyboard.press("n");
        await unsent(1);
        await page.keyboard.press("ArrowDown");
        await shown(page, b);
        await page.keyboard.press("b");
        await unsent(2);
        cut.off();
        await page.click("#trouble p:first-child button");
        await unsent(1);
        await said(page, /On no photo:/);
        equal(await states(a), [true, 1], "the first stretch");
        equal(await states(b), [false, 3], "the second one, before its turn");
        await page.click("#trouble p:first-child button");
        await page.waitForFunction((gone) => !location.hash.startsWith(`#/stretch/${gone}`), b);
        equal(await states(b), [true, 2], "the second stretch");
    });

desk_test("a key pressed while a stretch is opening is refused in words and decides nothing", () => studies.wrong,
    async ({page}) => {
        const id = (await api_get(page, "/api/worklist?count=1")).rows[0].id;
        let go_on;
        const held = new Promise((resolve) => (go_on = resolve));
        await stand_between(page, `**/api/stretch/${id}*`, `/api/stretch/${id}`, async (route) => {
            await held;
            await route.continue();
        });
        await go(page, `#/stretch/${id}`);
        await page.waitForSelector(".settle");
        await page.keyboard.press("n");
        await said(page, /was not taken/);
        go_on();
        await shown(page, id);
        equal((await api_get(page, `/api/stretch/${id}`)).settled, false, "settled by the early key");
        await page.keyboard.press("n");
        await page.waitForFunction((gone) => !location.hash.startsWith(`#/stretch/${gone}`), id);
    });

// Holds requests back until the function it gives is called.
async function hold_back(page, pattern, probe) {
    let go_on;
    const held = new Promise((resolve) => (go_on = resolve));
    await stand_between(page, pattern, probe, async (route) => {
        await held;
        await route.continue();
    });
    return go_on;
}

async function press_in_vain(page, keys) {
    for (const key of keys) {
        await page.evaluate(() => (document.getElementById("says").textContent = ""));
        await page.keyboard.press(key);
        await said(page, /Not taken/);
    }
}

desk_test("a key pressed while the next stretch is opening decides nothing about the one that is left",
    () => studies.wrong, async ({page}) => {
        const [a] = (await api_get(page, "/api/worklist?count=1")).rows.map((row) => row.id);
        await open_stretch(page, a);
        // the one before the first is the last of the list, which nobody has fetched ahead
        const go_on = await hold_back(page, `**/api/stretch/${a}/after*`, `/api/stretch/${a}/after?count=1`);
        await page.keyboard.press("ArrowUp");
        await press_in_vain(page, ["n", "ArrowDown"]);
        go_on();
        await page.waitForFunction((gone) => !location.hash.startsWith(`#/stretch/${gone}`), a);
        equal((await api_get(page, `/api/stretch/${a}`)).settled, false, "settled by a key meant for another one");
        equal((await api_get(page, "/api/pulse")).undo, null, "anything decided");
    });

desk_test("a key pressed while a decision is on its way is refused in words", () => studies.wrong, async ({page}) => {
    const [a, b] = (await api_get(page, "/api/worklist?count=2")).rows.map((row) => row.id);
    await open_stretch(page, a);
    page.expects_trouble = true;
    const go_on = await hold_back(page, "**/api/decision", "/api/decision");
    await page.keyboard.press("n");
    await press_in_vain(page, ["b", "ArrowDown"]);
    go_on();
    await shown(page, b);
    equal((await api_get(page, `/api/stretch/${a}`)).settled, true, "the first is settled");
    equal((await api_get(page, `/api/stretch/${b}`)).settled, false, "the second is not");
});

desk_test("a photo that is slow or cannot be read is told of", () => studies.wrong, async ({page}) => {
    const {id} = (await api_get(page, "/api/study")).photos[0];
    let go_on;
    const held = new Promise((resolve) => (go_on = resolve));
    page.expects_trouble = true;
    await page.reload();  // the worklist needs no photo
    await page.waitForSelector(".work tbody tr");
    const between = await stand_between(page, `**/api/photo/${id}?*`, `/api/photo/${id}?probe`, async (route) => {
        await held;
        await route.abort();
    });
    await go(page, `#/areas/${id}`);
    const told = (pattern) => page.waitForFunction((source) => new RegExp(source).test(
        document.querySelector(".pane.photo .coming")?.textContent), pattern);
    await told("on its way");
    go_on();
    await told("does not answer");
    between.off();
    await go(page, "#/doubts");
    await page.waitForSelector(".work tbody tr");
    await go(page, `#/areas/${id}`);
    await page.waitForFunction(() => document.querySelector(".pane.photo img.leaflet-image-layer")?.naturalWidth > 0);
    await told("^$");
});

desk_test("what was said of one part of the desk is gone in another", () => studies.wrong, async ({page}) => {
    await open_stretch(page, (await api_get(page, "/api/worklist?count=1")).rows[0].id);
    await page.keyboard.press("n");
    await page.waitForSelector("#says.shown");
    await go(page, "#/walks");
    await page.waitForSelector(".walks table");
    equal(await page.locator("#says.shown").count(), 0, "what is said");
});

desk_test("nothing is cut off or lies outside of the window from 1280 x 720 to 3840 x 2160", () => studies.wrong,
    async ({page}) => {
        const {rows} = await api_get(page, "/api/worklist?count=1");
        const {walks, photos} = await api_get(page, "/api/study");
        for (const size of [{width: 1280, height: 720}, {width: 1920, height: 1080}, {width: 3840, height: 2160}]) {
            await page.setViewportSize(size);
            for (const [hash, ready] of [["#/doubts", ".work tbody tr"], [`#/stretch/${rows[0].id}`, ".lineup .tile"],
                [`#/walk/${walks[0].id}`, ".mark-side form"], [`#/areas/${photos[0].id}`, ".areas .tools button"]]) {
                await go(page, hash);
                await page.waitForSelector(ready);
                const out = await page.evaluate(() => {
                    const bad = [];
                    if (document.documentElement.scrollWidth > innerWidth || document.documentElement.scrollHeight > innerHeight)
                        bad.push("the page scrolls");
                    for (const e of document.querySelectorAll("#bar button, #bar a, main button, main select, .pane")) {
                        const box = e.getBoundingClientRect();
                        if (box.width && !e.closest(".scroll, .marks, .area-list, .filters, .placements") &&
                            (box.right > innerWidth + 1 || box.bottom > innerHeight + 1 || box.left < -1))
                            bad.push(`${e.className} ${e.textContent.slice(0, 20)}`);
                        if (e.matches("button") && e.scrollWidth > e.clientWidth + 1)
                            bad.push(`cut off: ${e.textContent.slice(0, 20)}`);
                        if (e.matches(".pane") && (box.height < innerHeight / 4 || box.width < innerWidth / 4))
                            bad.push(`a pane of ${Math.round(box.width)} x ${Math.round(box.height)}`);
                    }
                    return bad;
                });
                equal(out, [], `${hash} at ${size.width} x ${size.height}`);
            }
        }
    });
