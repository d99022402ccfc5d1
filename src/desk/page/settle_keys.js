// The keys of one stretch.

export function settle_commands(view) {
    const free = () => !view.tie;  // while points are tied, only ties settle
    const settle = (keys, words, action) => ({keys, words, action, group: "Settle", when: free});
    const show = (keys, words, action, more = {}) => ({keys, words, action, group: "Look", ...more});
    const step = (keys, words, action) => ({keys, words, action, group: "Step", repeat: true});
    return [
        settle(["Enter"], "Keep the guess", () => view.decide("accept")),
        ...[1, 2, 3, 4, 5, 6].map((n) => ({keys: [String(n)], group: "Settle", when: free,
            words: n === 1 ? "Take that ghost" : null, show: ["1", "2", "…"],
            action: () => view.decide("rival", {rival: n - 1})})),
        settle(["p"], "Point on the photo with the arrow keys", () => view.open_aim()),
        settle(["t"], "Tie points", () => view.open_tie()),
        settle(["n"], "On no photo", () => view.decide("away")),
        settle(["b"], "Something in front", () => view.decide("blocked")),
        settle(["s"], "What it holds for: stretch, fixation, sample", () => view.next_scope()),
        settle(["h"], "A click is one still point, or shifts the whole stretch", () => view.set_still(!view.still)),
        {keys: ["u", "Ctrl+z"], words: "Take back my last decision", group: "Settle",
            action: () => view.undo(false)},
        {keys: ["y", "Ctrl+y", "Ctrl+Shift+z"], show: ["y", "Ctrl+y"], words: "Do it again",
            group: "Settle", action: () => view.undo(true)},
        step(["ArrowDown"], "Next stretch, leaving this one", (event) => view.step_stretch(1, event)),
        step(["ArrowUp"], "Stretch before", (event) => view.step_stretch(-1, event)),
        step(["ArrowRight"], "Next frame", () => view.step_frame(1)),
        step(["ArrowLeft"], "Frame before", () => view.step_frame(-1)),
        step(["Shift+ArrowRight"], "Next fixation", () => view.step_fixation(1)),
        step(["Shift+ArrowLeft"], "Fixation before", () => view.step_fixation(-1)),
        step(["."], "Next sample", () => view.tie ? view.step_frame(1) : view.go_sample(view.i + 1)),
        step([","], "Sample before", () => view.tie ? view.step_frame(-1) : view.go_sample(view.i - 1)),
        show([" "], "Play the stretch round and round", () => view.play()),
        show(["w"], "Warp the photo over the frame", () => view.set_warp(!view.warp_on)),
        show(["]"], "Warp stronger", () => view.step_strength(0.1), {repeat: true}),
        show(["["], "Warp weaker", () => view.step_strength(-0.1), {repeat: true}),
        show(["d"], "Show where frame and photo differ", () => view.set_difference()),
        show(["r"], "Warp as if the next ghost were right", () => view.next_look()),
        show(["l"], "Loupe", () => view.set_loupe()),
        show(["z"], "Frame close up, or whole", () => view.frame.set_zoom(view.frame.zoom > 1 ? 1 : 2.5,
            view.samples.gx[view.i] === null ? null : [view.samples.gx[view.i], view.samples.gy[view.i]])),
        show(["f"], "Whole photo, or close up", () => view.photo.shown_whole ? view.draw(true)
            : view.photo.whole()),
        show(["+", "="], "Photo nearer", () => view.photo.zoom_by(1), {repeat: true, show: ["+"]}),
        show(["-"], "Photo further off", () => view.photo.zoom_by(-1), {repeat: true}),
        show(["o"], "Other photo", () => view.next_photo()),
        show(["g"], "See it in the walk", () => view.see_walk()),
        {keys: ["Escape"], words: "Back to the list", group: "Step", action: () => view.back()},
    ];
}
