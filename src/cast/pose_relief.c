/* A gaze point on a photo with depth: the look through the relief tells on which of its surfaces
 * the point may fall, the picture which of these it shows, and fixed-point steps on what is known
 * around there where exactly. */
#include "cast/pose_relief.h"

#include <math.h>

#include "cast/look.h"

#define POSE_RELIEF_STEPS 5
/* Ends of the look are compared with the picture in groups this wide, in tolerances; where less
 * than this probability lies beyond the tolerance there is nothing to compare. */
#define POSE_RELIEF_GROUP 0.33
#define POSE_RELIEF_CLEAR 0.02
/* What a difference between picture and photo costs one end of a look against the others, log-odds
 * (chosen on the training scenes). */
#define POSE_RELIEF_MISMATCH 2.5
#define POSE_RELIEF_MISSING 0.7
#define POSE_RELIEF_TINT 2.0

/* Frame px by which the relief moves what the frame shows at `at` and the photo at on_photo. */
static bool pose_relief_shift(const LfPose *pose, LfPoint at, LfPoint on_photo, LfPoint *shift)
{
    LfPoint laid;
    if (!lf_mat3_apply(&pose->frame_from_photo, on_photo, &laid))
        return false;
    *shift = (LfPoint){at.x - laid.x, at.y - laid.y};
    return true;
}

/* How far the frame at the gaze point speaks for this place of the photo, as a likelihood. */
static double pose_relief_likely(const LfPoseView *view, const LfReliefView *plane,
                                 const LfReliefEnd *end)
{
    LfReliefSeen seen;
    if (!lf_relief_project(lf_relief_camera(view->relief), plane, end->photo,
                           (LfReliefPlace){0, 0, end->z}, &seen, NULL))
        return 0;
    const LfLook look = lf_look(view->glimpse, view->photo, end->photo, seen.scale);
    return exp(-POSE_RELIEF_MISMATCH * CLAMP(log10(MAX(look.here, 1e-3)), 0, 1.5) -
               POSE_RELIEF_MISSING * MIN(look.missing, 1.5) -
               POSE_RELIEF_TINT * CLAMP(log10(MAX(look.tint, 1e-3)), 0, 1.5));
}

static bool pose_relief_near(LfPoint a, LfPoint b, double px)
{
    const double dx = a.x - b.x, dy = a.y - b.y;
    return dx * dx + dy * dy < px * px;
}

/* Weighs the ends by what the picture shows; their sum stays. */
static void pose_relief_weigh(const LfPoseView *view, const LfReliefView *plane, double near_px,
                              LfReliefEnd *ends, int n)
{
    const double group_px = POSE_RELIEF_GROUP * near_px;
    double before = 0, after = 0;
    for (int from = 0, to; from < n; from = to) {
        const LfPoint first = ends[from].photo;
        double likely = 0;
        for (to = from + 1; to < n && pose_relief_near(ends[to].photo, first, group_px);)
            to++;
        /* Depths are steps: where print is fine one of them fits better than their middle. */
        const int probe[] = {from, (from + to - 1) / 2, to - 1};
        for (int i = 0; i < (to - from < 3 ? to - from : 3); i++)
            likely = MAX(likely, pose_relief_likely(view, plane, &ends[probe[i]]));
        for (int i = from; i < to; i++) {
            before += ends[i].weight;
            ends[i].weight *= likely;
            after += ends[i].weight;
        }
    }
    for (int i = 0; i < n && after > 0; i++)
        ends[i].weight *= before / after;
}

/* False where nothing is known of the relief. */
static bool pose_relief_look(const LfPoseView *view, const LfReliefView *plane, LfPoint at,
                             double near_px, LfReliefMeet *meet)
{
    LfReliefEnd ends[LF_RELIEF_ENDS];
    const int n = lf_relief_ray(view->relief, plane, at, ends);
    if (n == 0)
        return false;
    *meet = lf_relief_meet(ends, n, near_px);
    if (meet->elsewhere > POSE_RELIEF_CLEAR && view->glimpse) {
        pose_relief_weigh(view, plane, near_px, ends, n);
        *meet = lf_relief_meet(ends, n, near_px);
    }
    return true;
}

bool lf_pose_on_relief(const LfPose *pose, const LfPoseView *view, LfPoint at, double near_px,
                       LfPoseRelief *out)
{
    LfReliefView plane;
    LfReliefMeet meet;
    LfPoint on_photo;
    *out = (LfPoseRelief){.larger = 1};
    if (!lf_mat3_apply(&pose->photo_from_frame, at, &on_photo))
        return false;
    if (!view->relief || !lf_relief_view(&plane, &pose->frame_from_photo, view->lens))
        return true;
    const bool looked = pose_relief_look(view, &plane, at, near_px, &meet) &&
                        pose_relief_shift(pose, at, meet.photo, &out->shift);
    if (looked) {
        on_photo = meet.photo;
        out->variance = meet.variance;
        out->elsewhere = meet.elsewhere;
    }
    for (int step = 0; step < POSE_RELIEF_STEPS; step++) {
        const LfReliefShift next = lf_relief_shift(view->relief, &plane, on_photo);
        out->sigma_px = next.sigma_px;
        out->larger = next.scale;
        out->z = next.z;
        /* Half steps after the first: at the edge of a pack the point may jump to and fro. */
        const double part = step == 0 && !looked ? 1 : 0.5;
        out->shift.x += part * (next.px.x - out->shift.x);
        out->shift.y += part * (next.px.y - out->shift.y);
        if (!lf_mat3_apply(&pose->photo_from_frame,
                           (LfPoint){at.x - out->shift.x, at.y - out->shift.y}, &on_photo))
            return false;
    }
    if (looked && !pose_relief_near(on_photo, meet.photo, near_px / 2)) {
        out->z = meet.z;
        if (!pose_relief_shift(pose, at, meet.photo, &out->shift))
            return false;
    }
    out->rough_px = lf_relief_rough(view->relief, &plane, on_photo);
    return true;
}

LfPoseSurface lf_pose_surface(const LfPose *pose, const LfPoseView *view, LfPoint at,
                              LfPoint on_photo, double z)
{
    LfReliefView plane;
    LfReliefSeen seen;
    if (!view->relief || !lf_relief_view(&plane, &pose->frame_from_photo, view->lens) ||
        !lf_relief_project(lf_relief_camera(view->relief), &plane, on_photo,
                           (LfReliefPlace){0, 0, z}, &seen, NULL)) {
        z = 0;
        if (!lf_mat3_apply(&pose->frame_from_photo, on_photo, &seen.at))
            seen.at = at;
    }
    return (LfPoseSurface){z, {at.x - seen.at.x, at.y - seen.at.y}};
}

bool lf_pose_on_surface(const LfPose *pose, const LfPoseView *view, LfPoint at,
                        const LfPoseSurface *surface, LfPoint *on_photo)
{
    LfReliefView plane;
    const LfPoint laid = {at.x - surface->off_px.x, at.y - surface->off_px.y};
    if (surface->z == 0 || !view->relief)
        return lf_mat3_apply(&pose->photo_from_frame, laid, on_photo);
    return lf_relief_view(&plane, &pose->frame_from_photo, view->lens) &&
           lf_relief_at_depth(view->relief, &plane, laid, surface->z, on_photo);
}
