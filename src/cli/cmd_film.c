/* lookfall film: a walk as a film to look at and to show. */
#include "cli.h"

#include <math.h>
#include <signal.h>
#include <stdio.h>

#include <glib/gstdio.h>

#include "progress.h"

typedef struct {
    CliProgress bar;
    LfFilmStep step;
} CliFilmProgress;

static int cli_film_cancel;

/* Every signal asks for an orderly stop: an end in the middle of writing would leave a part of a
 * film behind. It is heard between two frames. */
static void cli_film_on_signal(G_GNUC_UNUSED int number)
{
    g_atomic_int_set(&cli_film_cancel, 1);
}

static void cli_film_show(const LfFilmProgress *now, void *data)
{
    CliFilmProgress *progress = data;
    const LfStudyProgress bar = {.frames = now->frames,
                                 .frames_total = MAX(now->frames_total, now->frames),
                                 .video_us = now->video_us};
    if (now->step != progress->step) { /* each step has a bar of its own */
        cli_progress_clear(&progress->bar);
        cli_progress_start(&progress->bar);
        progress->step = now->step;
    }
    cli_progress_show(&progress->bar, &bar);
}

static void cli_film_notes(const LfFilmOptions *options, const LfFilmReport *report,
                           const char *study)
{
    g_autofree char *name = cli_quoted(study);

    if (!report->fixated)
        cli_note("the film shows no fixations, for there are none that are up to date; "
                 "\"lookfall fixate\" finds them",
                 NULL);
    if (report->damaged > 0) {
        g_autofree char *count = cli_count((gsize)report->damaged, "frame");
        cli_say("note: %s of the video could not be decoded and %s left out", count,
                report->damaged == 1 ? "is" : "are");
    }
    if (options->photo_only)
        return;
    if (options->blur_faces)
        cli_say("faces are blurred in %" G_GINT64_FORMAT " of %" G_GINT64_FORMAT
                " frames. A detector can miss a face: look through the whole film before you show "
                "it to others",
                report->faced_frames, report->frames);
    else
        cli_note("people in the film can be recognised; --blur-faces blurs faces, --photo-only "
                 "shows no scene at all",
                 NULL);
}

static int cli_film_end(const LfFilmOptions *options, const LfFilmReport *report, const char *study,
                        double seconds)
{
    g_autofree char *took = cli_progress_clock(seconds);
    const double video_s = (double)report->video_us / 1e6;

    if (report->interrupted) {
        cli_say("stopped; nothing is left of the film");
        return CLI_PART;
    }
    cli_film_notes(options, report, study);
    if (report->broken)
        cli_say("%s The film ends there.", report->broken);
    if (!report->wholly_cast)
        cli_say("not all of it is cast yet; the film says so where it is not");
    cli_say("%s: %.1f s of film, %d x %d px, without sound, in %s (%.1f times real time)",
            options->path, video_s, report->width_px, report->height_px, took,
            video_s / MAX(seconds, 1e-3));
    return report->broken || !report->wholly_cast ? CLI_PART : CLI_DONE;
}

static int cli_film_go(LfStudy *study, const char *name, LfFilmOptions *options)
{
    CliFilmProgress progress = {
        .step = options->blur_faces && !options->photo_only ? LF_FILM_FACES : LF_FILM_FRAMES};
    const struct sigaction stop = {.sa_handler = cli_film_on_signal, .sa_flags = SA_RESTART};
    const gint64 start_us = g_get_monotonic_time();
    LfFilmReport report;
    GError *error = NULL;

    options->cancel = &cli_film_cancel;
    options->progress = cli_film_show;
    options->data = &progress;
    cli_progress_start(&progress.bar);
    sigaction(SIGINT, &stop, NULL);
    sigaction(SIGTERM, &stop, NULL);
    sigaction(SIGHUP, &stop, NULL);
    const bool ok = lf_film_make(study, options, &report, &error);
    cli_progress_clear(&progress.bar);
    const int status =
        ok ? cli_film_end(options, &report, name, (double)(g_get_monotonic_time() - start_us) / 1e6)
           : cli_fail(error);
    lf_film_report_clear(&report);
    return status;
}

/* The study itself has no ending of a video, but a file may be called anything. */
static bool cli_film_is_study(const char *study, const char *film)
{
    GStatBuf a, b;
    return g_stat(study, &a) == 0 && g_stat(film, &b) == 0 && a.st_dev == b.st_dev &&
           a.st_ino == b.st_ino;
}

static bool cli_film_time(const CliCommand *command, const char *option, const char *text,
                          double *seconds)
{
    return text == NULL || cli_number(command, option, text, 0, 1e7, seconds);
}

static int cli_film_run(const CliCommand *command, int argc, char **argv)
{
    g_autofree char *walk = NULL;
    g_autofree char *path = NULL;
    g_autofree char *from = NULL;
    g_autofree char *to = NULL;
    gboolean blur = FALSE, photo_only = FALSE, force = FALSE;
    const GOptionEntry entries[] = {
        {"walk", 0, 0, G_OPTION_ARG_FILENAME, &walk, "The walk to film", "NAME"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &path, "The film: .mp4, .m4v, .mov or .mkv", "FILE"},
        {"from", 0, 0, G_OPTION_ARG_FILENAME, &from, "Begin at this second of the walk", "S"},
        {"to", 0, 0, G_OPTION_ARG_FILENAME, &to, "End at this second of the walk", "S"},
        {"blur-faces", 0, 0, G_OPTION_ARG_NONE, &blur,
         "Blur faces; look through the film before you show it, for one may be missed", NULL},
        {"photo-only", 0, 0, G_OPTION_ARG_NONE, &photo_only,
         "Gaze moving on the still photo, nothing of the scene video", NULL},
        {"force", 0, 0, G_OPTION_ARG_NONE, &force, "Replace an existing film", NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    GError *error = NULL;
    int status;
    LfFilmOptions options = {.from_s = NAN, .to_s = NAN, .threads = (int)g_get_num_processors()};

    if (!cli_parse(command, entries, words, argc, argv, &values, &status))
        return status;
    if (!cli_needed(command, "walk", walk, "out", path, NULL) ||
        !cli_film_time(command, "from", from, &options.from_s) ||
        !cli_film_time(command, "to", to, &options.to_s))
        return CLI_USAGE;
    if (blur && photo_only)
        return cli_misuse(command, "film: with --photo-only there is no face to blur; leave out "
                                   "--blur-faces");
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_READ, &error);
    if (!study)
        return cli_fail(error);
    if (cli_film_is_study(values[0], path)) {
        cli_say("%s is the study itself; give the film another name", path);
        return CLI_INPUT;
    }
    options.walk = walk;
    options.path = path;
    options.blur_faces = blur;
    options.photo_only = photo_only;
    options.force = force;
    return cli_film_go(study, values[0], &options);
}

const CliCommand cli_film = {
    .name = "film",
    .summary = "Make a film of a walk with gaze and photo",
    .arguments = "STUDY",
    .about =
        "Makes a new film: the scene video with the gaze and the last fixations on it, the photo\n"
        "in a corner with the point on it in step, and below them the clock, the state, the\n"
        "confidence and the marks. The scene video itself is not touched. The film has no sound;\n"
        "its frames have the times of the scene video's frames, and with --from its time 0 is\n"
        "that second.\n"
        "\n"
        "People who did not agree to be filmed may be in the picture. --blur-faces blurs the\n"
        "faces it finds, with room around them and before and after each find; it can miss one,\n"
        "so somebody has to look through the film before it is shown. --photo-only shows nothing\n"
        "of the scene and needs no video. What may be shown to whom is for the law where you\n"
        "are, and for what people agreed to.",
    .example = "lookfall film aisle.lookfall --walk w01 --out w01.mp4 --blur-faces\n"
               "  lookfall film aisle.lookfall --walk w01 --from 30 --to 45 --out look.mp4",
    .run = cli_film_run,
};
