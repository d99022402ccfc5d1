/* Gaze steps on the photo, in degrees; see steady.h.
 *
 * Spaces: 1 frame px as shown, 2 undistorted frame px, 3 photo px, 4 degrees on the sphere around
 * the camera, as two orthogonal axes that follow x and y of the frame. Steps are small, so the way
 * from 3 to 4 is the derivative at the step: 4 from 2 (the lens) times 2 from 3 (the pose). */
#include "look/steady.h"

#include <math.h>
#include <string.h>

#define STEADY_DEG (180 / G_PI)

/* Between frames further apart than this a pose is not interpolated: common practice, several
 * frames at any rate. */
#define STEADY_POSE_GAP_US 150000
/* The scale of a photo changes as fast as one walks towards it: a pose this old still tells it to a
 * few percent. */
#define STEADY_SCALE_AGE_US 1000000

/* The poses of one photo, and how far a pass over the samples has come in them. */
typedef struct {
    GArray *poses; /* const LfSteadyPose * */
    guint at;      /* the last one not later than the sample, or 0 */
    const LfSteadyPose *inverted;
    LfMat3 frame_from_photo;
    double scale[4]; /* the last one known: degrees by photo px */
    bool scaled;
} SteadyPhoto;

/* A sample as it is measured: where on which photo, if any. */
typedef struct {
    const LfSteadySample *sample;
    int photo; /* -1: none */
    LfPoint at_px;
    bool firm;         /* the place on the photo can be relied on */
    bool in_camera;    /* camera_px is set */
    LfPoint camera_px; /* undistorted */
} SteadyPoint;

typedef struct {
    const LfLens *lens;
    SteadyPhoto *photos;
    int n_photos;
} Steady;

static const LfSteadyPose *steady_pose(const SteadyPhoto *photo, guint i)
{
    return g_array_index(photo->poses, const LfSteadyPose *, i);
}

/* Samples come in the order of time, so that the place in the poses only moves on. */
static void steady_seek(SteadyPhoto *photo, int64_t t_us)
{
    while (photo->at + 1 < photo->poses->len && steady_pose(photo, photo->at + 1)->t_us <= t_us)
        photo->at++;
}

/* 4 from 2 at u: {da/du, da/dv, db/du, db/dv}. */
static void steady_lens_scale(const LfLens *lens, LfPoint u, double out[4])
{
    if (!lens->calibrated) {
        double deg = lf_lens_angle_deg(lens, (LfPoint){0, 0}, (LfPoint){1, 0});
        out[0] = out[3] = deg;
        out[1] = out[2] = 0;
        return;
    }
    /* A ray at distance r = tan(theta) from the axis: a step along r turns it by dr / (1 + r^2), a
     * step across by dt / sqrt(1 + r^2). */
    double x = (u.x - lens->cx) / lens->fx, y = (u.y - lens->cy) / lens->fy, r2 = x * x + y * y;
    double across = STEADY_DEG / sqrt(1 + r2), along = STEADY_DEG / (1 + r2);
    double xx = r2 > 0 ? x * x / r2 : 1, xy = r2 > 0 ? x * y / r2 : 0;
    double both = (along - across) * xy;
    out[0] = (along * xx + across * (1 - xx)) / lens->fx;
    out[1] = both / lens->fy;
    out[2] = both / lens->fx;
    out[3] = (along * (1 - xx) + across * xx) / lens->fy;
}

/* 4 from 3 at a point of the photo; the last scale known where no pose is near. */
static bool steady_photo_scale(const Steady *steady, SteadyPhoto *photo, int64_t t_us, LfPoint at,
                               double out[4])
{
    if (photo->poses->len > 0) {
        const LfSteadyPose *pose = steady_pose(photo, photo->at);
        double lens[4], jac[4];
        LfPoint u;
        if (photo->inverted != pose) {
            photo->inverted = pose;
            if (!lf_mat3_invert(&pose->photo_from_frame, &photo->frame_from_photo))
                photo->frame_from_photo = (LfMat3){{0}};
        }
        if (ABS(pose->t_us - t_us) <= STEADY_SCALE_AGE_US &&
            lf_mat3_apply(&photo->frame_from_photo, at, &u) &&
            lf_mat3_jacobian(&photo->frame_from_photo, at, jac)) {
            steady_lens_scale(steady->lens, u, lens);
            photo->scale[0] = lens[0] * jac[0] + lens[1] * jac[2];
            photo->scale[1] = lens[0] * jac[1] + lens[1] * jac[3];
            photo->scale[2] = lens[2] * jac[0] + lens[3] * jac[2];
            photo->scale[3] = lens[2] * jac[1] + lens[3] * jac[3];
            photo->scaled = true;
        }
    }
    memcpy(out, photo->scale, sizeof photo->scale);
    return photo->scaled;
}

/* Outside the field the lens is calibrated for, where nothing better is known, frame px stand in.
 */
static LfPoint steady_camera(const Steady *steady, SteadyPoint *point)
{
    LfPoint frame_px = point->sample->gaze_px;
    if (!point->in_camera && !lf_lens_undistort(steady->lens, frame_px, &point->camera_px))
        point->camera_px = frame_px;
    point->in_camera = true;
    return point->camera_px;
}

/* Where the poses around its time put a point that has no place on the photo of its own: beside it,
 * or behind something. */
static bool steady_by_pose(const Steady *steady, SteadyPhoto *photo, SteadyPoint *point)
{
    int64_t t_us = point->sample->t_us;
    if (photo->at + 1 >= photo->poses->len)
        return false;
    const LfSteadyPose *a = steady_pose(photo, photo->at), *b = steady_pose(photo, photo->at + 1);
    LfPoint p, q;
    if (a->t_us > t_us || b->t_us - a->t_us > STEADY_POSE_GAP_US ||
        !lf_mat3_apply(&a->photo_from_frame, steady_camera(steady, point), &p) ||
        !lf_mat3_apply(&b->photo_from_frame, steady_camera(steady, point), &q))
        return false;
    double share = (double)(t_us - a->t_us) / (double)(b->t_us - a->t_us);
    point->at_px = (LfPoint){p.x + share * (q.x - p.x), p.y + share * (q.y - p.y)};
    return true;
}

static SteadyPoint steady_point(const Steady *steady, const LfSteadySample *sample,
                                const SteadyPoint *before)
{
    SteadyPoint point = {.sample = sample, .photo = -1};
    for (int i = 0; i < steady->n_photos; i++)
        steady_seek(&steady->photos[i], sample->t_us);
    if (sample->photo >= 0 && isfinite(sample->at_px.x) && isfinite(sample->at_px.y)) {
        point.photo = sample->photo;
        point.at_px = sample->at_px;
        point.firm = sample->state == LF_STATE_SURE || sample->state == LF_STATE_PLACED;
        return point;
    }
    /* The photo of the sample before comes first, so that the step can be measured on it. */
    if (before && before->photo >= 0 &&
        steady_by_pose(steady, &steady->photos[before->photo], &point))
        point.photo = before->photo;
    for (int i = 0; point.photo < 0 && i < steady->n_photos; i++)
        if (steady_by_pose(steady, &steady->photos[i], &point))
            point.photo = i;
    return point;
}

static bool steady_step_on_photo(const Steady *steady, const SteadyPoint *a, const SteadyPoint *b,
                                 LfPoint *deg)
{
    double scale[4];
    if (a->photo < 0 || a->photo != b->photo ||
        !steady_photo_scale(steady, &steady->photos[b->photo], b->sample->t_us, b->at_px, scale))
        return false;
    double dx = b->at_px.x - a->at_px.x, dy = b->at_px.y - a->at_px.y;
    *deg = (LfPoint){scale[0] * dx + scale[1] * dy, scale[2] * dx + scale[3] * dy};
    return true;
}

static LfPoint steady_step_in_camera(const Steady *steady, SteadyPoint *a, SteadyPoint *b)
{
    double scale[4];
    LfPoint p = steady_camera(steady, a), q = steady_camera(steady, b);
    double dx = q.x - p.x, dy = q.y - p.y;
    steady_lens_scale(steady->lens, (LfPoint){p.x + dx / 2, p.y + dy / 2}, scale);
    return (LfPoint){scale[0] * dx + scale[1] * dy, scale[2] * dx + scale[3] * dy};
}

/* Where a place on the photo may be wrong, the smaller of both steps counts: a saccade is large in
 * both, but a pose that trembles or a head that turns moves gaze in one of them alone. */
static LfPoint steady_step(const Steady *steady, SteadyPoint *a, SteadyPoint *b)
{
    LfPoint photo = {0, 0};
    bool on_photo = steady_step_on_photo(steady, a, b, &photo);
    if (on_photo && a->firm && b->firm)
        return photo;
    LfPoint camera = steady_step_in_camera(steady, a, b);
    return on_photo && hypot(photo.x, photo.y) < hypot(camera.x, camera.y) ? photo : camera;
}

static void steady_fill(const Steady *steady, const LfSteadySample *samples, gsize n,
                        LfDirection *out)
{
    SteadyPoint before = {0};
    LfPoint sum_deg = {0, 0};
    for (gsize i = 0; i < n; i++) {
        out[i] = (LfDirection){samples[i].t_us, NAN, NAN, true, false};
        if (isnan(samples[i].gaze_px.x) || isnan(samples[i].gaze_px.y))
            continue;
        SteadyPoint now = steady_point(steady, &samples[i], before.sample ? &before : NULL);
        if (before.sample) {
            LfPoint step = steady_step(steady, &before, &now);
            sum_deg.x += step.x;
            sum_deg.y += step.y;
        }
        out[i] = (LfDirection){samples[i].t_us, sum_deg.x, sum_deg.y, false, now.photo < 0};
        before = now;
    }
}

LfDirection *lf_steady_directions(const LfSteadySample *samples, gsize n, const LfSteadyPose *poses,
                                  gsize n_poses, int n_photos, const LfLens *lens)
{
    LfDirection *out = g_new(LfDirection, MAX(n, 1));
    Steady steady = {lens, g_new0(SteadyPhoto, MAX(n_photos, 1)), n_photos};
    for (int i = 0; i < n_photos; i++)
        steady.photos[i].poses = g_array_new(FALSE, FALSE, sizeof(const LfSteadyPose *));
    for (gsize i = 0; i < n_poses; i++) {
        const LfSteadyPose *pose = &poses[i];
        g_array_append_val(steady.photos[pose->photo].poses, pose);
    }
    steady_fill(&steady, samples, n, out);
    for (int i = 0; i < n_photos; i++)
        g_array_unref(steady.photos[i].poses);
    g_free(steady.photos);
    return out;
}
