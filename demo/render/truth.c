/* The exact answer; see truth.h. */
#include "truth.h"

#include <string.h>

const char *lr_truth_state_name(LrTruthState state)
{
    static const char *const names[] = {"lost", "away", "blocked", "visible", "hidden", "beside"};
    return names[state];
}

static const LrQuad *truth_quads(const LrWorld *world, gsize *n)
{
    *n = world->quads->len;
    return (const LrQuad *)(const void *)world->quads->data;
}

/* Two rays that end this near to each other, mm, end on the same surface: facings are a few mm out
 * of line, and a pack put back on another day stands that much off. */
#define TRUTH_SAME_SURFACE_MM 15.0

/* Whether a point of a surface is on a photo: inside the picture, and the first surface that the
 * photo camera's ray meets belongs to the same fixture, so that what stands behind or in front of
 * the photographed shelf does not count. *hidden: that surface is another one, nearer to the
 * photo's camera, so the photo does not show the point. */
static bool truth_on_photo(const LrScene *scene, const LrPhoto *photo, const LrHit *hit, double *x,
                           double *y, bool *hidden)
{
    gsize n;
    const LrQuad *quads = truth_quads(scene->photo_world, &n);
    LrHit seen;
    if (!lr_photo_project(photo, hit->point, x, y) || !lr_photo_contains(photo, *x, *y) ||
        !lr_world_cast(quads, n, photo->pose.at, lr_vec_sub(hit->point, photo->pose.at), &seen) ||
        seen.quad->part != hit->quad->part)
        return false;
    LrVec apart = lr_vec_sub(seen.point, hit->point);
    *hidden = sqrt(lr_vec_dot(apart, apart)) > TRUTH_SAME_SURFACE_MM;
    return true;
}

/* Photo px per degree: the root of the area that a small square of view has on the photo, on the
 * plane of the surface that was hit. */
static double truth_scale(const LrPhoto *photo, const LrQuad *quad, LrVec from, LrVec ray)
{
    const double step = 1e-4; /* rad; central differences, error of order step^2 */
    ray = lr_vec_unit(ray);
    LrVec side = lr_vec_unit(lr_vec_cross(ray, lr_vec(0.1, 1, 0.2))), up = lr_vec_cross(side, ray);
    double corner[4][2];
    for (int i = 0; i < 4; i++) {
        LrVec d = lr_vec_along(ray, i < 2 ? side : up, i & 1 ? step : -step);
        double distance;
        if (!lr_quad_plane_hit(quad, from, d, &distance) ||
            !lr_photo_project(photo, lr_vec_along(from, d, distance), &corner[i][0], &corner[i][1]))
            return NAN;
    }
    double ax = corner[1][0] - corner[0][0], ay = corner[1][1] - corner[0][1];
    double bx = corner[3][0] - corner[2][0], by = corner[3][1] - corner[2][1];
    return sqrt(fabs(ax * by - ay * bx)) / (2 * step) * G_PI / 180;
}

static const LrTruthPlace TRUTH_NOWHERE = {-1, NAN, NAN, NAN};

/* The photos that show what was hit: first the one of the fixture it belongs to. */
static void truth_places(const LrScene *scene, const LrHit *hit, LrVec from, LrVec ray,
                         LrTruth *truth, bool *hidden)
{
    *hidden = false;
    for (int i = 0; i < scene->n_photos; i++) {
        const LrPhoto *photo = &scene->photos[i];
        LrTruthPlace place = {.photo = i};
        bool under;
        if (!truth_on_photo(scene, photo, hit, &place.x, &place.y, &under))
            continue;
        place.px_per_degree = truth_scale(photo, hit->quad, from, ray);
        if (truth->at.photo < 0 || (photo->part == hit->quad->part && !under)) {
            if (truth->at.photo >= 0 && !*hidden)
                truth->also = truth->at;
            truth->at = place;
            *hidden = under;
        } else if (!under) {
            truth->also = place;
        }
    }
}

LrTruth lr_truth_cast(const LrScene *scene, const LrLens *lens, const LrPath *path,
                      const LrOccluders *occluders, double t_s, double x, double y)
{
    LrTruth truth = {.state = LR_TRUTH_LOST, .at = TRUTH_NOWHERE, .also = TRUTH_NOWHERE};
    if (isnan(x) || isnan(y))
        return truth;
    truth.state = LR_TRUTH_AWAY;
    double nx, ny;
    if (!lr_lens_ray(lens, x, y, &nx, &ny))
        return truth;
    LrPose pose = lr_path_pose(path, t_s);
    LrVec ray = lr_pose_to_world(&pose, lr_vec(nx, ny, 1));
    gsize n;
    const LrQuad *quads = truth_quads(scene->world, &n);
    LrHit behind, front;
    if (!lr_world_cast(quads, n, pose.at, ray, &behind))
        return truth;
    bool hidden;
    truth_places(scene, &behind, pose.at, ray, &truth, &hidden);

    LrQuad movers[LR_OCCLUDERS_MAX];
    gsize n_movers = lr_occluders_at(occluders, t_s, movers, NULL);
    if (lr_world_cast(movers, n_movers, pose.at, ray, &front) && front.distance < behind.distance)
        truth.occluder = front.quad->part;
    if (truth.at.photo < 0)
        return truth;
    truth.state = truth.occluder                        ? LR_TRUTH_BLOCKED
                  : hidden                              ? LR_TRUTH_HIDDEN
                  : behind.quad->part < LR_PART_FIXTURE ? LR_TRUTH_BESIDE
                                                        : LR_TRUTH_VISIBLE;
    return truth;
}

/* Numbers a 3x3 matrix row by row. */
static void truth_mul(const double a[9], const double b[9], double out[9])
{
    for (int r = 0; r < 3; r++)
        for (int c = 0; c < 3; c++)
            out[3 * r + c] = a[3 * r] * b[c] + a[3 * r + 1] * b[3 + c] + a[3 * r + 2] * b[6 + c];
}

static void truth_homography(const LrPhoto *photo, const LrLens *lens, const LrPose *pose,
                             double h[9])
{
    /* A ray d from the walker meets the plane at pose + d g / (n . d), g = n . (plane - pose); from
     * the photo's camera that is, up to scale, (pose - photo) (n . d) + d g: linear in d. */
    const LrPose *p = &photo->pose;
    LrVec o = lr_vec_sub(pose->at, p->at), n = photo->normal;
    double g = lr_vec_dot(n, lr_vec_sub(photo->plane, pose->at));
    const LrVec axes[3] = {pose->right, pose->down, pose->forward};
    double m[9];
    for (int c = 0; c < 3; c++) {
        LrVec v = lr_vec_along(lr_vec_scale(o, lr_vec_dot(n, axes[c])), axes[c], g);
        m[c] = lr_vec_dot(p->right, v);
        m[3 + c] = lr_vec_dot(p->down, v);
        m[6 + c] = lr_vec_dot(p->forward, v);
    }
    const LrLens *q = &photo->lens;
    const double to_photo[9] = {q->fx, 0, q->cx, 0, q->fy, q->cy, 0, 0, 1};
    const double from_frame[9] = {
        1 / lens->fx, 0, -lens->cx / lens->fx, 0, 1 / lens->fy, -lens->cy / lens->fy, 0, 0, 1};
    double half[9];
    truth_mul(m, from_frame, half);
    truth_mul(to_photo, half, h);
    double last = h[8];
    for (int i = 0; i < 9; i++)
        h[i] /= last;
}

bool lr_truth_pose(const LrScene *scene, int index, const LrLens *lens, const LrPath *path,
                   const LrOccluders *occluders, double t_s, double h[9], double *visible_share)
{
    enum { ACROSS = 24 };
    const LrPhoto *photo = &scene->photos[index];
    LrPose pose = lr_path_pose(path, t_s);
    LrQuad movers[LR_OCCLUDERS_MAX];
    gsize n_movers = lr_occluders_at(occluders, t_s, movers, NULL);
    int seen = 0;
    for (int i = 0; i < ACROSS * ACROSS; i++) {
        const LrLens *q = &photo->lens;
        double px = (i % ACROSS + 0.5) / ACROSS * q->width - 0.5;
        double py = (i / ACROSS + 0.5) / ACROSS * q->height - 0.5, distance, x, y;
        LrVec ray =
            lr_pose_to_world(&photo->pose, lr_vec((px - q->cx) / q->fx, (py - q->cy) / q->fy, 1));
        distance = lr_vec_dot(photo->normal, lr_vec_sub(photo->plane, photo->pose.at)) /
                   lr_vec_dot(photo->normal, ray);
        LrVec point = lr_vec_along(photo->pose.at, ray, distance), c;
        LrHit hit;
        c = lr_pose_to_camera(&pose, point);
        if (c.z < 1 || hypot(c.x, c.y) / c.z >= lens->reach)
            continue;
        lr_lens_project(lens, c.x / c.z, c.y / c.z, &x, &y);
        if (x < -0.5 || y < -0.5 || x > lens->width - 0.5 || y > lens->height - 0.5)
            continue;
        if (lr_world_cast(movers, n_movers, pose.at, lr_vec_sub(point, pose.at), &hit) &&
            hit.distance < 1)
            continue;
        seen++;
    }
    *visible_share = seen / (double)(ACROSS * ACROSS);
    if (seen == 0)
        return false;
    truth_homography(photo, lens, &pose, h);
    return true;
}
