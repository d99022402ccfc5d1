/* The findings on one target: each measure of everybody, of each group, and the groups compared. */
#include "look/finding_topic.h"

#include <math.h>
#include <string.h>

/* The persons of a topic that count: all, or those with a group. */
typedef struct {
    gsize n;
    LookPart *parts;
    int *groups; /* index into the names; 0 for everybody */
    int n_groups;
} TopicCrowd;

/* Values of one measure, those that there are. */
typedef struct {
    gsize n;
    double *values;
    LfStatTime *times; /* first seen instead of values */
    int *groups;
} TopicValues;

typedef struct {
    GArray *rows;
    const LookTopic *topic;
    const LfFindingSettings *settings;
    const GPtrArray *names; /* of groups */
    LfMeasure measure;
} TopicWork;

/* --- gathering -------------------------------------------------------------------------------- */

static void topic_crowd_clear(TopicCrowd *crowd)
{
    g_clear_pointer(&crowd->parts, g_free);
    g_clear_pointer(&crowd->groups, g_free);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(TopicCrowd, topic_crowd_clear)

static void topic_values_clear(TopicValues *values)
{
    g_clear_pointer(&values->values, g_free);
    g_clear_pointer(&values->times, g_free);
    g_clear_pointer(&values->groups, g_free);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(TopicValues, topic_values_clear)

/* names: NULL for everybody. */
static TopicCrowd topic_crowd(const LookPeople *people, guint topic, const GPtrArray *names)
{
    const GPtrArray *persons = look_people_persons(people);
    TopicCrowd crowd = {.parts = g_new(LookPart, persons->len + 1),
                        .groups = g_new0(int, persons->len + 1),
                        .n_groups = names ? (int)names->len : 1};
    for (guint i = 0; i < persons->len; i++) {
        const LookPerson *person = persons->pdata[i];
        guint group = 0;
        if (names &&
            (!person->group || !g_ptr_array_find_with_equal_func((GPtrArray *)names, person->group,
                                                                 g_str_equal, &group)))
            continue;
        if (!look_people_part(people, topic, i, &crowd.parts[crowd.n]))
            continue;
        crowd.groups[crowd.n++] = (int)group;
    }
    return crowd;
}

/* group: one of them, or -1 for all. */
static TopicValues topic_values(const TopicCrowd *crowd, LfMeasure measure, int group)
{
    TopicValues out = {.values = g_new(double, crowd->n + 1),
                       .times = g_new(LfStatTime, crowd->n + 1),
                       .groups = g_new(int, crowd->n + 1)};
    for (gsize i = 0; i < crowd->n; i++) {
        const LookPart *part = &crowd->parts[i];
        double value =
            measure == LF_MEASURE_FIRST_SEEN ? part->first_seen.t : part->values[measure];
        if ((group >= 0 && crowd->groups[i] != group) || isnan(value))
            continue;
        out.values[out.n] = value;
        out.times[out.n] = part->first_seen;
        out.groups[out.n++] = crowd->groups[i];
    }
    return out;
}

static gsize topic_ones(const TopicValues *values)
{
    gsize ones = 0;
    for (gsize i = 0; i < values->n; i++)
        ones += values->values[i] == 1;
    return ones;
}

/* --- rows ------------------------------------------------------------------------------------- */

/* A row with who is in it, and nothing found yet. */
static LfFinding topic_row(const TopicWork *work, const TopicCrowd *crowd, int group, gsize n,
                           LfFindingKind kind)
{
    LfFinding row = {.photo = work->topic->photo,
                     .target = work->topic->name,
                     .level = work->topic->level,
                     .span = work->topic->span,
                     .measure = work->measure,
                     .kind = kind,
                     .n = n,
                     .unknown_share = NAN,
                     .value = NAN,
                     .low = NAN,
                     .high = NAN,
                     .p = NAN,
                     .p_holm = NAN,
                     .p_bh = NAN,
                     .reason = ""};
    double span_s = 0, unknown_s = 0;
    for (gsize i = 0; i < crowd->n; i++) {
        if (group >= 0 && crowd->groups[i] != group)
            continue;
        row.participants++;
        row.noticed += crowd->parts[i].values[LF_MEASURE_NOTICED] == 1;
        span_s += crowd->parts[i].span_s;
        unknown_s += crowd->parts[i].unknown_s;
    }
    if (span_s > 0)
        row.unknown_share = unknown_s / span_s;
    return row;
}

static void topic_reason(LfFinding *row, GError *error)
{
    if (error) {
        /* the first one tells what is wrong; others follow from it */
        if (!*row->reason)
            row->reason = g_intern_string(error->message);
        g_error_free(error);
    }
}

/* A row's own seed: 32 bits of FNV-1a (G. Fowler, L. C. Noll, K.-P. Vo; from memory) over the seed
 * and all names, so that no other row changes it. Rows of one photo, target, ... differ in many
 * bits of it. */
static uint32_t topic_seed(const LfFinding *row, uint32_t seed)
{
    g_autofree char *text =
        g_strdup_printf("%u\x1f%s\x1f%d\x1f%s\x1f%s\x1f%s\x1f%s\x1f%s\x1f%s", seed, row->photo,
                        row->level, row->target, row->span, lf_measure_info(row->measure)->name,
                        lf_finding_info(row->kind)->name, row->group ? row->group : "",
                        row->against ? row->against : "");
    uint64_t hash = 14695981039346656037ULL;
    for (const char *at = text; *at; at++)
        hash = (hash ^ (uint64_t)(unsigned char)*at) * 1099511628211ULL;
    return (uint32_t)(hash ^ hash >> 32);
}

static void topic_interval(LfFinding *row, LfStatInterval interval)
{
    row->low = interval.low;
    row->high = interval.high;
}

/* --- of people -------------------------------------------------------------------------------- */

static void topic_share(const TopicWork *work, LfFinding *row, const TopicValues *values)
{
    GError *error = NULL;
    LfStatInterval interval;
    gsize ones = topic_ones(values);
    if (lf_stat_wilson(ones, values->n, work->settings->level, &interval, &error)) {
        row->value = (double)ones / (double)values->n;
        topic_interval(row, interval);
    }
    topic_reason(row, error);
}

static void topic_median_time(const TopicWork *work, LfFinding *row, const TopicValues *values)
{
    GError *error = NULL;
    g_autoptr(LfStatSurvival) survival =
        lf_stat_survival(values->times, values->n, work->settings->level, &error);
    if (survival) {
        row->value = survival->median;
        topic_interval(row, survival->median_interval);
        if (isnan(survival->median))
            row->reason = "fewer than half looked while they were observed";
        else if (isnan(row->low) || isnan(row->high))
            row->reason = "too few people to close the interval";
    }
    topic_reason(row, error);
}

static void topic_centre(const TopicWork *work, LfFinding *row, const TopicValues *values)
{
    GError *error = NULL;
    LfStatBootstrap boot;
    LfStatCentre centre = row->kind == LF_FINDING_MEAN ? LF_STAT_MEAN : LF_STAT_MEDIAN;
    bool there = centre == LF_STAT_MEAN
                     ? lf_stat_mean(values->values, values->n, &row->value, &error)
                     : lf_stat_median(values->values, values->n, &row->value, &error);
    if (there && lf_stat_bootstrap(values->values, values->n, centre, work->settings->bootstrap,
                                   work->settings->level, work->settings->resamples,
                                   topic_seed(row, work->settings->seed), &boot, &error)) {
        topic_interval(row, boot.interval);
        row->resamples = work->settings->resamples;
    }
    topic_reason(row, error);
}

static void topic_estimate(const TopicWork *work, const TopicCrowd *crowd, int group,
                           const char *name)
{
    static const LfFindingKind of_noticed[] = {LF_FINDING_SHARE},
                               of_time[] = {LF_FINDING_MEDIAN_TIME},
                               of_rest[] = {LF_FINDING_MEAN, LF_FINDING_MEDIAN};
    const LfFindingKind *kinds = work->measure == LF_MEASURE_NOTICED      ? of_noticed
                                 : work->measure == LF_MEASURE_FIRST_SEEN ? of_time
                                                                          : of_rest;
    gsize n_kinds = kinds == of_rest ? G_N_ELEMENTS(of_rest) : 1;
    g_auto(TopicValues) values = topic_values(crowd, work->measure, group);
    for (gsize k = 0; k < n_kinds; k++) {
        LfFinding row = topic_row(work, crowd, group, values.n, kinds[k]);
        row.group = name;
        if (kinds == of_noticed)
            topic_share(work, &row, &values);
        else if (kinds == of_time)
            topic_median_time(work, &row, &values);
        else
            topic_centre(work, &row, &values);
        g_array_append_val(work->rows, row);
    }
}

/* --- of groups -------------------------------------------------------------------------------- */

static void topic_permutation(const TopicWork *work, LfFinding *row, const TopicValues *all,
                              int n_groups)
{
    GError *error = NULL;
    LfStatPermutation test;
    if (lf_stat_permutation(all->values, all->groups, all->n, n_groups, work->settings->resamples,
                            topic_seed(row, work->settings->seed), &test, &error)) {
        row->p = test.p;
        row->exact = test.exact;
        row->resamples = test.exact ? row->resamples : test.deals;
    }
    topic_reason(row, error);
}

static void topic_difference(const TopicWork *work, LfFinding *row, const TopicValues *a,
                             const TopicValues *b)
{
    GError *error = NULL;
    LfStatBootstrap boot;
    if (lf_stat_bootstrap_difference(a->values, a->n, b->values, b->n, LF_STAT_MEAN,
                                     work->settings->level, work->settings->resamples,
                                     topic_seed(row, work->settings->seed) + 1, &boot, &error)) {
        topic_interval(row, boot.interval);
        row->resamples = work->settings->resamples;
    }
    /* a difference needs no spread */
    if (a->n > 0 && b->n > 0) {
        double mean_a = 0, mean_b = 0;
        if (lf_stat_mean(a->values, a->n, &mean_a, NULL) &&
            lf_stat_mean(b->values, b->n, &mean_b, NULL))
            row->value = mean_a - mean_b;
    }
    topic_reason(row, error);
}

/* Fills what a comparison of two groups finds; values of both, and of each. */
static void topic_pair(const TopicWork *work, LfFinding *row, const TopicValues *all,
                       const TopicValues *a, const TopicValues *b)
{
    GError *error = NULL;
    LfStatInterval interval = {NAN, NAN};
    LfStatLogRank test;
    double level = work->settings->level;
    switch (row->kind) {
    case LF_FINDING_SHARE_DIFFERENCE:
        lf_stat_share_difference(topic_ones(a), a->n, topic_ones(b), b->n, level, &row->value,
                                 &interval, &error);
        break;
    case LF_FINDING_ODDS_RATIO:
        lf_stat_odds_ratio(topic_ones(a), a->n, topic_ones(b), b->n, level, &row->value, &interval,
                           &error);
        break;
    case LF_FINDING_HAZARD_RATIO:
        lf_stat_hazard_ratio(all->times, all->groups, all->n, level, &row->value, &interval,
                             &error);
        break;
    case LF_FINDING_LOG_RANK:
        if (lf_stat_log_rank(all->times, all->groups, all->n, 2, NULL, NULL, &test, &error)) {
            row->value = test.chi_square;
            row->p = test.p;
        }
        break;
    case LF_FINDING_HEDGES_G:
        lf_stat_cohens_d(a->values, a->n, b->values, b->n, NULL, &row->value, &error);
        break;
    case LF_FINDING_CLIFFS_DELTA:
        lf_stat_cliffs_delta(a->values, a->n, b->values, b->n, &row->value, &error);
        break;
    default:
        break;
    }
    topic_interval(row, interval);
    topic_reason(row, error);
    if (row->kind == LF_FINDING_MEAN_DIFFERENCE)
        topic_difference(work, row, a, b);
    if (row->kind == LF_FINDING_MEAN_DIFFERENCE || row->kind == LF_FINDING_SHARE_DIFFERENCE)
        topic_permutation(work, row, all, 2);
}

/* More than two groups. */
static void topic_many(const TopicWork *work, LfFinding *row, const TopicValues *all, int n_groups)
{
    GError *error = NULL;
    LfStatLogRank test;
    if (row->kind == LF_FINDING_ETA_SQUARED) {
        lf_stat_eta_squared(all->values, all->groups, all->n, n_groups, &row->value, &error);
        topic_reason(row, error);
        topic_permutation(work, row, all, n_groups);
        return;
    }
    if (lf_stat_log_rank(all->times, all->groups, all->n, n_groups, NULL, NULL, &test, &error)) {
        row->value = test.chi_square;
        row->p = test.p;
    }
    topic_reason(row, error);
}

/* What is compared: two groups (or as good as two, where there are fewer), or more. */
static const LfFindingKind *topic_comparisons(LfMeasure measure, bool many, gsize *n)
{
    static const LfFindingKind of_shares[] = {LF_FINDING_SHARE_DIFFERENCE, LF_FINDING_ODDS_RATIO},
                               of_times[] = {LF_FINDING_LOG_RANK, LF_FINDING_HAZARD_RATIO},
                               of_means[] = {LF_FINDING_MEAN_DIFFERENCE, LF_FINDING_HEDGES_G,
                                             LF_FINDING_CLIFFS_DELTA},
                               of_many[] = {LF_FINDING_ETA_SQUARED};
    *n = many ? 1 : 2;
    if (measure == LF_MEASURE_FIRST_SEEN)
        return of_times;
    if (many)
        return of_many;
    if (measure == LF_MEASURE_NOTICED)
        return of_shares;
    *n = G_N_ELEMENTS(of_means);
    return of_means;
}

static const char *topic_no_comparison(const TopicWork *work, bool shared)
{
    if (work->names->len < 2)
        return work->names->len == 0 ? "no walk has a group" : "one group only";
    return shared ? "somebody is in several groups: these tests need different people" : NULL;
}

static void topic_compare(const TopicWork *work, const TopicCrowd *crowd, bool shared)
{
    bool many = work->names->len > 2;
    gsize n_kinds;
    const LfFindingKind *kinds = topic_comparisons(work->measure, many, &n_kinds);
    const char *why_not = topic_no_comparison(work, shared);
    g_auto(TopicValues) all = topic_values(crowd, work->measure, -1);
    g_auto(TopicValues) a = topic_values(crowd, work->measure, 0);
    g_auto(TopicValues) b = topic_values(crowd, work->measure, 1);
    for (gsize k = 0; k < n_kinds; k++) {
        LfFinding row = topic_row(work, crowd, -1, all.n, kinds[k]);
        if (work->names->len == 2) {
            row.group = work->names->pdata[0];
            row.against = work->names->pdata[1];
        }
        if (why_not)
            row.reason = why_not;
        else if (many)
            topic_many(work, &row, &all, crowd->n_groups);
        else
            topic_pair(work, &row, &all, &a, &b);
        g_array_append_val(work->rows, row);
    }
}

GArray *look_topic_findings(const LookPeople *everybody, const LookPeople *grouped, guint topic,
                            const GPtrArray *groups, const LfFindingSettings *settings)
{
    g_auto(TopicCrowd) all = topic_crowd(everybody, topic, NULL);
    g_auto(TopicCrowd) parts = {0};
    TopicWork work = {.rows = g_array_new(FALSE, FALSE, sizeof(LfFinding)),
                      .topic = look_people_topics(everybody)->pdata[topic],
                      .settings = settings,
                      .names = groups};
    if (grouped)
        parts = topic_crowd(grouped, topic, groups);
    for (int m = 0; m < LF_MEASURES; m++) {
        if (!settings->measures[m])
            continue;
        work.measure = (LfMeasure)m;
        topic_estimate(&work, &all, -1, NULL);
        for (guint g = 0; grouped && g < groups->len; g++)
            topic_estimate(&work, &parts, (int)g, groups->pdata[g]);
        if (grouped)
            topic_compare(&work, &parts, look_people_shared(grouped));
    }
    return work.rows;
}
