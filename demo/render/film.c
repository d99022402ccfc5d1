/* A walk's video: frames rendered by a crew while the frame before is encoded; see walk.h. */
#include "walk.h"

#include <math.h>

#include <lookfall/video.h>

#include "crew.h"

/* A shot for every so many px that the picture moves within its exposure, up to a number; beyond
 * that each shot is softened, so that the steps between them do not show. */
#define FILM_PX_PER_SHOT 3.5
#define FILM_SHOTS_MOST 7
#define FILM_SHARP_PX 2.5 /* steps up to this do not show */

typedef struct {
    const LrWalkJob *job;
    const LrWalkWorld *walk;
    LrRays *rays;
    /* Of the frame in work and of the next. */
    LrShot calm[2][FILM_SHOTS_MOST], busy[2][FILM_SHOTS_MOST];
    LrPicture picture[2];
    uint8_t *rgb[2];
} Film;

/* How the camera's exposure control wanders; about 1. */
static double film_gain(const Film *film, double t)
{
    LrRng rng = lr_rng_new(film->walk->seed, "exposure");
    double gain = 0;
    for (int i = 0; i < 3; i++) {
        double f = lr_rng_uniform(&rng, 0.03, 0.25), phase = lr_rng_uniform(&rng, 0, 2 * G_PI);
        gain += 0.09 * sin(2 * G_PI * f * t + phase);
    }
    /* Sudden steps, when the control gives in to a change of the scene. */
    double step = 0, at = lr_rng_uniform(&rng, 2, 6);
    while (at < t) {
        step = lr_rng_uniform(&rng, -0.28, 0.28);
        at += lr_rng_uniform(&rng, 3, 9);
    }
    return exp(gain + step);
}

/* How far the picture moves within the exposure, px: what stands still, and with *movers_px, what
 * moves. */
static double film_blur(const Film *film, double t, double *movers_px)
{
    const LrWalkWorld *walk = film->walk;
    double half = film->job->scene->spec->exposure_s / 2;
    LrPose a = lr_path_pose(walk->path, t - half), b = lr_path_pose(walk->path, t + half);
    double still = lr_pose_shift(&a, &b, 1200), most = still;
    LrQuad before[LR_OCCLUDERS_MAX], after[LR_OCCLUDERS_MAX];
    int ids_a[LR_OCCLUDERS_MAX], ids_b[LR_OCCLUDERS_MAX];
    gsize na = lr_occluders_at(walk->occluders, t - half, before, ids_a);
    gsize nb = lr_occluders_at(walk->occluders, t + half, after, ids_b);
    for (gsize i = 0; i < MIN(na, nb); i++) {
        LrVec p = lr_pose_to_camera(&a, before[i].corner),
              q = lr_pose_to_camera(&b, after[i].corner);
        if (ids_a[i] == ids_b[i] && p.z > 100 && q.z > 100)
            most = MAX(most, hypot(p.x / p.z - q.x / q.z, p.y / p.z - q.y / q.z));
    }
    *movers_px = most * film->walk->lens.fx;
    return still * film->walk->lens.fx;
}

/* Fills shots of the world at even times within the exposure; returns their number. */
static int film_shoot(const Film *film, double t, double blur_px, bool with_movers, LrShot *shots)
{
    const LrWalkWorld *walk = film->walk;
    double exposure_s = film->job->scene->spec->exposure_s;
    int n = (int)CLAMP(ceil(blur_px / FILM_PX_PER_SHOT), 1, FILM_SHOTS_MOST);
    double soft = CLAMP(blur_px / n / FILM_SHARP_PX, 1, 2);
    const LrWorld *world = film->job->scene->world;
    for (int i = 0; i < n; i++) {
        double at = t + exposure_s * ((i + 0.5) / n - 0.5);
        LrPose pose = lr_path_pose(walk->path, at);
        LrQuad movers[LR_OCCLUDERS_MAX];
        const LrQuad *sets[2] = {(const LrQuad *)(const void *)world->quads->data, movers};
        gsize sizes[2] = {world->quads->len, lr_occluders_at(walk->occluders, at, movers, NULL)};
        lr_shot_prepare(&shots[i], &pose, sets, sizes, with_movers ? 2 : 1, 0, 0, soft);
    }
    return n;
}

static bool film_has_movers(const Film *film, double t)
{
    double half = film->job->scene->spec->exposure_s / 2;
    LrQuad movers[LR_OCCLUDERS_MAX];
    return lr_occluders_at(film->walk->occluders, t - half, movers, NULL) > 0 ||
           lr_occluders_at(film->walk->occluders, t + half, movers, NULL) > 0;
}

static void film_prepare(Film *film, int slot, double t)
{
    const LrWalkWorld *walk = film->walk;
    const LrSceneSpec *spec = film->job->scene->spec;
    LrPicture *picture = &film->picture[slot];
    double movers_px, still_px = film_blur(film, t, &movers_px);
    LrExposure exposure = {.calm = film->calm[slot], .busy = film->busy[slot]};
    exposure.n_calm = film_shoot(film, t, still_px, false, film->calm[slot]);
    if (film_has_movers(film, t))
        exposure.n_busy = film_shoot(film, t, movers_px, true, film->busy[slot]);
    *picture = (LrPicture){.rays = film->rays,
                           .exposure = exposure,
                           .sensor = &spec->sensor,
                           .gain = spec->light * film_gain(film, t),
                           .noise_key = lr_rng_mix(walk->seed, (uint64_t)llrint(t * 1e6)),
                           .rgb = film->rgb[slot]};
}

static bool film_run(Film *film, LrCrew *crew, const GArray *times, LfVideoWriter *writer,
                     GError **error)
{
    ptrdiff_t stride = 3 * (ptrdiff_t)film->job->width;
    film_prepare(film, 0, (double)g_array_index(times, int64_t, 0) / 1e6);
    lr_crew_start(crew, &film->picture[0]);
    for (guint i = 0; i < times->len; i++) {
        int slot = (int)(i & 1), other = !slot;
        if (i + 1 < times->len)
            film_prepare(film, other, (double)g_array_index(times, int64_t, i + 1) / 1e6);
        lr_crew_wait(crew);
        if (i + 1 < times->len)
            lr_crew_start(crew, &film->picture[other]);
        if (!lf_video_writer_add(writer, g_array_index(times, int64_t, i), film->rgb[slot], stride,
                                 error)) {
            lr_crew_wait(crew);
            return false;
        }
    }
    return lf_video_writer_finish(writer, error);
}

bool lr_walk_write_video(const LrWalkJob *job, const LrWalkWorld *walk, int64_t *frames,
                         GError **error)
{
    g_autofree char *path = g_strdup_printf("%s/w%02d.mp4", job->out_dir, job->number);
    /* Always two encoder threads: x264's output depends on their number. */
    LfVideoWriterOptions options = {.width = job->width,
                                    .height = job->height,
                                    .frame_rate = job->fps,
                                    .key_interval = (int)lrint(2 * job->fps),
                                    .quality = 23,
                                    .preset = "veryfast",
                                    .threads = 2,
                                    .start_us = lr_walk_start_us(job->number)};
    g_autoptr(LfVideoWriter) writer = lf_video_writer_new(path, &options, error);
    if (!writer)
        return false;
    g_autoptr(GArray) times = lr_walk_frame_times(job);
    Film film = {.job = job, .walk = walk, .rays = lr_rays_new(&walk->lens)};
    for (int i = 0; i < 2; i++)
        film.rgb[i] = g_malloc((gsize)job->width * (gsize)job->height * 3);
    LrCrew *crew = lr_crew_new(job->jobs);
    bool ok = film_run(&film, crew, times, writer, error);
    lr_crew_free(crew);
    *frames += times->len;
    for (int slot = 0; slot < 2; slot++) {
        g_free(film.rgb[slot]);
        for (int i = 0; i < FILM_SHOTS_MOST; i++) {
            lr_shot_clear(&film.calm[slot][i]);
            lr_shot_clear(&film.busy[slot][i]);
        }
    }
    lr_rays_free(film.rays);
    return ok;
}
