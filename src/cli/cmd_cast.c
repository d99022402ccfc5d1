/* lookfall cast: computes what is not computed yet. */
#include "cli.h"

#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "progress.h"

static int cli_cast_cancel;

/* The first signal lets the run end in order, the second ends it at once: the study stands either
 * way. */
static void cli_cast_on_signal(int number)
{
    g_atomic_int_set(&cli_cast_cancel, 1);
    signal(number, SIG_DFL);
}

static void cli_cast_show(const LfStudyProgress *now, void *data)
{
    cli_progress_show(data, now);
}

static void cli_cast_note(const char *sentence, void *data)
{
    cli_progress_clear(data);
    cli_note(sentence, NULL);
}

static void cli_cast_lines(const GPtrArray *sentences)
{
    for (guint i = 0; i < sentences->len; i++)
        cli_say("%s", (const char *)sentences->pdata[i]);
}

/* What was done in this run, in one line. */
static void cli_cast_sum(const LfStudyCastReport *report, const CliProgress *progress)
{
    double seconds = MAX(cli_progress_seconds(progress), 1e-3);
    g_autofree char *took = cli_progress_clock(seconds);
    if (report->chunks == 0)
        return;
    cli_say("%" G_GINT64_FORMAT " frames in %s, %.0f frames/s, %.1f times real time",
            (gint64)report->frames, took, (double)report->frames / seconds,
            (double)report->video_us / 1e6 / seconds);
}

static int cli_cast_end(const char *path, const LfStudyCastReport *report)
{
    g_autofree char *study = cli_quoted(path);
    cli_cast_lines(report->short_videos);
    cli_cast_lines(report->failed);
    if (report->interrupted) {
        cli_say("stopped with %" G_GSIZE_FORMAT " of %" G_GSIZE_FORMAT
                " chunks done; \"lookfall cast %s\" goes on from here",
                report->chunks, report->chunks_due, study);
        return CLI_PART;
    }
    if (report->failed->len > 0 && report->walks_done == 0) {
        cli_say("no walk could be cast");
        return CLI_INPUT;
    }
    if (report->failed->len > 0) {
        cli_say("cast %" G_GSIZE_FORMAT " of %" G_GSIZE_FORMAT " walks; %u could not be cast",
                report->walks_done, report->walks, report->failed->len);
        return CLI_PART;
    }
    g_autofree char *count = cli_count(report->walks_done, "walk");
    cli_say("%s%s cast; next: lookfall export %s samples --out samples.csv",
            report->chunks_due == 0 ? "nothing to do, " : "", count, study);
    return report->short_videos->len > 0 ? CLI_PART : CLI_DONE;
}

static int cli_cast_go(LfStudy *study, const char *name, const char *const *walks, int jobs)
{
    CliProgress progress;
    LfStudyCastReport report;
    GError *error = NULL;

    cli_progress_start(&progress);
    LfStudyCastOptions options = {
        .walks = walks,
        .jobs = jobs,
        .cancel = &cli_cast_cancel,
        .note = cli_cast_note,
        .progress = cli_cast_show,
        .data = &progress,
    };
    const struct sigaction stop = {.sa_handler = cli_cast_on_signal, .sa_flags = SA_RESTART};
    sigaction(SIGINT, &stop, NULL);
    sigaction(SIGTERM, &stop, NULL);
    bool ok = lf_study_cast(study, &options, &report, &error);
    cli_progress_clear(&progress);
    cli_cast_sum(&report, &progress);
    int status;
    if (ok) {
        status = cli_cast_end(name, &report);
    } else {
        cli_cast_lines(report.failed);
        status = cli_fail(error);
    }
    lf_study_cast_report_clear(&report);
    return status;
}

static int cli_cast_run(const CliCommand *command, int argc, char **argv)
{
    g_auto(GStrv) walks = NULL;
    g_autofree char *jobs_text = NULL;
    g_autofree char *tolerance = NULL;
    g_autofree char *sure_at = NULL;
    const GOptionEntry options[] = {
        {"walk", 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &walks,
         "Cast this walk only; may be given several times", "NAME"},
        {"jobs", 0, 0, G_OPTION_ARG_FILENAME, &jobs_text,
         "How many workers (default: one for each processor)", "N"},
        {"tolerance", 0, 0, G_OPTION_ARG_FILENAME, &tolerance,
         "Change the study's tolerance, in degrees; everything is cast again", "DEG"},
        {"sure-at", 0, 0, G_OPTION_ARG_FILENAME, &sure_at,
         "Change the confidence from which a sample is sure; everything is cast again", "P"},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    GError *error = NULL;
    LfCastSettings settings;
    double jobs = (double)g_get_num_processors();
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    if (jobs_text && (!cli_number(command, "jobs", jobs_text, 1, 1024, &jobs)))
        return CLI_USAGE;
    if (jobs != (int)jobs)
        return cli_misuse(command, "cast: --jobs needs a whole number, not %s", jobs_text);
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_WRITE, &error);
    if (!study || !lf_study_settings(study, &settings, &error))
        return cli_fail(error);
    if (!cli_settings(command, tolerance, sure_at, &settings))
        return CLI_USAGE;
    if (!lf_study_set_settings(study, &settings, &error))
        return cli_fail(error);
    return cli_cast_go(study, values[0], (const char *const *)walks, (int)jobs);
}

const CliCommand cli_cast = {
    .name = "cast",
    .summary = "Map the gaze of all walks onto the photos",
    .arguments = "STUDY",
    .about =
        "Finds the photos in the frames of every walk and casts each gaze sample onto them, with "
        "a\n"
        "confidence. Only what is not done yet is computed: after an interruption of any kind run\n"
        "the same command again and it goes on; when a file or a setting has changed, what "
        "depends\n"
        "on it is done again. The result does not depend on the number of workers.\n"
        "Ctrl-C stops the run in order; what is done by then is kept.",
    .example = "lookfall cast aisle.lookfall\n"
               "  lookfall cast aisle.lookfall --walk w01 --walk w02 --jobs 4",
    .run = cli_cast_run,
};
