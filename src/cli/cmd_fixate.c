/* lookfall fixate: when the eye rested, in a study or in a bare gaze file. */
#include "cli.h"

#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "fixate_file.h"
#include "fixate_options.h"
#include "progress.h"

static int cli_fixate_cancel;

/* --- a study ---------------------------------------------------------------------------------- */

static void cli_fixate_on_signal(int number)
{
    g_atomic_int_set(&cli_fixate_cancel, 1);
    signal(number, SIG_DFL);
}

static void cli_fixate_show(gsize done, gsize total, void *data)
{
    cli_progress_count(data, "fixations of walk", done, total);
}

/* "a, b, c and 190 more"; owned by the caller. */
static char *cli_fixate_names(const GPtrArray *names)
{
    const guint most = 10;
    g_autoptr(GString) text = g_string_new(NULL);
    for (guint i = 0; i < MIN(names->len, most); i++)
        g_string_append_printf(text, "%s%s", i ? ", " : "", (const char *)names->pdata[i]);
    if (names->len > most)
        g_string_append_printf(text, " and %u more", names->len - most);
    return g_string_free(g_steal_pointer(&text), FALSE);
}

static void cli_fixate_sum(const LfStudyFixateReport *report)
{
    g_autofree char *walks = cli_count(report->walks_done, "walk");
    g_autofree char *fixations = cli_count((gsize)report->fixations, "fixation");
    if (report->walks_new == 0)
        cli_say("nothing to do: the %s of %s are up to date", fixations, walks);
    else
        cli_say("%s in %s", fixations, walks);
    if (report->otherwise > 0) {
        g_autofree char *others = cli_count(report->otherwise, "walk");
        cli_say("note: the fixations of %s were found with other settings; run it without --walk "
                "before you compare them",
                others);
    }
}

static int cli_fixate_end(const char *path, const LfStudyFixateReport *report)
{
    g_autofree char *study = cli_quoted(path);
    g_autofree char *uncast = cli_fixate_names(report->uncast);
    g_autofree char *partly = cli_fixate_names(report->partly);
    for (guint i = 0; i < report->failed->len; i++)
        cli_say("%s", (const char *)report->failed->pdata[i]);
    if (report->interrupted) {
        cli_say("stopped with %" G_GSIZE_FORMAT " of %" G_GSIZE_FORMAT
                " walks done; the same command goes on from here",
                report->walks_done, report->walks);
        return CLI_PART;
    }
    if (report->walks_done > 0)
        cli_fixate_sum(report);
    if (report->uncast->len > 0)
        cli_say("not cast with today's photos, inputs and settings, so without fixations: %s. Run "
                "\"lookfall cast %s\" first",
                uncast, study);
    if (report->partly->len > 0)
        cli_say("not wholly cast, so that fixations are missing: %s. \"lookfall cast %s\" does the "
                "rest",
                partly, study);
    if (report->walks_done == 0)
        return CLI_INPUT;
    return report->failed->len + report->uncast->len + report->partly->len > 0 ? CLI_PART
                                                                               : CLI_DONE;
}

static int cli_fixate_study(const char *path, const LfStudyFixateOptions *asked)
{
    CliProgress progress;
    LfStudyFixateReport report = {0};
    GError *error = NULL;
    g_autoptr(LfStudy) study = lf_study_open(path, LF_STUDY_WRITE, &error);
    if (!study)
        return cli_fail(error);
    LfStudyFixateOptions options = *asked;
    options.cancel = &cli_fixate_cancel;
    options.progress = cli_fixate_show;
    options.data = &progress;
    const struct sigaction stop = {.sa_handler = cli_fixate_on_signal, .sa_flags = SA_RESTART};
    sigaction(SIGINT, &stop, NULL);
    sigaction(SIGTERM, &stop, NULL);
    cli_progress_start(&progress);
    bool ok = lf_study_fixate(study, &options, &report, &error);
    cli_progress_clear(&progress);
    int status = ok ? cli_fixate_end(path, &report) : cli_fail(error);
    lf_study_fixate_report_clear(&report);
    return status;
}

/* --- a gaze file ------------------------------------------------------------------------------ */

typedef struct {
    char *gaze, *px_per_degree, *out, *fixations, *time, *x, *y, *valid;
    gboolean force;
} FixateFileOptions;

static void fixate_file_options_clear(FixateFileOptions *o)
{
    char *all[] = {o->gaze, o->px_per_degree, o->out, o->fixations, o->time, o->x, o->y, o->valid};
    for (gsize i = 0; i < G_N_ELEMENTS(all); i++)
        g_free(all[i]);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(FixateFileOptions, fixate_file_options_clear)

/* "X,Y", or one number for both. */
static bool cli_fixate_scale(const CliCommand *command, const char *text, double *x, double *y)
{
    g_auto(GStrv) parts = g_strsplit(text, ",", -1);
    guint n = g_strv_length(parts);
    if (n < 1 || n > 2) {
        cli_misuse(command, "fixate: --px-per-degree needs two numbers, X,Y, not \"%s\"", text);
        return false;
    }
    return cli_number(command, "px-per-degree", parts[0], 1e-3, 1e6, x) &&
           cli_number(command, "px-per-degree", parts[n - 1], 1e-3, 1e6, y);
}

static int cli_fixate_gaze(const CliCommand *command, const FixateFileOptions *options,
                           const LfFixationSettings *settings)
{
    GError *error = NULL;
    FixateFile file = {.gaze = options->gaze,
                       .format = {.time = options->time,
                                  .x = options->x,
                                  .y = options->y,
                                  .valid = options->valid},
                       .events = options->out,
                       .fixations = options->fixations,
                       .force = options->force};
    if (!cli_needed(command, "px-per-degree", options->px_per_degree, NULL) ||
        !cli_fixate_scale(command, options->px_per_degree, &file.px_per_degree_x,
                          &file.px_per_degree_y))
        return CLI_USAGE;
    if ((options->x && g_str_has_suffix(options->x, ":norm")) ||
        (options->y && g_str_has_suffix(options->y, ":norm")))
        return cli_misuse(
            command, "fixate: without a video there is no frame for \"norm\" to be a share of; "
                     "leave it out and give --px-per-degree in the unit of the columns");
    return fixate_file(&file, settings, &error) ? CLI_DONE : cli_fail(error);
}

/* --- both ------------------------------------------------------------------------------------- */

static bool cli_fixate_is_file(int argc, char **argv)
{
    for (int i = 1; i < argc; i++)
        if (strcmp(argv[i], "--gaze") == 0 || g_str_has_prefix(argv[i], "--gaze="))
            return true;
    return false;
}

static int cli_fixate_run(const CliCommand *command, int argc, char **argv)
{
    g_auto(FixateOptions) numbers = {0};
    g_auto(FixateFileOptions) file = {0};
    g_auto(GStrv) walks = NULL;
    g_autofree char *jobs_text = NULL;
    const GOptionEntry study_entries[] = {
        {"walk", 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &walks,
         "Look at this walk only; may be given several times", "NAME"},
        {"jobs", 0, 0, G_OPTION_ARG_FILENAME, &jobs_text,
         "How many workers (default: one for each processor)", "N"},
    };
    const GOptionEntry file_entries[] = {
        {"gaze", 0, 0, G_OPTION_ARG_FILENAME, &file.gaze,
         "Without a study: the fixations of this gaze file", "FILE"},
        {"px-per-degree", 0, 0, G_OPTION_ARG_FILENAME, &file.px_per_degree,
         "With --gaze: pixels of the file in a degree of visual angle", "X,Y"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &file.out,
         "With --gaze: write t_s,event here instead of to stdout", "FILE"},
        {"fixations", 0, 0, G_OPTION_ARG_FILENAME, &file.fixations,
         "With --gaze: write the list of fixations here", "FILE"},
        {"time", 0, 0, G_OPTION_ARG_FILENAME, &file.time, "With --gaze: as in walk add",
         "COL:UNIT"},
        {"x", 0, 0, G_OPTION_ARG_FILENAME, &file.x, "With --gaze: as in walk add", "COL"},
        {"y", 0, 0, G_OPTION_ARG_FILENAME, &file.y, "With --gaze: as in walk add", "COL"},
        {"valid", 0, 0, G_OPTION_ARG_FILENAME, &file.valid, "With --gaze: as in walk add",
         "COL:GOODVALUE"},
        {"force", 0, 0, G_OPTION_ARG_NONE, &file.force,
         "With --gaze: replace files that are there already", NULL},
    };
    const bool bare = cli_fixate_is_file(argc, argv);
    const char *const words[] = {bare ? NULL : "STUDY", NULL};
    g_autoptr(GArray) entries = g_array_new(TRUE, TRUE, sizeof(GOptionEntry));
    g_auto(GStrv) values = NULL;
    LfFixationSettings settings;
    double jobs = (double)g_get_num_processors();
    int status;

    g_array_append_vals(entries, study_entries, G_N_ELEMENTS(study_entries));
    fixate_options_add(&numbers, entries);
    g_array_append_vals(entries, file_entries, G_N_ELEMENTS(file_entries));
    if (!cli_parse(command, (const GOptionEntry *)(void *)entries->data, words, argc, argv, &values,
                   &status))
        return status;
    if (!fixate_options_read(command, &numbers, &settings))
        return CLI_USAGE;
    if (bare && (walks || jobs_text))
        return cli_misuse(command, "fixate: --walk and --jobs are for studies, not for --gaze");
    if (bare)
        return cli_fixate_gaze(command, &file, &settings);
    if (file.px_per_degree || file.out || file.fixations || file.time || file.x || file.y ||
        file.valid || file.force)
        return cli_misuse(command,
                          "fixate: a study keeps its fixations itself; \"lookfall export\" writes "
                          "them to a file. The options for files belong to --gaze");
    if (jobs_text && !cli_number(command, "jobs", jobs_text, 1, 1024, &jobs))
        return CLI_USAGE;
    if (jobs != (int)jobs)
        return cli_misuse(command, "fixate: --jobs needs a whole number, not %s", jobs_text);
    const LfStudyFixateOptions options = {
        .walks = (const char *const *)walks, .settings = settings, .jobs = (int)jobs};
    return cli_fixate_study(values[0], &options);
}

const CliCommand cli_fixate = {
    .name = "fixate",
    .summary = "Find the fixations",
    .arguments = "STUDY | --gaze FILE",
    .about =
        "Finds the fixations of all walks that are cast and keeps them in the study. The motion "
        "of\n"
        "the head is taken out wherever a photo is in view, so that a pack looked at in passing "
        "is\n"
        "one fixation. Thresholds adapt to the noise of each recording; all of them can be set, "
        "and\n"
        "are kept with the result. Only what is not up to date with these settings is computed.\n"
        "\n"
        "With --gaze it does the same for one gaze file, without a study, and writes t_s,event:\n"
        "fixation, saccade, lost (no gaze) or other (the eye swings after a saccade, or rests too\n"
        "short). --fixations adds the list: from_s,to_s,duration_s,x_px,y_px,samples.",
    .example = "lookfall fixate aisle.lookfall\n"
               "  lookfall fixate --gaze p07.csv --px-per-degree 31.5,29.9 --out events.csv",
    .run = cli_fixate_run,
};
