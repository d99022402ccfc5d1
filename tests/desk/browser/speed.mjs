// How fast the next stretch is shown: speed.mjs STUDY [DECISIONS]. A measurement, not a test: from the key that
// settles a stretch to the picture of the next one (decision on disk, frame decoded, guess drawn). A long
// walk is made by repeating a rendered one without coding it anew (ffmpeg -stream_loop N -c copy).

import {copy_of, finish, go, open_desk, open_window, api_get, shown} from "./harness.mjs";

const [study, wanted = "40"] = process.argv.slice(2);
const desk = await open_desk(copy_of(study));
const {page} = await open_window(desk.url, {viewport: {width: 1920, height: 1080}});
const begun = Date.now();
await go(page, "#/walks");
await go(page, "#/doubts");
await page.waitForSelector(".work tbody tr");
console.log(`worklist with ${(await api_get(page, "/api/worklist?count=1")).total} stretches: ${Date.now() - begun} ms`);
const {rows} = await api_get(page, "/api/worklist?count=1");
await go(page, `#/stretch/${rows[0].id}`);
await shown(page, rows[0].id);
for (let i = 0; i < Number(wanted); i++) {
    await page.waitForTimeout(1500);  // a person looks; meanwhile the next ones are fetched
    const before = await page.evaluate(() => performance.getEntriesByName("stretch shown").length);
    await page.keyboard.press("Enter");
    await page.waitForFunction((n) => performance.getEntriesByName("stretch shown").length > n, before);
}
const times = (await page.evaluate(() => performance.getEntriesByName("stretch shown").slice(1)
    .map((entry) => entry.duration))).sort((a, b) => a - b);
const at = (share) => times[Math.min(times.length - 1, Math.floor(share * times.length))].toFixed(0);
console.log(`next stretch, ${times.length} times: median ${at(0.5)} ms, 95% ${at(0.95)} ms, longest ${at(1)} ms`);
await desk.stop();
await finish();
process.exit(0);
