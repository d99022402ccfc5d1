/* Where a walker looks; see gazepath.h.
 *
 * A fixation has a target in the world, or on a passer-by, and stays on it while the head moves, as
 * the vestibulo-ocular reflex does. A saccade of A degrees lasts 21 ms + 2.2 ms/deg * A (R. H. S.
 * Carpenter, "Movements of the Eyes", 2nd ed. 1988, main sequence) and has a minimum-jerk course.
 * Fixation lengths, drift and tremor: common practice. */
#include "gazepath.h"

#define DEG (G_PI / 180)

typedef struct {
    int id;      /* of the moving rectangle it is on, or -1 */
    LrVec point; /* world, mm; or (u, v, 0) on the rectangle */
} GazeTarget;

typedef struct {
    double start_s, end_s; /* of the fixation; a saccade leads to the next start */
    GazeTarget target;
} GazeFixation;

typedef struct {
    const LrScene *scene;
    const LrLens *lens;
    const LrPath *path;
    const LrOccluders *occluders;
    LrRng rng;
} GazeMaker;

static bool gaze_target_point(const GazeMaker *g, const GazeTarget *target, double t, LrVec *point)
{
    if (target->id < 0) {
        *point = target->point;
        return true;
    }
    LrQuad quads[LR_OCCLUDERS_MAX];
    int ids[LR_OCCLUDERS_MAX];
    gsize n = lr_occluders_at(g->occluders, t, quads, ids);
    for (gsize i = 0; i < n; i++)
        if (ids[i] == target->id) {
            *point = lr_vec_along(quads[i].corner, quads[i].u, target->point.x);
            *point = lr_vec_along(*point, quads[i].v, target->point.y);
            return true;
        }
    return false;
}

/* Frame px of a target; false where it is not in the part of the frame that eyes reach. */
static bool gaze_where(const GazeMaker *g, const GazeTarget *target, double t, double *x, double *y)
{
    LrVec point;
    if (!gaze_target_point(g, target, t, &point))
        return false;
    LrPose pose = lr_path_pose(g->path, t);
    LrVec c = lr_pose_to_camera(&pose, point);
    if (c.z < 50 || hypot(c.x, c.y) / c.z > 0.95 * g->lens->reach)
        return false;
    lr_lens_project(g->lens, c.x / c.z, c.y / c.z, x, y);
    double w = g->lens->width, h = g->lens->height;
    return *x > 0.06 * w && *x<0.94 * w && * y> 0.05 * h && *y < 0.95 * h;
}

/* Draws the target to what is worth looking at nearby. */
static LrVec gaze_attract(GazeMaker *g, LrVec point)
{
    const LrVec *best = NULL;
    double near = 170;
    for (guint i = 0; i < g->scene->targets->len; i++) {
        const LrVec *at = &g_array_index(g->scene->targets, LrVec, i);
        LrVec d = lr_vec_sub(*at, point);
        double far = hypot(d.x, d.y);
        if (far < near && fabs(d.z) < 400) {
            near = far;
            best = at;
        }
    }
    if (!best || !lr_rng_chance(&g->rng, 0.7))
        return point;
    /* Keeps to the surface it hit: moves within it, not in depth. */
    point.x = best->x + lr_rng_normal(&g->rng) * 22;
    point.y = best->y + lr_rng_normal(&g->rng) * 30;
    return point;
}

static bool gaze_pick(GazeMaker *g, double t, GazeTarget *out)
{
    LrQuad quads[LR_OCCLUDERS_MAX];
    int ids[LR_OCCLUDERS_MAX];
    gsize n = lr_occluders_at(g->occluders, t, quads, ids);
    LrPose pose = lr_path_pose(g->path, t);
    const LrLens *lens = g->lens;
    if (n > 0 && lr_rng_chance(&g->rng, 0.35)) {
        gsize i = (gsize)lr_rng_int(&g->rng, 0, (int)n - 1);
        *out = (GazeTarget){ids[i],
                            {quads[i].width * lr_rng_uniform(&g->rng, 0.3, 0.7),
                             quads[i].height * lr_rng_uniform(&g->rng, 0.05, 0.6), 0}};
        double x, y;
        if (gaze_where(g, out, t, &x, &y))
            return true;
    }
    double x, y, px = lens->cx + lr_rng_normal(&g->rng) * 0.12 * lens->width;
    double py = lens->cy + (0.04 + lr_rng_normal(&g->rng) * 0.15) * lens->height;
    if (!lr_lens_ray(lens, px, py, &x, &y))
        return false;
    LrVec ray = lr_pose_to_world(&pose, lr_vec(x, y, 1));
    LrHit hit;
    const GArray *world = g->scene->world->quads;
    if (!lr_world_cast((const LrQuad *)(const void *)world->data, world->len, pose.at, ray, &hit))
        return false;
    LrVec point = hit.quad->part >= LR_PART_FIXTURE ? gaze_attract(g, hit.point) : hit.point;
    *out = (GazeTarget){-1, point};
    return gaze_where(g, out, t, &x, &y);
}

static GArray *gaze_plan(GazeMaker *g, double seconds)
{
    GArray *fixations = g_array_new(FALSE, FALSE, sizeof(GazeFixation));
    double t = 0, x0 = 0, y0 = 0, degree_px = g->lens->fx * DEG;
    while (t < seconds + 1) {
        GazeFixation f = {.start_s = t};
        double length = CLAMP(exp(log(0.27) + 0.38 * lr_rng_normal(&g->rng)), 0.15, 0.6);
        double x, y;
        bool found = false;
        for (int tries = 0; tries < 20 && !found; tries++)
            found = gaze_pick(g, t + 0.06, &f.target);
        if (!found) { /* straight ahead, far away */
            LrPose pose = lr_path_pose(g->path, t);
            f.target = (GazeTarget){-1, lr_vec_along(pose.at, pose.forward, 1500)};
        }
        /* The landing is later by the saccade's length. */
        if (fixations->len > 0 && gaze_where(g, &f.target, t + 0.04, &x, &y)) {
            double angle = hypot(x - x0, y - y0) / degree_px;
            f.start_s = t + 0.021 + 0.0022 * angle;
        }
        /* Held until it leaves what the eye can reach. */
        f.end_s = f.start_s + 0.1;
        while (f.end_s < f.start_s + length && gaze_where(g, &f.target, f.end_s + 0.01, &x, &y))
            f.end_s += 0.01;
        gaze_where(g, &f.target, f.end_s, &x0, &y0);
        t = f.end_s;
        g_array_append_val(fixations, f);
    }
    return fixations;
}

/* Start and end of blinks and drop-outs, flattened. */
static GArray *gaze_plan_losses(GazeMaker *g, double seconds)
{
    GArray *spans = g_array_new(FALSE, FALSE, sizeof(double));
    double t = lr_rng_uniform(&g->rng, 1, 4);
    while (t < seconds) {
        bool blink = lr_rng_chance(&g->rng, 0.75);
        double end =
            t + (blink ? lr_rng_uniform(&g->rng, 0.1, 0.3) : lr_rng_uniform(&g->rng, 0.02, 0.08));
        g_array_append_val(spans, t);
        g_array_append_val(spans, end);
        t = end + lr_rng_uniform(&g->rng, 1, 5);
    }
    return spans;
}

static bool gaze_lost(const GArray *spans, double t)
{
    for (guint i = 0; i + 1 < spans->len; i += 2)
        if (t >= g_array_index(spans, double, i) && t < g_array_index(spans, double, i + 1))
            return true;
    return false;
}

static double gaze_course(double u)
{
    return u <= 0 ? 0 : u >= 1 ? 1 : u * u * u * (10 - u * (15 - 6 * u));
}

static GArray *gaze_rests(const GazeMaker *g, const GArray *fixations, double seconds)
{
    GArray *rests = g_array_new(FALSE, FALSE, sizeof(LrRest));
    for (guint i = 0; i < fixations->len; i++) {
        const GazeFixation *f = &g_array_index(fixations, GazeFixation, i);
        LrRest rest = {.from_s = f->start_s, .to_s = MIN(f->end_s, seconds)};
        double middle_s = (rest.from_s + rest.to_s) / 2;
        if (rest.to_s > rest.from_s && gaze_where(g, &f->target, middle_s, &rest.x, &rest.y))
            g_array_append_val(rests, rest);
    }
    return rests;
}

GArray *lr_gazepath_new(const LrScene *scene, uint64_t seed, const LrLens *lens, const LrPath *path,
                        const LrOccluders *occluders, double seconds, double rate_hz,
                        GArray **rests)
{
    GazeMaker g = {scene, lens, path, occluders, lr_rng_new(seed, "gaze")};
    g_autoptr(GArray) fixations = gaze_plan(&g, seconds);
    g_autoptr(GArray) losses = gaze_plan_losses(&g, seconds);
    GArray *out = g_array_new(FALSE, FALSE, sizeof(LrGaze));
    double degree_px = lens->fx * DEG, drift_x = 0, drift_y = 0, wander_x = 0, wander_y = 0;
    guint at = 0;
    gsize n = (gsize)(seconds * rate_hz + 0.5);
    for (gsize i = 0; i < n; i++) {
        double t = (double)i / rate_hz;
        while (at + 1 < fixations->len &&
               t >= g_array_index(fixations, GazeFixation, at + 1).start_s)
            at++;
        const GazeFixation *f = &g_array_index(fixations, GazeFixation, at);
        double x = 0, y = 0;
        gaze_where(&g, &f->target, t, &x, &y);
        if (t > f->end_s && at + 1 < fixations->len) {
            const GazeFixation *next = f + 1;
            double nx = x, ny = y, u = (t - f->end_s) / (next->start_s - f->end_s);
            gaze_where(&g, &next->target, t, &nx, &ny);
            x += (nx - x) * gaze_course(u);
            y += (ny - y) * gaze_course(u);
        }
        /* Drift of the eye, slow wander of the tracker's calibration, noise of each sample. */
        drift_x = 0.97 * drift_x + 0.02 * lr_rng_normal(&g.rng);
        drift_y = 0.97 * drift_y + 0.02 * lr_rng_normal(&g.rng);
        wander_x = 0.999 * wander_x + 0.008 * lr_rng_normal(&g.rng);
        wander_y = 0.999 * wander_y + 0.008 * lr_rng_normal(&g.rng);
        double noise_x = lr_rng_normal(&g.rng) * 0.1, noise_y = lr_rng_normal(&g.rng) * 0.1;
        LrGaze sample = {t, x + (drift_x + wander_x + noise_x) * degree_px,
                         y + (drift_y + wander_y + noise_y) * degree_px};
        /* As the file will hold it. */
        sample.x = rint(sample.x * 1000) / 1000;
        sample.y = rint(sample.y * 1000) / 1000;
        if (gaze_lost(losses, t) || (x == 0 && y == 0))
            sample.x = sample.y = NAN;
        g_array_append_val(out, sample);
    }
    if (rests)
        *rests = gaze_rests(&g, fixations, seconds);
    return out;
}
