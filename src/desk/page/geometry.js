// 3x3 mappings, the lens, ellipses. Matrices are nine numbers, row by row, and multiply column
// vectors; dst_from_src as in docs/frames.md. Points are [x, y] in px.

export function map_point(m, [x, y]) {
    const w = m[6] * x + m[7] * y + m[8];
    return [(m[0] * x + m[1] * y + m[2]) / w, (m[3] * x + m[4] * y + m[5]) / w];
}

export function multiply(a, b) {
    const out = new Array(9);
    for (let row = 0; row < 3; row++)
        for (let col = 0; col < 3; col++)
            out[3 * row + col] = a[3 * row] * b[col] + a[3 * row + 1] * b[3 + col] +
                a[3 * row + 2] * b[6 + col];
    return out;
}

// Adjugate over determinant; null where the mapping cannot be turned round.
export function invert(m) {
    const c = [
        m[4] * m[8] - m[5] * m[7], m[2] * m[7] - m[1] * m[8], m[1] * m[5] - m[2] * m[4],
        m[5] * m[6] - m[3] * m[8], m[0] * m[8] - m[2] * m[6], m[2] * m[3] - m[0] * m[5],
        m[3] * m[7] - m[4] * m[6], m[1] * m[6] - m[0] * m[7], m[0] * m[4] - m[1] * m[3],
    ];
    const det = m[0] * c[0] + m[1] * c[3] + m[2] * c[6];
    return Number.isFinite(1 / det) ? c.map((value) => value / det) : null;
}

// OpenCV's lens (calib3d documentation, "Camera Calibration and 3D Reconstruction"): k1 k2 p1 p2 k3
// k4 k5 k6 s1 s2 s3 s4 on normalised coordinates.
function distort_normal(k, x, y) {
    const r2 = x * x + y * y;
    const at = (i) => k[i] ?? 0;
    const radial = (1 + r2 * (at(0) + r2 * (at(1) + r2 * at(4)))) /
        (1 + r2 * (at(5) + r2 * (at(6) + r2 * at(7))));
    return [
        x * radial + 2 * at(2) * x * y + at(3) * (r2 + 2 * x * x) + r2 * (at(8) + r2 * at(9)),
        y * radial + at(2) * (r2 + 2 * y * y) + 2 * at(3) * x * y + r2 * (at(10) + r2 * at(11)),
    ];
}

// A point of the frame as shown, with the lens taken out: fixed-point iteration, which settles for
// the lenses of scene cameras in well under 30 steps.
export function undistort(lens, [u, v]) {
    if (!lens || !lens.k || !lens.k.some((value) => value !== 0))
        return [u, v];
    const target = [(u - lens.cx) / lens.fx, (v - lens.cy) / lens.fy];
    let [x, y] = target;
    for (let i = 0; i < 30; i++) {
        const [dx, dy] = distort_normal(lens.k, x, y);
        x += target[0] - dx;
        y += target[1] - dy;
    }
    return [x * lens.fx + lens.cx, y * lens.fy + lens.cy];
}

// How the photo moves with the frame around a frame point: photo = at + J (frame - point), J row by
// row, by differences of one px either way. null where the pose is degenerate there.
export function local_affine(photo_from_frame, lens, [u, v]) {
    const f = (x, y) => map_point(photo_from_frame, undistort(lens, [x, y]));
    const [right, left, down, up] = [f(u + 1, v), f(u - 1, v), f(u, v + 1), f(u, v - 1)];
    const jacobian = [(right[0] - left[0]) / 2, (down[0] - up[0]) / 2,
        (right[1] - left[1]) / 2, (down[1] - up[1]) / 2];
    const det = jacobian[0] * jacobian[3] - jacobian[1] * jacobian[2];
    return Number.isFinite(1 / det) ? {at: f(u, v), jacobian, det} : null;
}

// Outline of an error ellipse: the points where the squared Mahalanobis distance is 5.99, that is
// 95% of a two-dimensional normal distribution (chi-squared, 2 degrees of freedom). cov: xx, xy, yy.
export function ellipse_outline([x, y], [xx, xy, yy], n = 48) {
    const mean = (xx + yy) / 2;
    const diff = Math.hypot((xx - yy) / 2, xy);
    const angle = 0.5 * Math.atan2(2 * xy, xx - yy);
    const a = Math.sqrt(Math.max(mean + diff, 0) * 5.99);
    const b = Math.sqrt(Math.max(mean - diff, 0) * 5.99);
    const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
    return Array.from({length: n}, (_, i) => {
        const t = 2 * Math.PI * i / n;
        return [x + a * Math.cos(t) * cos - b * Math.sin(t) * sin,
            y + a * Math.cos(t) * sin + b * Math.sin(t) * cos];
    });
}

// The last index whose time is at or before t; 0 before the first.
export function index_at(times, t) {
    let [low, high] = [0, times.length];
    while (low < high) {
        const middle = (low + high) >> 1;
        times[middle] <= t ? (low = middle + 1) : (high = middle);
    }
    return Math.max(low - 1, 0);
}

// The index of the time nearest to t, of those that `fits` takes; -1 for none.
export function nearest_index(times, t, fits = () => true) {
    let best = -1;
    for (let i = 0; i < times.length; i++)
        if (fits(i) && (best < 0 || Math.abs(times[i] - t) < Math.abs(times[best] - t)))
            best = i;
    return best;
}
