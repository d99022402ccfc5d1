// The pen: rectangles and ellipses from corner to corner, polygons corner by corner, by the pointer
// or by a mark that the arrow keys steer.

import {ellipse_between, rect_between} from "./area_shapes.js";
import {capture} from "./keys.js";

const LEAST_PX = 2;  // photo px; smaller is a slip of the hand

export class AreaDraw {
    // host: done({shape, points}), changed()
    constructor(map, host) {
        Object.assign(this, {map, host, shape: null, corners: [], aim: null});
    }

    words() {
        if (!this.shape)
            return null;
        return this.shape === "polygon"
            ? "Click the corners, Enter closes. Or: arrow keys steer, Space puts a corner."
            : "Drag from corner to corner. Or: arrow keys steer, Space puts a corner.";
    }

    begin(shape) {
        this.leave();
        this.shape = shape;
        this.corners = [];
        this.map.set_drawing(true);
        this.aim = this.map.centre;
        const move = (dx, dy, far) => () => {
            const px = this.map.px_per_photo_px;
            this.aim = [this.aim[0] + dx * far / px, this.aim[1] + dy * far / px];
            this.map.keep_in_view(this.aim);
            this.draw();
        };
        const arrows = [["Left", -1, 0], ["Right", 1, 0], ["Up", 0, -1], ["Down", 0, 1]];
        this.end = capture([
            ...[["", 8, "Move the pen"], ["Shift+", 40, "Move it far"], ["Ctrl+", 1, "Move it a little"]]
                .flatMap(([with_key, far, words]) => arrows.map(([name, dx, dy], k) => ({
                    keys: [`${with_key}Arrow${name}`], repeat: true, group: "Pen",
                    show: [`${with_key}ArrowLeft`, "ArrowRight", "ArrowUp", "ArrowDown"],
                    words: k ? null : words, action: move(dx, dy, far)}))),
            {keys: [" "], words: "Put a corner", group: "Pen", action: () => this.corner(this.aim)},
            {keys: ["Enter"], words: "Close the polygon", group: "Pen", action: () => this.finish()},
            {keys: ["Backspace"], words: "Take back a corner", group: "Pen", action: () => {
                this.corners.pop();
                this.draw();
            }},
            {keys: ["Escape"], words: "Put the pen away", group: "Pen", action: () => this.leave()},
        ]);
        document.getElementById("view").focus({preventScroll: true});
        this.draw();
        this.host.changed();
    }

    leave() {
        if (!this.shape)
            return;
        this.shape = null;
        this.end();
        this.map.set_drawing(false);
        this.map.set_drafts([], null);
        this.host.changed();
    }

    pointer(point, what, event) {
        if (what === "press") {
            if (event.button !== 0)
                return;
            this.aim = point;
            // the second click of a double click closes a polygon
            if (this.shape === "polygon" && event.detail > 1)
                this.finish();
            else
                this.corner(point);
            this.pressed = true;
        } else if (what === "move") {
            this.aim = point;
            this.draw();
        } else if (this.pressed) {
            this.pressed = false;
            // a drag ends the shape where it is let go; a mere click waits for the second corner
            if (this.shape && this.shape !== "polygon" && this.corners.length === 1 &&
                this.far_from(this.corners[0], 4))
                this.corner(this.aim);
        }
    }

    far_from([x, y], screen_px) {
        return Math.hypot(this.aim[0] - x, this.aim[1] - y) * this.map.px_per_photo_px >= screen_px;
    }

    corner(point) {
        this.corners.push(point);
        if (this.shape !== "polygon" && this.corners.length === 2)
            this.finish();
        else
            this.draw();
    }

    as_shape(corners) {
        if (this.shape === "polygon")
            return {shape: "polygon", points: corners};
        return (this.shape === "rect" ? rect_between : ellipse_between)(corners[0], corners[1]);
    }

    finish() {
        const {corners, shape} = this;
        if (corners.length < (shape === "polygon" ? 3 : 2))
            return;
        const xs = corners.map(([x]) => x);
        const ys = corners.map(([, y]) => y);
        const made = this.as_shape(corners);
        this.leave();
        if (Math.max(...xs) - Math.min(...xs) >= LEAST_PX && Math.max(...ys) - Math.min(...ys) >= LEAST_PX)
            this.host.done(made);
    }

    draw() {
        if (!this.shape)
            return;
        const corners = [...this.corners, this.aim];
        this.map.set_drafts(corners.length > 1 ? [this.as_shape(corners)] : [], this.aim);
    }
}
