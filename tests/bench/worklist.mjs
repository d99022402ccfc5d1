// How fast a worklist is on the screen: worklist.mjs STUDY [RUNS]. Started by worklist.py. Each run has a desk
// and a browser of its own, so nothing is cached; times are the page's own, up to the second picture of the
// screen after the rows were put in.

import {api_get, finish, go, open_desk, open_window} from "../desk/browser/harness.mjs";

const [study, runs = "8"] = process.argv.slice(2);

const shown = async (page, n) => {
    await page.waitForFunction((wanted) => performance.getEntriesByName("worklist shown").length >= wanted, n);
    return page.evaluate((i) => {
        const {startTime, detail} = performance.getEntriesByName("worklist shown")[i];
        return {t: startTime, total: detail};
    }, n - 1);
};

const KINDS = ["from signing in, the program just started", "from navigating to the page", "from another view"];

async function once(times) {
    const desk = await open_desk(study);
    const {page, close} = await open_window(desk.url, {name: null, viewport: {width: 1920, height: 1080}});
    await page.waitForSelector("#sign-name");
    await page.fill("#sign-name", "Ana");
    await page.evaluate(() => addEventListener("keydown", () => performance.mark("key"), {capture: true, once: true}));
    await page.keyboard.press("Enter");
    const signed = await shown(page, 1);
    const key = await page.evaluate(() => performance.getEntriesByName("key")[0].startTime);
    times[0].push(signed.t - key);
    await page.reload();
    times[1].push((await shown(page, 1)).t);
    await go(page, "#/walks");
    await page.waitForSelector(".walks table");
    const begun = await page.evaluate(() => {
        location.assign("#/doubts");
        return performance.now();
    });
    times[2].push((await shown(page, 2)).t - begun);
    await close();
    await desk.stop();
}

// After a cast the stretches of all walks are worked out once, while the first of them are shown.
async function prepare() {
    const desk = await open_desk(study);
    const begun = Date.now();
    const {page, close} = await open_window(desk.url);
    let progress;
    do {
        ({progress} = await api_get(page, "/api/pulse"));
        await page.waitForTimeout(100);
    } while (progress.preparing > 0);
    console.log(`${progress.stretches} stretches, worked out in ${((Date.now() - begun) / 1000).toFixed(1)} s`);
    await close();
    await desk.stop();
}

await prepare();
const times = KINDS.map(() => []);
for (let i = 0; i < Number(runs); i++)
    await once(times);
for (const [i, list] of times.entries()) {
    list.sort((a, b) => a - b);
    console.log(`${KINDS[i]}, ${list.length} times: median ${list[list.length >> 1].toFixed(0)} ms, longest ${list.at(-1).toFixed(0)} ms`);
}
await finish();
process.exit(0);
