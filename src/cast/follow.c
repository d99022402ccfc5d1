/* Follow: a predicted pose is refined coarse to fine with patches of the photo, then fitted
 * robustly.
 *
 * Two passes. The coarse one runs on a small image, where a patch spans several degrees and bridges
 * the error of the prediction; it yields an affine correction in the frame. The fine one runs on
 * the working image and yields the full homography with its covariance. */
#include "cast/follow.h"

#include <math.h>
#include <string.h>

#include "cast/patch.h"
#include "cast/select.h"

/* A found patch agrees with the photo from this correlation on. Unrelated texture stays under 0.5
 * after alignment, the same print under noise and compression over 0.8 (measured on the rendered
 * walks). */
#define FOLLOW_AGREE 0.6
#define FOLLOW_COARSE_MIN 6
#define FOLLOW_MIN_GOOD 10
#define FOLLOW_MIN_SHARE 0.15
/* Least spread, working px, that the robust fit reckons with: below it, all points are equally
 * good. */
#define FOLLOW_SPREAD_FLOOR_PX 0.15
/* Tukey's biweight reaches zero at 4.685 spreads (95% efficiency; Huber, Robust Statistics). */
#define FOLLOW_TUKEY 4.685
#define FOLLOW_ROUNDS 5
/* How far a patch is looked for again, px of the half-size plane: 1 degree of a 1080p frame.
 * Further, the next facing would be found. */
#define FOLLOW_WIDER_PX 3
/* A pose teaches the relief when this share of patches agree, each known no better than this, frame
 * px: the pose's own error and the patch's mixture of depths. */
#define FOLLOW_TEACH_SHARE 0.5
#define FOLLOW_TEACH_SIGMA_PX 0.3
/* Shifts up to this share of the frame's width may be relief: 2 degrees of 82. */
#define FOLLOW_TEACH_REACH 0.025
/* Patches by which colours are fitted, at most. */
#define FOLLOW_TINT_POINTS 96

struct LfFollower {
    LfSelected selected[LF_POSE_POINTS];
    LfPatchFit fit[LF_POSE_POINTS];
    bool found[LF_POSE_POINTS];
    LfLight light[LF_POSE_POINTS];    /* of the patches in the photo */
    LfPoint measured[LF_POSE_POINTS]; /* undistorted frame px */
    LfPoint photo[LF_POSE_POINTS];
    double weight[LF_POSE_POINTS];
    double distance[LF_POSE_POINTS];
    int n;
};

LfFollower *lf_follower_new(void)
{
    return g_new(LfFollower, 1);
}

void lf_follower_free(LfFollower *follower)
{
    g_free(follower);
}

/* How far the picture smeared there during the exposure, px of the plane `at` is on. */
static LfPoint follow_blur(const LfFollowTask *task, const LfPlane *plane, LfPoint photo,
                           LfPoint at)
{
    LfPoint before;
    if (!(task->exposure > 0) || !lf_mat3_apply(&task->came_from, photo, &before))
        return (LfPoint){0, 0};
    before = lf_plane_from_image(plane, lf_lens_distort(task->lens, before));
    return (LfPoint){task->exposure * (at.x - before.x), task->exposure * (at.y - before.y)};
}

/* Lays one selected patch into a level of the frame; it was selected for `selected_level`. */
static bool follow_lay(const LfFollowTask *task, const LfSelected *s, int selected_level, int level,
                       LfPatch *patch)
{
    const double grow = 1 << (level - selected_level);
    const double *p = s->photo_from_plane;
    const double photo_scale = grow * sqrt(fabs(p[0] * p[3] - p[1] * p[2]));
    const LfPlane *source = &task->photo->level[lf_photo_level_for(task->photo, photo_scale)];
    const double sx = grow * source->scale_x, sy = grow * source->scale_y;
    const double a[4] = {p[0] * sx, p[1] * sx, p[2] * sy, p[3] * sy};
    LfPoint blur = follow_blur(task, &task->frame->level[selected_level], s->photo, s->at);
    blur = (LfPoint){blur.x / grow, blur.y / grow};
    return lf_patch_make(patch, source, lf_plane_from_image(source, s->photo), a, blur);
}

/* Looks again further around, on the next smaller plane, for a patch that was not where it was
 * expected: on a shelf with depth that is not known yet. */
static bool follow_look_wider(const LfFollowTask *task, int level, const LfPatch *patch,
                              const LfSelected *s, LfPatchFit *fit)
{
    const LfPlane *plane = &task->frame->level[level], *small = &task->frame->level[level + 1];
    LfPatch wide;
    LfPatchFit rough;
    const LfPoint start = lf_plane_from_image(small, lf_plane_to_image(plane, s->at));
    if (!follow_lay(task, s, level, level + 1, &wide) ||
        !lf_patch_align(&wide, small, start, FOLLOW_WIDER_PX, &rough) || rough.zncc < FOLLOW_AGREE)
        return false;
    const LfPoint again = lf_plane_from_image(plane, lf_plane_to_image(small, rough.at));
    return lf_patch_align(patch, plane, again, LF_PATCH_SIDE * 0.25, fit) &&
           fit->zncc >= FOLLOW_AGREE;
}

/* Aligns every selected patch on a level of the frame; drops those without texture. */
static void follow_align(LfFollower *f, const LfFollowTask *task, int level, double max_move_px,
                         bool wider)
{
    const LfPlane *plane = &task->frame->level[level];
    int kept = 0;
    for (int i = 0; i < f->n; i++) {
        const LfSelected *s = &f->selected[i];
        LfPatch patch;
        if (!follow_lay(task, s, level, level, &patch))
            continue;
        f->selected[kept] = *s;
        f->found[kept] = lf_patch_align(&patch, plane, s->at, max_move_px, &f->fit[kept]);
        if (wider && (!f->found[kept] || f->fit[kept].zncc < FOLLOW_AGREE)) {
            LfPatchFit second;
            if (follow_look_wider(task, level, &patch, s, &second)) {
                f->found[kept] = true;
                f->fit[kept] = second;
            }
        }
        if (f->found[kept])
            f->found[kept] = lf_lens_undistort(
                task->lens, lf_plane_to_image(plane, f->fit[kept].at), &f->measured[kept]);
        f->photo[kept] = s->photo;
        f->light[kept] = (LfLight){(float)patch.mean, (float)patch.contrast};
        kept++;
    }
    f->n = kept;
}

static double follow_distance(LfPoint a, LfPoint b)
{
    const double dx = a.x - b.x, dy = a.y - b.y;
    return sqrt(dx * dx + dy * dy);
}

static int follow_order(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Robust spread per axis of the distances given: median of a Rayleigh distribution is 1.1774. */
static double follow_spread(double *distance, int n)
{
    if (n == 0)
        return 0;
    qsort(distance, (gsize)n, sizeof *distance, follow_order);
    return distance[n / 2] / 1.1774;
}

static double follow_tukey(double distance, double spread)
{
    double u = distance / (FOLLOW_TUKEY * spread);
    return u >= 1 ? 0 : (1 - u * u) * (1 - u * u);
}

/* Affine map by weighted least squares: dst ~ A src. False where the points do not fix it. */
static bool follow_affine(const LfPoint *dst, const LfPoint *src, const double *w, int n,
                          LfMat3 *out)
{
    double s = 0, mx = 0, my = 0, nx = 0, ny = 0;
    for (int i = 0; i < n; i++) {
        s += w[i];
        mx += w[i] * src[i].x;
        my += w[i] * src[i].y;
        nx += w[i] * dst[i].x;
        ny += w[i] * dst[i].y;
    }
    if (!(s > 0))
        return false;
    mx /= s, my /= s, nx /= s, ny /= s;
    double xx = 0, xy = 0, yy = 0, ax = 0, ay = 0, bx = 0, by = 0;
    for (int i = 0; i < n; i++) {
        double dx = src[i].x - mx, dy = src[i].y - my;
        xx += w[i] * dx * dx;
        xy += w[i] * dx * dy;
        yy += w[i] * dy * dy;
        ax += w[i] * dx * (dst[i].x - nx);
        ay += w[i] * dy * (dst[i].x - nx);
        bx += w[i] * dx * (dst[i].y - ny);
        by += w[i] * dy * (dst[i].y - ny);
    }
    double det = xx * yy - xy * xy;
    if (!(det > 1e-3 * xx * yy) || !(xx > 0))
        return false;
    double a = (yy * ax - xy * ay) / det, b = (xx * ay - xy * ax) / det;
    double c = (yy * bx - xy * by) / det, d = (xx * by - xy * bx) / det;
    *out = (LfMat3){{a, b, nx - a * mx - b * my, c, d, ny - c * mx - d * my, 0, 0, 1}};
    return true;
}

/* The coarse pass: corrects *pose_map by an affine map of the frame. */
static bool follow_coarse(LfFollower *f, const LfFollowTask *task, int level, LfMat3 *map)
{
    const LfPlane *plane = &task->frame->level[level];
    const double px = 1 / plane->scale_x; /* frame px of a plane px */
    LfSelectPlan plan = {.cell_px = 18, .per_cell = 1, .max = 80};
    f->n = lf_select_points(task, map, plane, &plan, f->selected);
    follow_align(f, task, level, LF_PATCH_SIDE * 0.75, false);

    LfPoint from[LF_POSE_POINTS], to[LF_POSE_POINTS];
    double base[LF_POSE_POINTS], weight[LF_POSE_POINTS];
    int n = 0;
    for (int i = 0; i < f->n; i++) {
        if (!f->found[i] || f->fit[i].zncc < FOLLOW_AGREE ||
            !lf_mat3_apply(map, f->photo[i], &from[n]))
            continue;
        to[n] = (LfPoint){f->measured[i].x - f->selected[i].shift_px.x,
                          f->measured[i].y - f->selected[i].shift_px.y};
        base[n] = 1 / (f->fit[i].sigma_px * f->fit[i].sigma_px + 0.01);
        n++;
    }
    if (n < FOLLOW_COARSE_MIN)
        return false;

    /* The median shift is the start: most patches must agree on it before an affine map may. */
    double dx[LF_POSE_POINTS], dy[LF_POSE_POINTS];
    for (int i = 0; i < n; i++) {
        dx[i] = to[i].x - from[i].x;
        dy[i] = to[i].y - from[i].y;
    }
    qsort(dx, (gsize)n, sizeof *dx, follow_order);
    qsort(dy, (gsize)n, sizeof *dy, follow_order);
    LfMat3 change = lf_mat3_translation(dx[n / 2], dy[n / 2]);
    double spread = 2 * px;
    for (int round = 0; round < FOLLOW_ROUNDS; round++) {
        double distance[LF_POSE_POINTS];
        int n_in = 0;
        for (int i = 0; i < n; i++) {
            LfPoint p;
            lf_mat3_apply(&change, from[i], &p);
            distance[i] = follow_distance(to[i], p);
            weight[i] = base[i] * follow_tukey(distance[i], spread);
            n_in += weight[i] > 0;
        }
        if (n_in < FOLLOW_COARSE_MIN)
            return false;
        LfMat3 next;
        if (!follow_affine(to, from, weight, n, &next))
            break; /* too narrow for an affine map: the shift stands */
        change = next;
        spread = CLAMP(follow_spread(distance, n), 0.1 * px, 2 * px);
    }
    LfMat3 corrected = lf_mat3_mul(&change, map);
    *map = lf_mat3_normalize(&corrected);
    return true;
}

/* Robust homography from the aligned points, starting at *map. spread_px: frame px, in and out. */
static bool follow_fit(LfFollower *f, double floor_px, LfMat3 *map, double cov[64],
                       double *spread_px)
{
    double spread = *spread_px, seen = spread;
    LfPoint measured[LF_POSE_POINTS], photo[LF_POSE_POINTS];
    double sigma[LF_POSE_POINTS], relief[LF_POSE_POINTS], weight[LF_POSE_POINTS],
        distance[LF_POSE_POINTS], sorted[LF_POSE_POINTS];
    int n = 0;
    for (int i = 0; i < f->n; i++)
        if (f->found[i] && f->fit[i].zncc >= FOLLOW_AGREE) {
            /* Where it would have been seen in the photo's plane. */
            measured[n] = (LfPoint){f->measured[i].x - f->selected[i].shift_px.x,
                                    f->measured[i].y - f->selected[i].shift_px.y};
            photo[n] = f->photo[i];
            relief[n] = f->selected[i].shift_sigma_px;
            sigma[n++] = f->fit[i].sigma_px;
        }
    for (int round = 0; round < FOLLOW_ROUNDS; round++) {
        int n_in = 0;
        for (int i = 0; i < n; i++) {
            LfPoint p;
            if (!lf_mat3_apply(map, photo[i], &p)) {
                weight[i] = 0;
                continue;
            }
            distance[i] = follow_distance(measured[i], p);
            double robust = follow_tukey(distance[i], spread);
            /* sigma is in plane px; only its ratio to the floor matters here. */
            weight[i] =
                robust /
                (1 + sigma[i] * sigma[i] / (FOLLOW_SPREAD_FLOOR_PX * FOLLOW_SPREAD_FLOOR_PX) +
                 relief[i] * relief[i] / (spread * spread));
            n_in += robust > 0.1;
        }
        if (n_in < FOLLOW_MIN_GOOD)
            return false;
        LfMat3 next;
        if (!lf_homography_fit(measured, photo, weight, n, &next,
                               round == FOLLOW_ROUNDS - 1 ? cov : NULL))
            return false;
        *map = next;
        int n_near = 0;
        for (int i = 0; i < n; i++) {
            LfPoint p;
            if (lf_mat3_apply(map, photo[i], &p)) {
                double d = follow_distance(measured[i], p);
                if (d < FOLLOW_TUKEY * spread)
                    sorted[n_near++] = d;
            }
        }
        seen = follow_spread(sorted, n_near);
        spread = MAX(seen, floor_px);
    }
    /* Weights are 1 for a point of the noise seen; what the median of many points hides, their
     * errors in common, is a third of the floor. */
    seen = MAX(seen, floor_px / 3);
    for (int i = 0; i < 64; i++)
        cov[i] *= seen * seen;
    *spread_px = seen;
    return true;
}

/* Fills the pose's points and sums from the fit. */
static void follow_judge(LfFollower *f, const LfFollowTask *task, const LfPlane *plane,
                         double spread_px, LfPose *pose)
{
    unsigned parts_seen = 0, parts_good = 0;
    const double limit = MAX(3.5 * spread_px, 2 / plane->scale_x);
    pose->n_points = 0;
    pose->n_good = 0;
    for (int i = 0; i < f->n; i++) {
        LfPosePoint *q = &pose->points[pose->n_points];
        const LfSelected *from = &f->selected[i];
        *q = (LfPosePoint){.photo = f->photo[i],
                           .zncc = -1,
                           .shift_px = from->shift_px,
                           .shift_sigma_px = (float)from->shift_sigma_px};
        if (!lf_mat3_apply(&pose->frame_from_photo, q->photo, &q->laid))
            continue;
        pose->n_points++;
        if (f->found[i]) {
            q->residual_px = (LfPoint){f->measured[i].x - q->laid.x, f->measured[i].y - q->laid.y};
            q->zncc = (float)f->fit[i].zncc;
            q->sigma_px = (float)(f->fit[i].sigma_px / plane->scale_x);
            q->in_photo = f->light[i];
            q->in_frame = (LfLight){(float)f->fit[i].mean, (float)f->fit[i].contrast};
            q->good =
                f->fit[i].zncc >= FOLLOW_AGREE &&
                hypot(q->residual_px.x - q->shift_px.x, q->residual_px.y - q->shift_px.y) < limit;
        }
        pose->n_good += q->good;
        int px = CLAMP((int)(q->laid.x * 4 / task->lens->width), 0, 3);
        int py = CLAMP((int)(q->laid.y * 4 / task->lens->height), 0, 3);
        unsigned part = 1U << (py * 4 + px);
        parts_seen |= part;
        if (q->good)
            parts_good |= part;
    }
    pose->share_good = pose->n_points > 0 ? (double)pose->n_good / pose->n_points : 0;
    pose->cover =
        parts_seen ? (double)__builtin_popcount(parts_good) / __builtin_popcount(parts_seen) : 0;
    pose->residual_px = spread_px;
}

/* The shifts by the relief as the pose that was fitted has them; false where they do not depend on
 * it. */
static bool follow_shift_again(LfFollower *f, const LfFollowTask *task, const LfMat3 *map)
{
    LfReliefView view;
    if (!task->relief || !lf_relief_known(task->relief) || !lf_relief_view(&view, map, task->lens))
        return false;
    for (int i = 0; i < f->n; i++) {
        const LfReliefShift shift =
            lf_relief_spot_shift(task->relief, &view, f->photo[i], &f->selected[i].spot);
        f->selected[i].shift_px = shift.px;
        f->selected[i].shift_sigma_px = shift.sigma_px;
    }
    return true;
}

static bool follow_fine(LfFollower *f, const LfFollowTask *task, LfMat3 *map, LfPose *pose)
{
    const LfPlane *plane = &task->frame->level[0];
    LfSelectPlan plan = {
        .cell_px = 46, .per_cell = 1, .max = 220, .focus_radius_px = 36, .focus_max = 80};
    double cov[64], spread = 3 / plane->scale_x;
    f->n = lf_select_points(task, map, plane, &plan, f->selected);
    follow_align(f, task, 0, LF_PATCH_SIDE * 0.5, !task->strict);
    if (!follow_fit(f, FOLLOW_SPREAD_FLOOR_PX / plane->scale_x, map, cov, &spread))
        return false;
    if (follow_shift_again(f, task, map) &&
        !follow_fit(f, FOLLOW_SPREAD_FLOOR_PX / plane->scale_x, map, cov, &spread))
        return false;
    pose->frame_from_photo = *map;
    memcpy(pose->cov, cov, sizeof cov);
    if (!lf_mat3_invert(map, &pose->photo_from_frame))
        return false;
    pose->photo_from_frame = lf_mat3_normalize(&pose->photo_from_frame);
    follow_judge(f, task, plane, spread, pose);
    return pose->n_good >= FOLLOW_MIN_GOOD && pose->share_good >= FOLLOW_MIN_SHARE;
}

/* How the photo's colours look in the frame, by the patches that agree. */
static void follow_tint(const LfFollowTask *task, LfPose *pose)
{
    LfTintPair pairs[FOLLOW_TINT_POINTS];
    int n = 0, passed = 0;
    if (!task->frame->has_tint)
        return;
    const int step = pose->n_good / FOLLOW_TINT_POINTS + 1;
    for (int i = 0; i < pose->n_points && n < FOLLOW_TINT_POINTS; i++) {
        const LfPosePoint *q = &pose->points[i];
        double j[4];
        const LfPoint at = {q->laid.x + q->residual_px.x, q->laid.y + q->residual_px.y};
        if (!q->good || passed++ % step != 0 ||
            !lf_mat3_jacobian(&pose->photo_from_frame, q->laid, j))
            continue;
        pairs[n++] = (LfTintPair){.photo = q->photo,
                                  .frame = lf_lens_distort(task->lens, at),
                                  .photo_scale = sqrt(fabs(j[0] * j[3] - j[1] * j[2])) /
                                                 task->frame->level[0].scale_x};
    }
    lf_tint_fit(&pose->tint, pairs, n, task->photo, task->frame);
}

/* The coarsest level on which the photo is still large enough to hold some patches. */
static int follow_coarse_level(const LfFollowTask *task)
{
    double scale = lf_select_scale(&task->predicted, task->lens, task->photo);
    double shown = scale * MAX(task->photo->report.width, task->photo->report.height);
    for (int level = LF_FRAME_LEVELS - 2; level > 0; level--)
        if (shown * task->frame->level[level].scale_x >= 6 * LF_PATCH_SIDE)
            return level;
    return 0;
}

bool lf_follow(LfFollower *follower, const LfFollowTask *task, bool coarse, LfPose *pose)
{
    LfMat3 map = task->predicted;
    if (coarse && !follow_coarse(follower, task, follow_coarse_level(task), &map))
        return false;
    *pose = (LfPose){.photo = task->photo_index};
    if (!follow_fine(follower, task, &map, pose))
        return false;
    follow_tint(task, pose);
    return true;
}

/* What the frame says of the photo's relief. Only a pose that most patches agree with may teach. */
void lf_follow_learn(LfRelief *relief, const LfPose *pose, const LfLens *lens)
{
    LfReliefView view;
    if (pose->share_good < FOLLOW_TEACH_SHARE ||
        !lf_relief_view(&view, &pose->frame_from_photo, lens))
        return;
    const double reach_px = MAX(FOLLOW_TEACH_REACH * lens->width, 3.5 * pose->residual_px);
    for (int i = 0; i < pose->n_points; i++) {
        const LfPosePoint *q = &pose->points[i];
        if (q->zncc >= (float)FOLLOW_AGREE &&
            hypot(q->residual_px.x - q->shift_px.x, q->residual_px.y - q->shift_px.y) < reach_px)
            lf_relief_learn(relief, &view, q->photo, q->residual_px,
                            hypot((double)q->sigma_px, FOLLOW_TEACH_SIGMA_PX));
    }
    lf_relief_settle(relief);
}
