// A photo drawn over a frame as a lattice of triangles, each mapped affinely: what a homography and a
// lens do to it, to a small part of a px where the lattice is fine enough, without a graphics card.

// warp: {mesh: {columns, rows, x, y}, image, photo_size: [w, h], shift: [dx, dy]}. The lattice spans
// the photo evenly from edge to edge; x and y are frame px, null where the point cannot be seen.
// shift, photo px: draws as if the photo lay that much further on (the mapping of a rival).
export function draw_mesh(context, warp, to_pane, ratio) {
    const {mesh, image, photo_size: [width, height], shift = [0, 0]} = warp;
    const {columns, rows, x, y} = mesh;
    if (!image || !x.length)
        return;
    const [kx, ky] = [image.width / width, image.height / height];
    const nodes = x.map((value, i) => value === null || y[i] === null ? null
        : {p: to_pane([value, y[i]]),
            u: (width * (i % columns) / (columns - 1) + shift[0]) * kx,
            v: (height * Math.floor(i / columns) / (rows - 1) + shift[1]) * ky});
    for (let row = 0; row + 1 < rows; row++)
        for (let col = 0; col + 1 < columns; col++) {
            const [a, b, c, d] = [nodes[row * columns + col], nodes[row * columns + col + 1],
                nodes[(row + 1) * columns + col], nodes[(row + 1) * columns + col + 1]];
            mesh_triangle(context, image, a, b, d, ratio);
            mesh_triangle(context, image, a, d, c, ratio);
        }
}

function mesh_triangle(context, image, a, b, c, ratio) {
    if (!a || !b || !c)
        return;
    // affine map from picture px to pane px that takes the three corners along
    const det = (b.u - a.u) * (c.v - a.v) - (c.u - a.u) * (b.v - a.v);
    if (Math.abs(det) < 1e-9)
        return;
    const along = (pa, pb, pc) => [
        ((pb - pa) * (c.v - a.v) - (pc - pa) * (b.v - a.v)) / det,
        ((pc - pa) * (b.u - a.u) - (pb - pa) * (c.u - a.u)) / det];
    const [m0, m2] = along(a.p[0], b.p[0], c.p[0]);
    const [m1, m3] = along(a.p[1], b.p[1], c.p[1]);
    // a triangle seen from behind lies beyond the horizon
    if (m0 * m3 - m1 * m2 <= 0)
        return;
    const middle = [(a.p[0] + b.p[0] + c.p[0]) / 3, (a.p[1] + b.p[1] + c.p[1]) / 3];
    // half a px wider all round, or the seams between triangles would show
    const wider = (p) => {
        const [dx, dy] = [p[0] - middle[0], p[1] - middle[1]];
        const far = Math.hypot(dx, dy) || 1;
        return [p[0] + dx / far * 0.7, p[1] + dy / far * 0.7];
    };
    context.save();
    context.beginPath();
    context.moveTo(...wider(a.p));
    context.lineTo(...wider(b.p));
    context.lineTo(...wider(c.p));
    context.closePath();
    context.clip();
    context.setTransform(ratio * m0, ratio * m1, ratio * m2, ratio * m3,
        ratio * (a.p[0] - m0 * a.u - m2 * a.v), ratio * (a.p[1] - m1 * a.u - m3 * a.v));
    // only the part of the picture under the triangle
    const [u0, v0] = [Math.min(a.u, b.u, c.u) - 2, Math.min(a.v, b.v, c.v) - 2];
    const [u1, v1] = [Math.max(a.u, b.u, c.u) + 2, Math.max(a.v, b.v, c.v) + 2];
    const [su, sv] = [Math.max(u0, 0), Math.max(v0, 0)];
    const [sw, sh] = [Math.min(u1, image.width) - su, Math.min(v1, image.height) - sv];
    if (sw > 0 && sh > 0)
        context.drawImage(image, su, sv, sw, sh, su, sv, sw, sh);
    context.restore();
}
