// Undo and redo of decisions: the program keeps the steps, so they last over reloads and restarts.

import {post, say, tell_trouble} from "./api.js";
import {desk, take, walk_of} from "./state.js";
import {DECISIONS, clock} from "./words.js";

export async function step_back(redo, then) {
    if (!(redo ? desk.redo : desk.undo)) {
        say(redo ? "There is nothing to do again." : "There is nothing of yours to take back.");
        return;
    }
    try {
        const answer = await post(redo ? "/api/redo" : "/api/undo");
        const {step} = answer;
        const what = step.lifts ? "lifted" : DECISIONS[step.kind] ?? step.kind;
        take(answer);
        say(`${redo ? "Done again" : "Taken back"}: ${what}, ${walk_of(step.walk)?.name} at ${clock(step.from_us, 1)}.`);
        then?.(step);
    } catch (error) {
        tell_trouble(redo ? "That was not done again." : "That was not taken back.", error);
    }
}

export function undo_commands(then) {
    return [
        {keys: ["u", "Ctrl+z"], words: "Take back my last decision", group: "Undo",
            action: () => step_back(false, then)},
        {keys: ["y", "Ctrl+y", "Ctrl+Shift+z"], show: ["y", "Ctrl+y"], words: "Do it again",
            group: "Undo", action: () => step_back(true, then)},
    ];
}
