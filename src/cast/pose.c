/* What a pose says at one place of the frame: the point, its uncertainty, the local evidence. */
#include "cast/pose.h"

#include <math.h>

#include "cast/pose_relief.h"

/* Patches count for a place with a Gaussian weight of this width, degrees: a patch is about 1.4
 * degrees wide on a 1080p frame of 82 degrees. */
#define POSE_NEAR_DEG 0.6
/* A found patch whose residual is larger than this, degrees, is a wrong find rather than depth: a
 * pack 15 cm behind the edge plane, seen from 1 m and half a metre of head movement away from where
 * the pose was anchored, moves by 3.5 degrees; half of that is left around a fitted plane. */
#define POSE_SHIFT_MAX_DEG 1.75
#define POSE_AGREE 0.6F
/* Shifts this near to each other, degrees, belong to one depth. */
#define POSE_REACH_DEG 0.15
/* The frame's own spread counts like this many patches beside those around the point. */
#define POSE_PRIOR_WEIGHT 4.0

double lf_pose_degree_px(const LfLens *lens, LfPoint undistorted)
{
    /* 10 px to each side, or one degree and more in small frames: enough for a local scale. */
    LfPoint a = {undistorted.x - 10, undistorted.y}, b = {undistorted.x + 10, undistorted.y};
    double angle = lf_lens_angle_deg(lens, a, b);
    return angle > 1e-9 ? 20 / angle : lens->width / 82.0;
}

typedef struct {
    double weight, agreement, good; /* over all patches around */
    double found;                   /* over those found */
    double dx, dy, square, noise;   /* of their shifts against what was expected, weighted sums */
} PoseSums;

/* Where a patch is in the frame: where it was found, else where it was expected. */
static LfPoint pose_point_at(const LfPosePoint *q)
{
    const LfPoint *shift = q->zncc >= POSE_AGREE ? &q->residual_px : &q->shift_px;
    return (LfPoint){q->laid.x + shift->x, q->laid.y + shift->y};
}

/* Sums over the patches around `at`. centre: shift that the patches found are held against
 * robustly, reach_px: how far from it they still count (0 for all). */
static PoseSums pose_sums(const LfPose *pose, LfPoint at, double degree_px, LfPoint centre,
                          double reach_px)
{
    PoseSums s = {0};
    const double near = POSE_NEAR_DEG * degree_px;
    for (int i = 0; i < pose->n_points; i++) {
        const LfPosePoint *q = &pose->points[i];
        const LfPoint p = pose_point_at(q);
        double dx = p.x - at.x, dy = p.y - at.y;
        double u = (dx * dx + dy * dy) / (2 * near * near);
        if (u > 8)
            continue;
        double w = exp(-u);
        s.weight += w;
        s.agreement += w * (double)MAX(q->zncc, 0);
        s.good += w * q->good;
        const LfPoint e = {q->residual_px.x - q->shift_px.x, q->residual_px.y - q->shift_px.y};
        if (q->zncc < POSE_AGREE || hypot(e.x, e.y) > POSE_SHIFT_MAX_DEG * degree_px)
            continue;
        if (reach_px > 0) { /* Cauchy weights: depth jumps at the edges of packs */
            double t = hypot(e.x - centre.x, e.y - centre.y) / reach_px;
            w /= 1 + t * t;
        }
        s.found += w;
        s.dx += w * e.x;
        s.dy += w * e.y;
        s.square += w * (e.x * e.x + e.y * e.y) / 2;
        s.noise += w * (double)(q->sigma_px * q->sigma_px);
    }
    return s;
}

typedef struct {
    LfPoint shift;   /* frame px */
    double variance; /* of it, px^2 per axis */
} PoseLeft;

/* What the patches around say beyond plane and relief: their weighted mean shift, shrunk by a
 * Gaussian prior. `spread` of shifts in this frame and here tells how much there is to explain; on
 * a flat photo that is nothing but noise, and the shift is next to none. */
static PoseLeft pose_left(const LfPose *pose, const PoseSums *s, double relief_sigma_px)
{
    const double spread = pose->residual_px * pose->residual_px;
    const double noise = (s->noise + POSE_PRIOR_WEIGHT * spread) / (s->found + POSE_PRIOR_WEIGHT);
    const double seen = (s->square + POSE_PRIOR_WEIGHT * spread) / (s->found + POSE_PRIOR_WEIGHT);
    const double measured = s->found > 0 ? s->noise / s->found : spread;
    const double prior = MAX(seen - measured, 0) + relief_sigma_px * relief_sigma_px;
    const double gain = prior * s->found / (MIN(noise, measured + 0.04) + prior * s->found);
    PoseLeft left = {.variance = prior * (1 - gain)};
    if (s->found > 0)
        left.shift = (LfPoint){gain * s->dx / s->found, gain * s->dy / s->found};
    return left;
}

bool lf_pose_local(const LfPose *pose, const LfPoseView *view, LfPoint at, LfPoseLocal *out)
{
    const LfLens *lens = view->lens;
    LfPoint on_photo;
    LfPoseRelief by_relief;
    double j[4];
    if (!lf_mat3_jacobian(&pose->photo_from_frame, at, j))
        return false;
    const double degree_px = lf_pose_degree_px(lens, at);
    const double scale = sqrt(fabs(j[0] * j[3] - j[1] * j[2]));
    if (!lf_pose_on_relief(pose, view, at, view->tolerance_deg * degree_px * scale, &by_relief))
        return false;
    PoseSums s = pose_sums(pose, at, degree_px, (LfPoint){0, 0}, 0);
    const double reach = MAX(2 * pose->residual_px, POSE_REACH_DEG * degree_px);
    for (int round = 0; round < 3 && s.found > 0; round++)
        s = pose_sums(pose, at, degree_px, (LfPoint){s.dx / s.found, s.dy / s.found}, reach);
    const PoseLeft left = pose_left(pose, &s, by_relief.sigma_px);

    LfPoint on_plane = {at.x - by_relief.shift.x - left.shift.x,
                        at.y - by_relief.shift.y - left.shift.y};
    LfCov2 c;
    if (!lf_mat3_apply(&pose->photo_from_frame, on_plane, &on_photo) ||
        !lf_mat3_jacobian(&pose->photo_from_frame, on_plane, j) ||
        !lf_homography_point_cov(&pose->frame_from_photo, pose->cov, on_photo, &c))
        return false;
    c.xx += left.variance;
    c.yy += left.variance;
    *out = (LfPoseLocal){
        .photo = on_photo,
        .surface = lf_pose_surface(pose, view, at, on_photo, by_relief.z),
        .cov = {j[0] * j[0] * c.xx + 2 * j[0] * j[1] * c.xy + j[1] * j[1] * c.yy +
                    by_relief.variance,
                j[0] * j[2] * c.xx + (j[0] * j[3] + j[1] * j[2]) * c.xy + j[1] * j[3] * c.yy,
                j[2] * j[2] * c.xx + 2 * j[2] * j[3] * c.xy + j[3] * j[3] * c.yy +
                    by_relief.variance},
        .agreement = s.weight > 0 ? s.agreement / s.weight : 0,
        .support = s.weight,
        .good_share = s.weight > 0 ? s.good / s.weight : 0,
        .rough_px = by_relief.rough_px,
        .elsewhere = by_relief.elsewhere,
        .larger = by_relief.larger,
        .shift_px = hypot(left.shift.x, left.shift.y),
        .px_per_degree = degree_px * sqrt(fabs(j[0] * j[3] - j[1] * j[2])),
    };
    return true;
}
