/* Export of statistics across people: one estimate a row. */
#include "export_stats.h"

#include <math.h>
#include <string.h>

#include "export_out.h"

/* --- options ---------------------------------------------------------------------------------- */

void export_stats_words_clear(ExportStatsWords *words)
{
    char *const texts[] = {words->by,        words->measures,  words->interval,
                           words->bootstrap, words->resamples, words->seed};
    for (gsize i = 0; i < G_N_ELEMENTS(texts); i++)
        g_free(texts[i]);
}

static bool export_stats_measure(const CliCommand *command, const char *name, bool *wanted)
{
    const char *names[LF_MEASURES + 1] = {NULL};
    for (int m = 0; m < LF_MEASURES; m++) {
        names[m] = lf_measure_info((LfMeasure)m)->name;
        if (strcmp(names[m], name) == 0)
            return wanted[m] = true;
    }
    const char *nearest = cli_nearest(name, names);
    g_autofree char *all = g_strjoinv(", ", (char **)names);
    cli_misuse(command, "export: there is no measure \"%s\"%s%s%s. There are %s", name,
               nearest ? "; did you mean " : "", nearest ? nearest : "", nearest ? "?" : "", all);
    return false;
}

static bool export_stats_measures(const CliCommand *command, const char *text, bool *wanted)
{
    g_auto(GStrv) names = g_strsplit(text, ",", -1);
    memset(wanted, 0, LF_MEASURES * sizeof *wanted);
    for (gsize i = 0; names[i]; i++)
        if (!export_stats_measure(command, g_strstrip(names[i]), wanted))
            return false;
    return true;
}

/* A number without a fraction. */
static bool export_stats_whole(const CliCommand *command, const char *option, const char *text,
                               double low, double high, double *value)
{
    if (!text)
        return true;
    if (!cli_number(command, option, text, low, high, value))
        return false;
    if (*value == floor(*value))
        return true;
    cli_misuse(command, "export: --%s needs a whole number, not \"%s\"", option, text);
    return false;
}

bool export_stats_options(const CliCommand *command, const ExportStatsWords *words,
                          LfFindingSettings *settings)
{
    *settings = lf_finding_settings_default();
    double resamples = (double)settings->resamples, seed = settings->seed;
    if (words->by && strcmp(words->by, "group") != 0) {
        cli_misuse(command, "export: --by is group, not \"%s\"", words->by);
        return false;
    }
    if (words->bootstrap && strcmp(words->bootstrap, "bca") != 0 &&
        strcmp(words->bootstrap, "percentile") != 0) {
        cli_misuse(command, "export: --bootstrap is bca or percentile, not \"%s\"",
                   words->bootstrap);
        return false;
    }
    if ((words->measures && !export_stats_measures(command, words->measures, settings->measures)) ||
        (words->interval &&
         !cli_number(command, "interval", words->interval, 0.5, 0.9999, &settings->level)) ||
        !export_stats_whole(command, "resamples", words->resamples, LF_STAT_RESAMPLES_MIN,
                            LF_STAT_RESAMPLES_MAX, &resamples) ||
        !export_stats_whole(command, "seed", words->seed, 0, G_MAXUINT32, &seed))
        return false;
    settings->by_group = words->by != NULL;
    if (words->bootstrap && strcmp(words->bootstrap, "percentile") == 0)
        settings->bootstrap = LF_STAT_PERCENTILE;
    settings->resamples = (gsize)resamples;
    settings->seed = (uint32_t)seed;
    return true;
}

/* --- columns ---------------------------------------------------------------------------------- */

typedef struct {
    LfFinding finding;
    uint32_t seed;
} ExportStat;

enum {
    STAT_SPAN,
    STAT_PHOTO,
    STAT_LEVEL,
    STAT_AREA,
    STAT_MEASURE,
    STAT_KIND,
    STAT_UNIT,
    STAT_GROUP,
    STAT_AGAINST,
    STAT_REASON
};
enum { STAT_PARTICIPANTS, STAT_N, STAT_NOTICED, STAT_EXACT, STAT_RESAMPLES, STAT_SEED };
enum { STAT_VALUE, STAT_LOW, STAT_HIGH, STAT_UNKNOWN };
enum { STAT_P, STAT_HOLM, STAT_BH };

static const char *export_stat_unit(const LfFinding *finding)
{
    switch (finding->kind) {
    case LF_FINDING_SHARE:
        return "0 to 1";
    case LF_FINDING_SHARE_DIFFERENCE:
        return "-1 to 1";
    case LF_FINDING_MEDIAN_TIME:
    case LF_FINDING_MEAN:
    case LF_FINDING_MEDIAN:
    case LF_FINDING_MEAN_DIFFERENCE:
        return lf_measure_info(finding->measure)->unit;
    default:
        return "";
    }
}

static void export_stat_text(GString *cell, const void *row, int which)
{
    const LfFinding *finding = &((const ExportStat *)row)->finding;
    g_autofree char *level = lf_area_level_name(finding->level);
    const char *const texts[] = {
        [STAT_SPAN] = finding->span,
        [STAT_PHOTO] = finding->photo,
        [STAT_LEVEL] = level,
        [STAT_AREA] = finding->target,
        [STAT_MEASURE] = lf_measure_info(finding->measure)->name,
        [STAT_KIND] = lf_finding_info(finding->kind)->name,
        [STAT_UNIT] = export_stat_unit(finding),
        [STAT_GROUP] = finding->group,
        [STAT_AGAINST] = finding->against,
        [STAT_REASON] = finding->reason,
    };
    csv_line_text(cell, texts[which]);
}

static void export_stat_count(GString *cell, const void *row, int which)
{
    const ExportStat *stat = row;
    const LfFinding *finding = &stat->finding;
    const double counts[] = {
        [STAT_PARTICIPANTS] = (double)finding->participants,
        [STAT_N] = (double)finding->n,
        [STAT_NOTICED] = (double)finding->noticed,
        [STAT_EXACT] = isnan(finding->p) ? (double)NAN : finding->exact,
        [STAT_RESAMPLES] = finding->resamples > 0 ? (double)finding->resamples : (double)NAN,
        [STAT_SEED] = finding->resamples > 0 ? stat->seed : (double)NAN,
    };
    csv_line_fixed(cell, counts[which], 0);
}

static void export_stat_number(GString *cell, const void *row, int which)
{
    const LfFinding *finding = &((const ExportStat *)row)->finding;
    const double values[] = {finding->value, finding->low, finding->high, finding->unknown_share};
    csv_line_fixed(cell, values[which], which == STAT_UNKNOWN ? EXPORT_SHARE_DECIMALS : 6);
}

/* A small p is told by its digits, not by its decimals. */
static void export_stat_p(GString *cell, const void *row, int which)
{
    const LfFinding *finding = &((const ExportStat *)row)->finding;
    const double values[] = {finding->p, finding->p_holm, finding->p_bh};
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    if (!isnan(values[which]))
        csv_line_text(cell, g_ascii_formatd(text, sizeof text, "%.6g", values[which]));
}

/* The texts are kept as long as the program runs. */
static const char *export_stat_kinds(void)
{
    static char *text;
    if (!text) {
        GString *all = g_string_new("what value is:");
        for (int k = 0; k < LF_FINDING_KINDS; k++) {
            const LfFindingInfo *info = lf_finding_info((LfFindingKind)k);
            g_string_append_printf(all, "%s %s: %s", k ? ";" : "", info->name, info->definition);
        }
        text = g_string_free(all, FALSE);
    }
    return text;
}

static const char *export_stat_measures(void)
{
    static char *text;
    if (!text) {
        GString *all = g_string_new("the measure of each participant; several spans of one "
                                    "participant become one value:");
        for (int m = 0; m < LF_MEASURES; m++)
            g_string_append_printf(all, "%s %s: %s", m ? ";" : "",
                                   lf_measure_info((LfMeasure)m)->name,
                                   lf_finding_rule((LfMeasure)m));
        text = g_string_free(all, FALSE);
    }
    return text;
}

static const ExportColumn *export_stat_columns(gsize *n)
{
    static ExportColumn columns[] = {
        {"span", "", "part of the walks: walk for all of it, or the rule that cut it out",
         export_stat_text, STAT_SPAN},
        {"photo", "", "name of the photo", export_stat_text, STAT_PHOTO},
        {"level", "", "area, group 1 (outermost), group 2, ..., or photo", export_stat_text,
         STAT_LEVEL},
        {"area", "", "name of the area, path of the group, or name of the photo", export_stat_text,
         STAT_AREA},
        {"measure", "", NULL, export_stat_text, STAT_MEASURE},
        {"group", "", "group of participants; blank: everybody, or all groups against each other",
         export_stat_text, STAT_GROUP},
        {"against", "", "the group it is compared with; blank where two are not compared",
         export_stat_text, STAT_AGAINST},
        {"statistic", "", NULL, export_stat_text, STAT_KIND},
        {"unit", "", "unit of value, low and high; blank where it has none", export_stat_text,
         STAT_UNIT},
        {"participants", "count", "in the group or groups; a walk without a participant is one",
         export_stat_count, STAT_PARTICIPANTS},
        {"n", "count",
         "participants with a value; for first_seen_s with those of whom it is known that they "
         "did not look",
         export_stat_count, STAT_N},
        {"noticed", "count", "participants who looked at it", export_stat_count, STAT_NOTICED},
        {"value", "", "the estimate, in unit", export_stat_number, STAT_VALUE},
        {"low", "", "lower end of its interval", export_stat_number, STAT_LOW},
        {"high", "", "upper end of its interval", export_stat_number, STAT_HIGH},
        {"p", "0 to 1", "chance of a difference as large or larger where the groups are alike",
         export_stat_p, STAT_P},
        {"p_holm", "0 to 1",
         "p after Holm, for as many tests as there are of this statistic, measure, level and span",
         export_stat_p, STAT_HOLM},
        {"p_bh", "0 to 1", "p after Benjamini and Hochberg, for the same tests", export_stat_p,
         STAT_BH},
        {"p_exact", "0 or 1",
         "1 where p comes of all permutations, 0 where it is drawn or taken "
         "from a large-sample distribution",
         export_stat_count, STAT_EXACT},
        {"resamples", "count", "drawn for this row; blank where nothing is", export_stat_count,
         STAT_RESAMPLES},
        {"seed", "", "that the draws began with", export_stat_count, STAT_SEED},
        {"unknown_share", "0 to 1",
         "of these participants' spans, the share of time about which nothing can be said",
         export_stat_number, STAT_UNKNOWN},
        {"reason", "", "why something is blank", export_stat_text, STAT_REASON},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(columns); i++) {
        if (columns[i].definition)
            continue;
        columns[i].definition =
            columns[i].which == STAT_MEASURE ? export_stat_measures() : export_stat_kinds();
    }
    *n = G_N_ELEMENTS(columns);
    return columns;
}

/* --- rows ------------------------------------------------------------------------------------- */

typedef struct {
    const ExportOptions *options;
    LfFindings *findings;
} ExportStats;

static bool export_stats_take(const LfMeasureRow *row, void *data, G_GNUC_UNUSED GError **error)
{
    const ExportStats *stats = data;
    int level = stats->options->level;
    if (level == EXPORT_ALL_LEVELS || level == row->level)
        lf_findings_add(stats->findings, row);
    return true;
}

static bool export_stats_run(LfStudy *study, const ExportOptions *options, ExportOut *out,
                             GPtrArray *undone, GError **error)
{
    g_autoptr(LfFindings) findings = lf_findings_new(&options->findings);
    ExportStats stats = {options, findings};
    gsize n = 0;
    if (!lf_finding_settings_check(&options->findings, error) ||
        !lf_study_measures(study, &options->measure, export_stats_take, &stats, undone, error))
        return false;
    const LfFinding *all = lf_findings_compute(findings, options->measure.jobs, &n);
    for (gsize i = 0; i < n; i++) {
        ExportStat row = {all[i], options->findings.seed};
        if (!export_out_row(out, &row, error))
            return false;
    }
    return true;
}

const ExportKind export_stats = {
    "stats", "an estimate for people, of a measure and an area, a group or a photo",
    export_stat_columns, export_stats_run,
    "not wholly cast, or changed since \"lookfall fixate\", so that they count in part or not at "
    "all"};
