/* Who noticed what: the findings of noticed, first seen and dwell, one row for each area and group.
 */
#include "report/report_people.h"

#include <limits.h>
#include <math.h>
#include <string.h>

static const struct {
    LfMeasure measure;
    LfFindingKind kind;
} PEOPLE_COLUMNS[] = {{LF_MEASURE_NOTICED, LF_FINDING_SHARE},
                      {LF_MEASURE_FIRST_SEEN, LF_FINDING_MEDIAN_TIME},
                      {LF_MEASURE_DWELL, LF_FINDING_MEAN}};
enum { PEOPLE_SHARE, PEOPLE_TIME, PEOPLE_DWELL, PEOPLE_N = G_N_ELEMENTS(PEOPLE_COLUMNS) };

typedef struct {
    const LfFinding *findings[PEOPLE_N]; /* NULL where there is none */
} PeopleRow;

LfFindingSettings report_people_settings(const ReportData *data)
{
    LfFindingSettings settings = lf_finding_settings_default();

    settings.by_group = data->groups->len > 1;
    for (int i = 0; i < LF_MEASURES; i++)
        settings.measures[i] = false;
    for (int i = 0; i < PEOPLE_N; i++)
        settings.measures[PEOPLE_COLUMNS[i].measure] = true;
    return settings;
}

static bool report_people_add(const LfMeasureRow *row, void *data, G_GNUC_UNUSED GError **error)
{
    lf_findings_add(data, row);
    return true;
}

/* --- rows --- */

static bool report_people_same(const LfFinding *a, const LfFinding *b)
{
    return a->level == b->level && strcmp(a->photo, b->photo) == 0 &&
           strcmp(a->target, b->target) == 0 && g_strcmp0(a->group, b->group) == 0;
}

static PeopleRow *report_people_row(GArray *rows, const LfFinding *finding)
{
    for (guint i = 0; i < rows->len; i++) {
        PeopleRow *row = &g_array_index(rows, PeopleRow, i);
        for (int k = 0; k < PEOPLE_N; k++)
            if (row->findings[k] != NULL && report_people_same(row->findings[k], finding))
                return row;
    }
    const PeopleRow fresh = {{NULL}};
    g_array_append_val(rows, fresh);
    return &g_array_index(rows, PeopleRow, rows->len - 1);
}

/* What is said of people, not of groups against each other. */
static GArray *report_people_rows(const LfFinding *all, gsize n, const char *photo)
{
    GArray *rows = g_array_new(FALSE, FALSE, sizeof(PeopleRow));

    for (gsize i = 0; i < n; i++)
        for (int k = 0; k < PEOPLE_N; k++)
            if (all[i].measure == PEOPLE_COLUMNS[k].measure &&
                all[i].kind == PEOPLE_COLUMNS[k].kind && all[i].against == NULL &&
                (photo == NULL || strcmp(all[i].photo, photo) == 0))
                report_people_row(rows, &all[i])->findings[k] = &all[i];
    return rows;
}

/* --- the table --- */

static ReportTable *report_people_shape(bool groups)
{
    ReportTable *table = report_table_new(
        "noticed", "Noticed, time to first fixation, and time spent",
        "Intervals of 95%: shares after Wilson; median time to the first fixation after Kaplan and "
        "Meier, with those who never looked counted as not yet; mean time by bootstrap. Under "
        "half: "
        "fewer than half looked while they were observed, so there is no median. No interval: too "
        "few people, or the same value for all. Nobody is counted of whom nothing is known.");
    report_table_column(table, REPORT_TEXT, "Photo", "photo");
    report_table_column(table, REPORT_TEXT, "Area", "area");
    report_table_column(table, REPORT_TEXT, "Level", "level");
    if (groups)
        report_table_column(table, REPORT_TEXT, "Group", "group");
    report_table_column(table, REPORT_NUMBER, "People", "people");
    report_table_column(table, REPORT_NUMBER, "Noticed by", "noticed_by");
    report_table_column(table, REPORT_SHARE_RANGE, "Share", "noticed_share");
    report_table_column(table, REPORT_RANGE, "Time to first fixation, s", "first_seen_median_s");
    report_table_column(table, REPORT_RANGE, "Time on it, s", "dwell_mean_s");
    return table;
}

/* The table's note tells what the short words stand for. */
static void report_people_cell(ReportTable *table, const LfFinding *f, int decimals)
{
    if (f == NULL) {
        report_table_range(table, NAN, NAN, NAN, decimals, NULL);
        return;
    }
    const char *blank = *f->reason ? f->reason : NULL;
    if (isfinite(f->value))
        blank = "no interval";
    else if (f->kind == LF_FINDING_MEDIAN_TIME && f->n > 0)
        blank = "under half";
    report_table_range(table, f->value, f->low, f->high, decimals, blank);
}

static const LfFinding *report_people_any(const PeopleRow *row)
{
    const LfFinding *any = NULL;

    for (int k = 0; any == NULL && k < PEOPLE_N; k++)
        any = row->findings[k];
    return any;
}

static void report_people_line(ReportTable *table, const PeopleRow *row, bool groups)
{
    const LfFinding *any = report_people_any(row);
    g_autofree char *level = lf_area_level_name(any->level);
    report_table_text(table, any->photo);
    report_table_text(table, any->target);
    report_table_text(table, level);
    if (groups)
        report_table_text(table, any->group != NULL ? any->group : "all");
    report_table_number(table, (double)any->n, 0);
    report_table_number(table, (double)any->noticed, 0);
    report_people_cell(table, row->findings[PEOPLE_SHARE], 0);
    report_people_cell(table, row->findings[PEOPLE_TIME], 1);
    report_people_cell(table, row->findings[PEOPLE_DWELL], 2);
}

/* --- what nobody looked at --- */

/* Whether it is known of people that nobody looked: the row of everybody says so for the groups. */
static bool report_people_unseen(const LfFinding *all)
{
    return all->group == NULL && all->n > 0 && all->noticed == 0;
}

/* Names of a photo's targets of one level that nobody looked at: " shelf, area, 2 of 9: A, B." */
static void report_people_tell(GString *told, const GArray *rows, const char *photo, int level)
{
    g_autofree char *word = lf_area_level_name(level);
    g_autoptr(GString) names = g_string_new(NULL);
    guint all = 0, unseen = 0;

    for (guint i = 0; i < rows->len; i++) {
        const LfFinding *f = report_people_any(&g_array_index(rows, PeopleRow, i));
        if (f->level != level || strcmp(f->photo, photo) != 0)
            continue;
        all += f->group == NULL;
        if (report_people_unseen(f))
            g_string_append_printf(names, "%s%s", unseen++ > 0 ? ", " : "", f->target);
    }
    if (unseen > 0)
        g_string_append_printf(told, " %s, %s, %u of %u: %s.", photo, word, unseen, all,
                               names->str);
}

/* Rows of what nobody looked at would fill pages: on paper a sentence has their names. */
static void report_people_shorten(ReportTable *table, const ReportData *data, const GArray *rows)
{
    g_autoptr(GString) told = g_string_new(NULL);
    int low = INT_MAX, high = INT_MIN;

    for (guint i = 0; i < rows->len; i++) {
        const int level = report_people_any(&g_array_index(rows, PeopleRow, i))->level;
        low = MIN(low, level);
        high = MAX(high, level);
    }
    for (guint i = 0; i < data->photos->len; i++)
        for (int level = low; level <= high; level++)
            report_people_tell(told, rows, ((LfStudyPhoto *)data->photos->pdata[i])->name, level);
    if (told->len == 0)
        return;
    g_string_prepend(told, "Nobody looked at these; they have no rows on paper.");
    report_table_paper_note(table, told->str);
}

static int64_t report_people_us(double s)
{
    return isnan(s) ? 0 : llround(s * 1e6);
}

static bool report_people_find(LfStudy *study, const ReportData *data, int threads,
                               LfFindings *findings, GError **error)
{
    const LfDrawChoice *choice = data->choice;
    g_autoptr(GPtrArray) spans = g_ptr_array_new_with_free_func((GDestroyNotify)lf_span_rule_free);
    LfSpanRule *rule = choice->span != NULL ? lf_span_rule_parse(choice->span, error) : NULL;

    if (choice->span != NULL && rule == NULL)
        return false;
    if (rule != NULL)
        g_ptr_array_add(spans, rule);
    const LfMeasureOptions options = {.walks = (const char *const *)data->names,
                                      .spans = spans,
                                      .from_us = report_people_us(choice->from_s),
                                      .to_us = report_people_us(choice->to_s),
                                      .settings = lf_measure_settings_default(),
                                      .jobs = threads};
    return lf_study_measures(study, &options, report_people_add, findings, NULL, error);
}

ReportTable *report_people_table(LfStudy *study, const ReportData *data, int threads, char **why,
                                 GError **error)
{
    const LfFindingSettings settings = report_people_settings(data);
    g_autoptr(LfFindings) findings = lf_findings_new(&settings);
    g_autoptr(GError) problem = NULL;
    gsize n;

    *why = NULL;
    if (!report_people_find(study, data, threads, findings, &problem)) {
        if (g_error_matches(problem, LF_ERROR, LF_ERROR_INPUT))
            *why = g_strdup(problem->message);
        else
            g_propagate_error(error, g_steal_pointer(&problem));
        return NULL;
    }
    const LfFinding *all = lf_findings_compute(findings, threads, &n);
    g_autoptr(GArray) rows = report_people_rows(all, n, data->choice->photo);
    ReportTable *table = report_people_shape(settings.by_group);
    bool unseen = false;
    for (guint i = 0; i < rows->len; i++) {
        const PeopleRow *row = &g_array_index(rows, PeopleRow, i);
        const LfFinding *any = report_people_any(row);
        if (any->group == NULL) /* the groups' rows follow */
            unseen = report_people_unseen(any);
        report_people_line(table, row, settings.by_group);
        if (unseen)
            report_table_off_paper(table);
    }
    report_people_shorten(table, data, rows);
    return table;
}
