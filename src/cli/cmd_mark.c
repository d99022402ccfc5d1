/* lookfall mark import, export. */
#include "cli.h"

#include <stdio.h>

#include "in.h"
#include "out.h"

static int cli_mark_import_run(const CliCommand *command, int argc, char **argv)
{
    gboolean replace = FALSE;
    const GOptionEntry options[] = {
        {"replace", 0, 0, G_OPTION_ARG_NONE, &replace,
         "Instead of all marks of the walks that are named in the file", NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", "FILE", NULL};
    g_auto(GStrv) values = NULL;
    g_autofree char *text = NULL;
    g_autoptr(GPtrArray) marks = NULL;
    g_autoptr(GArray) rows = g_array_new(FALSE, FALSE, sizeof(gsize));
    GError *error = NULL;
    gsize length, added;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_WRITE, &error);
    if (!study || !cli_in_read(values[1], &text, &length, &error) ||
        !(marks = lf_mark_read_csv(text, length, values[1], rows, &error)) ||
        !lf_study_mark_import(study, marks, values[1], rows, replace, &added, &error))
        return cli_fail(error);
    g_autofree char *count = cli_count(added, "mark");
    if (added < marks->len)
        cli_say("%s added; %" G_GSIZE_FORMAT " of the file are there already", count,
                marks->len - added);
    else
        cli_say("%s added", count);
    return CLI_DONE;
}

static int cli_mark_export_run(const CliCommand *command, int argc, char **argv)
{
    g_auto(GStrv) walks = NULL;
    g_autofree char *path = NULL;
    gboolean force = FALSE;
    const GOptionEntry options[] = {
        {"walk", 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &walks,
         "Of this walk only; may be given several times", "NAME"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &path, "Write to this file instead of stdout", "FILE"},
        {"force", 0, 0, G_OPTION_ARG_NONE, &force, "Replace the file if it is there already", NULL},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const words[] = {"STUDY", NULL};
    g_auto(GStrv) values = NULL;
    g_autoptr(GPtrArray) marks = NULL;
    g_autoptr(CliOut) out = NULL;
    GError *error = NULL;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_READ, &error);
    if (!study || !(marks = lf_study_marks(study, (const char *const *)walks, &error)) ||
        !(out = cli_out_open(path, force, study, &error)))
        return cli_fail(error);
    g_autofree char *text = lf_mark_write_csv(marks);
    if (fputs(text, cli_out_stream(out)) == EOF)
        cli_out_failed(out, &error);
    else
        cli_out_keep(out, &error);
    return error ? cli_fail(error) : CLI_DONE;
}

const CliCommand cli_mark_import = {
    .name = "mark import",
    .summary = "Read marks (moments and spans of walks) from a table",
    .arguments = "STUDY FILE",
    .about =
        "Reads marks from CSV with the columns walk, name, from_s and to_s: what happened in a\n"
        "walk, and when, in seconds from its start. to_s is blank for a moment. who and at may\n"
        "tell who noted it, and when. All of the file is read or none; marks that are there\n"
        "already are not added twice. Measures can be had between marks, during them, and around\n"
        "them (\"lookfall export --help\").",
    .example = "lookfall mark import aisle.lookfall marks.csv",
    .run = cli_mark_import_run,
};

const CliCommand cli_mark_export = {
    .name = "mark export",
    .summary = "Write the marks as CSV",
    .arguments = "STUDY",
    .about = "Writes the marks as CSV: walk,name,from_s,to_s,who,at, by walk and time. \"lookfall\n"
             "mark import\" reads it back.",
    .example = "lookfall mark export aisle.lookfall --out marks.csv",
    .run = cli_mark_export_run,
};
