// Every way to settle a stretch, by keys and pointer, and what the study holds afterwards.

import {api_get, click_whole_photo, desk_test, equal, holds, know_photos, near, open_stretch, said, shown,
    stand_between} from "./harness.mjs";
import {studies} from "./studies.mjs";

async function stretch_of(page, kind, n = 0) {
    const span = studies.wrongs().filter((wrong) => wrong.kind === kind)[n];
    const {rows} = await api_get(page, "/api/worklist?count=1000&settled=all");
    // a blink at either end is no part of the stretch
    const shared = (each) => Math.min(each.to_us, span.to_us) - Math.max(each.from_us, span.from_us);
    const row = rows.find((each) => shared(each) > 0.5 * (span.to_us - span.from_us));
    holds(row, `the stretch at ${span.from_us} is in the worklist`);
    await open_stretch(page, row.id);
    return api_get(page, `/api/stretch/${row.id}`);
}

const with_gaze = (data) => data.samples.t_us.map((_, i) => i)
    .filter((i) => data.samples.gx[i] !== null && data.samples.guess_state[i] === 3);

const again = (page, before) => api_get(page, `/api/stretch/${before.id}`);

// The sample that the page stands on.
const cursor = (page) => page.evaluate(() => {
    const [m, s] = document.querySelector(".here").textContent.split(" ")[0].split(":");
    return Math.round((Number(m) * 60 + Number(s)) * 1e6);
});

desk_test("Enter keeps the guess and shows the next stretch", () => studies.wrong, async ({page}) => {
    const before = await stretch_of(page, "off");
    await page.keyboard.press("Enter");
    await page.waitForFunction((id) => !location.hash.startsWith(`#/stretch/${id}`), before.id);
    const after = await again(page, before);
    equal(after.settled, true, "settled");
    equal(after.by, ["Ana"], "by");
    for (const i of with_gaze(before)) {
        equal(after.samples.state[i], 5, "state");
        near(after.samples.x[i], before.samples.guess_x[i], 1e-6, "x");
        near(after.samples.y[i], before.samples.guess_y[i], 1e-6, "y");
    }
});

desk_test("a ghost's number moves every sample by its shift", () => studies.wrong, async ({page}) => {
    const before = await stretch_of(page, "alike");
    holds(before.rivals.length >= 2, "two rivals");
    await page.keyboard.press("1");
    await page.waitForFunction((id) => !location.hash.startsWith(`#/stretch/${id}`), before.id);
    const after = await again(page, before);
    equal(after.settled, true, "settled");
    for (const i of with_gaze(before)) {
        near(after.samples.x[i], before.samples.guess_x[i] + before.rivals[0].dx, 4, "x");
        near(after.samples.y[i], before.samples.guess_y[i] + before.rivals[0].dy, 4, "y");
    }
});

desk_test("a click on the photo shifts the whole stretch", () => studies.wrong, async ({page}) => {
    const before = await stretch_of(page, "off");
    await know_photos(page);
    const t = await cursor(page);
    const i = before.samples.t_us.findIndex((each) => Math.abs(each - t) < 600);
    const to = [before.samples.guess_x[i] - 60, before.samples.guess_y[i] - 40];
    await click_whole_photo(page, to);
    await page.waitForFunction((id) => !location.hash.startsWith(`#/stretch/${id}`), before.id);
    const after = await again(page, before);
    // the pointer stands on whole screen px, and one is 6.3 px of the photo when all of it is shown
    near(after.samples.x[i], to[0], 6.3, "x where clicked");
    near(after.samples.y[i], to[1], 6.3, "y where clicked");
    const shift = [after.samples.x[i] - before.samples.guess_x[i],
        after.samples.y[i] - before.samples.guess_y[i]];
    for (const k of with_gaze(before)) {
        near(after.samples.x[k] - before.samples.guess_x[k], shift[0], 0.03, "the same shift in x");
        near(after.samples.y[k] - before.samples.guess_y[k], shift[1], 0.03, "the same shift in y");
    }
});

desk_test("a click can be one still point", () => studies.wrong, async ({page}) => {
    const before = await stretch_of(page, "off");
    await know_photos(page);
    await page.keyboard.press("h");
    await click_whole_photo(page, [before.samples.guess_x.find((x) => x !== null) - 30,
        before.samples.guess_y.find((y) => y !== null) - 30]);
    await page.waitForFunction((id) => !location.hash.startsWith(`#/stretch/${id}`), before.id);
    const after = await again(page, before);
    const xs = new Set(with_gaze(before).map((i) => after.samples.x[i]));
    equal(xs.size, 1, "places");
});

for (const [presses, scope] of [[1, "fixation"], [2, "sample"]])
    desk_test(`a decision can hold for one ${scope}`, () => studies.wrong, async ({page}) => {
        const before = await stretch_of(page, "off");
        if (scope === "fixation") {
            holds(before.fixations.length, "a fixation touches the stretch");
            await page.keyboard.press("Shift+ArrowRight");
        }
        const t = await cursor(page);
        for (let i = 0; i < presses; i++)
            await page.keyboard.press("s");
        await page.keyboard.press("n");
        await said(page, /On no photo; .* left/);
        const after = await again(page, before);
        equal(after.settled, false, "settled");
        const fixation = before.fixations.find((f) => f.from_us <= t && t < f.to_us);
        for (const i of with_gaze(before)) {
            const at = before.samples.t_us[i];
            const meant = scope === "sample" ? Math.abs(at - t) < 600
                : fixation.from_us <= at && at < fixation.to_us;
            equal(after.samples.placement[i] > 0, meant, `the ${scope} holds ${at}`);
            equal(after.samples.state[i], meant ? 1 : 3, `state of ${at}`);
        }
    });

desk_test("n says on no photo, b something in front", () => studies.wrong, async ({page}) => {
    for (const [key, state, n] of [["n", 1, 0], ["b", 2, 1]]) {
        const before = await stretch_of(page, "away", n);
        await page.keyboard.press(key);
        await page.waitForFunction((id) => !location.hash.startsWith(`#/stretch/${id}`), before.id);
        const after = await again(page, before);
        equal(after.settled, true, "settled");
        for (const i of with_gaze(before))
            equal(after.samples.state[i], state, "state");
    }
});

desk_test("the point can be steered by arrow keys", () => studies.wrong, async ({page}) => {
    const before = await stretch_of(page, "off");
    const t = await cursor(page);
    const i = before.samples.t_us.findIndex((each) => Math.abs(each - t) < 600);
    await page.keyboard.press("p");
    for (let k = 0; k < 3; k++)
        await page.keyboard.press("Shift+ArrowLeft");
    await page.keyboard.press("Enter");
    await page.waitForFunction((id) => !location.hash.startsWith(`#/stretch/${id}`), before.id);
    const after = await again(page, before);
    holds(after.samples.x[i] < before.samples.guess_x[i] - 20, "moved to the left");
    near(after.samples.y[i], before.samples.guess_y[i], 1e-6, "same height");
});

desk_test("a tie is tried, shown, and only then kept", () => studies.wrong, async ({page}) => {
    const before = await stretch_of(page, "drift");
    await page.keyboard.press("t");
    await page.waitForSelector(".ties");
    // the frame's end at the gaze, the photo's where it truly is (the pose was left right)
    const frame_us = Number(await page.getAttribute(".pane.frame", "data-frame-us"));
    const pose = before.poses.reduce((a, b) =>
        Math.abs(a.t_us - frame_us) <= Math.abs(b.t_us - frame_us) ? a : b).m;
    const box = await page.locator(".pane.frame").boundingBox();
    const at = [box.x + box.width / 2, box.y + box.height / 2];
    await page.mouse.click(...at);
    await page.waitForFunction(() => /Now the same point/.test(document.querySelector(".ties").textContent));
    await page.reload();  // what is tied so far must outlast it
    await page.waitForFunction(() => /Now the same point/.test(document.querySelector(".ties")?.textContent));
    await know_photos(page);
    const [u, v] = [319.5, 179.5];  // the middle of a frame of 640 x 360
    const w = pose[6] * u + pose[7] * v + pose[8];
    await click_whole_photo(page, [(pose[0] * u + pose[1] * v + pose[2]) / w,
        (pose[3] * u + pose[4] * v + pose[5]) / w]);
    await page.waitForFunction(() => document.querySelectorAll(".pairs li").length === 1);
    await page.keyboard.press("Enter");
    await page.waitForSelector(".gain");
    const [was, now] = (await page.$$eval(".gain dd", (told) => told.map((each) => parseInt(each.textContent, 10))));
    equal(was, 40, "confidence before, %");
    holds(now > 80, `confidence now: ${now}%`);
    equal((await again(page, before)).by, [], "nothing is kept yet");
    await page.keyboard.press("Enter");
    await page.waitForFunction((id) => !location.hash.startsWith(`#/stretch/${id}`), before.id);
    const after = await again(page, before);
    equal(after.settled, true, "settled");
    equal(after.placements[0].kind, "tie", "kind");
    const moved = with_gaze(before).filter((i) => after.samples.state[i] === 5 && Math.hypot(
        after.samples.x[i] - before.samples.guess_x[i],
        after.samples.y[i] - before.samples.guess_y[i]) > 50);
    holds(moved.length > with_gaze(before).length / 2, "most samples left the wrong place");

    await page.keyboard.press("u");
    await page.waitForFunction((id) => location.hash.startsWith(`#/stretch/${id}`), before.id);
    const undone = await again(page, before);
    equal(undone.settled, false, "settled after undo");
    equal(undone.samples.x, before.samples.x, "places after undo");
    await page.reload();
    await page.waitForSelector(".settle .head h1");
    await page.keyboard.press("y");
    await said(page, /Done again/);
    const redone = await again(page, before);
    equal(redone.settled, true, "settled after redo");
    equal(redone.samples.x, after.samples.x, "places after redo");
}, {viewport: {width: 1280, height: 720}});

desk_test("stepping by frame, sample and fixation", () => studies.wrong, async ({page}) => {
    const data = await stretch_of(page, "off");
    const frame = () => page.getAttribute(".pane.frame", "data-frame-us").then(Number);
    const begun = await frame();
    const k = data.frames.indexOf(begun);
    holds(k >= 0, "the frame shown is one of the stretch's");
    const step = k + 1 < data.frames.length ? ["ArrowRight", 1] : ["ArrowLeft", -1];
    await page.keyboard.press(step[0]);
    await page.waitForFunction((us) => document.querySelector(".pane.frame").dataset.frameUs === us,
        String(data.frames[k + step[1]]));
    const t = await cursor(page);
    await page.keyboard.press(".");
    holds(await cursor(page) > t, "the next sample is later");
});

// The share of a canvas that is painted.
const painted = (page, selector) => page.evaluate((where) => {
    const canvas = document.querySelector(where);
    const {data} = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
    let n = 0;
    for (let i = 3; i < data.length; i += 4)
        n += data[i] > 0;
    return n / (data.length / 4);
}, selector);

desk_test("what was looked at is there as soon as the next stretch is", () => studies.wrong, async ({page}) => {
    const [a, b] = (await api_get(page, "/api/worklist?count=2")).rows.map((row) => row.id);
    await page.evaluate(() => new PerformanceObserver((list) => (window.shown_then = list.getEntries().map(() => {
        const canvas = document.querySelector(".source canvas");
        return canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data.some(Boolean);
    }))).observe({type: "measure"}));
    await open_stretch(page, a);
    await page.keyboard.press("n");
    await shown(page, b);
    equal(await page.evaluate(() => window.shown_then), [true], "painted then");
});

desk_test("a ghost of another photo is not shown as a place on this one", () => studies.wrong, async ({page}) => {
    const row = (await api_get(page, "/api/worklist?count=1000")).rows.find((each) => each.reason === "alike");
    const data = await api_get(page, `/api/stretch/${row.id}`);
    const fake = {...data, rivals: [{...data.rivals[0], photo: data.photo + 1}, ...data.rivals.slice(0, 1)]};
    await stand_between(page, `**/api/stretch/${row.id}*`, `/api/stretch/${row.id}`,
        (route) => route.fulfill({json: fake}));
    await open_stretch(page, row.id);
    await page.waitForFunction(() => document.querySelector(".pane.photo img.leaflet-image-layer")?.naturalWidth > 0);
    for (let tries = 0; tries < 200 && await painted(page, "#tile-2 canvas") < 0.9; tries++)
        await page.waitForTimeout(50);
    holds(await painted(page, "#tile-2 canvas") > 0.9, "the ghost of this photo has a picture");
    holds(await painted(page, "#tile-1 canvas") < 0.3, "the other one has words alone");
    equal(await page.$$eval(".pane.photo .ghost text", (all) => all.map((each) => each.textContent)), ["2"],
        "ghosts on the photo");
});

desk_test("the line-up of six ghosts fits the window", () => studies.wrong, async ({page}) => {
    const row = (await api_get(page, "/api/worklist?count=1000")).rows.find((each) => each.reason === "alike");
    const data = await api_get(page, `/api/stretch/${row.id}`);
    const fake = {...data, rivals: Array.from({length: 6}, (_, i) => ({...data.rivals[0], dx: 60 * (i + 1)}))};
    await stand_between(page, `**/api/stretch/${row.id}*`, `/api/stretch/${row.id}`,
        (route) => route.fulfill({json: fake}));
    await open_stretch(page, row.id);
    for (const [width, height] of [[1280, 720], [1920, 1080], [3840, 2160]]) {
        await page.setViewportSize({width, height});
        const {room, needed, cut, answers} = await page.evaluate(() => {
            const tiles = document.querySelector(".lineup .tiles");
            return {room: tiles.clientWidth, needed: tiles.scrollWidth,
                cut: [...document.querySelectorAll(".lineup button")].filter((each) =>
                    each.scrollWidth > each.clientWidth + 1 || each.scrollHeight > each.clientHeight + 1).length,
                answers: document.querySelector(".lineup").getBoundingClientRect().right <= innerWidth};
        });
        holds(needed <= room + 1 && answers, `${width} x ${height}: ${needed} px in ${room}`);
        equal(cut, 0, `buttons cut off at ${width} x ${height}`);
    }
});

desk_test("a decision can be lifted by its entry", () => studies.wrong, async ({page}) => {
    const before = await stretch_of(page, "off");
    await page.keyboard.press("n");
    await page.waitForFunction((id) => !location.hash.startsWith(`#/stretch/${id}`), before.id);
    await open_stretch(page, before.id);
    await page.click(".placements summary");
    await page.click(".placements li button");
    await said(page, /Lifted/);
    const after = await again(page, before);
    equal(after.settled, false, "settled");
    equal(after.placements.length, 1, "the lifted one is still known");
    equal(after.placements[0].lifted, true, "lifted");
});

