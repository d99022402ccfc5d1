/* A walk's video: frames rendered by a crew while the frame before is encoded; see walk.h. */
#include "walk.h"

#include <math.h>

#include <lookfall/video.h>

#include "crew.h"

/* A shot for every so many px that the picture moves within its exposure. */
#define FILM_PX_PER_SHOT 2.4
#define FILM_SHOTS_MOST 12

typedef struct {
    const LrWalkJob *job;
    const LrWalkWorld *walk;
    LrRays *rays;
    LrShot shots[2][LR_SHOTS_MAX]; /* of the frame in work and of the next */
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

/* How far the picture moves within the exposure, px. */
static double film_blur(const Film *film, double t)
{
    const LrWalkWorld *walk = film->walk;
    double half = film->job->scene->spec->exposure_s / 2;
    LrPose a = lr_path_pose(walk->path, t - half), b = lr_path_pose(walk->path, t + half);
    double most = lr_pose_shift(&a, &b, 1200);
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
    return most * film->walk->lens.fx;
}

static void film_prepare(Film *film, int slot, double t)
{
    const LrWalkWorld *walk = film->walk;
    const LrSceneSpec *spec = film->job->scene->spec;
    double wanted = ceil(film_blur(film, t) / FILM_PX_PER_SHOT);
    int n = (int)CLAMP(wanted, 1, FILM_SHOTS_MOST);
    const LrWorld *world = film->job->scene->world;
    for (int i = 0; i < n; i++) {
        double at = t + spec->exposure_s * ((i + 0.5) / n - 0.5);
        LrPose pose = lr_path_pose(walk->path, at);
        LrQuad movers[LR_OCCLUDERS_MAX];
        const LrQuad *sets[2] = {(const LrQuad *)(const void *)world->quads->data, movers};
        gsize sizes[2] = {world->quads->len, lr_occluders_at(walk->occluders, at, movers, NULL)};
        /* Several shots also spread over the pixel, evenly about its centre. */
        double dx = n > 1 ? (i % 2 ? 0.25 : -0.25) / walk->lens.fx : 0;
        double dy = n > 1 ? ((i / 2) % 2 ? 0.25 : -0.25) / walk->lens.fy : 0;
        lr_shot_prepare(&film->shots[slot][i], &pose, sets, sizes, 2, n % 4 ? 0 : dx,
                        n % 4 ? 0 : dy);
    }
    uint64_t frame_key = lr_rng_mix(walk->seed, (uint64_t)llrint(t * 1e6));
    film->picture[slot] = (LrPicture){
        film->rays, film->shots[slot], n, &spec->sensor, spec->light * film_gain(film, t),
        frame_key,  film->rgb[slot]};
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
        for (int i = 0; i < LR_SHOTS_MAX; i++)
            lr_shot_clear(&film.shots[slot][i]);
    }
    lr_rays_free(film.rays);
    return ok;
}
