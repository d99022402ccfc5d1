// The report's page: a file, opened without a network.

import {writeFileSync} from "node:fs";
import {dirname, join} from "node:path";
import {pathToFileURL} from "node:url";
import {copy_of, equal, holds, lookfall, open_window, test} from "./harness.mjs";
import {studies} from "./studies.mjs";

// What stands in the columns of a table, row by row: the number that it is sorted by, or the text.
const cells = (page, table) => page.evaluate((id) => Array.from(
    document.querySelectorAll(`#${id} tbody tr`), (row) => Array.from(row.cells,
        (cell) => cell.dataset.v === undefined ? cell.textContent : cell.dataset.v === "" ? null
            : Number(cell.dataset.v))), table);
const column = async (page, table, i) => (await cells(page, table)).map((row) => row[i]);
const sorts = (page, table) => page.evaluate((id) => Array.from(
    document.querySelectorAll(`#${id} thead th`), (head) => head.getAttribute("aria-sort")), table);
const heads = (page, table) => page.evaluate((id) => Array.from(
    document.querySelectorAll(`#${id} thead th`), (head) => head.textContent), table);
const button = (page, table, i) => page.locator(`#${table} thead th`).nth(i).locator("button");

// Rising, falling where down, and what is blank at the end either way.
function in_order(values, down, what) {
    const known = values.filter((value) => value !== null);
    equal(values.slice(0, known.length), known, `${what}: blanks come last`);
    for (let i = 1; i < known.length; i++)
        holds(down ? known[i - 1] >= known[i] : known[i - 1] <= known[i],
            `${what}: ${known[i - 1]} before ${known[i]}`);
}

let page_file = null;
function make_report() {
    if (page_file)
        return page_file;
    const study = copy_of(studies.cast);
    const areas = study.replace(/study$/, "areas.csv");
    // Names whose order as text and by their numbers differ, and one that nobody looks at.
    const rows = ["name,group,shape,points"];
    for (let i = 0; i < 12; i++)
        rows.push(`pack ${(i * 5) % 12 + 1},,rect,"${i * 100},0 ${i * 100 + 100},0 ` +
            `${i * 100 + 100},1200 ${i * 100},1200"`);
    rows.push('corner,,rect,"0,0 2,0 2,2 0,2"');
    writeFileSync(areas, `${rows.join("\n")}\n`);
    lookfall("aoi", "import", study, areas);
    page_file = join(dirname(study), "report.html");
    lookfall("report", study, "--out", page_file, "--stills", "1", "--force");
    return page_file;
}

function report_test(name, run, options = {}) {
    test(name, async () => {
        const file = pathToFileURL(make_report()).href;
        const window = await open_window("about:blank", {name: null, offline: true, ...options});
        const asked = [];
        window.page.on("request", (request) => asked.push(request.url()));
        await window.page.goto(file);
        await run(window.page);
        equal(asked.filter((url) => url !== file && !url.startsWith("data:")), [], "asked of others");
        await window.close();
    });
}

report_test("the report's tables sort by numbers, blanks last, and say so", async (page) => {
    const names = await heads(page, "noticed");
    const before = await cells(page, "noticed");
    holds(before.length >= 13, `${before.length} rows`);
    equal((await sorts(page, "noticed")).every((sort) => sort === null), true, "unsorted at first");
    for (const [i, name] of names.entries()) {
        if (typeof before.find((row) => row[i] !== null)?.[i] !== "number")
            continue;
        for (const down of [false, true]) {
            await button(page, "noticed", i).click();
            in_order(await column(page, "noticed", i), down, name);
            equal(await sorts(page, "noticed"),
                names.map((_, k) => k !== i ? null : down ? "descending" : "ascending"), name);
        }
    }
    // rows stay whole, and none is lost
    const text = (rows) => rows.map((row) => JSON.stringify(row)).sort();
    equal(text(await cells(page, "noticed")), text(before), "rows after sorting");
    const first = names.findIndex((name) => name.startsWith("Time to first fixation"));
    holds(before.some((row) => row[first] === null) && before.some((row) => row[first] !== null),
        "the times to the first fixation hold blanks and numbers");
    // another table keeps its order
    equal((await sorts(page, "quality")).every((sort) => sort === null), true, "the other table");
});

report_test("the report's tables sort names by the numbers in them", async (page) => {
    const at = (await heads(page, "noticed")).findIndex((name) => name === "Area");
    await button(page, "noticed", at).click();
    // each group of people has a row of every pack
    const each = async () => (await column(page, "noticed", at)).filter((name, i, all) =>
        name.startsWith("pack") && name !== all[i - 1]);
    const packs = await each();
    equal(packs, Array.from({length: 12}, (_, i) => `pack ${i + 1}`), "packs");
    await button(page, "noticed", at).click();
    equal(await each(), packs.reverse(), "packs backwards");
});

report_test("the report's tables sort by keyboard alone", async (page) => {
    const names = await heads(page, "quality");
    // The first heading is reached by Tab, the next ones too.
    for (let i = 0; i < 200; i++) {
        await page.keyboard.press("Tab");
        if (await page.evaluate(() => document.activeElement.closest("#quality thead th") !== null))
            break;
    }
    const at = await page.evaluate(() => document.activeElement.closest("th").cellIndex);
    equal(at, 0, "the first heading");
    await page.keyboard.press("Enter");
    equal((await sorts(page, "quality"))[0], "ascending", "after Enter");
    await page.keyboard.press("Space");
    equal((await sorts(page, "quality"))[0], "descending", "after Space");
    await page.keyboard.press("Tab");
    await page.keyboard.press("Enter");
    equal((await sorts(page, "quality")).slice(0, 2), [null, "ascending"], "the next one");
    // What is reached is seen, and has the name of its column.
    equal(await page.evaluate(() => document.activeElement.textContent), names[1], "its name");
    holds(await page.evaluate(() => parseFloat(getComputedStyle(document.activeElement).outlineWidth) >= 2),
        "the focus is seen");
    await page.getByRole("columnheader", {name: names[1]}).first().waitFor();
});

report_test("the report prints: all of its parts, and nothing to press", async (page) => {
    const pdf = await page.pdf({format: "A4", printBackground: true});
    holds(pdf.subarray(0, 5).toString() === "%PDF-", "it is a PDF");
    const sheets = pdf.toString("latin1").match(/\/Type\s*\/Page\b/g)?.length ?? 0;
    holds(sheets >= 3 && sheets < 40, `${sheets} sheets`);
    await page.emulateMedia({media: "print"});
    equal(await page.evaluate(() => getComputedStyle(document.querySelector("th button"), "::after").display),
        "none", "arrows on paper");
    equal(await page.evaluate(() => getComputedStyle(document.querySelector("nav")).display), "none",
        "links on paper");
    // A4 less its margins, in px of CSS: tables that are wider would be cut off.
    await page.setViewportSize({width: Math.floor((210 - 28) / 25.4 * 96), height: 1000});
    equal(await page.evaluate(() => Array.from(document.querySelectorAll("table, img"))
        .filter((part) => part.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
        .map((part) => part.id || part.alt.slice(0, 40))), [], "wider than the sheet");
});

report_test("without scripts the report shows everything", async (page) => {
    const rows = await page.locator("#noticed tbody tr").count();
    holds(rows >= 13, `${rows} rows`);
    equal(await page.locator("th button").count(), 0, "buttons");
}, {javaScriptEnabled: false});
