// Areas on the photo: Leaflet draws them and hears the pointer; corners can be dragged.

import * as L from "/leaflet/leaflet.js";
import {s} from "./dom.js";
import {bounds_of, handles_of, middle_of, move_shape, rings_of} from "./area_shapes.js";
import {letter_scale} from "./glyphs.js";
import {PhotoPane, to_latlng, to_point} from "./photo_pane.js";

// A name in so many letters. Facings differ by the number at the end, so that stays.
export function short_name(name, letters) {
    if (name.length <= letters)
        return name;
    const [number] = /\d{1,3}$/.exec(name) ?? [""];
    const room = letters - number.length - 1;
    return room >= 1 ? `${name.slice(0, room).trimEnd()}…${number}` : `${name.slice(0, Math.max(letters - 1, 1))}…`;
}

const latlngs = (area) => rings_of(area).map((ring) => ring.map(to_latlng));

export class AreaMap extends PhotoPane {
    // host: choose(id, more), changed([{id, points}]), drawn(point) while a shape is being drawn
    constructor(host) {
        super({label: "The photo with its areas"});
        this.host = host;
        this.layers = new Map();
        this.areas = [];
        this.chosen = new Set();
        this.handles = [];
        this.draft = null;
    }

    start() {
        super.start();
        this.map.on("mousedown", (event) => this.press(event));
        this.map.on("mousemove", (event) => this.drag(event));
        this.map.on("mouseup", () => this.drop());
        this.map.on("click", (event) => {
            if (!this.drawing && !this.dragged && !event.originalEvent.target.closest?.(".leaflet-interactive"))
                this.host.choose(null, false);
        });
    }

    set(areas, chosen) {
        this.areas = areas;
        this.chosen = chosen;
        for (const [id, layer] of this.layers)
            if (!areas.some((area) => area.id === id)) {
                layer.remove();
                this.layers.delete(id);
            }
        for (const area of areas) {
            let layer = this.layers.get(area.id);
            if (!layer) {
                layer = L.polygon(latlngs(area), {className: "area", fillRule: "evenodd",
                    bubblingMouseEvents: true}).addTo(this.map);
                layer.on("click", (event) => {
                    if (this.drawing || this.dragged)
                        return;
                    this.host.choose(area.id, event.originalEvent.shiftKey);
                });
                layer.on("mousedown", (event) => this.grab(area.id, event));
                this.layers.set(area.id, layer);
            } else {
                layer.setLatLngs(latlngs(area));
            }
            layer.getElement()?.classList.toggle("chosen", chosen.has(area.id));
            layer.bringToFront();
        }
        this.draw_handles();
        this.draw_signs();
    }

    show_shape(id, points) {
        const area = this.areas.find((each) => each.id === id);
        if (!area)
            return;
        area.points = points;
        this.layers.get(id)?.setLatLngs(latlngs(area));
        this.draw_signs();
    }

    draw_handles() {
        this.handles.forEach((handle) => handle.remove());
        this.handles = [];
        if (this.chosen.size !== 1 || this.drawing)
            return;
        const area = this.areas.find((each) => this.chosen.has(each.id));
        if (!area)
            return;
        const all = handles_of(area);
        const many = all.length > 60;
        for (const handle of all) {
            if (many && handle.kind === "middle")
                continue;
            const marker = L.marker(to_latlng(handle.point), {draggable: true, keyboard: false,
                icon: L.divIcon({className: `handle ${handle.kind}`, iconSize: [24, 24]})}).addTo(this.map);
            marker.on("drag", () => this.show_shape(area.id, handle.to(to_point(marker.getLatLng()))));
            marker.on("dragend", () => {
                this.dragged = true;
                this.host.changed([{id: area.id, points: area.points}]);
                this.after_drag();
            });
            if (handle.drop)
                marker.on("dblclick", () => this.host.changed([{id: area.id, points: handle.drop()}]));
            this.handles.push(marker);
        }
    }

    // --- moving ----------------------------------------------------------------------------------

    grab(id, event) {
        if (this.drawing || !this.chosen.has(id))
            return;
        L.DomEvent.stop(event.originalEvent);
        this.map.dragging.disable();
        this.dragged = false;
        const chosen = this.areas.filter((area) => this.chosen.has(area.id));
        this.moving = {from: to_point(event.latlng), areas: chosen.map((area) =>
            ({id: area.id, before: {shape: area.shape, points: area.points}}))};
    }

    press(event) {
        if (this.drawing)
            this.host.drawn(to_point(event.latlng), "press", event.originalEvent);
    }

    drag(event) {
        const point = to_point(event.latlng);
        if (this.drawing) {
            this.host.drawn(point, "move", event.originalEvent);
            return;
        }
        if (!this.moving)
            return;
        const [dx, dy] = [point[0] - this.moving.from[0], point[1] - this.moving.from[1]];
        if (!this.dragged && Math.hypot(dx, dy) * this.px_per_photo_px < 4)
            return;
        this.dragged = true;
        this.handles.forEach((handle) => handle.remove());
        this.handles = [];
        for (const {id, before} of this.moving.areas)
            this.show_shape(id, move_shape(before, dx, dy));
    }

    drop() {
        if (this.drawing) {
            this.host.drawn(null, "release");
            return;
        }
        const {moving} = this;
        this.moving = null;
        if (!moving)
            return;
        this.map.dragging.enable();
        if (this.dragged)
            this.host.changed(this.areas.filter((area) => moving.areas.some(({id}) => id === area.id))
                .map(({id, points}) => ({id, points})));
        this.after_drag();
    }

    // The click that follows a drag chooses nothing.
    after_drag() {
        setTimeout(() => (this.dragged = false), 0);
    }

    set_drawing(on) {
        this.drawing = on;
        this.stage.classList.toggle("drawing", on);
        on ? this.map.dragging.disable() : this.map.dragging.enable();
        this.set(this.areas, this.chosen);
    }

    // --- signs -----------------------------------------------------------------------------------

    // drafts: shapes not kept yet; aim: the keyboard's mark
    set_drafts(drafts, aim) {
        this.drafts = drafts;
        this.signs_now = {aim};
        this.draw_signs();
    }

    draw_signs() {
        super.draw_signs();
        if (!this.map)
            return;
        const names = [];
        const scale = letter_scale();
        for (const area of this.areas) {
            const box = bounds_of(area);
            const room = box.w * this.px_per_photo_px / scale;
            if (room < 44 || box.h * this.px_per_photo_px / scale < 16)
                continue;
            const [x, y] = this.pane_point(middle_of(area));
            const fits = Math.floor((room - 10) / 7.2);
            const words = short_name(area.name, fits);
            const half = Math.min(words.length * 7.2 + 10, room) / 2;
            names.push(s("g", {class: this.chosen.has(area.id) ? "area-name chosen" : "area-name",
                transform: `translate(${x.toFixed(1)} ${y.toFixed(1)}) scale(${scale.toFixed(3)})`},
            s("rect", {x: -half, y: -10, width: 2 * half, height: 20, rx: 4}),
            s("text", {y: 4.5}, words)));
        }
        const drafts = (this.drafts ?? []).flatMap((draft) => rings_of(draft)).map((ring) => {
            const d = `M${ring.map((point) => this.pane_point(point).map((value) => value.toFixed(1))
                .join(" ")).join("L")}Z`;
            return s("g", {class: "draft"}, s("path", {class: "edge", d}), s("path", {class: "line", d}));
        });
        this.signs.prepend(...names, ...drafts);
    }
}
