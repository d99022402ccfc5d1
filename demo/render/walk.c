/* A walk's world and its tables; see walk.h. */
#include "walk.h"

#include <math.h>
#include <stdio.h>

#include <lookfall/error.h>

#include "gazepath.h"
#include "truth.h"

bool lr_walk_uneven(int number)
{
    return number % 3 == 2;
}

int64_t lr_walk_start_us(int number)
{
    return number % 3 == 0 ? 7320000 : 0;
}

LrWalkWorld *lr_walk_world_new(const LrWalkJob *job)
{
    const LrSceneSpec *spec = job->scene->spec;
    LrWalkWorld *walk = g_new0(LrWalkWorld, 1);
    walk->seed = lr_rng_mix(job->scene->seed, 10000 + (uint64_t)job->number);
    walk->lens = lr_lens_new(job->width, job->height, spec->field_deg, spec->k);
    walk->path = lr_path_new(walk->seed, &spec->habit, job->seconds);
    walk->occluders = lr_occluders_new(walk->seed, &spec->traffic, walk->path, job->seconds);
    return walk;
}

void lr_walk_world_free(LrWalkWorld *walk)
{
    if (!walk)
        return;
    lr_occluders_free(walk->occluders);
    lr_path_free(walk->path);
    g_free(walk);
}

GArray *lr_walk_frame_times(const LrWalkJob *job)
{
    LrRng rng = lr_rng_new(lr_rng_mix(job->scene->seed, (uint64_t)job->number), "frame times");
    GArray *times = g_array_new(FALSE, FALSE, sizeof(int64_t));
    for (int i = 0; i / job->fps < job->seconds; i++) {
        double t = i / job->fps;
        bool skip = false;
        if (lr_walk_uneven(job->number) && i > 0) {
            t += lr_rng_uniform(&rng, -0.22, 0.22) / job->fps;
            skip = lr_rng_chance(&rng, 0.04); /* a frame the camera dropped */
        }
        int64_t us = (int64_t)llrint(t * 1e6);
        if (!skip)
            g_array_append_val(times, us);
    }
    return times;
}

/* letter: of the gaze, "" for the first. */
static FILE *walk_create(const LrWalkJob *job, const char *letter, const char *ending,
                         GError **error)
{
    g_autofree char *path =
        g_strdup_printf("%s/w%02d%s%s", job->out_dir, job->number, letter, ending);
    FILE *file = fopen(path, "w");
    if (!file)
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "%s cannot be written.", path);
    return file;
}

static bool walk_finish(FILE *file, GError **error)
{
    bool bad = ferror(file) != 0;
    bad = fclose(file) != 0 || bad;
    if (bad)
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "A table could not be written whole; is the disk full?");
    return !bad;
}

static bool walk_write_gaze(const LrWalkJob *job, const char *letter, const GArray *gaze,
                            GError **error)
{
    FILE *file = walk_create(job, letter, "_gaze.csv", error);
    if (!file)
        return false;
    fprintf(file, "t_s,x_px,y_px\n");
    for (guint i = 0; i < gaze->len; i++) {
        const LrGaze *g = &g_array_index(gaze, LrGaze, i);
        if (isnan(g->x))
            fprintf(file, "%.4f,,\n", g->t_s);
        else
            fprintf(file, "%.4f,%.3f,%.3f\n", g->t_s, g->x, g->y);
    }
    return walk_finish(file, error);
}

static void walk_write_place(FILE *file, const LrScene *scene, const LrTruthPlace *place)
{
    if (place->photo >= 0)
        fprintf(file, "%s,%.4f,%.4f,%.4f", scene->photos[place->photo].name, place->x, place->y,
                place->px_per_degree);
    else
        fprintf(file, ",,,");
}

static bool walk_write_truth(const LrWalkJob *job, const LrWalkWorld *walk, const char *letter,
                             const GArray *gaze, GError **error)
{
    FILE *file = walk_create(job, letter, "_truth.csv", error);
    if (!file)
        return false;
    fprintf(file, "t_s,state,photo,x_px,y_px,px_per_degree_photo,occluder,"
                  "also_photo,also_x_px,also_y_px,also_px_per_degree_photo\n");
    for (guint i = 0; i < gaze->len; i++) {
        const LrGaze *g = &g_array_index(gaze, LrGaze, i);
        LrTruth t =
            lr_truth_cast(job->scene, &walk->lens, walk->path, walk->occluders, g->t_s, g->x, g->y);
        fprintf(file, "%.4f,%s,", g->t_s, lr_truth_state_name(t.state));
        walk_write_place(file, job->scene, &t.at);
        fprintf(file, ",%s,", t.occluder ? lr_occluder_name(t.occluder) : "");
        walk_write_place(file, job->scene, &t.also);
        fputc('\n', file);
    }
    return walk_finish(file, error);
}

static bool walk_write_poses(const LrWalkJob *job, const LrWalkWorld *walk, GError **error)
{
    FILE *file = walk_create(job, "", "_truth_poses.csv", error);
    if (!file)
        return false;
    fprintf(file, "t_s,photo,visible_share,h0,h1,h2,h3,h4,h5,h6,h7,h8\n");
    g_autoptr(GArray) times = lr_walk_frame_times(job);
    for (guint i = 0; i < times->len; i++) {
        double t = (double)g_array_index(times, int64_t, i) / 1e6;
        for (int photo = 0; photo < job->scene->n_photos; photo++) {
            double h[9], share;
            if (!lr_truth_pose(job->scene, photo, &walk->lens, walk->path, walk->occluders, t, h,
                               &share))
                continue;
            fprintf(file, "%.6f,%s,%.4f", t, job->scene->photos[photo].name, share);
            for (int k = 0; k < 9; k++)
                fprintf(file, ",%.12g", h[k]);
            fputc('\n', file);
        }
    }
    return walk_finish(file, error);
}

static bool walk_write_rests(const LrWalkJob *job, const LrWalkWorld *walk, const GArray *rests,
                             GError **error)
{
    FILE *file = walk_create(job, "", "_truth_fixations.csv", error);
    if (!file)
        return false;
    fprintf(file, "from_s,to_s,state,photo,x_px,y_px\n");
    for (guint i = 0; i < rests->len; i++) {
        const LrRest *r = &g_array_index(rests, LrRest, i);
        LrTruth t = lr_truth_cast(job->scene, &walk->lens, walk->path, walk->occluders,
                                  (r->from_s + r->to_s) / 2, r->x, r->y);
        fprintf(file, "%.6f,%.6f,%s,", r->from_s, r->to_s, lr_truth_state_name(t.state));
        if (t.at.photo >= 0)
            fprintf(file, "%s,%.4f,%.4f\n", job->scene->photos[t.at.photo].name, t.at.x, t.at.y);
        else
            fprintf(file, ",,\n");
    }
    return walk_finish(file, error);
}

/* Number apart of the seeds of a walk's gazes. */
#define WALK_GAZE_SEEDS 7919

static bool walk_write_look(const LrWalkJob *job, const LrWalkWorld *walk, int which,
                            GError **error)
{
    const char letter[2] = {which > 0 ? (char)('a' + which) : '\0', '\0'};
    g_autoptr(GArray) rests = NULL;
    g_autoptr(GArray) gaze =
        lr_gazepath_new(job->scene, walk->seed + (uint64_t)which * WALK_GAZE_SEEDS, &walk->lens,
                        walk->path, walk->occluders, job->seconds, job->gaze_hz, &rests);
    return walk_write_gaze(job, letter, gaze, error) &&
           walk_write_truth(job, walk, letter, gaze, error) &&
           (which > 0 || walk_write_rests(job, walk, rests, error));
}

bool lr_walk_write_tables(const LrWalkJob *job, const LrWalkWorld *walk, GError **error)
{
    for (int which = 0; which < MAX(job->gazes, 1); which++)
        if (!walk_write_look(job, walk, which, error))
            return false;
    return walk_write_poses(job, walk, error);
}
