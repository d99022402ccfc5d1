// Ten stretches known to be wrong: settled by at most one action each; afterwards at least 97% of the
// walk's samples lie within a degree of the truth. The answers are what a person would see: the test
// takes them from the truth, the desk gets keys and clicks alone.

import {readFileSync} from "node:fs";
import {api_get, click_whole_photo, desk_test, equal, holds, know_photos, lookfall, open_stretch}
    from "./harness.mjs";
import {csv, studies} from "./studies.mjs";

const NEEDED = 0.97;  // the desk's goal

function truth_of(walk) {
    return new Map(csv(readFileSync(studies.truth(walk), "utf8"))
        .map((row) => [Math.round(Number(row.t_s) * 1e6), row]));
}

function off_deg(row, x, y) {
    return Math.hypot(x - Number(row.x_px), y - Number(row.y_px)) / Number(row.px_per_degree_photo);
}

// Of the samples that are on the photo, the share within a degree of the truth; and of those on no
// photo or on something in front, the share that says so.
function score(study, truth) {
    let [on, near, off, told] = [0, 0, 0, 0];
    for (const row of csv(lookfall("export", study, "samples"))) {
        if (row.walk !== "w01")
            continue;
        const known = truth.get(Math.round(Number(row.t_s) * 1e6));
        if (known.state === "visible") {
            on++;
            near += row.photo === known.photo && row.x_px !== "" &&
                !["away", "blocked"].includes(row.state) &&
                off_deg(known, Number(row.x_px), Number(row.y_px)) <= 1;
        } else if (known.state === "away" || known.state === "blocked") {
            off++;
            told += row.state === "away" || row.state === "blocked";
        }
    }
    return {on, near: near / on, off, told: told / off};
}

// What a person would answer: a key, or where to click.
function answer(data, truth, shown_us) {
    const {samples} = data;
    const meant = samples.t_us.map((_, i) => i).filter((i) => samples.gx[i] !== null && samples.guess_state[i] === 3);
    const rows = meant.map((i) => truth.get(samples.t_us[i]));
    const seen = meant.filter((_, k) => rows[k].state === "visible");
    if (seen.length < meant.length / 2)
        return rows.filter((row) => row.state === "blocked").length * 2 > meant.length ? {key: "b"} : {key: "n"};
    const fits = ([dx, dy]) => seen.filter((i) => samples.guess_x[i] !== null && off_deg(
        truth.get(samples.t_us[i]), samples.guess_x[i] + dx, samples.guess_y[i] + dy) <= 0.7).length;
    const most = seen.length * 0.9;
    if (fits([0, 0]) >= most)
        return {key: "Enter"};
    const ghost = data.rivals.findIndex((rival) => fits([rival.dx, rival.dy]) >= most);
    if (ghost >= 0)
        return {key: String(ghost + 1)};
    const i = seen.reduce((a, b) => Math.abs(samples.t_us[a] - shown_us) <= Math.abs(samples.t_us[b] - shown_us)
        ? a : b);
    const here = truth.get(samples.t_us[i]);
    const shift = [Number(here.x_px) - samples.guess_x[i], Number(here.y_px) - samples.guess_y[i]];
    return fits(shift) >= most ? {click: i, point: [Number(here.x_px), Number(here.y_px)]} : {tie: true};
}

desk_test("ten wrong stretches, one action each, then 97% within a degree", () => studies.wrong,
    async ({desk, page}) => {
        const truth = truth_of("w01");
        const before = score(desk.study, truth);
        holds(before.near < 0.8, `the walk is bad enough before: ${before.near}`);
        const walk = (await api_get(page, "/api/study")).walks.find((each) => each.name === "w01");
        const {rows} = await api_get(page, `/api/worklist?walk=${walk.id}&count=1000&order=time`);
        const wrongs = studies.wrongs();
        const actions = new Map();
        const ways = [];
        await know_photos(page);
        for (const row of rows) {
            const wrong = wrongs.find((each) => each.from_us < row.to_us && row.from_us < each.to_us);
            if (!wrong)
                continue;
            await open_stretch(page, row.id);
            const data = await api_get(page, `/api/stretch/${row.id}`);
            const frame_us = Number(await page.getAttribute(".pane.frame", "data-frame-us"));
            const done = answer(data, truth, frame_us);
            ways.push(`${wrong.kind}: ${JSON.stringify(done)}`);
            if (done.key) {
                await page.keyboard.press(done.key);
            } else if (done.click !== undefined) {
                await go_to_sample(page, data, done.click);
                await click_whole_photo(page, done.point);
            } else {
                await tie(page, data, truth, walk);
            }
            await page.waitForFunction((gone) => !location.hash.startsWith(`#/stretch/${gone}`), row.id);
            const key = `${wrong.from_us}`;
            actions.set(key, (actions.get(key) ?? 0) + 1);
        }
        equal(actions.size, 10, `stretches settled (${ways.join("; ")})`);
        holds([...actions.values()].every((n) => n <= 1), `one action each: ${[...actions.values()]}`);
        const {rows: left} = await api_get(page, `/api/worklist?walk=${walk.id}&count=1000`);
        holds(!left.some((row) => wrongs.some((wrong) => wrong.from_us < row.to_us && row.from_us < wrong.to_us)),
            "none of the ten is left");
        const after = score(desk.study, truth);
        console.log(`# before ${(before.near * 100).toFixed(1)}% of ${before.on} samples on the photo within a degree,` +
            ` after ${(after.near * 100).toFixed(1)}%; of ${after.off} elsewhere ${(before.told * 100).toFixed(1)}% told,` +
            ` after ${(after.told * 100).toFixed(1)}%; answers: ${ways.join("; ")}`);
        holds(after.near >= NEEDED, `within a degree: ${after.near}, ${JSON.stringify(ways)}`);
    });

async function go_to_sample(page, data, i) {
    for (let turn = 0; turn < 200; turn++) {
        const here = await page.evaluate(() => {
            const [m, s] = document.querySelector(".here").textContent.split(" ")[0].split(":");
            return Math.round((Number(m) * 60 + Number(s)) * 1e6);
        });
        const now = data.samples.t_us.findIndex((t) => Math.abs(t - here) < 600);
        if (now === i)
            return;
        await page.keyboard.press(now < i ? "." : ",");
    }
    throw new Error("the sample cannot be reached");
}

// One tie: the gaze point on the frame, and the truth about it on the photo.
async function tie(page, data, truth) {
    await page.keyboard.press("t");
    await page.waitForSelector(".ties");
    const frame_us = Number(await page.getAttribute(".pane.frame", "data-frame-us"));
    const {samples} = data;
    const i = samples.t_us.map((_, k) => k).filter((k) => samples.gx[k] !== null && truth.get(samples.t_us[k]).state === "visible")
        .reduce((a, b) => Math.abs(samples.t_us[a] - frame_us) <= Math.abs(samples.t_us[b] - frame_us) ? a : b);
    const row = truth.get(samples.t_us[i]);
    const box = await page.locator(".pane.frame").boundingBox();
    const k = Math.min(box.width / 640, box.height / 360);
    await page.mouse.click(box.x + box.width / 2 + (samples.gx[i] - 319.5) * k,
        box.y + box.height / 2 + (samples.gy[i] - 179.5) * k);
    await page.waitForFunction(() => /Now the same point/.test(document.querySelector(".ties").textContent));
    await click_whole_photo(page, [Number(row.x_px), Number(row.y_px)]);
    await page.waitForFunction(() => document.querySelectorAll(".pairs li").length === 1);
    await page.keyboard.press("Enter");
    await page.waitForSelector(".gain");
    await page.keyboard.press("Enter");
}
