/* lookfall walk import: many walks from one table, all or none. */
#include "cli.h"

#include <stdio.h>

#include "manifest.h"
#include "progress.h"

static void cli_import_progress(gsize done, gsize total, void *data)
{
    cli_progress_count(data, "reading walks:", done, total);
}

/* Notes come when all is read, and the progress line is gone for good. */
static void cli_import_note(const char *sentence, void *data)
{
    cli_progress_clear(data);
    cli_note(sentence, NULL);
}

static gint cli_import_compare_faults(gconstpointer a, gconstpointer b)
{
    gsize x = (*(LfWalkFault *const *)a)->index, y = (*(LfWalkFault *const *)b)->index;
    return (x > y) - (x < y);
}

/* Every faulty row, those whose words make no sense and those whose files do not. */
static void cli_import_list(const char *path, const GPtrArray *rows, GPtrArray *faults)
{
    g_ptr_array_sort(faults, cli_import_compare_faults);
    for (guint i = 0; i < faults->len; i++) {
        const LfWalkFault *fault = faults->pdata[i];
        const ManifestRow *row = rows->pdata[fault->index];
        cli_say("%s, row %" G_GSIZE_FORMAT " (%s): %s", path, row->row,
                row->options.name ? row->options.name : "no name", fault->sentence);
    }
}

/* Reads the rows that make sense by themselves; the others are faults from the start. */
static bool cli_import_all(LfStudy *study, const GPtrArray *rows, int jobs, GPtrArray *faults,
                           CliProgress *progress, GError **error)
{
    g_autofree LfWalkInput *inputs = g_new0(LfWalkInput, rows->len);
    g_autofree gsize *row_of = g_new0(gsize, rows->len);
    g_autoptr(GPtrArray) found = lf_walk_faults_new();
    gsize n = 0;

    for (guint i = 0; i < rows->len; i++) {
        const ManifestRow *row = rows->pdata[i];
        if (row->fault) {
            LfWalkFault *fault = g_new0(LfWalkFault, 1);
            *fault = (LfWalkFault){i, g_strdup(row->fault)};
            g_ptr_array_add(faults, fault);
        } else if (walk_options_input(&row->options, &inputs[n], NULL)) {
            row_of[n++] = i;
        }
    }
    bool ok = lf_study_walk_import(study, inputs, n, jobs, faults->len > 0, cli_import_note,
                                   cli_import_progress, progress, found, error);
    for (guint i = 0; i < found->len; i++) {
        LfWalkFault *fault = g_new0(LfWalkFault, 1);
        const LfWalkFault *of = found->pdata[i];
        *fault = (LfWalkFault){row_of[of->index], g_strdup(of->sentence)};
        g_ptr_array_add(faults, fault);
    }
    return ok;
}

static int cli_import_run(const CliCommand *command, int argc, char **argv)
{
    const GOptionEntry options[] = {G_OPTION_ENTRY_NULL};
    static const char *const words[] = {"STUDY", "MANIFEST.csv", NULL};
    g_auto(GStrv) values = NULL;
    g_autoptr(GPtrArray) rows = NULL;
    g_autoptr(GPtrArray) faults = lf_walk_faults_new();
    GError *error = NULL;
    CliProgress progress;
    int status;

    if (!cli_parse(command, options, words, argc, argv, &values, &status))
        return status;
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_WRITE, &error);
    if (!study || !(rows = manifest_read(values[1], &error)))
        return cli_fail(error);
    cli_progress_start(&progress);
    bool ok = cli_import_all(study, rows, (int)g_get_num_processors(), faults, &progress, &error);
    cli_progress_clear(&progress);
    if (!ok && !g_error_matches(error, LF_ERROR, LF_ERROR_INPUT))
        return cli_fail(error);
    if (faults->len > 0) {
        cli_import_list(values[1], rows, faults);
        g_clear_error(&error);
        cli_say("%u of %u rows are faulty; no walk was added", faults->len, rows->len);
        return CLI_INPUT;
    }
    if (!ok)
        return cli_fail(error);
    g_autofree char *count = cli_count(rows->len, "walk");
    cli_say("added %s", count);
    return CLI_DONE;
}

const CliCommand cli_walk_import = {
    .name = "walk import",
    .summary = "Add many walks from one table",
    .arguments = "STUDY MANIFEST.csv",
    .about =
        "Adds all walks of a table, or none: everything is checked first, and every faulty row is\n"
        "listed. The table is CSV (comma, semicolon or tab) with a header row. Its columns are\n"
        "named like the options of \"walk add\": name, video and gaze are needed; time, x, y,\n"
        "valid, clock-shift, clock, camera, participant and group may be there. A blank cell\n"
        "means the option is not given. Paths count from the table's own folder.",
    .example = "lookfall walk import aisle.lookfall walks.csv",
    .run = cli_import_run,
};
