/* Least squares for the place a photo was taken from. */
#include "cast/survey_camera.h"

#include <math.h>

#include "cast/symmetric3.h"

/* Differences this large count half, frame px (Cauchy weights): wrong finds. */
#define CAMERA_SURPRISE_PX 1.0
/* Points that must speak, each counting for its weight. */
#define CAMERA_MIN_POINTS 50
/* Prior: 1 / d and m are known about so well before, in photo sides; what hardly any depth speaks
 * of stays as it is. */
#define CAMERA_PRIOR_INVERSE 0.2
#define CAMERA_PRIOR_MIDDLE 0.1
/* Distances that are possible, in the photo's longer sides: fields of view of 90 to 14 degrees. */
#define CAMERA_NEAREST 0.5
#define CAMERA_FARTHEST 4.0

static void camera_add_point(LfCameraSums *sums, const LfRelief *relief, const LfReliefView *view,
                             const LfPosePoint *q)
{
    const LfReliefCamera *camera = lf_relief_camera(relief);
    const double z = lf_relief_glance(relief, q->photo);
    LfReliefSeen seen;
    double j[6];
    if (!lf_relief_project(camera, view, q->photo, (LfReliefPlace){0, 0, z}, &seen, j))
        return;
    const double length = hypot(j[2], j[5]);
    if (!(length > 1e-9))
        return;
    /* Across the way the point moves with its depth. */
    const double nx = -j[5] / length, ny = j[2] / length;
    const double e =
        nx * (q->residual_px.x - seen.shift.x) + ny * (q->residual_px.y - seen.shift.y);
    const double by_u = nx * j[0] + ny * j[3], by_v = nx * j[1] + ny * j[4];
    const double x[3] = {
        z * (by_u * (q->photo.x - camera->middle.x) + by_v * (q->photo.y - camera->middle.y)),
        z * by_u, z * by_v};
    const double w = 1 / (1 + e * e / (CAMERA_SURPRISE_PX * CAMERA_SURPRISE_PX));
    for (int i = 0, k = 0; i < 3; i++) {
        for (int l = i; l < 3; l++)
            sums->n[k++] += w * x[i] * x[l];
        sums->r[i] += w * x[i] * e;
    }
    sums->points += w;
}

void lf_camera_sums_add(LfCameraSums *sums, const LfRelief *relief, const LfPose *pose,
                        const LfLens *lens)
{
    LfReliefView view;
    if (!lf_relief_view(&view, &pose->frame_from_photo, lens))
        return;
    for (int i = 0; i < pose->n_points; i++)
        if (pose->points[i].good)
            camera_add_point(sums, relief, &view, &pose->points[i]);
}

void lf_camera_sums_join(LfCameraSums *sums, const LfCameraSums *other)
{
    for (int i = 0; i < 6; i++)
        sums->n[i] += other->n[i];
    for (int i = 0; i < 3; i++)
        sums->r[i] += other->r[i];
    sums->points += other->points;
}

LfReliefCamera lf_camera_sums_solve(const LfCameraSums *sums, LfReliefCamera camera, double side)
{
    double n[6];
    const double inverse = CAMERA_PRIOR_INVERSE / side;
    const double across = CAMERA_PRIOR_MIDDLE * side / camera.distance;
    const double noise = CAMERA_SURPRISE_PX * CAMERA_SURPRISE_PX;
    if (sums->points < CAMERA_MIN_POINTS)
        return camera;
    for (int i = 0; i < 6; i++)
        n[i] = sums->n[i];
    n[0] += noise / (inverse * inverse);
    n[3] += noise / (across * across);
    n[5] += noise / (across * across);
    /* Changes of 1 / d, and of -m / d along and across. */
    double change[3], covariance[6];
    lf_symmetric3_solve(n, sums->r, change, covariance);
    const double one = 1 / camera.distance + change[0];
    if (!isfinite(one) || !isfinite(change[1]) || !isfinite(change[2]))
        return camera;
    camera.distance = one > 0 ? CLAMP(1 / one, CAMERA_NEAREST * side, CAMERA_FARTHEST * side)
                              : CAMERA_FARTHEST * side;
    camera.middle.x -= change[1] * camera.distance;
    camera.middle.y -= change[2] * camera.distance;
    return camera;
}
