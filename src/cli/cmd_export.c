/* lookfall export: results as CSV. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

#include "export_out.h"
#include "export_stats.h"

static const ExportKind *const export_kinds[] = {
    &export_samples,     &export_poses,     &export_fixations,   &export_visits,
    &export_measures,    &export_sequences, &export_transitions, &export_entropies,
    &export_comparisons, &export_stats,     &export_agreement,
};

static const ExportKind *cli_export_kind(const CliCommand *command, const char *name)
{
    g_autoptr(GString) names = g_string_new(NULL);
    const char *list[G_N_ELEMENTS(export_kinds) + 1] = {NULL};
    for (gsize i = 0; i < G_N_ELEMENTS(export_kinds); i++) {
        if (strcmp(export_kinds[i]->name, name) == 0)
            return export_kinds[i];
        list[i] = export_kinds[i]->name;
        g_string_append_printf(names, "%s%s",
                               i == 0                                ? ""
                               : i + 1 == G_N_ELEMENTS(export_kinds) ? " and "
                                                                     : ", ",
                               export_kinds[i]->name);
    }
    const char *nearest = cli_nearest(name, list);
    cli_misuse(command, "export: there are %s to export, not \"%s\"%s%s%s", names->str, name,
               nearest ? "; did you mean " : "", nearest ? nearest : "", nearest ? "?" : "");
    return NULL;
}

static int cli_export_undone(const char *path, const ExportKind *kind, const GPtrArray *undone)
{
    g_autofree char *study = cli_quoted(path);
    g_autoptr(GString) names = g_string_new(NULL);
    for (guint i = 0; i < undone->len; i++)
        g_string_append_printf(names, "%s%s", i ? ", " : "", (const char *)undone->pdata[i]);
    bool of_cast = kind == &export_samples || kind == &export_poses;
    cli_say("%s: %s. \"lookfall cast %s\"%s does the rest", kind->what_undone, names->str, study,
            of_cast ? "" : ", then \"lookfall fixate\",");
    return CLI_PART;
}

/* "area", "photo", "group 2"; a bare number is a group's. */
static bool cli_export_level(const CliCommand *command, const char *text, int *level)
{
    char *end = NULL;
    const char *digits = g_str_has_prefix(text, "group ") ? text + strlen("group ") : text;
    long number = strtol(digits, &end, 10);
    if (strcmp(text, "area") == 0)
        *level = 0;
    else if (strcmp(text, "photo") == 0)
        *level = -1;
    else if (*digits && !*end && number >= 1 && number <= 100)
        *level = (int)number;
    else {
        cli_misuse(command, "export: --level is area, photo, or group N with N from 1, not \"%s\"",
                   text);
        return false;
    }
    return true;
}

typedef struct {
    GStrv walks, spans;
    char *path, *columns, *radii, *gap, *transitions, *level, *matrix, *jobs;
    gboolean force, dictionary;
    ExportStatsWords stats;
} ExportWords;

static void cli_export_words_clear(ExportWords *words)
{
    g_strfreev(words->walks);
    g_strfreev(words->spans);
    char *const texts[] = {words->path,        words->columns, words->radii,  words->gap,
                           words->transitions, words->level,   words->matrix, words->jobs};
    for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
        g_free(texts[i]);
    export_stats_words_clear(&words->stats);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(ExportWords, cli_export_words_clear)

static bool cli_export_choice(const CliCommand *command, const char *option, const char *word,
                              const char *first, const char *second, bool *is_second)
{
    *is_second = word && strcmp(word, second) == 0;
    if (!word || *is_second || strcmp(word, first) == 0)
        return true;
    cli_misuse(command, "export: --%s is %s or %s, not \"%s\"", option, first, second, word);
    return false;
}

static bool cli_export_spans(const CliCommand *command, GStrv texts, GPtrArray *spans)
{
    for (gsize i = 0; texts && texts[i]; i++) {
        g_autoptr(GError) why = NULL;
        LfSpanRule *rule = lf_span_rule_parse(texts[i], &why);
        if (!rule) {
            cli_misuse(command, "export: %s", why->message);
            return false;
        }
        g_ptr_array_add(spans, rule);
    }
    return true;
}

/* What the words mean; false with the message written. */
static bool cli_export_options(const CliCommand *command, const ExportWords *words,
                               ExportOptions *options, GPtrArray *spans)
{
    double jobs = g_get_num_processors();
    LfMeasureSettings *settings = &options->measure.settings;
    *settings = lf_measure_settings_default();
    options->level = EXPORT_ALL_LEVELS;
    options->matrix = words->matrix != NULL;
    options->walks = options->measure.walks = (const char *const *)words->walks;
    options->measure.spans = spans;
    if ((words->radii && !cli_number(command, "radii", words->radii, 0, 10, &settings->radii)) ||
        (words->gap && !cli_number(command, "gap", words->gap, 0, 10, &settings->gap_s)) ||
        (words->jobs && !cli_number(command, "jobs", words->jobs, 1, 256, &jobs)) ||
        (words->level && !cli_export_level(command, words->level, &options->level)) ||
        !cli_export_choice(command, "transitions", words->transitions, "fixations", "visits",
                           &settings->by_visits) ||
        !cli_export_choice(command, "matrix", words->matrix, "distance", "alignment",
                           &options->alignment) ||
        !cli_export_spans(command, words->spans, spans) ||
        !export_stats_options(command, &words->stats, &options->findings))
        return false;
    options->measure.jobs = (int)jobs;
    if (options->measure.jobs == jobs)
        return true;
    cli_misuse(command, "export: --jobs needs a whole number, not \"%s\"", words->jobs);
    return false;
}

static bool cli_export_write(LfStudy *study, const ExportKind *kind, const ExportOptions *options,
                             const char *columns, CliOut *out, GPtrArray *undone, GError **error)
{
    ExportOut rows = {.out = out};
    bool ok = export_out_choose(&rows, kind, columns, error);
    if (ok) {
        export_out_header(&rows);
        ok = kind->run(study, options, &rows, undone, error) && export_out_flush(&rows, error);
    }
    export_out_clear(&rows);
    return ok;
}

static int cli_export_run(const CliCommand *command, int argc, char **argv)
{
    g_auto(ExportWords) words = {0};
    const GOptionEntry options[] = {
        {"walk", 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &words.walks,
         "Export this walk only; may be given several times", "NAME"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &words.path, "Write to this file instead of stdout",
         "FILE"},
        {"force", 0, 0, G_OPTION_ARG_NONE, &words.force, "Replace the file if it is there already",
         NULL},
        {"columns", 0, 0, G_OPTION_ARG_FILENAME, &words.columns,
         "These columns only, in this order", "A,B,..."},
        {"dictionary", 0, 0, G_OPTION_ARG_NONE, &words.dictionary,
         "Write what each column means instead: name, unit, definition", NULL},
        {"span", 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &words.spans,
         "Part of the walk, see above; may be given several times (default walk)", "SPAN"},
        {"level", 0, 0, G_OPTION_ARG_FILENAME, &words.level,
         "Rows of this level only: area, photo, or group N", "LEVEL"},
        {"radii", 0, 0, G_OPTION_ARG_FILENAME, &words.radii,
         "For ranges: positions may be off by so many of their radii (default 2)", "N"},
        {"gap", 0, 0, G_OPTION_ARG_FILENAME, &words.gap,
         "A gap between fixations that is longer ends a visit (default 0.3 s)", "SECONDS"},
        {"transitions", 0, 0, G_OPTION_ARG_FILENAME, &words.transitions,
         "From one to the next of fixations (default) or visits", "WHAT"},
        {"matrix", 0, 0, G_OPTION_ARG_FILENAME, &words.matrix,
         "Comparisons as a matrix of walks x walks, of distance or alignment", "WHAT"},
        {"by", 0, 0, G_OPTION_ARG_FILENAME, &words.stats.by,
         "Stats: also each group, and the groups against each other", "group"},
        {"measures", 0, 0, G_OPTION_ARG_FILENAME, &words.stats.measures,
         "Stats: of these measures, by the names of their columns", "A,B,..."},
        {"interval", 0, 0, G_OPTION_ARG_FILENAME, &words.stats.interval,
         "Stats: level of intervals (default 0.95)", "P"},
        {"bootstrap", 0, 0, G_OPTION_ARG_FILENAME, &words.stats.bootstrap,
         "Stats: intervals by bca (default) or percentile", "WHICH"},
        {"resamples", 0, 0, G_OPTION_ARG_FILENAME, &words.stats.resamples,
         "Stats: draws for each interval and test (default 5000)", "N"},
        {"seed", 0, 0, G_OPTION_ARG_FILENAME, &words.stats.seed,
         "Stats: what the draws begin with (default 1)", "N"},
        {"jobs", 0, 0, G_OPTION_ARG_FILENAME, &words.jobs,
         "Threads for measures (default: one for each processor)", "N"},
        G_OPTION_ENTRY_NULL,
    };
    static const char *const needed[] = {"STUDY", "what to export", NULL};
    g_auto(GStrv) values = NULL;
    g_autoptr(GPtrArray) undone = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) spans = g_ptr_array_new_with_free_func((GDestroyNotify)lf_span_rule_free);
    g_autoptr(CliOut) out = NULL;
    ExportOptions asked = {0};
    GError *error = NULL;
    int status;

    if (!cli_parse(command, options, needed, argc, argv, &values, &status))
        return status;
    const ExportKind *kind = cli_export_kind(command, values[1]);
    if (!kind || !cli_export_options(command, &words, &asked, spans))
        return CLI_USAGE;
    if (asked.matrix && kind != &export_comparisons)
        return cli_misuse(command, "export: only comparisons can be written as a --matrix");
    asked.path = values[0];
    g_autoptr(LfStudy) study = lf_study_open(values[0], LF_STUDY_READ, &error);
    if (!study || !(out = cli_out_open(words.path, words.force, study, &error)))
        return cli_fail(error);
    bool ok = words.dictionary
                  ? export_out_dictionary(out, kind, &error)
                  : cli_export_write(study, kind, &asked, words.columns, out, undone, &error);
    if (!ok || !cli_out_keep(out, &error))
        return cli_fail(error);
    return undone->len > 0 ? cli_export_undone(values[0], kind, undone) : CLI_DONE;
}

const CliCommand cli_export = {
    .name = "export",
    .summary = "Write the results as CSV",
    .arguments = "STUDY WHAT",
    .about =
        "Writes results as CSV (RFC 4180: commas, lines end in CR LF, decimal points). What has "
        "no\n"
        "value is blank. Each is one table, with one row for\n"
        "  samples      each sample of the gaze files, in their order: where on a photo it falls\n"
        "  poses        each frame and photo found in it: the mapping between them\n"
        "  fixations    each fixation\n"
        "  visits       each visit to an area, a group of areas, or a photo\n"
        "  measures     each walk, span, and area, group or photo: time to first fixation, dwell,\n"
        "               visits, glances, ... with the range that the uncertainty of positions\n"
        "               allows, and the time about which nothing can be said\n"
        "  sequences    each visit to an area, in the order of the walk\n"
        "  transitions  each two areas between which gaze moved\n"
        "  entropies    each walk, span and level: how ordered its transitions are\n"
        "  comparisons  each two walks: how alike their sequences are\n"
        "  stats        each area, group or photo, measure, and group of participants: share who\n"
        "               noticed, time until they did, means and medians, with intervals; with "
        "--by\n"
        "               group also the groups against each other, with p and effect sizes\n"
        "  agreement    each two reviewers: how far apart they place the same gaze (desk)\n"
        "docs/measures.md defines every measure; --dictionary tells what each column means.\n"
        "\n"
        "Measures, visits and what follows are of whole walks, or of the spans that marks cut "
        "out:\n"
        "  --span walk                  the whole walk\n"
        "  --span mark:NAME             each mark of this name that is a span\n"
        "  --span between:NAME,OTHER    from each mark NAME to the next mark OTHER\n"
        "  --span around:NAME,2,5       from 2 s before each mark NAME to 5 s after it",
    .example = "lookfall export aisle.lookfall measures --level area --out measures.csv",
    .run = cli_export_run,
};
