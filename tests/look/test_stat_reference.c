/* Our statistics against R: packages stats and survival (Debian's r-base-core, r-cran-survival), on
 * data with fixed seeds that hold ties, censoring and edge cases. Exit status 77, skipped, where
 * they are not installed. */
#include "geometry/check.h"

#include <glib/gstdio.h>
#include <string.h>
#include <sys/wait.h>

#include <lookfall/statistics.h>

#define SKIPPED 77
/* The largest relative difference from R. */
#define NEAR 1e-9

static GString *test_questions;
static double *test_answers;
static gsize test_n_answers, test_at;
static bool test_reference_missing;

/* --- talking to R ----------------------------------------------------------------------------- */

static void test_ask(const char *word)
{
    g_string_append_printf(test_questions, "%s%s", test_questions->len ? "\n" : "", word);
}

static void test_ask_number(double v)
{
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    g_string_append_printf(test_questions, " %s",
                           isnan(v) ? "NA" : g_ascii_dtostr(text, sizeof text, v));
}

/* Asks all questions at once: starting R takes longer than answering. */
static void test_answer(void)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *path = NULL, *out = NULL, *err = NULL;
    int status = 0, fd = g_file_open_tmp("lookfall-reference-XXXXXX", &path, &error);
    assert_true(fd >= 0);
    g_close(fd, NULL);
    g_string_append_c(test_questions, '\n');
    assert_true(g_file_set_contents(path, test_questions->str, -1, &error));
    char *argv[] = {"/bin/sh",
                    "-c",
                    "exec env R_DEFAULT_PACKAGES=stats Rscript --vanilla \"$1\" < \"$2\"",
                    "sh",
                    REFERENCE_SCRIPT,
                    path,
                    NULL};
    bool ran =
        g_spawn_sync(NULL, argv, NULL, G_SPAWN_DEFAULT, NULL, NULL, &out, &err, &status, &error);
    g_remove(path);
    g_string_truncate(test_questions, 0);
    assert_true(ran);
    int code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    if (code == SKIPPED || code == 126 || code == 127) {
        print_message("skipped: R with its package survival is not installed: %s\n", err);
        test_reference_missing = true;
        skip();
    }
    if (code != 0)
        fail_msg("the reference script failed: %s", err);
    g_auto(GStrv) words = g_strsplit_set(g_strstrip(out), " \n", -1);
    g_free(test_answers);
    test_n_answers = g_strv_length(words);
    test_answers = g_new(double, test_n_answers);
    test_at = 0;
    for (gsize i = 0; i < test_n_answers; i++) {
        char *end;
        test_answers[i] = g_ascii_strtod(words[i], &end);
        assert_true(end > words[i] && !*end);
    }
}

static double test_take(void)
{
    assert_true(test_at < test_n_answers);
    return test_answers[test_at++];
}

/* The next answer; NaN answers NaN. */
static void test_same(const char *what, double ours)
{
    double theirs = test_take();
    bool same = isnan(theirs) ? isnan(ours) : fabs(ours - theirs) <= NEAR * fmax(1, fabs(theirs));
    if (!same)
        fail_msg("%s: %.17g, R says %.17g", what, ours, theirs);
}

/* R has answered no more than was asked. */
static void test_end(void)
{
    assert_int_equal(test_at, test_n_answers);
}

/* --- data ------------------------------------------------------------------------------------- */

enum { MOST = 60 };

typedef struct {
    double values[MOST];
    LfStatTime times[MOST];
    int groups[MOST];
    int n, n_groups;
} TestData;

/* `coarse` rounds to whole numbers, so that there are ties. */
static TestData test_data(GRand *rand, int n, int n_groups, bool coarse)
{
    TestData data = {.n = n, .n_groups = n_groups};
    for (int i = 0; i < n; i++) {
        data.groups[i] = i < 2 * n_groups ? i % n_groups : g_rand_int_range(rand, 0, n_groups);
        double t = -8 * (1 + data.groups[i]) * log(1 - g_rand_double(rand));
        data.times[i] = (LfStatTime){coarse ? ceil(t) : t, g_rand_double(rand) < 0.7};
        double v = 5 * check_gauss(rand) + data.groups[i];
        data.values[i] = coarse ? round(v) : v;
    }
    data.times[0].event = true;
    return data;
}

/* --- tests ------------------------------------------------------------------------------------ */

static void test_shares(void **state)
{
    (void)state;
    static const struct {
        gsize yes_a, n_a, yes_b, n_b;
        double level;
    } cases[] = {{0, 1, 1, 1, 0.95},       {1, 2, 2, 2, 0.9},  {7, 20, 13, 25, 0.95},
                 {81, 263, 15, 148, 0.95}, {3, 9, 8, 11, 0.5}, {1, 1000, 998, 1000, 0.999}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        double numbers[] = {(double)cases[i].yes_a, (double)cases[i].n_a, (double)cases[i].yes_b,
                            (double)cases[i].n_b};
        for (int side = 0; side < 2; side++) {
            test_ask("wilson");
            test_ask_number(numbers[2 * side]);
            test_ask_number(numbers[2 * side + 1]);
            test_ask_number(cases[i].level);
        }
        if (i < 2)
            continue;
        test_ask("odds");
        for (int k = 0; k < 4; k++)
            test_ask_number(numbers[k]);
        test_ask_number(cases[i].level);
    }
    test_answer();
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfStatInterval interval;
        double ratio;
        assert_true(lf_stat_wilson(cases[i].yes_a, cases[i].n_a, cases[i].level, &interval, NULL));
        test_same("Wilson, low", interval.low);
        test_same("Wilson, high", interval.high);
        assert_true(lf_stat_wilson(cases[i].yes_b, cases[i].n_b, cases[i].level, &interval, NULL));
        test_same("Wilson, low", interval.low);
        test_same("Wilson, high", interval.high);
        if (i < 2)
            continue;
        assert_true(lf_stat_odds_ratio(cases[i].yes_a, cases[i].n_a, cases[i].yes_b, cases[i].n_b,
                                       cases[i].level, &ratio, &interval, NULL));
        test_same("odds ratio", ratio);
        test_same("odds ratio, low", interval.low);
        test_same("odds ratio, high", interval.high);
    }
    test_end();
}

static void test_samples(void **state)
{
    (void)state;
    static const int sizes[] = {2, 3, 10, 59};
    g_autoptr(GRand) rand = g_rand_new_with_seed(1);
    TestData data[G_N_ELEMENTS(sizes)];
    for (gsize i = 0; i < G_N_ELEMENTS(sizes); i++) {
        data[i] = test_data(rand, sizes[i], 1, i % 2);
        test_ask("sample");
        for (int k = 0; k < data[i].n; k++)
            test_ask_number(data[i].values[k]);
    }
    test_answer();
    for (gsize i = 0; i < G_N_ELEMENTS(sizes); i++) {
        double mean, median;
        gsize n = (gsize)data[i].n;
        assert_true(lf_stat_mean(data[i].values, n, &mean, NULL));
        assert_true(lf_stat_median(data[i].values, n, &median, NULL));
        test_same("mean", mean);
        test_same("median", median);
    }
    test_end();
}

static void test_survival_same(const TestData *data, double level)
{
    g_autoptr(LfStatSurvival) ours = lf_stat_survival(data->times, (gsize)data->n, level, NULL);
    assert_non_null(ours);
    test_same("median", ours->median);
    test_same("median, low", ours->median_interval.low);
    test_same("median, high", ours->median_interval.high);
    test_same("steps", (double)ours->n_steps);
    for (gsize i = 0; i < ours->n_steps; i++) {
        const LfStatSurvivalStep *step = &ours->steps[i];
        test_same("t", step->t);
        test_same("at risk", (double)step->at_risk);
        test_same("events", (double)step->events);
        test_same("censored", (double)step->censored);
        test_same("survival", step->survival);
        test_same("Greenwood", step->variance_log);
        test_same("band, low", step->interval.low);
        test_same("band, high", step->interval.high);
    }
}

static void test_survival(void **state)
{
    (void)state;
    enum { ROUNDS = 20 };
    static TestData data[ROUNDS];
    static const double levels[] = {0.95, 0.9, 0.8};
    g_autoptr(GRand) rand = g_rand_new_with_seed(2);
    for (int i = 0; i < ROUNDS; i++) {
        data[i] = test_data(rand, 2 + i * 2 + i % 2, 1, i % 3 == 0);
        if (i < 6) /* nobody censored and an even number: the curve is level at one half */
            for (int k = 0; k < data[i].n; k++)
                data[i].times[k].event = true;
        test_ask("survival");
        test_ask_number(levels[i % 3]);
        for (int k = 0; k < data[i].n; k++)
            test_ask_number(data[i].times[k].t);
        for (int k = 0; k < data[i].n; k++)
            test_ask_number(data[i].times[k].event);
    }
    test_answer();
    for (int i = 0; i < ROUNDS; i++)
        test_survival_same(&data[i], levels[i % 3]);
    test_end();
}

static void test_log_rank_same(const TestData *data)
{
    double observed[8], expected[8], ratio;
    LfStatLogRank ours;
    LfStatInterval interval;
    assert_true(lf_stat_log_rank(data->times, data->groups, (gsize)data->n, data->n_groups,
                                 observed, expected, &ours, NULL));
    test_same("chi-square", ours.chi_square);
    test_same("df", ours.df);
    test_same("p", ours.p);
    for (int g = 0; g < data->n_groups; g++) {
        test_same("observed", observed[g]);
        test_same("expected", expected[g]);
    }
    double log_ratio = test_take(), variance = test_take();
    if (data->n_groups != 2)
        return;
    assert_true(lf_stat_hazard_ratio(data->times, data->groups, (gsize)data->n, 0.95, &ratio,
                                     &interval, NULL));
    check_near(log(ratio), log_ratio, NEAR);
    /* 1.959963984540054: the normal distribution's 97.5% point, from memory */
    check_near(log(interval.high), log_ratio + 1.959963984540054 / sqrt(variance), NEAR);
    check_near(log(interval.low), log_ratio - 1.959963984540054 / sqrt(variance), NEAR);
}

static void test_log_rank(void **state)
{
    (void)state;
    enum { ROUNDS = 20 };
    static TestData data[ROUNDS];
    g_autoptr(GRand) rand = g_rand_new_with_seed(3);
    for (int i = 0; i < ROUNDS; i++) {
        data[i] = test_data(rand, 20 + 2 * i, 2 + i % 4, i % 2);
        test_ask("logrank");
        for (int k = 0; k < data[i].n; k++)
            test_ask_number(data[i].times[k].t);
        for (int k = 0; k < data[i].n; k++)
            test_ask_number(data[i].times[k].event);
        for (int k = 0; k < data[i].n; k++)
            test_ask_number(data[i].groups[k]);
    }
    test_answer();
    for (int i = 0; i < ROUNDS; i++)
        test_log_rank_same(&data[i]);
    test_end();
}

static void test_adjust(void **state)
{
    (void)state;
    enum { ROUNDS = 10, N = 40 };
    static double p[ROUNDS][N];
    g_autoptr(GRand) rand = g_rand_new_with_seed(4);
    for (int i = 0; i < ROUNDS; i++) {
        test_ask("adjust");
        for (int k = 0; k < N; k++) {
            double u = g_rand_double(rand);
            p[i][k] = i % 2 ? round(100 * u * u * u) / 100 : u * u; /* ties, zeros */
            if (i > 5 && k % 7 == 0)
                p[i][k] = NAN;
            test_ask_number(p[i][k]);
        }
    }
    test_answer();
    for (int i = 0; i < ROUNDS; i++) {
        double adjusted[N];
        assert_true(lf_stat_holm(p[i], N, adjusted, NULL));
        for (int k = 0; k < N; k++)
            test_same("Holm", adjusted[k]);
        assert_true(lf_stat_benjamini_hochberg(p[i], N, p[i], NULL)); /* in place */
        for (int k = 0; k < N; k++)
            test_same("Benjamini-Hochberg", p[i][k]);
    }
    test_end();
}

static void test_effects(void **state)
{
    (void)state;
    enum { ROUNDS = 10 };
    static TestData data[ROUNDS];
    g_autoptr(GRand) rand = g_rand_new_with_seed(5);
    for (int i = 0; i < ROUNDS; i++) {
        data[i] = test_data(rand, 10 + 5 * i, 2 + i % 3, i % 2);
        test_ask("effect");
        test_ask_number(4);
        for (int k = 0; k < data[i].n; k++)
            test_ask_number(data[i].values[k]);
        test_ask("eta");
        for (int k = 0; k < data[i].n; k++)
            test_ask_number(data[i].values[k]);
        for (int k = 0; k < data[i].n; k++)
            test_ask_number(data[i].groups[k]);
    }
    test_answer();
    for (int i = 0; i < ROUNDS; i++) {
        double d, g, delta, eta;
        gsize n = (gsize)data[i].n;
        const double *values = data[i].values;
        assert_true(lf_stat_cohens_d(values, 4, values + 4, n - 4, &d, &g, NULL));
        assert_true(lf_stat_cliffs_delta(values, 4, values + 4, n - 4, &delta, NULL));
        assert_true(lf_stat_eta_squared(values, data[i].groups, n, data[i].n_groups, &eta, NULL));
        test_same("d", d);
        test_same("delta", delta);
        test_same("eta squared", eta);
        /* Hedges 1981: his approximation 1 - 3 / (4 df - 1) is within 0.007 from 2 df on */
        check_near(g / d, 1 - 3 / (4 * ((double)n - 2) - 1), 0.007);
        assert_true(fabs(g) < fabs(d));
    }
    test_end();
}

static void test_permutations(void **state)
{
    (void)state;
    static const gsize tables[][4] = {
        {0, 5, 4, 4}, {3, 20, 9, 25}, {7, 7, 2, 9}, {90, 100, 70, 99}};
    static const int sizes[][2] = {{2, 2}, {4, 7}, {6, 6}, {3, 12}};
    g_autoptr(GRand) rand = g_rand_new_with_seed(6);
    TestData two[2 * G_N_ELEMENTS(sizes)], three = test_data(rand, 7, 1, true);
    for (gsize i = 0; i < G_N_ELEMENTS(two); i++) {
        const int *size = sizes[i / 2];
        two[i] = test_data(rand, size[0] + size[1], 1, i % 2);
        test_ask("permutation");
        test_ask_number(size[0]);
        for (int k = 0; k < two[i].n; k++) {
            two[i].groups[k] = k >= size[0];
            test_ask_number(two[i].values[k]);
        }
    }
    test_ask("permutation3 2 3");
    for (int k = 0; k < three.n; k++) {
        three.groups[k] = (k >= 2) + (k >= 5);
        test_ask_number(three.values[k]);
    }
    for (gsize i = 0; i < G_N_ELEMENTS(tables); i++) {
        test_ask("tables");
        for (int k = 0; k < 4; k++)
            test_ask_number((double)tables[i][k]);
    }
    test_answer();
    for (gsize i = 0; i <= G_N_ELEMENTS(two); i++) {
        const TestData *data = i < G_N_ELEMENTS(two) ? &two[i] : &three;
        LfStatPermutation ours;
        assert_true(lf_stat_permutation(data->values, data->groups, (gsize)data->n,
                                        data == &three ? 3 : 2, 100, 1, &ours, NULL));
        assert_true(ours.exact);
        check_near(ours.p_error, 0, 0);
        test_same("p", ours.p);
        test_same("deals", (double)ours.deals);
    }
    for (gsize i = 0; i < G_N_ELEMENTS(tables); i++) {
        double values[256];
        int groups[256];
        gsize n_a = tables[i][1], n = n_a + tables[i][3];
        for (gsize k = 0; k < n; k++) {
            groups[k] = k >= n_a;
            values[k] = k < n_a ? k < tables[i][0] : k - n_a < tables[i][2];
        }
        LfStatPermutation ours;
        assert_true(lf_stat_permutation(values, groups, n, 2, 100, 1, &ours, NULL));
        assert_true(ours.exact);
        test_same("p of a table", ours.p);
    }
    test_end();
}

/* The true share `p` of a lot may be anything from low to up where ties lie at the point. */
static void test_bootstrap_share(const char *what, double low, double up, double p, double error)
{
    if (!(low <= p + error && up >= p - error))
        fail_msg("%s: %g to %g of the distribution lies below, expected %g within %g", what, low,
                 up, p, error);
}

/* R has the whole bootstrap distribution of 5 values (3,125 resamples). Ours are drawn from it, so
 * that the share of it below each end of the interval must be the nominal one, within 5 standard
 * errors of a drawn share. Those of BCa hang on a drawn bias too, which is allowed as much again.
 */
static void test_bootstraps(void **state)
{
    (void)state;
    enum { N = 5, RESAMPLES = 20000 };
    static const double level = 0.9;
    double values[N] = {1.2, 3.4, 0.3, 9.9, 2.2};
    LfStatBootstrap ours[4];
    for (int i = 0; i < 4; i++) {
        assert_true(lf_stat_bootstrap(values, N, i / 2 ? LF_STAT_MEDIAN : LF_STAT_MEAN,
                                      i % 2 ? LF_STAT_BCA : LF_STAT_PERCENTILE, level, RESAMPLES,
                                      20 + (uint32_t)i, &ours[i], NULL));
        test_ask("bootstrap");
        test_ask_number(i / 2);
        test_ask_number(ours[i].interval.low);
        test_ask_number(ours[i].interval.high);
        test_ask_number(level);
        for (int k = 0; k < N; k++)
            test_ask_number(values[k]);
    }
    test_answer();
    for (int i = 0; i < 4; i++) {
        double low[2] = {test_take(), test_take()}, up[2] = {test_take(), test_take()};
        double bca[2] = {test_take(), test_take()}, deviation = test_take();
        for (int side = 0; side < 2; side++) {
            double p = i % 2 ? bca[side] : side ? (1 + level) / 2 : (1 - level) / 2;
            double error = 5 * sqrt(p * (1 - p) / RESAMPLES) * (1 + i % 2);
            test_bootstrap_share(side ? "high" : "low", low[side], up[side], p, error);
        }
        /* a standard deviation from so many draws: 5 times 1 / sqrt(2 n), and for heavier tails */
        check_near(ours[i].standard_error / deviation, 1, 0.04);
    }
    test_end();
}

static void test_differences(void **state)
{
    (void)state;
    enum { N_A = 4, N = 7, RESAMPLES = 20000 };
    double values[N] = {1.2, 3.4, 0.3, 9.9, 2.2, 4.1, 0.9};
    LfStatBootstrap ours[2];
    for (int i = 0; i < 2; i++) {
        assert_true(lf_stat_bootstrap_difference(values, N_A, values + N_A, N - N_A,
                                                 i ? LF_STAT_MEDIAN : LF_STAT_MEAN, 0.7, RESAMPLES,
                                                 30 + (uint32_t)i, &ours[i], NULL));
        test_ask("difference");
        test_ask_number(i);
        test_ask_number(ours[i].interval.low);
        test_ask_number(ours[i].interval.high);
        test_ask_number(N_A);
        for (int k = 0; k < N; k++)
            test_ask_number(values[k]);
    }
    test_answer();
    for (int i = 0; i < 2; i++) {
        double low[2] = {test_take(), test_take()}, up[2] = {test_take(), test_take()};
        double deviation = test_take(), error = 5 * sqrt(0.15 * 0.85 / RESAMPLES);
        test_bootstrap_share("low", low[0], up[0], 0.15, error);
        test_bootstrap_share("high", low[1], up[1], 0.85, error);
        check_near(ours[i].standard_error / deviation, 1, 0.04);
    }
    test_end();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_shares),       cmocka_unit_test(test_samples),
        cmocka_unit_test(test_survival),     cmocka_unit_test(test_log_rank),
        cmocka_unit_test(test_adjust),       cmocka_unit_test(test_effects),
        cmocka_unit_test(test_permutations), cmocka_unit_test(test_bootstraps),
        cmocka_unit_test(test_differences),
    };
    test_questions = g_string_new(NULL);
    int status = cmocka_run_group_tests(tests, NULL, NULL);
    g_string_free(test_questions, TRUE);
    g_free(test_answers);
    return status == 0 && test_reference_missing ? SKIPPED : status;
}
