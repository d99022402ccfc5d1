/* Who noticed what.
 *
 * Measures are per walk; here one person counts once. Of several walks of a person an area counts
 * as noticed if it was in any of them, the time to it is the shortest, the time spent on it the
 * sum. */
#include "report/report_people.h"

#include <math.h>

#include <lookfall/measure.h>
#include <lookfall/statistics.h>

/* Resampling fewer people tells next to nothing about others (common practice). */
enum { REPORT_BOOTSTRAP_LEAST = 5 };

typedef struct {
    const char *person; /* of the walks */
    const char *group;  /* of the walks; NULL where not told */
    bool known;         /* at least one walk tells whether it was noticed */
    bool noticed, noticed_low, noticed_high;
    double first_s; /* NaN where not noticed */
    double known_s; /* the longest span in which it could have been */
    double dwell_s;
} PeopleRow;

typedef struct {
    char *photo, *name;
    int level;
    GArray *people; /* PeopleRow: by person and group */
} PeopleTarget;

typedef struct {
    const ReportData *data;
    GPtrArray *targets; /* PeopleTarget */
} PeopleSink;

static void report_people_target_free(gpointer data)
{
    PeopleTarget *target = data;
    g_free(target->photo);
    g_free(target->name);
    g_array_unref(target->people);
    g_free(target);
}

static PeopleTarget *report_people_target(PeopleSink *sink, const LfMeasureRow *row)
{
    for (guint i = 0; i < sink->targets->len; i++) {
        PeopleTarget *t = sink->targets->pdata[i];
        if (t->level == row->level && g_str_equal(t->name, row->target) &&
            g_str_equal(t->photo, row->photo))
            return t;
    }
    PeopleTarget *t = g_new0(PeopleTarget, 1);
    *t = (PeopleTarget){.photo = g_strdup(row->photo),
                        .name = g_strdup(row->target),
                        .level = row->level,
                        .people = g_array_new(FALSE, FALSE, sizeof(PeopleRow))};
    g_ptr_array_add(sink->targets, t);
    return t;
}

static const LfStudyWalk *report_people_walk(const ReportData *d, const char *name)
{
    for (guint i = 0; i < d->walks->len; i++) {
        const LfStudyWalk *walk = d->walks->pdata[i];
        if (g_str_equal(walk->name, name))
            return walk;
    }
    return NULL;
}

static PeopleRow *report_people_row(PeopleTarget *target, const LfStudyWalk *walk)
{
    const char *person = report_data_person(walk);

    for (guint i = 0; i < target->people->len; i++) {
        PeopleRow *row = &g_array_index(target->people, PeopleRow, i);
        if (g_str_equal(row->person, person) && g_strcmp0(row->group, walk->group) == 0)
            return row;
    }
    const PeopleRow fresh = {.person = person, .group = walk->group, .first_s = NAN};
    g_array_append_val(target->people, fresh);
    return &g_array_index(target->people, PeopleRow, target->people->len - 1);
}

static bool report_people_add(const LfMeasureRow *row, void *data, G_GNUC_UNUSED GError **error)
{
    PeopleSink *sink = data;
    const LfStudyWalk *walk = report_people_walk(sink->data, row->head.walk);
    const LfMeasured *noticed = &row->values[LF_MEASURE_NOTICED];

    if (walk == NULL)
        return true;
    PeopleRow *person = report_people_row(report_people_target(sink, row), walk);
    if (!isfinite(noticed->value))
        return true;
    person->known = true;
    person->noticed |= noticed->value > 0;
    person->noticed_low |= noticed->low > 0;
    person->noticed_high |= noticed->high > 0;
    person->first_s = fmin(person->first_s, row->values[LF_MEASURE_FIRST_SEEN].value);
    person->known_s = fmax(person->known_s, row->head.time.span_s);
    if (isfinite(row->values[LF_MEASURE_DWELL].value))
        person->dwell_s += row->values[LF_MEASURE_DWELL].value;
    return true;
}

/* --- cells --- */

static void report_people_share(ReportTable *table, gsize yes, gsize low, gsize high, gsize n)
{
    LfStatInterval interval = {NAN, NAN};
    g_autofree char *sure =
        low != yes || high != yes
            ? g_strdup_printf("%" G_GSIZE_FORMAT " to %" G_GSIZE_FORMAT " within errors", low, high)
            : NULL;

    report_table_number(table, (double)n, 0);
    report_table_number_told(table, (double)yes, 0, sure);
    (void)lf_stat_wilson(yes, n, REPORT_LEVEL, &interval, NULL); /* n = 0 leaves it blank */
    report_table_range(table, n > 0 ? (double)yes / (double)n : NAN, interval.low, interval.high, 0,
                       NULL);
}

static void report_people_times(ReportTable *table, const GArray *times)
{
    g_autoptr(GError) why = NULL;
    g_autoptr(LfStatSurvival) survival =
        lf_stat_survival((const LfStatTime *)(gpointer)times->data, times->len, REPORT_LEVEL, &why);

    if (survival == NULL)
        report_table_range(table, NAN, NAN, NAN, 1, "nobody");
    else
        report_table_range(table, survival->median, survival->median_interval.low,
                           survival->median_interval.high, 1,
                           isfinite(survival->median) ? NULL : "fewer than half");
}

static void report_people_dwell(ReportTable *table, const GArray *dwell)
{
    const double *values = (const double *)(gpointer)dwell->data;
    LfStatBootstrap boot = {.interval = {NAN, NAN}};
    double mean = NAN;

    (void)lf_stat_mean(values, dwell->len, &mean, NULL);
    if (dwell->len < REPORT_BOOTSTRAP_LEAST ||
        !lf_stat_bootstrap(values, dwell->len, LF_STAT_MEAN, LF_STAT_BCA, REPORT_LEVEL,
                           REPORT_RESAMPLES, REPORT_SEED, &boot, NULL))
        boot.interval = (LfStatInterval){NAN, NAN}; /* or all the same */
    report_table_range(table, mean, boot.interval.low, boot.interval.high, 2,
                       dwell->len < REPORT_BOOTSTRAP_LEAST ? "too few people" : NULL);
}

/* group NULL: all people, each once. */
static void report_people_line(ReportTable *table, const PeopleTarget *target, const char *group,
                               bool groups)
{
    g_autoptr(GArray) times = g_array_new(FALSE, FALSE, sizeof(LfStatTime));
    g_autoptr(GArray) dwell = g_array_new(FALSE, FALSE, sizeof(double));
    gsize n = 0, yes = 0, low = 0, high = 0;
    g_autofree char *level = lf_area_level_name(target->level);

    for (guint i = 0; i < target->people->len; i++) {
        PeopleRow row = g_array_index(target->people, PeopleRow, i);
        bool before = false;
        if (!row.known || (group != NULL && g_strcmp0(row.group, group) != 0))
            continue;
        for (guint k = 0; k < target->people->len && group == NULL; k++) {
            /* Somebody with walks in several groups is one person here. */
            const PeopleRow *other = &g_array_index(target->people, PeopleRow, k);
            if (k == i || !other->known || !g_str_equal(other->person, row.person))
                continue;
            before |= k < i;
            row.noticed |= other->noticed;
            row.noticed_low |= other->noticed_low;
            row.noticed_high |= other->noticed_high;
            row.first_s = fmin(row.first_s, other->first_s);
            row.known_s = fmax(row.known_s, other->known_s);
            row.dwell_s += other->dwell_s;
        }
        if (before)
            continue;
        const LfStatTime time = {row.noticed && isfinite(row.first_s) ? row.first_s : row.known_s,
                                 row.noticed && isfinite(row.first_s)};
        g_array_append_val(times, time);
        g_array_append_val(dwell, row.dwell_s);
        n++;
        yes += row.noticed;
        low += row.noticed_low;
        high += row.noticed_high;
    }
    report_table_text(table, target->photo);
    report_table_text(table, target->name);
    report_table_text(table, level);
    if (groups)
        report_table_text(table, group != NULL ? group : "all");
    report_people_share(table, yes, low, high, n);
    report_people_times(table, times);
    report_people_dwell(table, dwell);
}

static ReportTable *report_people_shape(bool groups)
{
    ReportTable *table = report_table_new(
        "noticed", "Noticed, time to first fixation, and time spent",
        "Intervals of 95%: shares after Wilson; median time to the first fixation after Kaplan and "
        "Meier, with those who never looked counted as not yet; mean time by bootstrap. Within "
        "errors: how many if each position may be off by twice its standard error.");
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

ReportTable *report_people_table(LfStudy *study, const ReportData *data, int threads, char **why,
                                 GError **error)
{
    g_autoptr(GPtrArray) targets = g_ptr_array_new_with_free_func(report_people_target_free);
    PeopleSink sink = {data, targets};
    const LfMeasureOptions options = {.settings = lf_measure_settings_default(), .jobs = threads};
    const bool groups = data->groups->len > 1;
    g_autoptr(GError) problem = NULL;

    *why = NULL;
    if (!lf_study_measures(study, &options, report_people_add, &sink, NULL, &problem)) {
        if (g_error_matches(problem, LF_ERROR, LF_ERROR_INPUT))
            *why = g_strdup(problem->message);
        else
            g_propagate_error(error, g_steal_pointer(&problem));
        return NULL;
    }
    g_autoptr(ReportTable) table = report_people_shape(groups);
    for (guint i = 0; i < targets->len; i++) {
        report_people_line(table, targets->pdata[i], NULL, groups);
        for (guint g = 0; groups && g < data->groups->len; g++)
            report_people_line(table, targets->pdata[i], data->groups->pdata[g], groups);
    }
    return g_steal_pointer(&table);
}
