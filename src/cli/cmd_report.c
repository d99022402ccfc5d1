/* lookfall report: what was done and seen, as one page. */
#include "cli.h"

#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "draw_options.h"
#include "progress.h"

enum { CLI_REPORT_PICTURES = 4 };
static const LfDrawKind cli_report_kinds[CLI_REPORT_PICTURES] = {LF_DRAW_HEAT, LF_DRAW_FOCUS,
                                                                 LF_DRAW_AREAS, LF_DRAW_TIMELINE};
static int cli_report_cancel;

/* Nothing is written before all is made: the run may stop between two pictures. */
static void cli_report_on_signal(G_GNUC_UNUSED int number)
{
    g_atomic_int_set(&cli_report_cancel, 1);
}

static void cli_report_show(const char *doing, gsize done, gsize total, void *data)
{
    cli_progress_count(data, doing, done, total);
}

static void cli_report_note(const char *sentence, void *data)
{
    cli_progress_clear(data);
    cli_note(sentence, NULL);
}

static int cli_report_end(const LfReportOptions *options, const LfReportResult *result)
{
    if (result->interrupted) {
        cli_say("stopped; nothing was written");
        return CLI_PART;
    }
    if (result->stills > 0 && options->show_faces) {
        cli_say("faces in the stills are not blurred: people in them can be recognised");
    } else if (result->stills > 0) {
        g_autofree char *stills = cli_count(result->stills, "still");
        cli_say("%s out of scene videos, with the faces blurred that were found. A detector can "
                "miss a face: look at every still before you give the report to others",
                stills);
    }
    g_autofree char *files = cli_count(result->files, "file");
    cli_say("%s: %s written", options->out, files);
    return CLI_DONE;
}

/* The kinds of pictures of a report, with what was said of all of them. */
static bool cli_report_pictures(const CliCommand *command, const DrawOptions *o,
                                LfDrawSettings *pictures)
{
    for (int i = 0; i < CLI_REPORT_PICTURES; i++)
        if (!draw_options_settings(command, o, cli_report_kinds[i], &pictures[i]))
            return false;
    return true;
}

static int cli_report_run(const CliCommand *command, int argc, char **argv)
{
    g_auto(DrawOptions) o = {0};
    g_autofree char *out = NULL;
    g_autofree char *stills_text = NULL;
    gboolean force = FALSE, show_faces = FALSE;
    const GOptionEntry own[] = {
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &out,
         "FILE.html for one page with everything in it, or a folder for page, pictures and tables",
         "PLACE"},
        {"title", 0, 0, G_OPTION_ARG_FILENAME, &o.title,
         "The page's title (default: the study's name)", "TEXT"},
        {"stills", 0, 0, G_OPTION_ARG_FILENAME, &stills_text,
         "At most so many stills out of scene videos, one a walk (default 6; 0 for none)", "N"},
        {"show-faces", 0, 0, G_OPTION_ARG_NONE, &show_faces, "Do not blur faces in stills", NULL},
        {"force", 0, 0, G_OPTION_ARG_NONE, &force, "Replace an existing report", NULL},
        {"photo", 0, 0, G_OPTION_ARG_FILENAME, &o.photo, "Only this photo", "NAME"},
    };
    GOptionEntry entries[G_N_ELEMENTS(own) + DRAW_OPTIONS_SHARED + 1];
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    GError *error = NULL;
    CliProgress progress;
    LfReportResult result;
    LfDrawSettings pictures[CLI_REPORT_PICTURES];
    double stills = 6;
    int status;

    draw_options_table(&o, own, G_N_ELEMENTS(own), entries);
    if (!cli_parse(command, entries, words, argc, argv, &values, &status))
        return status;
    if (!cli_needed(command, "out", out, NULL) ||
        (stills_text && !cli_number(command, "stills", stills_text, 0, 1000, &stills)) ||
        !cli_report_pictures(command, &o, pictures))
        return CLI_USAGE;
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_READ, &error);
    if (!study)
        return cli_fail(error);
    g_autofree char *name = g_path_get_basename(values[0]);
    g_autofree char *shown = g_filename_display_name(name);
    char *ending = strrchr(shown, '.');
    if (ending != NULL && ending != shown)
        *ending = '\0';
    const LfReportOptions options = {.out = out,
                                     .title = o.title ? o.title : shown,
                                     .force = force,
                                     .pictures = pictures,
                                     .n_pictures = CLI_REPORT_PICTURES,
                                     .stills = (int)stills,
                                     .show_faces = show_faces,
                                     .threads = (int)g_get_num_processors(),
                                     .cancel = &cli_report_cancel,
                                     .note = cli_report_note,
                                     .progress = cli_report_show,
                                     .data = &progress};
    const struct sigaction stop = {.sa_handler = cli_report_on_signal, .sa_flags = SA_RESTART};
    sigaction(SIGINT, &stop, NULL);
    sigaction(SIGTERM, &stop, NULL);
    cli_progress_start(&progress);
    const bool ok = lf_report_make(study, &options, &result, &error);
    cli_progress_clear(&progress);
    return ok ? cli_report_end(&options, &result) : cli_fail(error);
}

const CliCommand cli_report = {
    .name = "report",
    .summary = "Write a report: what was done, seen and how sure it is",
    .arguments = "STUDY",
    .about =
        "Writes one HTML page that needs nothing else and prints well: what was done, by engine\n"
        "and by people, with what confidence; the quality of the data; who noticed which area and\n"
        "how soon, with intervals; heat map, focus map, areas and timeline of every photo; "
        "stills;\n"
        "the method as a paragraph for a paper, with settings, checksums and references.\n"
        "A choice of walks, groups, photo and time is told in the page and its method; samples by\n"
        "state, by confidence and data quality are of the walks chosen in whole.\n"
        "With a folder as --out the pictures and the tables (CSV) lie beside the page.\n"
        "\n"
        "Faces in stills are blurred unless --show-faces; blurring can miss one, so look at them\n"
        "before you pass the report on. Reference photos are shown as they are.",
    .example = "lookfall report aisle.lookfall --out report.html\n"
               "  lookfall report aisle.lookfall --out report --title \"Aisle 4, spring\"\n"
               "  lookfall report aisle.lookfall --out till.html --group control --span mark:till",
    .run = cli_report_run,
};
