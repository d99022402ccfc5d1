// Runs the tests one after the other and speaks TAP (testanything.org, version 13).

import {readdirSync} from "node:fs";
import {dirname, join} from "node:path";
import {fileURLToPath} from "node:url";
import {finish, tests} from "./harness.mjs";
import {prepare} from "./studies.mjs";

const here = dirname(fileURLToPath(import.meta.url));
const asked = process.argv.slice(2);
const files = readdirSync(here).filter((name) => /^test_.*\.mjs$/.test(name))
    .filter((name) => !asked.length || asked.includes(name.slice(5, -4))).sort();

await prepare();
for (const file of files)
    await import(join(here, file));

let failed = 0;
console.log(`1..${tests.length}`);
for (const [i, {name, run}] of tests.entries()) {
    const begun = Date.now();
    try {
        await run();
        console.log(`ok ${i + 1} - ${name} (${((Date.now() - begun) / 1000).toFixed(1)} s)`);
    } catch (error) {
        failed++;
        console.log(`not ok ${i + 1} - ${name}`);
        for (const line of String(error.stack ?? error).split("\n"))
            console.log(`# ${line}`);
    }
}
await finish();
process.exit(failed || !tests.length ? 1 : 0);
