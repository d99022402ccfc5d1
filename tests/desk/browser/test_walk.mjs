// The walk: exact to the frame, the photo in step, marks by keys of one's own.

import {api_get, desk_test, equal, go, holds, lookfall, near, said} from "./harness.mjs";
import {csv, studies} from "./studies.mjs";

async function open_walk(page, t_us = 0, name = "w01") {
    const walk = (await api_get(page, "/api/study")).walks.find((each) => each.name === name);
    await go(page, `#/walk/${walk.id}?t=${t_us}`);
    await page.waitForSelector(".walk .pane.frame[data-frame-us]");
    await page.waitForSelector(".walk .mark-side form");
    const {first_us, step_us} = await api_get(page, `/api/walk/${walk.id}/frames`);
    let t = first_us;
    return {walk, times: [first_us, ...step_us.map((step) => (t += step))]};
}

const frame_us = (page) => page.getAttribute(".pane.frame", "data-frame-us").then(Number);
const wait_frame = (page, us) => page.waitForFunction((wanted) =>
    Number(document.querySelector(".pane.frame").dataset.frameUs) === wanted, us);

desk_test("a walk steps and jumps exactly to the frame", () => studies.cast, async ({page}) => {
    // the second walk has uneven frame times
    const {times} = await open_walk(page, 0, "w02");
    equal(await frame_us(page), times[0], "first frame");
    for (let i = 1; i <= 4; i++) {
        await page.keyboard.press("ArrowRight");
        await wait_frame(page, times[i]);
    }
    await page.keyboard.press("ArrowLeft");
    await wait_frame(page, times[3]);
    await page.keyboard.press("End");
    await wait_frame(page, times.at(-1));
    await page.keyboard.press("Home");
    await wait_frame(page, times[0]);
    await page.keyboard.press("Shift+ArrowRight");
    await wait_frame(page, times.findLast((t) => t <= times[0] + 1e6));
});

desk_test("no slice of the strips is too short to have a sample", () => studies.cast, async ({page}) => {
    const asked = [];
    page.on("response", (response) => /\/strip\?/.test(response.url()) && asked.push(response.json()));
    const {walk} = await open_walk(page);
    while (asked.length < 2)
        await page.waitForTimeout(20);
    for (const {from_us, to_us, bins, states} of await Promise.all(asked)) {
        holds((to_us - from_us) / bins >= 2 * walk.interval_us, `slices of ${(to_us - from_us) / bins} us`);
        const end = Math.floor(bins * Math.min(1, (walk.end_us - from_us) / (to_us - from_us)));
        const empty = states.slice(1, end - 1).filter((counts) => !counts.some(Boolean)).length;
        equal(empty, 0, "slices without a sample");
    }
});

desk_test("played slowly, no frame is left out and none comes twice", () => studies.cast, async ({page}) => {
    const {times} = await open_walk(page);
    for (let i = 0; i < 1; i++)
        await page.keyboard.press("ArrowDown");  // half speed
    await page.evaluate(() => {
        window.frames_shown = [];
        const pane = document.querySelector(".pane.frame");
        new MutationObserver(() => window.frames_shown.push(Number(pane.dataset.frameUs)))
            .observe(pane, {attributes: true, attributeFilter: ["data-frame-us"]});
    });
    await page.keyboard.press(" ");
    await page.waitForFunction(() => window.frames_shown.length >= 20);
    await page.keyboard.press(" ");
    const shown = await page.evaluate(() => window.frames_shown);
    const first = times.indexOf(shown[0]);
    holds(first >= 0 && first <= 1, "it begins at the start");
    equal(shown, times.slice(first, first + shown.length), "frames shown");
});

desk_test("the photo's point goes in step with the frame", () => studies.cast, async ({page}) => {
    const {walk, times} = await open_walk(page, 2000000);
    const {samples} = await api_get(page, `/api/around?walk=${walk.id}&from_us=0&to_us=10000000`);
    const transform = () => page.getAttribute(".pane.photo .signs .guess", "transform");
    await page.waitForSelector(".pane.photo .signs .guess");
    const box = await page.evaluate(() => {
        const image = document.querySelector(".pane.photo img.leaflet-image-layer").getBoundingClientRect();
        const pane = document.querySelector(".pane.photo").getBoundingClientRect();
        return [image.left - pane.left, image.top - pane.top, image.width, image.height];
    });
    const photo = (await api_get(page, "/api/study")).photos[0];
    const here = await frame_us(page);
    const end = times[times.indexOf(here) + 1];
    const i = samples.t_us.findIndex((t, k) => t >= here && t < end && samples.gx[k] !== null);
    const [x, y] = /translate\(([-\d.]+) ([-\d.]+)\)/.exec(await transform()).slice(1).map(Number);
    near(x, box[0] + (samples.x[i] + 0.5) / photo.width_px * box[2], 1.5, "x of the point, screen px");
    near(y, box[1] + (samples.y[i] + 0.5) / photo.height_px * box[3], 1.5, "y of the point, screen px");
});

desk_test("pictures of looks are drawn as they are chosen", () => studies.cast, async ({page}) => {
    await go(page, "#/pictures");
    const drawn = (kind) => page.waitForFunction((alt) => {
        const image = document.querySelector(".pictures img");
        return image?.alt === alt && image.naturalWidth > 500 && !image.classList.contains("old");
    }, kind);
    await drawn("Heat map");
    holds(/look/.test(await page.textContent(".pictures .sheet p")), "it tells what stands behind it");
    await page.keyboard.press("ArrowDown");
    await drawn("Only what was looked at");
});

desk_test("marks: a key pressed is a moment, held a span; changed, deleted, exported", () => studies.cast,
    async ({desk, page}) => {
        const {walk, times} = await open_walk(page, 1000000);
        await page.fill(".mark-side form input[type=text]:not(.one-key)", "reaches out");
        await page.fill(".mark-side form .one-key", "x");
        await page.click(".mark-side form button[type=submit]");
        await page.waitForSelector(".mark-side .note");
        await page.click(".walk .head h1");  // away from the field
        const marks = () => api_get(page, `/api/marks?walk=${walk.id}`).then(({rows}) => rows);
        const until = (n) => page.waitForFunction((wanted) =>
            document.querySelectorAll(".marks .mark").length === wanted, n);
        await page.keyboard.press("x");
        await until(1);
        equal((await marks()).map(({name, from_us, to_us, who}) => [name, from_us, to_us, who]),
            [["reaches out", await frame_us(page), null, "Ana"]], "a moment");

        await page.keyboard.press("Shift+ArrowRight");
        await page.keyboard.press(" ");
        await page.waitForFunction(() => /Stop/.test(document.getElementById("play").textContent));
        await page.keyboard.down("x");
        await page.waitForTimeout(700);
        await page.keyboard.up("x");
        await until(2);
        await page.keyboard.press(" ");
        const span = (await marks())[1];
        holds(span.to_us > span.from_us && times.includes(span.from_us) && times.includes(span.to_us),
            `a span between frames: ${JSON.stringify(span)}`);

        // the new one is chosen; its end is set to where the walk stands now
        await page.keyboard.press("End");
        await wait_frame(page, times.at(-1));
        await page.keyboard.press("]");
        await page.waitForFunction(() => true);
        const end_at = async () => (await marks())[1].to_us;
        for (let i = 0; i < 50 && await end_at() !== times.at(-1); i++)
            await page.waitForTimeout(50);
        equal(await end_at(), times.at(-1), "its new end");
        await page.reload();
        await page.waitForSelector(".mark-side .note");
        await until(2);
        const exported = csv(lookfall("mark", "export", desk.study));
        equal(exported.length, 2, "rows exported");
        holds(exported.every((row) => Object.values(row).includes("reaches out")), "names exported");
        await page.click(".walk .head h1");
        await page.keyboard.press("Home");
        await page.keyboard.press(".");
        await page.waitForSelector(".marks li[aria-current]");
        await page.keyboard.press("Delete");
        await until(1);
        equal((await marks()).length, 1, "marks left");

        // back over a reload, to where there is nothing to take back, and forth again
        await page.reload();
        await page.waitForSelector(".mark-side .note");
        await until(1);
        await page.keyboard.press("Control+z");
        await until(2);
        await page.keyboard.press("Control+z");
        await said(page, /changing/);
        equal((await marks()).find((mark) => mark.to_us !== null).to_us, span.to_us, "its former end");
        await page.keyboard.press("Control+z");
        await until(1);
        await page.keyboard.press("Control+z");
        await until(0);
        await page.waitForSelector("#marks-undo:disabled");
        await page.click("#marks-redo");
        await until(1);
        await page.keyboard.press("Control+y");
        await until(2);
    });
