/* What a pose says at one place of the frame: the point, its uncertainty, the local evidence. */
#include "cast/pose.h"

#include <math.h>

/* Patches count for a place with a Gaussian weight of this width, degrees: a patch is about 1.4
 * degrees wide on a 1080p frame of 82 degrees. */
#define POSE_NEAR_DEG 0.8
/* A found patch whose residual is larger than this, degrees, is a wrong find rather than depth: a
 * pack 15 cm behind the edge plane, seen from 1 m and half a metre of head movement away from where
 * the pose was anchored, moves by 3.5 degrees; half of that is left around a fitted plane. */
#define POSE_SHIFT_MAX_DEG 1.75
#define POSE_AGREE 0.6F

double lf_pose_degree_px(const LfLens *lens, LfPoint undistorted)
{
    /* 10 px to each side, or one degree and more in small frames: enough for a local scale. */
    LfPoint a = {undistorted.x - 10, undistorted.y}, b = {undistorted.x + 10, undistorted.y};
    double angle = lf_lens_angle_deg(lens, a, b);
    return angle > 1e-9 ? 20 / angle : lens->width / 82.0;
}

typedef struct {
    double weight, agreement, good;      /* over all patches around */
    double shift_weight, dx, dy, square; /* over those found */
} PoseSums;

static PoseSums pose_sums(const LfPose *pose, LfPoint at, double degree_px)
{
    PoseSums s = {0};
    const double near = POSE_NEAR_DEG * degree_px;
    for (int i = 0; i < pose->n_points; i++) {
        const LfPosePoint *q = &pose->points[i];
        double dx = q->laid.x - at.x, dy = q->laid.y - at.y;
        double u = (dx * dx + dy * dy) / (2 * near * near);
        if (u > 8)
            continue;
        double w = exp(-u);
        s.weight += w;
        s.agreement += w * (double)MAX(q->zncc, 0);
        s.good += w * q->good;
        double r2 = q->residual_px.x * q->residual_px.x + q->residual_px.y * q->residual_px.y;
        if (q->zncc < POSE_AGREE ||
            r2 > POSE_SHIFT_MAX_DEG * POSE_SHIFT_MAX_DEG * degree_px * degree_px)
            continue;
        s.shift_weight += w;
        s.dx += w * q->residual_px.x;
        s.dy += w * q->residual_px.y;
        s.square += w * r2;
    }
    return s;
}

bool lf_pose_local(const LfPose *pose, const LfLens *lens, LfPoint frame, LfPoseLocal *out)
{
    LfPoint at, on_photo;
    if (!lf_lens_undistort(lens, frame, &at) ||
        !lf_mat3_apply(&pose->photo_from_frame, at, &on_photo))
        return false;
    const double degree_px = lf_pose_degree_px(lens, at);
    const PoseSums s = pose_sums(pose, at, degree_px);

    /* Shrunk local shift: a Gaussian prior of the residuals' own spread against patch noise. On a
     * flat photo the residuals are noise and the shift stays next to nothing; on one with depth
     * they are the local parallax. */
    double dx = 0, dy = 0, left = pose->residual_px * pose->residual_px;
    if (s.shift_weight > 0.05) {
        double noise = pose->residual_px * pose->residual_px;
        double structure = s.square / s.shift_weight / 2;
        double gain = s.shift_weight / (s.shift_weight + 1) * MAX(structure - noise, 0) /
                      MAX(structure, 1e-12);
        dx = gain * s.dx / s.shift_weight;
        dy = gain * s.dy / s.shift_weight;
        left = MAX(structure - (dx * dx + dy * dy) / 2, 0) / (s.shift_weight + 1);
    }
    LfPoint shifted = {at.x - dx, at.y - dy};
    LfCov2 c;
    double j[4];
    if (!lf_mat3_apply(&pose->photo_from_frame, shifted, &on_photo) ||
        !lf_mat3_jacobian(&pose->photo_from_frame, shifted, j) ||
        !lf_homography_point_cov(&pose->frame_from_photo, pose->cov, on_photo, &c))
        return false;
    c.xx += left;
    c.yy += left;
    *out = (LfPoseLocal){
        .photo = on_photo,
        .cov = {j[0] * j[0] * c.xx + 2 * j[0] * j[1] * c.xy + j[1] * j[1] * c.yy,
                j[0] * j[2] * c.xx + (j[0] * j[3] + j[1] * j[2]) * c.xy + j[1] * j[3] * c.yy,
                j[2] * j[2] * c.xx + 2 * j[2] * j[3] * c.xy + j[3] * j[3] * c.yy},
        .agreement = s.weight > 0 ? s.agreement / s.weight : 0,
        .support = s.weight,
        .good_share = s.weight > 0 ? s.good / s.weight : 0,
        .shift_px = hypot(dx, dy),
        .px_per_degree = degree_px * sqrt(fabs(j[0] * j[3] - j[1] * j[2])),
    };
    return true;
}
