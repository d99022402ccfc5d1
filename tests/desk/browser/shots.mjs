// Pictures of every view, to be looked at: shots.mjs STUDY FOLDER. Not part of the tests; the environment is
// that of run.sh (DESK_LOOKFALL, DESK_WORK).

import {mkdirSync} from "node:fs";
import {join} from "node:path";
import {api_get, copy_of, finish, go, open_desk, open_window} from "./harness.mjs";

const [study, folder] = process.argv.slice(2);
const SIZES = [[1280, 720], [1920, 1080], [3840, 2160]];
mkdirSync(folder, {recursive: true});
const desk = await open_desk(copy_of(study));
let link = desk.url;
for (const scheme of ["light", "dark"])
    for (const [width, height] of SIZES) {
        const {page, context} = await open_window(link, {name: null, viewport: {width, height},
            colorScheme: scheme});
        const shot = async (name) => {
            await page.waitForTimeout(900);
            await page.screenshot({path: join(folder, `${name}-${width}-${scheme}.png`)});
        };
        await page.waitForSelector("#sign-name");
        await shot("sign-in");
        await page.fill("#sign-name", "Ana");
        await page.keyboard.press("Enter");
        await page.waitForSelector(".work tbody tr");
        await shot("doubts");
        const {rows} = await api_get(page, "/api/worklist?count=1000");
        const {walks, photos} = await api_get(page, "/api/study");
        const id = (rows.find((row) => row.reason === "alike") ?? rows[0]).id;
        await go(page, `#/stretch/${id}`);
        await page.waitForSelector(".lineup .tile");
        await shot("stretch");
        for (const key of ["w", "l"])
            await page.keyboard.press(key);
        await shot("stretch-warp-loupe");
        for (const key of ["l", "t", " "])
            await page.keyboard.press(key);
        await shot("ties");
        await page.keyboard.press("Escape");
        await page.keyboard.press("?");
        await shot("keys");
        await page.keyboard.press("Escape");
        await go(page, "#/walks");
        await shot("walks");
        await go(page, `#/walk/${walks[0].id}?t=5000000`);
        await page.waitForSelector(".mark-side form");
        await shot("walk");
        await go(page, `#/areas/${photos[0].id}`);
        await page.waitForSelector(".areas .tools button");
        for (const key of ["r", " ", "Shift+ArrowRight", "Shift+ArrowDown", " "])
            await page.keyboard.press(key);
        await page.waitForTimeout(600);
        await page.keyboard.press("Escape");
        await page.keyboard.press("c");
        await shot("areas");
        await page.keyboard.press("Escape");
        await page.keyboard.press("Escape");
        await go(page, "#/pictures");
        await page.waitForFunction(() => document.querySelector(".pictures img")?.naturalWidth > 0);
        await shot("pictures");
        link = (await page.evaluate(async () => (await fetch("/api/invite", {method: "POST", body: "{}",
            headers: {"Content-Type": "application/json"}})).json())).url;
        await context.close();
    }
await desk.stop();
await finish();
