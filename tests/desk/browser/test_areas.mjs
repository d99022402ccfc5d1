// Areas: drawn by pointer and by keys, moved, reshaped, named, grouped, copied, undone; exported and
// read back the same.

import {writeFileSync} from "node:fs";
import {api, api_get, copy_of, desk_test, equal, go, holds, invite, know_photos, lookfall, near, open_desk, open_window,
    photo_on_screen, said, stand_between, test} from "./harness.mjs";
import {studies} from "./studies.mjs";

async function open_areas(page) {
    const photo = (await api_get(page, "/api/study")).photos[0];
    await go(page, `#/areas/${photo.id}`);
    await page.waitForSelector(".areas img.leaflet-image-layer");
    await page.waitForFunction(() => document.querySelector(".areas img.leaflet-image-layer").complete);
    await know_photos(page);
    return {photo, rows: async () => (await api_get(page, `/api/areas?photo=${photo.id}`)).rows};
}

// slack: Leaflet begins to drag a handle where the first move ends, so that much is lost of the way.
async function drag(page, from, to, slack = 0) {
    const [a, b] = [await photo_on_screen(page, from), await photo_on_screen(page, to)];
    await page.mouse.move(...a);
    await page.mouse.down();
    await page.mouse.move(a[0] + slack, a[1]);
    await page.mouse.move(b[0] + slack, b[1], {steps: 4});
    // Leaflet moves what is dragged once for each picture of the screen; a hand is never faster
    await page.evaluate(() => new Promise((resolve) =>
        requestAnimationFrame(() => requestAnimationFrame(resolve))));
    await page.mouse.up();
}

const until = (page, n) => page.waitForFunction((wanted) =>
    document.querySelectorAll(".area-list button").length === wanted, n);

async function poll(what, f) {
    for (let i = 0; i < 100; i++) {
        if (await f())
            return;
        await new Promise((resolve) => setTimeout(resolve, 50));
    }
    throw new Error(`${what} did not come about`);
}

desk_test("areas drawn by pointer: rectangle, ellipse, polygon; exported and read back", () => studies.cast,
    async ({desk, page}) => {
        const {photo, rows} = await open_areas(page);
        await page.keyboard.press("r");
        await drag(page, [300, 300], [500, 460]);
        await until(page, 1);
        await page.keyboard.type("oats");
        await page.keyboard.press("Tab");
        await page.keyboard.type("upper shelf/Morrow");
        await page.keyboard.press("Enter");
        await poll("the group", async () => (await rows())[0].group === "upper shelf/Morrow");
        await page.keyboard.press("Escape");

        await page.keyboard.press("e");
        await drag(page, [700, 320], [860, 480]);
        await until(page, 2);
        await page.keyboard.press("Escape");
        await page.keyboard.press("p");
        for (const point of [[1000, 700], [1200, 720], [1150, 900]])
            await page.mouse.click(...await photo_on_screen(page, point));
        await page.keyboard.press("Enter");
        await until(page, 3);
        await page.keyboard.press("Escape");

        const drawn = await rows();
        equal(drawn.map((area) => area.shape), ["rect", "ellipse", "polygon"], "shapes");
        equal(drawn[0].name, "oats", "name");
        const corners = drawn[0].points;
        for (const [i, [x, y]] of [[300, 300], [500, 300], [500, 460], [300, 460]].entries()) {
            near(corners[i][0], x, 3, "corner x");
            near(corners[i][1], y, 3, "corner y");
        }
        near(drawn[1].points[0][0], 780, 3, "the ellipse's middle");
        near(drawn[1].points[1][0] - drawn[1].points[0][0], 80, 3, "its half width");
        equal(drawn[2].points.length, 3, "the polygon's corners");

        for (const ending of ["csv", "svg"]) {
            const file = `${copy_of(studies.cast)}.${ending}`;
            writeFileSync(file, lookfall("aoi", "export", desk.study, "--photo", photo.name,
                "--format", ending));
            const other = copy_of(studies.cast);
            lookfall("aoi", "import", other, file, "--photo", photo.name);
            const back = lookfall("aoi", "export", other, "--photo", photo.name, "--format", "csv");
            const wanted = lookfall("aoi", "export", desk.study, "--photo", photo.name, "--format", "csv");
            if (ending === "csv")
                equal(back, wanted, "areas read back from CSV");
            else
                equal(back.split("\n").length, wanted.split("\n").length, "areas read back from SVG");
        }
    });

desk_test("an area is moved, reshaped and undone by the pointer", () => studies.cast, async ({page}) => {
    const {rows} = await open_areas(page);
    await page.keyboard.press("r");
    await drag(page, [400, 600], [600, 800]);
    await until(page, 1);
    await page.keyboard.press("Escape");
    await drag(page, [500, 700], [560, 730]);
    await poll("the move", async () => Math.abs((await rows())[0].points[0][0] - 460) < 3);
    near((await rows())[0].points[0][1], 630, 3, "moved down");
    await page.waitForSelector(".handle");
    const corner = (await rows())[0].points[2];
    await drag(page, corner, [corner[0] + 100, corner[1] + 50], 5);
    await poll("the new size", async () => Math.abs((await rows())[0].points[2][0] - corner[0] - 100) < 3);
    near((await rows())[0].points[0][0], 460, 3, "the opposite corner stays");
    await page.keyboard.press("u");
    await poll("the old size", async () => Math.abs((await rows())[0].points[2][0] - corner[0]) < 1);
    await page.keyboard.press("u");
    await page.keyboard.press("u");
    await until(page, 0);
    await page.keyboard.press("y");
    await until(page, 1);
});

desk_test("several areas moved together by the pointer are one step", () => studies.cast, async ({page}) => {
    const {photo, rows} = await open_areas(page);
    for (const [i, left] of [300, 600, 900].entries())
        equal((await api(page, "/api/areas", {method: "POST", headers: {"Content-Type": "application/json"},
            body: JSON.stringify({photo: photo.id, name: `pack ${i + 1}`, group: "", shape: "rect",
                points: [[left, 400], [left + 200, 400], [left + 200, 600], [left, 600]]})})).status, 200, "made");
    await page.reload();
    await until(page, 3);
    await open_areas(page);
    await page.keyboard.press(".");
    await page.keyboard.press(">");
    await drag(page, [400, 500], [460, 530]);
    const left = async () => (await rows()).map((area) => area.points[0][0]);
    await poll("the move", async () => Math.abs((await left())[0] - 360) < 3);
    near((await left())[1], 660, 3, "the second moved along");
    near((await left())[2], 900, 1e-6, "the third stays");
    await page.keyboard.press("u");
    await poll("both are back", async () => (await left()).every((x, i) => Math.abs(x - 300 * (i + 1)) < 0.01));
});

test("what was drawn is taken back after the desk was closed and opened again, and drawn again", async () => {
    const study = copy_of(studies.cast);
    let desk = await open_desk(study);
    let window = await open_window(desk.url);
    const draw = async (page, corner, n) => {
        await page.keyboard.press("r");
        await drag(page, corner, [corner[0] + 200, corner[1] + 150]);
        await until(page, n);
        await page.keyboard.press("Escape");
        await page.keyboard.press("Escape");
    };
    await open_areas(window.page);
    await draw(window.page, [300, 300], 1);
    await draw(window.page, [700, 300], 2);
    await window.page.keyboard.press(".");
    await window.page.keyboard.press("Delete");
    await until(window.page, 1);
    await window.close();
    await desk.stop();

    desk = await open_desk(study);
    window = await open_window(desk.url);
    await open_areas(window.page);
    await until(window.page, 1);
    for (const n of [2, 1, 0]) {
        await window.page.keyboard.press("u");
        await until(window.page, n);
    }
    await window.page.reload();
    for (const n of [1, 2, 1]) {
        await window.page.waitForFunction(() => [...document.querySelectorAll(".areas .tools button")]
            .some((button) => /Again/.test(button.textContent) && !button.disabled));
        await window.page.keyboard.press("y");
        await until(window.page, n);
    }
    // Ben goes his own way
    const ben = await open_window(await invite(window.page), {name: "Ben"});
    await open_areas(ben.page);
    await until(ben.page, 1);
    await ben.page.keyboard.press("u");
    await said(ben.page, /nothing to take back/);
    await ben.close();
    await window.close();
    await desk.stop();
});

desk_test("what is being typed stays while the answer to the change before comes", () => studies.cast,
    async ({page}) => {
        const {photo, rows} = await open_areas(page);
        await page.keyboard.press("r");
        await drag(page, [300, 300], [500, 460]);
        await until(page, 1);
        let go_on;
        const held = new Promise((resolve) => (go_on = resolve));
        await stand_between(page, "**/api/areas*", `/api/areas?photo=${photo.id}`, async (route) => {
            if (route.request().method() === "PUT")
                await held;
            await route.continue();
        });
        await page.keyboard.type("oats");
        await page.keyboard.press("Tab");
        await page.keyboard.type("upper shelf/");
        const answered = page.waitForResponse((answer) => answer.request().method() === "PUT");
        go_on();
        await answered;
        await page.waitForFunction(() => document.querySelector(".area-list").textContent === "oats");
        await page.keyboard.type("Morrow");
        await page.keyboard.press("Enter");
        await poll("the group", async () => (await rows())[0].group === "upper shelf/Morrow");
        await page.waitForFunction(() => /^upper shelf/.test(document.querySelector(".area-list").textContent));
        equal(await page.textContent("#trouble"), "", "trouble");
        equal(await page.inputValue("#area-name"), "oats", "the name's field");
    });

desk_test("areas by keys alone: drawn, moved, made wider, copied along a row, deleted", () => studies.cast,
    async ({page}) => {
        const {rows} = await open_areas(page);
        await page.keyboard.press("r");
        await page.keyboard.press(" ");
        for (let i = 0; i < 2; i++) {
            await page.keyboard.press("Shift+ArrowRight");
            await page.keyboard.press("Shift+ArrowDown");
        }
        await page.keyboard.press(" ");
        await until(page, 1);
        await page.keyboard.type("pack 1");
        await page.keyboard.press("Enter");
        await poll("the name", async () => (await rows())[0].name === "pack 1");
        await page.keyboard.press("Escape");
        const before = (await rows())[0].points;
        for (let i = 0; i < 3; i++)
            await page.keyboard.press("ArrowLeft");
        await poll("the move", async () => Math.abs((await rows())[0].points[0][0] - before[0][0] + 3) < 0.02);
        await page.keyboard.press("Ctrl+ArrowRight".replace("Ctrl", "Control"));
        await poll("the width", async () => Math.abs((await rows())[0].points[1][0] - before[1][0] + 2) < 0.02);
        await page.keyboard.press("c");
        await page.keyboard.type("3");
        await page.keyboard.press("Enter");
        await until(page, 4);
        const all = await rows();
        equal(all.map((area) => area.name), ["pack 1", "pack 2", "pack 3", "pack 4"], "names counted on");
        const step = all[1].points[0][0] - all[0].points[0][0];
        near(step, all[0].points[1][0] - all[0].points[0][0], 0.02, "the copies touch");
        await page.keyboard.press("Escape");
        // two deleted are back by one key
        await page.keyboard.press(".");
        await page.keyboard.press(">");
        await page.keyboard.press("Delete");
        await until(page, 2);
        await page.keyboard.press("u");
        await until(page, 4);
        await said(page, /Taken back: removing 2 areas/);
        // a name half typed outlasts a reload
        await page.keyboard.press("Escape");
        await page.keyboard.press(".");
        await page.keyboard.press("n");
        await page.keyboard.press("Control+a");
        await page.keyboard.type("crispbread");
        await page.reload();
        await until(page, 4);
        await poll("the name", async () => (await rows()).some((area) => area.name === "crispbread"));
    });
