// Undo and redo over reloads and restarts; two people at once; a blind second look.

import {api_get, copy_of, desk_test, equal, holds, invite, lookfall, open_desk, open_stretch, open_window, said,
    test} from "./harness.mjs";
import {studies} from "./studies.mjs";

const first = async (page) => (await api_get(page, "/api/worklist?count=1")).rows[0].id;

test("a decision is undone after a restart, and redone after a reload", async () => {
    const study = copy_of(studies.wrong);
    let desk = await open_desk(study);
    let window = await open_window(desk.url);
    const id = await first(window.page);
    await open_stretch(window.page, id);
    await window.page.keyboard.press("n");
    await window.page.waitForFunction((gone) => !location.hash.startsWith(`#/stretch/${gone}`), id);
    const settled = await api_get(window.page, `/api/stretch/${id}`);
    equal(settled.settled, true, "settled");
    await window.close();
    await desk.stop();

    desk = await open_desk(study);
    window = await open_window(desk.url);
    await window.page.waitForSelector("tr[id]");
    await window.page.keyboard.press("u");
    await window.page.waitForFunction((back) => location.hash.startsWith(`#/stretch/${back}`), id);
    equal((await api_get(window.page, `/api/stretch/${id}`)).settled, false, "settled after undo");
    await window.page.reload();
    await window.page.waitForSelector(".settle .head h1");
    await window.page.keyboard.press("y");
    await said(window.page, /Done again/);
    equal((await api_get(window.page, `/api/stretch/${id}`)).settled, true, "settled after redo");
    await window.close();
    await desk.stop();
});

desk_test("two people at once: the second is told, nothing is lost", () => studies.wrong,
    async ({page}) => {
        const ben = await open_window(await invite(page), {name: "Ben"});
        const id = await first(page);
        await open_stretch(page, id);
        await open_stretch(ben.page, id);
        await page.keyboard.press("n");
        await page.waitForFunction((gone) => !location.hash.startsWith(`#/stretch/${gone}`), id);
        ben.page.expects_trouble = true;
        await ben.page.keyboard.press("b");
        await ben.page.waitForFunction(() => /somebody else decided/i.test(
            document.getElementById("trouble").textContent + document.getElementById("says").textContent));
        const now = await api_get(page, `/api/stretch/${id}`);
        equal(now.by, ["Ana"], "whose decision holds");
        // seen, Ben may still say otherwise, and his lies on top
        await ben.page.waitForFunction(() => /settled/.test(document.querySelector(".settle .head").textContent));
        await ben.page.keyboard.press("b");
        await ben.page.waitForFunction((gone) => !location.hash.startsWith(`#/stretch/${gone}`), id);
        const then = await api_get(page, `/api/stretch/${id}`);
        const gaze = then.samples.t_us.map((_, i) => i).filter((i) => then.samples.gx[i] !== null &&
            then.samples.guess_state[i] === 3);
        holds(gaze.every((i) => then.samples.state[i] === 2), "Ben's decision lies on top");
        equal(then.placements.length, 2, "both are known");
        await ben.close();
    });

desk_test("a blind second look sees nobody else's decisions; the agreement is told", () => studies.wrong,
    async ({desk, page}) => {
        const {rows} = await api_get(page, "/api/worklist?count=6");
        for (const [i, row] of rows.entries()) {
            await open_stretch(page, row.id);
            await page.keyboard.press(i % 3 ? "Enter" : "n");
            await page.waitForFunction((gone) => !location.hash.startsWith(`#/stretch/${gone}`), row.id);
        }
        const ben = await open_window(await invite(page), {name: "Ben", blind: true, share: 1});
        const seen = await api_get(ben.page, "/api/worklist?count=1000");
        holds(rows.every((row) => seen.rows.some((each) => each.id === row.id)), "all are to be done again");
        for (const [i, row] of rows.entries()) {
            await open_stretch(ben.page, row.id);
            equal((await api_get(ben.page, `/api/stretch/${row.id}`)).placements, [], "seen of others");
            await ben.page.keyboard.press(i % 4 ? "Enter" : "n");
            await ben.page.waitForFunction((gone) => !location.hash.startsWith(`#/stretch/${gone}`), row.id);
        }
        await ben.close();
        const agreement = lookfall("export", desk.study, "agreement");
        holds(/Ana/.test(agreement) && /Ben/.test(agreement), `both are in it: ${agreement}`);
        await page.evaluate(() => location.assign("#/doubts"));
        await page.waitForSelector("aside.filters");
        await page.reload();
        await page.click("text=How well reviewers agree");
        await page.waitForSelector("dialog.agreement td");
    });
