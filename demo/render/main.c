/* lookfall-render: renders a study of an invented shop, with the exact truth beside it. */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include <glib.h>
#include <glib/gstdio.h>

#include <lookfall/error.h>

#include "goods.h"
#include "scene.h"
#include "study.h"
#include "walk.h"

typedef struct {
    char *scene, *out, *size;
    gint64 seed;
    int walks, gazes, photo_width, jobs;
    double seconds, fps, gaze_hz;
    gboolean list;
} MainOptions;

static void main_list(void)
{
    gsize n;
    const LrSceneSpec *specs = lr_scene_specs(&n);
    for (gsize i = 0; i < n; i++)
        printf("%-10s %s\n", specs[i].name, specs[i].about);
}

static bool main_fail(GError **error, const char *message)
{
    g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "%s", message);
    return false;
}

/* Checks the options and fills what was left out from the scene. */
static bool main_job(const MainOptions *o, const LrSceneSpec *spec, LrWalkJob *job, GError **error)
{
    *job = (LrWalkJob){.out_dir = o->out,
                       .width = spec->width,
                       .height = spec->height,
                       .fps = o->fps > 0 ? o->fps : spec->fps,
                       .seconds = o->seconds > 0 ? o->seconds : spec->seconds,
                       .gaze_hz = o->gaze_hz,
                       .gazes = o->gazes,
                       .jobs = o->jobs > 0 ? o->jobs : (int)g_get_num_processors()};
    char rest;
    if (o->size && sscanf(o->size, "%dx%d%c", &job->width, &job->height, &rest) != 2)
        return main_fail(error, "--size takes WIDTHxHEIGHT, such as 1920x1080.");
    if (job->width < 64 || job->height < 64 || job->width > 8192 || job->height > 8192 ||
        job->width % 2 || job->height % 2)
        return main_fail(error, "--size takes even numbers from 64 to 8192.");
    if (o->walks < 1 || o->walks > 99)
        return main_fail(error, "--walks takes a number from 1 to 99.");
    if (o->gazes < 1 || o->gazes > 26)
        return main_fail(error, "--gazes takes a number from 1 to 26.");
    if (o->photo_width < 200 || o->photo_width > 8000)
        return main_fail(error, "--photo-width takes a number from 200 to 8000.");
    if (!(job->seconds >= 0.1 && job->seconds <= 7200))
        return main_fail(error, "--seconds takes a number from 0.1 to 7200.");
    if (!(job->fps >= 1 && job->fps <= 240) || !(job->gaze_hz >= 1 && job->gaze_hz <= 2000))
        return main_fail(error, "--fps takes 1 to 240, --gaze-rate 1 to 2000.");
    return true;
}

static bool main_render(const MainOptions *o, GError **error)
{
    if (!o->scene || !o->out)
        return main_fail(error, "--scene and --out are needed; --list names the scenes.");
    const LrSceneSpec *spec = lr_scene_find(o->scene);
    if (!spec)
        return main_fail(error, "There is no such scene; --list names them.");
    LrWalkJob job;
    if (!main_job(o, spec, &job, error))
        return false;
    if (g_mkdir_with_parents(o->out, 0777) != 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "%s cannot be created: %s.", o->out,
                    g_strerror(errno));
        return false;
    }

    const char *missing = lr_letters_missing();
    if (missing)
        fprintf(stderr,
                "lookfall-render: the font %s is not installed (see .ci/packages); the pictures "
                "will look, and measure, a little different.\n",
                missing);

    lr_expose_init();
    LrScene *scene = lr_scene_new(spec, (uint64_t)o->seed, o->photo_width);
    job.scene = scene;
    bool ok = lr_study_write_photos(scene, o->out, job.jobs, error) &&
              lr_study_write_areas(scene, o->out, error) && lr_study_write_camera(&job, error);
    int64_t frames = 0, began = g_get_monotonic_time();
    for (job.number = 1; ok && job.number <= o->walks; job.number++) {
        LrWalkWorld *walk = lr_walk_world_new(&job);
        ok = lr_walk_write_tables(&job, walk, error) &&
             lr_walk_write_video(&job, walk, &frames, error);
        lr_walk_world_free(walk);
        double spent = (double)(g_get_monotonic_time() - began) / 1e6;
        if (ok)
            fprintf(stderr, "%s %s: walk %d of %d, %.1f frames per second\n", spec->name, o->out,
                    job.number, o->walks, (double)frames / MAX(spent, 1e-3));
    }
    /* Written last: where it is, the study is whole. */
    ok = ok && lr_study_write_manifest(scene, o->out, o->walks, error);
    lr_scene_free(scene);
    return ok;
}

int main(int argc, char **argv)
{
    MainOptions o = {.seed = 1, .walks = 1, .photo_width = 2000, .gaze_hz = 100, .gazes = 1};
    const GOptionEntry entries[] = {
        {"scene", 0, 0, G_OPTION_ARG_STRING, &o.scene, "Scene to render", "NAME"},
        {"seed", 0, 0, G_OPTION_ARG_INT64, &o.seed, "Same seed, same study (1)", "N"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &o.out, "Folder for the files", "DIR"},
        {"walks", 0, 0, G_OPTION_ARG_INT, &o.walks, "Number of walks (1)", "K"},
        {"seconds", 0, 0, G_OPTION_ARG_DOUBLE, &o.seconds, "Length of a walk", "S"},
        {"size", 0, 0, G_OPTION_ARG_STRING, &o.size, "Size of the video", "WxH"},
        {"fps", 0, 0, G_OPTION_ARG_DOUBLE, &o.fps, "Frames per second", "F"},
        {"gaze-rate", 0, 0, G_OPTION_ARG_DOUBLE, &o.gaze_hz, "Gaze samples per second (100)", "HZ"},
        {"gazes", 0, 0, G_OPTION_ARG_INT, &o.gazes, "Different gazes on each walk (1)", "K"},
        {"photo-width", 0, 0, G_OPTION_ARG_INT, &o.photo_width, "Of the shelf's photo (2000)",
         "PX"},
        {"jobs", 0, 0, G_OPTION_ARG_INT, &o.jobs, "Threads (all cores)", "N"},
        {"list", 0, 0, G_OPTION_ARG_NONE, &o.list, "Name the scenes", NULL},
        {NULL, 0, 0, G_OPTION_ARG_NONE, NULL, NULL, NULL},
    };
    g_autoptr(GOptionContext) context =
        g_option_context_new("- render a study of an invented shop");
    g_option_context_add_main_entries(context, entries, NULL);
    GError *error = NULL;
    int status = 0;
    if (!g_option_context_parse(context, &argc, &argv, &error) ||
        (argc > 1 && !main_fail(&error, "Options only, please; see --help."))) {
        status = LF_ERROR_USAGE;
    } else if (o.list) {
        main_list();
    } else if (!main_render(&o, &error)) {
        status = error->code;
    }
    if (error) {
        fprintf(stderr, "lookfall-render: %s\n", error->message);
        g_error_free(error);
    }
    g_free(o.scene);
    g_free(o.out);
    g_free(o.size);
    return status;
}
