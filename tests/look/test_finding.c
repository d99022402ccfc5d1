/* Findings from rows of measures: how walks of one participant are combined, what is estimated and
 * compared, what is blank and why, p adjusted over the targets of a level. */
#include "geometry/check.h"

#include <string.h>

#include <lookfall/finding.h>

/* A row that looked after `seen` s (NaN: never) in a span of 60 s known up to `known` s, with a
 * dwell of `dwell` s. */
static LfMeasureRow test_row(const char *walk, const char *participant, const char *group,
                             const char *target, double seen, double dwell, double known)
{
    LfMeasureRow row = {.head = {.walk = walk,
                                 .participant = participant,
                                 .group = group,
                                 .span = "walk",
                                 .span_number = 1,
                                 .to_us = 60000000,
                                 .time = {.span_s = 60,
                                          .known_s = known,
                                          .unknown_s = 60 - known,
                                          .known_until_s = known}},
                        .photo = "shelf",
                        .target = target,
                        .blank = isnan(seen) ? LF_BLANK_NEVER : LF_BLANK_NOT};
    for (int m = 0; m < LF_MEASURES; m++)
        row.values[m] = (LfMeasured){(double)NAN, (double)NAN, (double)NAN};
    row.values[LF_MEASURE_NOTICED].value = !isnan(seen);
    row.values[LF_MEASURE_FIRST_SEEN].value = seen;
    row.values[LF_MEASURE_FIRST_FIXATION].value = isnan(seen) ? (double)NAN : seen / 10;
    row.values[LF_MEASURE_DWELL].value = dwell;
    row.values[LF_MEASURE_GLANCE_LONGEST].value = isnan(seen) ? (double)NAN : dwell / 2;
    return row;
}

static LfFindingSettings test_settings(bool by_group, LfMeasure measure)
{
    LfFindingSettings settings = lf_finding_settings_default();
    memset(settings.measures, 0, sizeof settings.measures);
    settings.measures[measure] = true;
    settings.by_group = by_group;
    settings.resamples = 500;
    return settings;
}

/* The finding of this kind; it must be there once. */
static LfFinding test_find(LfFindings *findings, LfFindingKind kind, const char *target,
                           const char *group)
{
    gsize n, found = 0;
    const LfFinding *all = lf_findings_compute(findings, 1, &n);
    LfFinding out = {0};
    for (gsize i = 0; i < n; i++)
        if (all[i].kind == kind && strcmp(all[i].target, target) == 0 &&
            g_strcmp0(all[i].group, group) == 0) {
            out = all[i];
            found++;
        }
    assert_int_equal(found, 1);
    return out;
}

static void test_add(LfFindings *findings, LfMeasureRow row)
{
    lf_findings_add(findings, &row);
}

/* --- several walks of one participant --------------------------------------------------------- */

static double test_combined(LfMeasure measure)
{
    LfFindingSettings settings = test_settings(false, measure);
    g_autoptr(LfFindings) findings = lf_findings_new(&settings);
    test_add(findings, test_row("w1", "p", NULL, "rye", NAN, 0, 40));
    test_add(findings, test_row("w2", "p", NULL, "rye", 12, 3, 60));
    test_add(findings, test_row("w3", "p", NULL, "rye", 2, 9, 60));
    LfMeasureRow unknown = test_row("w4", "p", NULL, "rye", NAN, 0, 0);
    for (int m = 0; m < LF_MEASURES; m++)
        unknown.values[m].value = NAN;
    unknown.blank = LF_BLANK_UNKNOWN;
    test_add(findings, unknown);
    LfFindingKind kind = measure == LF_MEASURE_NOTICED      ? LF_FINDING_SHARE
                         : measure == LF_MEASURE_FIRST_SEEN ? LF_FINDING_MEDIAN_TIME
                                                            : LF_FINDING_MEAN;
    LfFinding finding = test_find(findings, kind, "rye", NULL);
    assert_int_equal(finding.participants, 1);
    assert_int_equal(finding.n, 1);
    assert_int_equal(finding.noticed, 1);
    check_near(finding.unknown_share, (20.0 + 60) / 240, 1e-12);
    return finding.value;
}

static void test_walks(void **state)
{
    (void)state;
    check_near(test_combined(LF_MEASURE_NOTICED), 1, 0);
    /* 40 s of the first walk are known to have no look in them, then 12 s of the second */
    check_near(test_combined(LF_MEASURE_FIRST_SEEN), 52, 1e-12);
    check_near(test_combined(LF_MEASURE_FIRST_FIXATION), 1.2, 1e-12);
    check_near(test_combined(LF_MEASURE_DWELL), 4, 1e-12); /* (0 + 3 + 9) / 3 */
    check_near(test_combined(LF_MEASURE_GLANCE_LONGEST), 4.5, 1e-12);
}

/* Walks of nobody in particular are participants of their own, also where a participant is called
 * like a walk. */
static void test_nameless(void **state)
{
    (void)state;
    LfFindingSettings settings = test_settings(false, LF_MEASURE_NOTICED);
    g_autoptr(LfFindings) findings = lf_findings_new(&settings);
    test_add(findings, test_row("w1", NULL, NULL, "rye", 1, 1, 60));
    test_add(findings, test_row("w2", NULL, NULL, "rye", NAN, 0, 60));
    test_add(findings, test_row("w3", "w1", NULL, "rye", NAN, 0, 60));
    LfFinding share = test_find(findings, LF_FINDING_SHARE, "rye", NULL);
    assert_int_equal(share.participants, 3);
    check_near(share.value, 1.0 / 3, 1e-12);
    LfStatInterval wilson;
    assert_true(lf_stat_wilson(1, 3, 0.95, &wilson, NULL));
    check_near(share.low, wilson.low, 0);
    check_near(share.high, wilson.high, 0);
    assert_string_equal(share.reason, "");
}

/* --- what is found ---------------------------------------------------------------------------- */

enum { PEOPLE = 24 };

/* Group "new" looks sooner and longer at "rye", not at "oat". */
static void test_two_groups(LfFindings *findings, GRand *rand, int n, int n_groups)
{
    static const char *const names[] = {"old", "new", "odd"};
    for (int i = 0; i < n; i++) {
        g_autofree char *walk = g_strdup_printf("w%02d", i);
        int group = i % n_groups;
        for (int t = 0; t < 2; t++) {
            double rate = group == 1 && t == 0 ? 5 : 40;
            double seen = -rate * log(1 - g_rand_double(rand));
            double dwell = (group == 1 && t == 0 ? 4 : 1) + fabs(check_gauss(rand));
            bool never = seen > 55;
            test_add(findings, test_row(walk, walk, names[group], t ? "oat" : "rye",
                                        never ? (double)NAN : seen, never ? 0 : dwell, 55));
        }
    }
}

static void test_first_seen(void **state)
{
    (void)state;
    LfFindingSettings settings = test_settings(true, LF_MEASURE_FIRST_SEEN);
    g_autoptr(GRand) rand = g_rand_new_with_seed(41);
    g_autoptr(LfFindings) findings = lf_findings_new(&settings);
    test_two_groups(findings, rand, PEOPLE, 2);

    /* the same by hand, from the same random numbers */
    g_autoptr(GRand) again = g_rand_new_with_seed(41);
    LfStatTime times[PEOPLE], old[PEOPLE / 2];
    int groups[PEOPLE];
    for (int i = 0; i < PEOPLE; i++) {
        double seen = -(i % 2 ? 5.0 : 40.0) * log(1 - g_rand_double(again));
        check_gauss(again);
        g_rand_double(again);
        check_gauss(again);
        times[i] = (LfStatTime){fmin(seen, 55), seen <= 55};
        groups[i] = i % 2 == 0; /* "new" comes before "old" */
        if (i % 2 == 0)
            old[i / 2] = times[i];
    }
    g_autoptr(LfStatSurvival) curve = lf_stat_survival(old, PEOPLE / 2, 0.95, NULL);
    LfFinding median = test_find(findings, LF_FINDING_MEDIAN_TIME, "rye", "old");
    assert_int_equal(median.participants, PEOPLE / 2);
    assert_int_equal(median.n, PEOPLE / 2);
    assert_int_equal(median.noticed, curve->events);
    assert_true(median.noticed < median.n);
    check_near(median.value, curve->median, 0);
    check_near(median.low, curve->median_interval.low, 0);

    LfStatLogRank test;
    assert_true(lf_stat_log_rank(times, groups, PEOPLE, 2, NULL, NULL, &test, NULL));
    LfFinding rank = test_find(findings, LF_FINDING_LOG_RANK, "rye", "new");
    assert_string_equal(rank.against, "old");
    check_near(rank.value, test.chi_square, 1e-9);
    check_near(rank.p, test.p, 1e-12);
    double other = test_find(findings, LF_FINDING_LOG_RANK, "oat", "new").p;
    check_near(rank.p_holm, fmin(1, 2 * rank.p), 1e-12); /* the smaller one of two */
    assert_true(rank.p < other && rank.p_bh <= rank.p_holm);
    assert_true(test_find(findings, LF_FINDING_HAZARD_RATIO, "rye", "new").value > 1);
}

static void test_means(void **state)
{
    (void)state;
    LfFindingSettings settings = test_settings(true, LF_MEASURE_DWELL);
    g_autoptr(GRand) rand = g_rand_new_with_seed(42);
    g_autoptr(LfFindings) findings = lf_findings_new(&settings);
    test_two_groups(findings, rand, PEOPLE, 2);
    LfFinding new = test_find(findings, LF_FINDING_MEAN, "rye", "new"),
              old = test_find(findings, LF_FINDING_MEAN, "rye", "old"),
              all = test_find(findings, LF_FINDING_MEAN, "rye", NULL),
              difference = test_find(findings, LF_FINDING_MEAN_DIFFERENCE, "rye", "new");
    check_near(all.value, (new.value + old.value) / 2, 1e-12);
    check_near(difference.value, new.value - old.value, 1e-12);
    assert_true(new.low < new.value &&new.value < new.high &&new.resamples == 500);
    assert_true(difference.low > 0 && difference.high > difference.value);
    assert_true(difference.p < 0.01 && difference.p_holm >= difference.p);
    assert_true(test_find(findings, LF_FINDING_HEDGES_G, "rye", "new").value > 1);
    assert_true(test_find(findings, LF_FINDING_CLIFFS_DELTA, "rye", "new").value > 0.5);
    assert_true(test_find(findings, LF_FINDING_MEAN_DIFFERENCE, "oat", "new").p > 0.05);
}

static void test_three_groups(void **state)
{
    (void)state;
    LfFindingSettings settings = test_settings(true, LF_MEASURE_DWELL);
    g_autoptr(GRand) rand = g_rand_new_with_seed(43);
    g_autoptr(LfFindings) findings = lf_findings_new(&settings);
    test_two_groups(findings, rand, PEOPLE, 3);
    LfFinding eta = test_find(findings, LF_FINDING_ETA_SQUARED, "rye", NULL);
    assert_true(eta.value > 0.3 && eta.p < 0.01 && eta.participants == PEOPLE);
    assert_null(eta.against);
    gsize n;
    lf_findings_compute(findings, 1, &n);
    /* two targets: mean and median of all and three groups, one comparison */
    assert_int_equal(n, 2 * (2 * 4 + 1));
}

/* --- what is blank ---------------------------------------------------------------------------- */

static void test_reasons(void **state)
{
    (void)state;
    LfFindingSettings settings = test_settings(true, LF_MEASURE_DWELL);
    g_autoptr(LfFindings) nobody = lf_findings_new(&settings);
    test_add(nobody, test_row("w1", "p1", NULL, "rye", 1, 1, 60));
    test_add(nobody, test_row("w2", "p2", NULL, "rye", 1, 2, 60));
    LfFinding finding = test_find(nobody, LF_FINDING_MEAN_DIFFERENCE, "rye", NULL);
    assert_string_equal(finding.reason, "no walk has a group");
    assert_true(isnan(finding.value) && isnan(finding.p) && isnan(finding.p_holm));

    test_add(nobody, test_row("w3", "p3", "old", "rye", 1, 3, 60));
    assert_string_equal(test_find(nobody, LF_FINDING_MEAN_DIFFERENCE, "rye", NULL).reason,
                        "one group only");
    LfFinding one = test_find(nobody, LF_FINDING_MEAN, "rye", "old");
    assert_string_equal(one.reason, "one value has no spread");
    check_near(one.value, 3, 0);
    assert_true(isnan(one.low) && isnan(one.high) && one.resamples == 0);

    test_add(nobody, test_row("w4", "p4", "new", "rye", 1, 3, 60));
    test_add(nobody, test_row("w5", "p5", "new", "rye", 1, 5, 60));
    finding = test_find(nobody, LF_FINDING_MEAN_DIFFERENCE, "rye", "new");
    assert_string_equal(finding.reason, "a group with one value");
    check_near(finding.value, 1, 0);
    assert_true(isnan(finding.low) && isnan(finding.p) && isnan(finding.p_bh));

    /* p4 walks for the other group too */
    test_add(nobody, test_row("w6", "p4", "old", "rye", 1, 8, 60));
    finding = test_find(nobody, LF_FINDING_MEAN_DIFFERENCE, "rye", "new");
    assert_string_equal(finding.reason,
                        "somebody is in several groups: these tests need different people");
    assert_int_equal(test_find(nobody, LF_FINDING_MEAN, "rye", NULL).participants, 5);
    assert_int_equal(test_find(nobody, LF_FINDING_MEAN, "rye", "old").participants, 2);
}

static void test_unknown(void **state)
{
    (void)state;
    for (int m = 0; m < LF_MEASURES; m++) {
        LfFindingSettings settings = test_settings(true, (LfMeasure)m);
        g_autoptr(LfFindings) findings = lf_findings_new(&settings);
        static const LfBlank blanks[] = {LF_BLANK_UNKNOWN, LF_BLANK_NO_SPAN, LF_BLANK_NO_FIXATED};
        for (int i = 0; i < 6; i++) {
            g_autofree char *walk = g_strdup_printf("w%d", i);
            LfMeasureRow row = test_row(walk, walk, i % 2 ? "old" : "new", "rye", NAN, NAN, 0);
            row.blank = blanks[i % 3];
            row.values[LF_MEASURE_NOTICED].value = NAN;
            test_add(findings, row);
        }
        gsize n;
        const LfFinding *all = lf_findings_compute(findings, 2, &n);
        assert_true(n > 0);
        for (gsize i = 0; i < n; i++) {
            assert_int_equal(all[i].n, 0);
            assert_true(isnan(all[i].value) && isnan(all[i].low) && isnan(all[i].p));
            assert_true(*all[i].reason != '\0');
        }
        assert_int_equal(all[0].participants, 6);
        assert_string_equal(all[0].reason, "no values");
    }
}

static void test_not_reached(void **state)
{
    (void)state;
    LfFindingSettings settings = test_settings(false, LF_MEASURE_FIRST_SEEN);
    g_autoptr(LfFindings) findings = lf_findings_new(&settings);
    for (int i = 0; i < 5; i++) {
        g_autofree char *walk = g_strdup_printf("w%d", i);
        test_add(findings, test_row(walk, NULL, NULL, "rye", i < 2 ? 3.0 + i : (double)NAN, 1, 60));
    }
    LfFinding median = test_find(findings, LF_FINDING_MEDIAN_TIME, "rye", NULL);
    assert_true(isnan(median.value) && median.n == 5 && median.noticed == 2);
    assert_string_equal(median.reason, "fewer than half looked while they were observed");
}

/* --- the same numbers whatever else is asked -------------------------------------------------- */

static void test_same(void **state)
{
    (void)state;
    LfFindingSettings alone = test_settings(true, LF_MEASURE_DWELL), more = alone;
    more.measures[LF_MEASURE_NOTICED] = more.measures[LF_MEASURE_FIRST_FIXATION] = true;
    g_autoptr(GRand) rand = g_rand_new_with_seed(44);
    g_autoptr(GRand) again = g_rand_new_with_seed(44);
    g_autoptr(LfFindings) a = lf_findings_new(&alone);
    g_autoptr(LfFindings) b = lf_findings_new(&more);
    test_two_groups(a, rand, 40, 2);
    test_two_groups(b, again, 40, 2);
    gsize n_a, n_b, k = 0;
    const LfFinding *of_a = lf_findings_compute(a, 1, &n_a);
    const LfFinding *of_b = lf_findings_compute(b, 4, &n_b);
    assert_true(n_b > n_a);
    for (gsize i = 0; i < n_b; i++) {
        if (of_b[i].measure != LF_MEASURE_DWELL)
            continue;
        assert_true(k < n_a);
        assert_int_equal(of_a[k].kind, of_b[i].kind);
        assert_memory_equal(&of_a[k].value, &of_b[i].value, sizeof(double));
        assert_memory_equal(&of_a[k].low, &of_b[i].low, sizeof(double));
        assert_memory_equal(&of_a[k].high, &of_b[i].high, sizeof(double));
        assert_memory_equal(&of_a[k].p, &of_b[i].p, sizeof(double));
        k++;
    }
    assert_int_equal(k, n_a);
    /* another seed, other draws */
    double low = test_find(a, LF_FINDING_MEAN, "rye", "new").low;
    alone.seed = 2;
    g_autoptr(GRand) third = g_rand_new_with_seed(44);
    g_autoptr(LfFindings) c = lf_findings_new(&alone);
    test_two_groups(c, third, 40, 2);
    assert_true(test_find(c, LF_FINDING_MEAN, "rye", "new").low != low);
}

static void test_settings_refused(void **state)
{
    (void)state;
    LfFindingSettings settings = lf_finding_settings_default();
    assert_true(lf_finding_settings_check(&settings, NULL));
    settings.resamples = 10;
    g_autoptr(GError) few = NULL;
    assert_false(lf_finding_settings_check(&settings, &few));
    assert_string_equal(few->message, "10 resamples are not between 100 and 10000000");
    settings = lf_finding_settings_default();
    memset(settings.measures, 0, sizeof settings.measures);
    g_autoptr(GError) none = NULL;
    assert_false(lf_finding_settings_check(&settings, &none));
    assert_string_equal(none->message, "no measure is asked for");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_walks),        cmocka_unit_test(test_nameless),
        cmocka_unit_test(test_first_seen),   cmocka_unit_test(test_means),
        cmocka_unit_test(test_three_groups), cmocka_unit_test(test_reasons),
        cmocka_unit_test(test_unknown),      cmocka_unit_test(test_not_reached),
        cmocka_unit_test(test_same),         cmocka_unit_test(test_settings_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
