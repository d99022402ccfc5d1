// The photo: pan and zoom by Leaflet, signs on top. Positions are photo px.

import * as L from "/leaflet/leaflet.js";
import {h, s} from "./dom.js";
import {photo_bitmap, photo_url} from "./frame_source.js";
import {aim_glyph, ghost_glyph, guess_glyph, outline, placed_glyph, tie_glyph, trail}
    from "./glyphs.js";

// Leaflet counts latitude upwards.
export const to_latlng = ([x, y]) => [-y, x];
export const to_point = (latlng) => [latlng.lng, -latlng.lat];

export class PhotoPane {
    constructor({on_click = null, label}) {
        this.signs = s("svg", {class: "signs", "aria-hidden": "true"});
        this.told = h("p", {class: "over"});
        this.coming = h("p", {class: "over coming"});
        this.stage = h("div", {class: "map"});
        this.element = h("div", {class: "pane photo", role: "img", "aria-label": label},
            this.stage, this.signs, this.told, this.coming);
        this.signs_now = {};
        this.photo = null;
        this.on_click = on_click;
    }

    // To be called once the element is on the page.
    start() {
        this.map = L.map(this.stage, {crs: L.CRS.Simple, attributionControl: false,
            zoomControl: false, keyboard: false, zoomSnap: 0, zoomDelta: 0.5, minZoom: -6, maxZoom: 5,
            wheelPxPerZoomLevel: 100, zoomAnimation: false, fadeAnimation: false,
            markerZoomAnimation: false, inertia: false, doubleClickZoom: false, boxZoom: false});
        this.map.setView([0, 0], 0);
        this.map.on("move zoom viewreset resize", () => this.draw_signs());
        if (this.on_click)
            this.map.on("click", (event) => this.on_click(to_point(event.latlng), event.originalEvent));
        this.watch = new ResizeObserver(() => {
            this.map.invalidateSize({pan: false});
            // what was brought into view stays there, until somebody moves it
            if (this.shown_whole)
                this.whole();
            else if (this.focused)
                this.focus(...this.focused);
        });
        this.map.on("dragstart", () => (this.shown_whole = this.focused = null));
        this.stage.addEventListener("wheel", () => (this.shown_whole = this.focused = null),
            {passive: true});
        this.watch.observe(this.stage);
    }

    close() {
        clearTimeout(this.coming_timer);
        this.watch?.disconnect();
        this.map?.remove();
        this.map = null;
    }

    show(photo) {
        if (this.photo?.id === photo.id)
            return false;
        this.overlay?.remove();
        this.photo = photo;
        this.overlay = L.imageOverlay(photo_url(photo), [to_latlng([-0.5, -0.5]),
            to_latlng([photo.width_px - 0.5, photo.height_px - 0.5])], {interactive: false})
            .addTo(this.map);
        this.await_picture(photo);
        this.whole();
        return true;
    }

    // A large photo takes a second the first time; one that cannot be read never comes.
    await_picture(photo) {
        clearTimeout(this.coming_timer);
        this.coming.textContent = "";
        const tell = (sentence) => {
            clearTimeout(this.coming_timer);
            if (this.photo === photo)
                this.coming.textContent = sentence;
        };
        this.coming_timer = setTimeout(() => tell("The photo is on its way ..."), 100);
        this.overlay.once("load", () => tell(""));
        this.overlay.once("error", () => photo_bitmap(photo).then(
            () => tell("The photo cannot be shown."), (error) => tell(error.message)));
    }

    tell(sentence) {
        this.told.textContent = sentence ?? "";
    }

    whole() {
        if (!this.photo)
            return;
        this.map.fitBounds([to_latlng([0, 0]), to_latlng([this.photo.width_px,
            this.photo.height_px])], {animate: false, padding: [6, 6]});
        this.shown_whole = true;
    }

    // Brings these points into view with `around` photo px to each side, no closer than needed.
    focus(points, around) {
        if (!points.length)
            return this.whole();
        const xs = points.map(([x]) => x);
        const ys = points.map(([, y]) => y);
        this.map.fitBounds([to_latlng([Math.min(...xs) - around, Math.min(...ys) - around]),
            to_latlng([Math.max(...xs) + around, Math.max(...ys) + around])],
        {animate: false, maxZoom: 0.75});
        this.shown_whole = false;
        this.focused = [points, around];
    }

    // Moves the view only where the point is out of it.
    keep_in_view(point) {
        if (!this.map.getBounds().pad(-0.06).contains(to_latlng(point)) && this.photo_has(point))
            this.map.panInside(to_latlng(point), {padding: [60, 60], animate: false});
    }

    photo_has([x, y]) {
        return this.photo && x >= -0.5 && y >= -0.5 && x <= this.photo.width_px - 0.5 &&
            y <= this.photo.height_px - 0.5;
    }

    zoom_by(steps) {
        this.shown_whole = this.focused = null;
        this.map.setZoom(this.map.getZoom() + steps / 2, {animate: false});
    }

    get px_per_photo_px() {
        return this.map.getZoomScale(this.map.getZoom(), 0);
    }

    get centre() {
        return to_point(this.map.getCenter());
    }

    pane_point(point) {
        const p = this.map.latLngToContainerPoint(to_latlng(point));
        return [p.x, p.y];
    }

    // {guess, ellipse: [[x, y]], ghosts: [{point, number, chosen}], placed, trail, aim, ties}
    set_signs(signs) {
        this.signs_now = signs;
        this.draw_signs();
    }

    draw_signs() {
        if (!this.map)
            return;
        const {guess, ellipse, ghosts = [], placed, tail = [], aim, ties = []} = this.signs_now;
        const place = (point) => this.pane_point(point);
        this.signs.replaceChildren(...[
            tail.length ? trail(tail.map(place), "trail") : null,
            ellipse ? outline(ellipse.map(place), "ellipse") : null,
            ...ghosts.map((ghost) => ghost_glyph(place(ghost.point), ghost.number, ghost.chosen)),
            guess ? guess_glyph(place(guess)) : null,
            placed ? placed_glyph(place(placed)) : null,
            ...ties.map((tie) => tie_glyph(place(tie.point), tie.number, tie.open)),
            aim ? aim_glyph(place(aim)) : null].filter(Boolean));
    }
}
