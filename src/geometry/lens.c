/* The lens: pinhole with OpenCV's distortion, both ways, and visual angles.
 *
 * Spaces: 1 undistorted frame px, 2 normalised rays (x, y) = ((u - cx) / fx, (v - cy) / fy),
 * 3 distorted rays, 4 frame px as shown. From 2 to 3, with r^2 = x^2 + y^2 (OpenCV 4.6 calib3d
 * documentation, "Detailed Description"):
 *   x' = x R + 2 p1 x y + p2 (r^2 + 2 x^2) + s1 r^2 + s2 r^4
 *   y' = y R + p1 (r^2 + 2 y^2) + 2 p2 x y + s3 r^2 + s4 r^4
 *   R  = (1 + k1 r^2 + k2 r^4 + k3 r^6) / (1 + k4 r^2 + k5 r^4 + k6 r^6)
 *
 * Limits: the model holds from the centre out to where it first turns back (lens_field.h, and a
 * positive Jacobian determinant). What lies beyond is never given a place inside the frame, and
 * has no undistorted point, so that distort and undistort are inverses wherever both answer. */
#include <lookfall/geometry.h>

#include <math.h>

#include "geometry/lens_field.h"

/* Visual angle of a plain lens: the frame is 82 degrees wide, evenly. */
#define PLAIN_FIELD_DEG 82.0

#define MAX_STEPS 60
#define MAX_HALVINGS 40
#define STEP_DONE_PX 1e-9
#define UNDISTORT_TOLERANCE_PX 0.01

/* p in rays; jac = {dx'/dx, dx'/dy, dy'/dx, dy'/dy}. False where the model does not hold. */
static bool lens_distort_ray(const LfLens *lens, LfPoint p, LfPoint *out, double jac[4])
{
    double k[12] = {0};
    for (int i = 0; i < lens->n_k; i++) {
        k[i] = lens->k[i];
    }
    double x = p.x, y = p.y, r2 = x * x + y * y;
    double num = 1 + r2 * (k[0] + r2 * (k[1] + r2 * k[4]));
    double radial = num;
    double dradial = k[0] + r2 * (2 * k[1] + r2 * 3 * k[4]); /* by r^2 */
    if (lens->n_k > 5) {
        double den = 1 + r2 * (k[5] + r2 * (k[6] + r2 * k[7]));
        double dden = k[5] + r2 * (2 * k[6] + r2 * 3 * k[7]);
        radial = num / den;
        dradial = (dradial - radial * dden) / den;
    }

    out->x = x * radial + 2 * k[2] * x * y + k[3] * (r2 + 2 * x * x) + r2 * (k[8] + r2 * k[9]);
    out->y = y * radial + k[2] * (r2 + 2 * y * y) + 2 * k[3] * x * y + r2 * (k[10] + r2 * k[11]);

    double prism_x = 2 * (k[8] + 2 * r2 * k[9]), prism_y = 2 * (k[10] + 2 * r2 * k[11]);
    jac[0] = radial + 2 * x * x * dradial + 2 * k[2] * y + 6 * k[3] * x + prism_x * x;
    jac[1] = 2 * x * y * dradial + 2 * k[2] * x + 2 * k[3] * y + prism_x * y;
    jac[2] = 2 * x * y * dradial + 2 * k[2] * x + 2 * k[3] * y + prism_y * x;
    jac[3] = radial + 2 * y * y * dradial + 6 * k[2] * y + 2 * k[3] * x + prism_y * y;
    return jac[0] * jac[3] - jac[1] * jac[2] > 0 && lf_lens_field_holds(lens, r2);
}

static LfPoint lens_ray(const LfLens *lens, LfPoint px)
{
    return (LfPoint){(px.x - lens->cx) / lens->fx, (px.y - lens->cy) / lens->fy};
}

static LfPoint lens_px(const LfLens *lens, LfPoint ray)
{
    return (LfPoint){ray.x * lens->fx + lens->cx, ray.y * lens->fy + lens->cy};
}

LfLens lf_lens_plain(int width, int height)
{
    /* The focal length only sets the unit of rays; angles of a plain lens do not use it. */
    double f = width / (PLAIN_FIELD_DEG * G_PI / 180);
    return (LfLens){.width = width,
                    .height = height,
                    .fx = f,
                    .fy = f,
                    .cx = (width - 1) / 2.0,
                    .cy = (height - 1) / 2.0};
}

LfLens lf_lens_scaled(const LfLens *lens, int width, int height)
{
    double sx = (double)width / lens->width, sy = (double)height / lens->height;
    LfLens out = *lens;
    out.width = width;
    out.height = height;
    out.fx *= sx;
    out.fy *= sy;
    /* Edges scale, not pixel centres: the left edge lies at -0.5. */
    out.cx = (lens->cx + 0.5) * sx - 0.5;
    out.cy = (lens->cy + 0.5) * sy - 0.5;
    return out;
}

LfPoint lf_lens_distort(const LfLens *lens, LfPoint undistorted)
{
    if (lens->n_k == 0) {
        return undistorted;
    }
    LfPoint p = lens_ray(lens, undistorted), out;
    double jac[4];
    if (lens_distort_ray(lens, p, &out, jac)) {
        return lens_px(lens, out);
    }
    /* In its direction, but surely out of the frame. */
    double dx = undistorted.x - lens->cx, dy = undistorted.y - lens->cy;
    double far_px = 2.0 * (lens->width + lens->height);
    double scale = far_px / fmax(hypot(dx, dy), 1e-9);
    return (LfPoint){lens->cx + scale * dx, lens->cy + scale * dy};
}

bool lf_lens_undistort(const LfLens *lens, LfPoint frame, LfPoint *undistorted)
{
    if (!isfinite(frame.x) || !isfinite(frame.y)) {
        return false;
    }
    if (lens->n_k == 0) {
        *undistorted = frame;
        return true;
    }
    /* Start at the point itself, or on its ray where the model holds. */
    LfPoint target = lens_ray(lens, frame), p = target, at;
    double jac[4];
    for (int i = 0; !lens_distort_ray(lens, p, &at, jac); i++) {
        if (i == MAX_HALVINGS) {
            return false;
        }
        p = (LfPoint){p.x / 2, p.y / 2};
    }

    /* Newton, halving steps that lead out of the field or away from the target. */
    double error_px = hypot((at.x - target.x) * lens->fx, (at.y - target.y) * lens->fy);
    for (int step = 0; step < MAX_STEPS && error_px > STEP_DONE_PX; step++) {
        double det = jac[0] * jac[3] - jac[1] * jac[2];
        double ex = target.x - at.x, ey = target.y - at.y;
        LfPoint move = {(jac[3] * ex - jac[1] * ey) / det, (jac[0] * ey - jac[2] * ex) / det};
        double move_px = hypot(move.x * lens->fx, move.y * lens->fy);
        bool moved = false;
        for (int i = 0; i < MAX_HALVINGS && !moved; i++) {
            LfPoint next = {p.x + move.x, p.y + move.y}, next_at;
            double next_jac[4];
            if (lens_distort_ray(lens, next, &next_at, next_jac)) {
                double next_px =
                    hypot((next_at.x - target.x) * lens->fx, (next_at.y - target.y) * lens->fy);
                if (next_px < error_px) {
                    p = next;
                    at = next_at;
                    error_px = next_px;
                    for (int j = 0; j < 4; j++) {
                        jac[j] = next_jac[j];
                    }
                    moved = true;
                }
            }
            move = (LfPoint){move.x / 2, move.y / 2};
        }
        if (!moved || move_px < STEP_DONE_PX) {
            break;
        }
    }
    if (!(error_px <= UNDISTORT_TOLERANCE_PX)) {
        return false;
    }
    *undistorted = lens_px(lens, p);
    return true;
}

void lf_lens_distort_jacobian(const LfLens *lens, LfPoint undistorted, double jac[4])
{
    LfPoint out;
    if (lens->n_k == 0 || !lens_distort_ray(lens, lens_ray(lens, undistorted), &out, jac)) {
        jac[0] = jac[3] = 1;
        jac[1] = jac[2] = 0;
        return;
    }
    jac[1] *= lens->fx / lens->fy;
    jac[2] *= lens->fy / lens->fx;
}

double lf_lens_angle_deg(const LfLens *lens, LfPoint a, LfPoint b)
{
    if (!lens->calibrated) {
        return hypot(a.x - b.x, a.y - b.y) * PLAIN_FIELD_DEG / lens->width;
    }
    LfPoint p = lens_ray(lens, a), q = lens_ray(lens, b);
    /* From cross and dot product: exact for small angles too, where acos is not. */
    double cx = p.y - q.y, cy = q.x - p.x, cz = p.x * q.y - p.y * q.x;
    double cross = sqrt(cx * cx + cy * cy + cz * cz);
    return atan2(cross, p.x * q.x + p.y * q.y + 1) * 180 / G_PI;
}
