// Shapes of areas and what can be done to them, photo px. A shape is {shape, points} as the program
// keeps it (docs/desk.md): rect four corners, ellipse centre and the ends of two conjugate
// semi-axes, polygon its corners, path rings. Nothing here touches the page.

const ROUND = 64;  // corners that stand for an ellipse on the screen

const plus = ([x, y], [dx, dy]) => [x + dx, y + dy];
const minus = ([ax, ay], [bx, by]) => [ax - bx, ay - by];
const times = ([x, y], k) => [x * k, y * k];
const dot = ([ax, ay], [bx, by]) => ax * bx + ay * by;

// All points with one function applied.
export function map_points({shape, points}, f) {
    return shape === "path" ? points.map((ring) => ring.map(f)) : points.map(f);
}

// Rings to draw and to fill even-odd.
export function rings_of({shape, points}) {
    if (shape === "path")
        return points;
    if (shape !== "ellipse")
        return [points];
    const [centre, a, b] = points;
    const [u, v] = [minus(a, centre), minus(b, centre)];
    return [Array.from({length: ROUND}, (_, i) => {
        const t = 2 * Math.PI * i / ROUND;
        return plus(centre, plus(times(u, Math.cos(t)), times(v, Math.sin(t))));
    })];
}

// {x, y, w, h}; of an ellipse exactly: half widths are the roots of u_x^2 + v_x^2 and u_y^2 + v_y^2.
export function bounds_of(area) {
    if (area.shape === "ellipse") {
        const [centre, a, b] = area.points;
        const [u, v] = [minus(a, centre), minus(b, centre)];
        const [rx, ry] = [Math.hypot(u[0], v[0]), Math.hypot(u[1], v[1])];
        return {x: centre[0] - rx, y: centre[1] - ry, w: 2 * rx, h: 2 * ry};
    }
    const all = rings_of(area).flat();
    const xs = all.map(([x]) => x);
    const ys = all.map(([, y]) => y);
    const [x, y] = [Math.min(...xs), Math.min(...ys)];
    return {x, y, w: Math.max(...xs) - x, h: Math.max(...ys) - y};
}

export function bounds_of_all(areas) {
    const boxes = areas.map(bounds_of);
    const x = Math.min(...boxes.map((box) => box.x));
    const y = Math.min(...boxes.map((box) => box.y));
    return {x, y, w: Math.max(...boxes.map((box) => box.x + box.w)) - x,
        h: Math.max(...boxes.map((box) => box.y + box.h)) - y};
}

export function move_shape(area, dx, dy) {
    return map_points(area, (point) => plus(point, [dx, dy]));
}

// Stretched so that its bounds become these.
export function fit_shape(area, {x, y, w, h}) {
    const old = bounds_of(area);
    const kx = old.w > 0 ? w / old.w : 1;
    const ky = old.h > 0 ? h / old.h : 1;
    return map_points(area, ([px, py]) => [x + (px - old.x) * kx, y + (py - old.y) * ky]);
}

export function rect_between([x0, y0], [x1, y1]) {
    const [l, r] = [Math.min(x0, x1), Math.max(x0, x1)];
    const [t, b] = [Math.min(y0, y1), Math.max(y0, y1)];
    return {shape: "rect", points: [[l, t], [r, t], [r, b], [l, b]]};
}

export function ellipse_between([x0, y0], [x1, y1]) {
    const centre = [(x0 + x1) / 2, (y0 + y1) / 2];
    return {shape: "ellipse", points: [centre, [centre[0] + Math.abs(x1 - x0) / 2, centre[1]],
        [centre[0], centre[1] + Math.abs(y1 - y0) / 2]]};
}

// What can be dragged to change the shape: {point, to(new point) -> points, kind}. A rectangle keeps
// its angles, an ellipse the directions of its axes; a polygon gets a new corner where the middle
// of an edge is dragged.
export function handles_of(area) {
    const {shape, points} = area;
    if (shape === "rect")
        return points.map((point, i) => ({point, kind: "corner", to: (q) => {
            const opposite = points[(i + 2) % 4];
            const moved = [...points];
            let corner = opposite;
            for (const k of [(i + 1) % 4, (i + 3) % 4]) {
                const edge = minus(points[k], opposite);
                const length2 = dot(edge, edge);
                if (length2 === 0)
                    continue;
                const along = times(edge, dot(minus(q, opposite), edge) / length2);
                moved[k] = plus(opposite, along);
                corner = plus(corner, along);
            }
            moved[i] = corner;
            return moved;
        }}));
    if (shape === "ellipse")
        return [1, 2].map((i) => ({point: points[i], kind: "axis", to: (q) => {
            const axis = minus(points[i], points[0]);
            const length2 = dot(axis, axis);
            const k = length2 > 0 ? dot(minus(q, points[0]), axis) / length2 : 1;
            const moved = [...points];
            moved[i] = plus(points[0], times(axis, Math.max(Math.abs(k), 1e-3)));
            return moved;
        }}));
    const of_ring = (ring, whole) => ring.flatMap((point, i) => {
        const next = ring[(i + 1) % ring.length];
        return [
            {point, kind: "corner", to: (q) => whole(ring.with(i, q)),
                drop: ring.length > 3 ? () => whole(ring.toSpliced(i, 1)) : null},
            {point: times(plus(point, next), 0.5), kind: "middle",
                to: (q) => whole(ring.toSpliced(i + 1, 0, q))}];
    });
    if (shape === "polygon")
        return of_ring(points, (ring) => ring);
    return points.flatMap((ring, k) => of_ring(ring, (fresh) => points.with(k, fresh)));
}

// Where its name goes: the middle of the bounds.
export function middle_of(area) {
    const {x, y, w, h} = bounds_of(area);
    return [x + w / 2, y + h / 2];
}

// Two decimals are a hundredth of a px: more would only make long numbers.
export function rounded(points) {
    return points.map((entry) => Array.isArray(entry[0]) ? rounded(entry)
        : entry.map((value) => Math.round(value * 100) / 100));
}
