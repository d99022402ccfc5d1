// Desks and browsers for the tests, and what tests are made of.

import {spawn, execFileSync} from "node:child_process";
import {copyFileSync, mkdirSync, mkdtempSync, rmSync} from "node:fs";
import {createRequire} from "node:module";
import {tmpdir} from "node:os";
import {join} from "node:path";

const require = createRequire(join(process.env.DESK_WORK, "package.json"));
const {chromium} = require("playwright-core");

const CHROMIUM = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync"];
const PATIENCE_MS = 60000;  // how long a test waits for what must come; not a bound on speed

export const tests = [];
export const test = (name, run) => tests.push({name, run});

const folder = mkdtempSync(join(tmpdir(), "lookfall-desk-"));
const running = new Set();
let browser = null;

export function lookfall(...words) {
    return execFileSync(process.env.DESK_LOOKFALL, words, {encoding: "utf8",
        stdio: ["ignore", "pipe", "pipe"], maxBuffer: 1 << 28});
}

let copies = 0;
// A copy of a study, to be changed by one test.
export function copy_of(study) {
    const path = join(folder, `${++copies}.study`);
    copyFileSync(study, path);
    return path;
}

// Starts `lookfall desk`: {url, study, stop()}.
export async function open_desk(study) {
    const child = spawn(process.env.DESK_LOOKFALL, ["desk", study, "--no-browser"],
        {stdio: ["ignore", "pipe", "pipe"]});
    running.add(child);
    let told = "";
    child.stderr.on("data", (data) => (told += data));
    const gone = new Promise((resolve) => child.on("exit", (code) => {
        running.delete(child);
        resolve(code);
    }));
    const url = await new Promise((resolve, reject) => {
        let text = "";
        child.stdout.on("data", (data) => {
            text += data;
            const found = /http:\/\/\S+(?=\n)/.exec(text);
            if (found)
                resolve(found[0]);
        });
        gone.then((code) => reject(new Error(`the desk ended (${code}): ${told}`)));
    });
    return {
        study,
        url,
        async stop() {
            child.kill("SIGINT");
            return gone;
        },
    };
}

// A browser window of its own on a desk, signed in. A sentence of the console that should not be
// there fails the test when the window is closed.
export async function open_window(link, {name = "Ana", blind = false, share = 1, ...options} = {}) {
    browser ??= await chromium.launch({executablePath: "/usr/bin/chromium", args: CHROMIUM});
    const context = await browser.newContext({viewport: {width: 1280, height: 720}, ...options});
    const page = await context.newPage();
    page.setDefaultTimeout(PATIENCE_MS);
    const wrong = [];
    page.on("pageerror", (error) => wrong.push(error.message));
    page.on("console", (message) => {
        if (message.type() === "error" && !/status of (409|410|404)/.test(message.text()) &&
            !page.expects_trouble)
            wrong.push(message.text());
    });
    await page.goto(link);
    if (name !== null)
        await sign_in(page, name, blind, share);
    return {page, context, wrong, async close() {
        await context.close();
        if (wrong.length)
            throw new Error(`the browser's console: ${wrong.join("; ")}`);
    }};
}

export async function sign_in(page, name, blind = false, share = 1) {
    await page.fill("#sign-name", name);
    if (blind) {
        await page.check("#sign-blind");
        await page.fill("#sign-share", String(share));
    }
    await page.keyboard.press("Enter");
    await page.waitForSelector("dialog.sign-in", {state: "detached"});
}

// Runs a test with a desk on a copy of a study and a window on it, and clears both away.
export function desk_test(name, study, run, options = {}) {
    test(name, async () => {
        const desk = await open_desk(copy_of(study()));
        let window = null;
        try {
            window = await open_window(desk.url, options);
            await run({desk, page: window.page, window});
            await window.close();
            window = null;
        } catch (error) {
            const wrong = window?.wrong.length ? `\nconsole: ${window.wrong.join("; ")}` : "";
            mkdirSync(join(process.env.DESK_WORK, "failed"), {recursive: true});
            await window?.page.screenshot({path: join(process.env.DESK_WORK, "failed",
                `${name.replace(/\W+/g, "-").slice(0, 60)}.png`)}).catch(() => {});
            error.message += wrong;
            throw error;
        } finally {
            await window?.context.close().catch(() => {});
            await desk.stop();
        }
    });
}

export async function finish() {
    await browser?.close();
    for (const child of running)
        child.kill("SIGTERM");
    rmSync(folder, {recursive: true, force: true});
}

// --- the page -------------------------------------------------------------------------------------

// The page's own address of the interface, with the session of the page.
export const api = (page, path, options) => page.evaluate(async ([where, how]) => {
    const answer = await fetch(where, how);
    const text = await answer.text();
    return {status: answer.status, body: text ? JSON.parse(text) : null};
}, [path, options]);

export async function api_get(page, path) {
    const {status, body} = await api(page, path);
    if (status !== 200)
        throw new Error(`${path}: ${status} ${JSON.stringify(body)}`);
    return body;
}

// A link for one more browser on the same desk.
export async function invite(page) {
    const {body} = await api(page, "/api/invite", {method: "POST", body: "{}",
        headers: {"Content-Type": "application/json"}});
    return body.url;
}

export async function go(page, hash) {
    await page.evaluate((to) => location.assign(to), hash);
}

// Stands between page and program for the paths that fit: handler(route) is asked for each request
// until `off` is called, which lets all through again. Chromium says that it intercepts before it does:
// a request sent at once can still get past. So the page asks until one is caught. probe: an address that fits.
export async function stand_between(page, pattern, probe, handler) {
    let caught = 0;
    let on = false;
    await page.route(pattern, (route) => {
        caught++;
        return on ? handler(route) : route.abort();
    });
    const expected = page.expects_trouble;
    page.expects_trouble = true;
    while (!caught)
        await page.evaluate((path) => fetch(path).then(() => {}, () => {}), probe);
    page.expects_trouble = expected;
    on = true;
    return {off: () => (handler = (route) => route.continue())};
}

// Opens a stretch and waits until its frame is drawn.
export async function open_stretch(page, id) {
    await go(page, `#/stretch/${id}`);
    await shown(page, id);
}

export async function shown(page, id) {
    await page.waitForFunction((wanted) => location.hash.startsWith(`#/stretch/${wanted}`) &&
        performance.getEntriesByName("stretch shown").some((entry) => entry.detail === wanted), id);
}

export async function said(page, pattern) {
    await page.waitForFunction((source) => new RegExp(source).test(
        document.getElementById("says").textContent), pattern.source);
}

// Where a photo point is on the screen: through the photo pane's own map.
export async function click_photo(page, point, options = {}) {
    const at = await photo_on_screen(page, point);
    await page.mouse.click(at[0], at[1], options);
}

// The same, with the whole photo in view.
export async function click_whole_photo(page, point) {
    await page.keyboard.press("f");
    await click_photo(page, point);
}

export async function photo_on_screen(page, point) {
    // the picture's own box: px centres are whole numbers, so its left edge is at -0.5
    return page.evaluate(([x, y]) => {
        const image = document.querySelector(".pane.photo img.leaflet-image-layer");
        const box = image.getBoundingClientRect();
        const photo = window.lookfall_photo_size(image);
        return [box.left + (x + 0.5) / photo[0] * box.width, box.top + (y + 0.5) / photo[1] * box.height];
    }, point);
}

// Teaches a page how large the photos are.
export async function know_photos(page) {
    const {photos} = await api_get(page, "/api/study");
    await page.evaluate((sizes) => {
        window.lookfall_photo_size = (image) => sizes.find((photo) =>
            image.src.includes(photo.picture.split("?")[0])).size;
    }, photos.map((photo) => ({picture: photo.picture, size: [photo.width_px, photo.height_px]})));
}

// --- checks ---------------------------------------------------------------------------------------

export function equal(found, wanted, what) {
    if (JSON.stringify(found) !== JSON.stringify(wanted))
        throw new Error(`${what}: ${JSON.stringify(found)}, not ${JSON.stringify(wanted)}`);
}

export function near(found, wanted, within, what) {
    if (!(Math.abs(found - wanted) <= within))
        throw new Error(`${what}: ${found}, not ${wanted} within ${within}`);
}

export function holds(fact, what) {
    if (!fact)
        throw new Error(what);
}
