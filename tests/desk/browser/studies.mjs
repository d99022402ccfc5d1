// The studies the tests work on: a short rendered walk, cast; and the same with ten stretches made
// wrong in a known way (make_wrong.py). Both are kept in the build folder while the programs that
// made them stay the same.

import {execFileSync} from "node:child_process";
import {createHash} from "node:crypto";
import {existsSync, mkdirSync, readFileSync, rmSync, writeFileSync} from "node:fs";
import {dirname, join} from "node:path";
import {fileURLToPath} from "node:url";
import {lookfall} from "./harness.mjs";

const here = dirname(fileURLToPath(import.meta.url));
const data = join(process.env.DESK_WORK, "data");
const scene = ["--scene", "small", "--seed", "3", "--walks", "2", "--seconds", "20"];

export const studies = {
    cast: join(data, "cast.study"),
    wrong: join(data, "wrong.study"),
    video: (walk) => join(data, `${walk}.mp4`),
    gaze: (walk) => join(data, `${walk}_gaze.csv`),
    truth: (walk) => join(data, `${walk}_truth.csv`),
    wrongs: () => JSON.parse(readFileSync(join(data, "wrong.json"), "utf8")),
};

export function csv(text) {
    const [head, ...lines] = text.trim().split(/\r?\n/);
    const names = head.split(",");
    return lines.map((line) => Object.fromEntries(line.split(",").map((value, i) => [names[i], value])));
}

export async function prepare() {
    const made_with = createHash("sha256");
    for (const file of [process.env.DESK_RENDER, process.env.DESK_LOOKFALL, join(here, "make_wrong.py"),
        join(dirname(process.env.DESK_LOOKFALL), "../liblookfall.so")])
        if (existsSync(file))
            made_with.update(readFileSync(file));
    const mark = `${scene.join(" ")} ${made_with.digest("hex")}`;
    const kept = join(data, "made-with");
    if (existsSync(kept) && readFileSync(kept, "utf8") === mark)
        return;
    const rendered = join(data, "rendered-with");
    const render_mark = createHash("sha256").update(readFileSync(process.env.DESK_RENDER)).digest("hex");
    if (!existsSync(rendered) || readFileSync(rendered, "utf8") !== render_mark) {
        rmSync(data, {recursive: true, force: true});
        mkdirSync(data, {recursive: true});
        execFileSync(process.env.DESK_RENDER, [...scene, "--out", data]);
        writeFileSync(rendered, render_mark);
    }
    for (const study of [studies.cast, studies.wrong])
        rmSync(study, {force: true});
    lookfall("new", studies.cast);
    for (const {name, image} of csv(readFileSync(join(data, "photos.csv"), "utf8")))
        lookfall("photo", "add", studies.cast, "--name", name, "--image", join(data, image));
    lookfall("walk", "import", studies.cast, join(data, "walks.csv"));
    lookfall("cast", studies.cast);
    lookfall("fixate", studies.cast);
    execFileSync("/usr/bin/python3", [join(here, "make_wrong.py"), studies.cast, studies.wrong,
        studies.truth("w01"), join(data, "wrong.json")], {stdio: ["ignore", "inherit", "inherit"]});
    writeFileSync(kept, mark);
}
