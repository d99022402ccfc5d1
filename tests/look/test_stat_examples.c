/* Published worked examples, the source beside each; and what is refused, with which words. */
#include "geometry/check.h"

#include <string.h>

#include <lookfall/statistics.h>

/* --- shares ----------------------------------------------------------------------------------- */

/* R. G. Newcombe, Statistics in Medicine 17, 1998, 857-872, table I, method 3 (score). Values from
 * memory. */
static void test_stat_wilson(void **state)
{
    (void)state;
    static const struct {
        gsize yes, n;
        double low, high;
    } cases[] = {{81, 263, 0.2553, 0.3662},
                 {15, 148, 0.0624, 0.1605},
                 {0, 20, 0, 0.1611},
                 {1, 29, 0.0061, 0.1718}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfStatInterval ours;
        assert_true(lf_stat_wilson(cases[i].yes, cases[i].n, 0.95, &ours, NULL));
        check_near(ours.low, cases[i].low, 0.00005);
        check_near(ours.high, cases[i].high, 0.00005);
        /* the other way around: the mirrored interval */
        LfStatInterval mirrored;
        assert_true(lf_stat_wilson(cases[i].n - cases[i].yes, cases[i].n, 0.95, &mirrored, NULL));
        check_near(mirrored.low, 1 - ours.high, 1e-15);
        check_near(mirrored.high, 1 - ours.low, 1e-15);
    }
    LfStatInterval all;
    assert_true(lf_stat_wilson(7, 7, 0.95, &all, NULL));
    assert_true(all.high == 1 && all.low < 1);
}

/* R. G. Newcombe, Statistics in Medicine 17, 1998, 873-890, table II, method 10. Values from
 * memory. */
static void test_stat_share_difference(void **state)
{
    (void)state;
    static const struct {
        gsize yes_a, n_a, yes_b, n_b;
        double low, high;
    } cases[] = {{56, 70, 48, 80, 0.0524, 0.3339}, {9, 10, 3, 10, 0.1705, 0.8090},
                 {6, 7, 2, 7, 0.0582, 0.8062},     {5, 56, 0, 29, -0.0381, 0.1926},
                 {0, 10, 0, 20, -0.1611, 0.2775},  {0, 10, 0, 10, -0.2775, 0.2775},
                 {10, 10, 0, 20, 0.6791, 1.0000}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfStatInterval ours;
        double difference;
        assert_true(lf_stat_share_difference(cases[i].yes_a, cases[i].n_a, cases[i].yes_b,
                                             cases[i].n_b, 0.95, &difference, &ours, NULL));
        check_near(ours.low, cases[i].low, 0.00005);
        check_near(ours.high, cases[i].high, 0.00005);
    }
}

/* --- times ------------------------------------------------------------------------------------ */

/* Weeks of remission in acute leukaemia, 6-mercaptopurine and placebo (E. J. Freireich et al.,
 * Blood 21, 1963, 699-716), as many handbooks print them, among them E. A. Gehan, Biometrika 52,
 * 1965, and J. P. Klein, M. L. Moeschberger, "Survival Analysis", table 1.1. Data and results from
 * memory. Negative: censored. */
static const int test_remission[2][21] = {
    {6, 6, 6, -6, 7, -9, 10, -10, -11, 13, 16, -17, -19, -20, 22, 23, -25, -32, -32, -34, -35},
    {1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23}};

static void test_remission_times(LfStatTime times[42], int groups[42])
{
    for (int i = 0; i < 42; i++) {
        int t = test_remission[i / 21][i % 21];
        times[i] = (LfStatTime){abs(t), t > 0};
        groups[i] = i / 21;
    }
}

static void test_stat_survival(void **state)
{
    (void)state;
    static const struct {
        double t;
        gsize at_risk, events;
        double survival, error; /* Klein and Moeschberger, tables 4.1A and 4.1B */
    } steps[] = {{6, 21, 3, 0.857, 0.0764},  {7, 17, 1, 0.807, 0.0869},  {10, 15, 1, 0.753, 0.0963},
                 {13, 12, 1, 0.690, 0.1068}, {16, 11, 1, 0.627, 0.1141}, {22, 7, 1, 0.538, 0.1282},
                 {23, 6, 1, 0.448, 0.1346}};
    LfStatTime times[42];
    int groups[42];
    test_remission_times(times, groups);
    g_autoptr(LfStatSurvival) treated = lf_stat_survival(times, 21, 0.95, NULL);
    g_autoptr(LfStatSurvival) placebo = lf_stat_survival(times + 21, 21, 0.95, NULL);
    assert_int_equal(treated->events, 9);
    gsize k = 0;
    for (gsize i = 0; i < treated->n_steps; i++) {
        const LfStatSurvivalStep *step = &treated->steps[i];
        if (step->events == 0)
            continue;
        assert_true(k < G_N_ELEMENTS(steps));
        check_near(step->t, steps[k].t, 0);
        assert_int_equal(step->at_risk, steps[k].at_risk);
        assert_int_equal(step->events, steps[k].events);
        check_near(step->survival, steps[k].survival, 0.0005);
        check_near(step->survival * sqrt(step->variance_log), steps[k].error, 0.00005);
        k++;
    }
    assert_int_equal(k, G_N_ELEMENTS(steps));
    check_near(treated->median, 23, 0);
    check_near(placebo->median, 8, 0);
    /* fewer than half are free of the event with any certainty at the end: no upper end */
    assert_true(isnan(treated->median_interval.high));
    check_near(treated->median_interval.low, 13, 0);
    check_near(placebo->median_interval.low, 4, 0);
    check_near(placebo->median_interval.high, 11, 0);
}

/* Chi-square 16.79, expected 19.25 and 10.75: D. G. Kleinbaum, M. Klein, "Survival Analysis: A
 * Self-Learning Text", chapter 2. From memory. */
static void test_stat_log_rank(void **state)
{
    (void)state;
    LfStatTime times[42];
    int groups[42];
    double observed[2], expected[2], ratio;
    LfStatLogRank ours;
    LfStatInterval interval;
    test_remission_times(times, groups);
    assert_true(lf_stat_log_rank(times, groups, 42, 2, observed, expected, &ours, NULL));
    check_near(ours.chi_square, 16.79, 0.005);
    assert_int_equal(ours.df, 1);
    assert_true(ours.p > 0.00003 && ours.p < 0.00006);
    check_near(observed[0], 9, 0);
    check_near(observed[1], 21, 0);
    check_near(expected[0], 19.25, 0.005);
    check_near(expected[1], 10.75, 0.005);
    assert_true(lf_stat_hazard_ratio(times, groups, 42, 0.95, &ratio, &interval, NULL));
    /* (O - E)^2 / V is the chi-square, and so V = 10.25^2 / 16.79 */
    check_near(log(ratio), (9 - 19.25) / (10.25 * 10.25 / 16.79), 0.005);
    assert_true(interval.low < ratio && ratio < interval.high && interval.high < 1);
}

/* --- permutation, bootstrap ------------------------------------------------------------------- */

/* Days that 16 mice lived, treated or not: B. Efron, R. J. Tibshirani, "An Introduction to the
 * Bootstrap", 1993, table 2.1, from memory. */
static const double test_mice[] = {94,  197, 16, 38, 99, 141, 23, 52,
                                   104, 146, 10, 51, 30, 40,  27, 46};
static const int test_mice_groups[] = {0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1};

static void test_stat_permutation(void **state)
{
    (void)state;
    LfStatPermutation mice;
    assert_true(lf_stat_permutation(test_mice, test_mice_groups, 16, 2, 100, 1, &mice, NULL));
    check_near(mice.statistic, 30.63, 0.005);
    assert_true(mice.exact);
    assert_int_equal(mice.deals, 11440); /* 16 over 7 */
    /* one-sided 0.132 by 1,000 drawn deals (there, figure 15.1): half of ours, but for chance and a
     * skewed distribution */
    check_near(mice.p / 2, 0.132, 0.02);

    /* The lady who tasted all 8 cups right (R. A. Fisher, "The Design of Experiments", 1935):
     * 1 deal of 70, and the opposite one. */
    static const double right[] = {1, 1, 1, 1, 0, 0, 0, 0};
    static const int first[] = {0, 0, 0, 0, 1, 1, 1, 1};
    LfStatPermutation tea;
    assert_true(lf_stat_permutation(right, first, 8, 2, 100, 1, &tea, NULL));
    check_near(tea.p, 2.0 / 70, 1e-12);
}

/* Drawn deals against all of them: 20 and 2 members are exact, and every p of them is one of
 * 231 / 231 steps; 40 values in two halves are drawn, with the error they state. */
static void test_stat_permutation_drawn(void **state)
{
    (void)state;
    enum { N = 40 };
    double values[N], copy[N];
    int groups[N];
    g_autoptr(GRand) rand = g_rand_new_with_seed(7);
    for (int i = 0; i < N; i++) {
        groups[i] = i % 2;
        values[i] = check_gauss(rand) + 0.5 * groups[i];
    }
    memcpy(copy, values, sizeof values);
    LfStatPermutation many, other, again;
    assert_true(lf_stat_permutation(values, groups, N, 2, 400000, 1, &many, NULL));
    assert_true(lf_stat_permutation(values, groups, N, 2, 10000, 2, &other, NULL));
    assert_true(lf_stat_permutation(values, groups, N, 2, 10000, 2, &again, NULL));
    assert_false(many.exact);
    assert_int_equal(other.deals, 10000);
    check_near(other.p, many.p, 4 * hypot(other.p_error, many.p_error));
    assert_memory_equal(&other, &again, sizeof other);
    assert_memory_equal(values, copy, sizeof values);
    /* Three groups, of which one is empty of effect: eta squared, the same p for F */
    for (int i = 0; i < N; i++)
        groups[i] = i % 3;
    double eta;
    assert_true(lf_stat_permutation(values, groups, N, 3, 1000, 3, &many, NULL));
    assert_true(lf_stat_eta_squared(values, groups, N, 3, &eta, NULL));
    check_near(many.statistic, eta, 1e-12);
}

/* Efron and Tibshirani 1993, table 2.1 and 2.2: standard error of the mean of the treated
 * mice 25.24 by the formula with n - 1, so 25.24 sqrt(6 / 7) = 23.36 by an endless bootstrap;
 * median 94, about 37 to 38 (table 2.2, from memory). */
static void test_stat_bootstrap(void **state)
{
    (void)state;
    LfStatBootstrap mean, median;
    assert_true(
        lf_stat_bootstrap(test_mice, 7, LF_STAT_MEAN, LF_STAT_BCA, 0.95, 20000, 1, &mean, NULL));
    assert_true(lf_stat_bootstrap(test_mice, 7, LF_STAT_MEDIAN, LF_STAT_PERCENTILE, 0.95, 20000, 1,
                                  &median, NULL));
    check_near(mean.estimate, 86.86, 0.005);
    check_near(mean.standard_error, 23.36, 0.6);
    check_near(median.estimate, 94, 0);
    check_near(median.standard_error, 37.4, 1.5);
    assert_true(mean.interval.low < mean.estimate && mean.estimate < mean.interval.high);
    /* medians are values or halfway between two */
    check_near(fmod(2 * median.interval.low, 1), 0, 0);
    LfStatBootstrap again, other;
    assert_true(
        lf_stat_bootstrap(test_mice, 7, LF_STAT_MEAN, LF_STAT_BCA, 0.95, 20000, 1, &again, NULL));
    assert_true(
        lf_stat_bootstrap(test_mice, 7, LF_STAT_MEAN, LF_STAT_BCA, 0.95, 20000, 2, &other, NULL));
    assert_memory_equal(&mean, &again, sizeof mean);
    assert_true(memcmp(&mean, &other, sizeof mean) != 0);
}

/* --- many tests ------------------------------------------------------------------------------- */

/* Y. Benjamini, Y. Hochberg, J. Royal Statistical Society B 57, 1995, section 4.1: 15 p from a
 * trial of two drugs; at 0.05 their procedure has 4 findings and Holm's, as Bonferroni's, 3. From
 * memory.
 */
static void test_stat_adjust(void **state)
{
    (void)state;
    static const double p[15] = {0.0459, 0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298,
                                 0.0344, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0000};
    double holm[15], bh[15];
    int n_holm = 0, n_bh = 0;
    assert_true(lf_stat_holm(p, 15, holm, NULL));
    assert_true(lf_stat_benjamini_hochberg(p, 15, bh, NULL));
    for (int i = 0; i < 15; i++) {
        n_holm += holm[i] <= 0.05;
        n_bh += bh[i] <= 0.05;
        assert_true(bh[i] >= p[i] && holm[i] >= bh[i] && holm[i] <= 1);
    }
    assert_int_equal(n_holm, 3);
    assert_int_equal(n_bh, 4);
    check_near(holm[3], 13 * 0.0019, 1e-15);
    check_near(bh[4], 15 * 0.0095 / 4, 1e-15);
    check_near(bh[0], 15 * 0.0459 / 9, 1e-15);
    /* no tests at all is no failure */
    assert_true(lf_stat_holm(p, 0, holm, NULL));
}

/* --- agreement -------------------------------------------------------------------------------- */

/* J. L. Fleiss, "Statistical Methods for Rates and Proportions", 2nd ed., 1981, table 13.1: two
 * raters, 100 subjects; kappa 0.676, standard error 0.087 (equation 13.15), there from rounded
 * numbers: test_stat_kappa_error is the exact check. From memory. */
static void test_stat_kappa(void **state)
{
    (void)state;
    static const int table[3][3] = {{75, 1, 4}, {5, 4, 1}, {0, 0, 10}};
    int a[100], b[100], n = 0;
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            for (int k = 0; k < table[i][j]; k++, n++) {
                a[n] = i;
                b[n] = j;
            }
    assert_int_equal(n, 100);
    LfStatKappa ours, swapped, more;
    assert_true(lf_stat_kappa(a, b, 100, 3, 0.95, &ours, NULL));
    check_near(ours.observed, 0.89, 1e-12);
    check_near(ours.chance, 0.66, 1e-12);
    check_near(ours.kappa, 0.676, 0.0005);
    check_near(ours.standard_error, 0.087, 0.001);
    check_near(ours.interval.high - ours.interval.low, 2 * 1.959963984540054 * ours.standard_error,
               1e-12);
    assert_true(lf_stat_kappa(b, a, 100, 3, 0.95, &swapped, NULL));
    check_near(swapped.kappa, ours.kappa, 1e-12);
    check_near(swapped.standard_error, ours.standard_error, 1e-12);
    /* categories that nobody used change nothing */
    assert_true(lf_stat_kappa(a, b, 100, 7, 0.95, &more, NULL));
    check_near(more.standard_error, ours.standard_error, 1e-12);
    assert_true(lf_stat_kappa(a, a, 100, 3, 0.95, &ours, NULL));
    check_near(ours.kappa, 1, 1e-12);
    check_near(ours.standard_error, 0, 1e-9);
}

static double test_kappa_of(const double p[9])
{
    double row[3] = {0}, col[3] = {0}, observed = 0, chance = 0;
    for (int i = 0; i < 9; i++) {
        row[i / 3] += p[i];
        col[i % 3] += p[i];
        observed += i / 3 == i % 3 ? p[i] : 0;
    }
    for (int i = 0; i < 3; i++)
        chance += row[i] * col[i];
    return (observed - chance) / (1 - chance);
}

/* The standard error by the delta method with numerical derivatives: kappa is a function of shares
 * with the multinomial covariance (p_i [i = j] - p_i p_j) / n. */
static void test_stat_kappa_error(void **state)
{
    (void)state;
    enum { N = 250 };
    g_autoptr(GRand) rand = g_rand_new_with_seed(8);
    for (int round = 0; round < 20; round++) {
        int a[N], b[N];
        double p[9] = {0}, slope[9], mean = 0, squares = 0;
        for (int i = 0; i < N; i++) {
            a[i] = g_rand_int_range(rand, 0, 3);
            b[i] = g_rand_double(rand) < 0.6 ? a[i] : g_rand_int_range(rand, 0, 3);
            p[3 * a[i] + b[i]] += 1.0 / N;
        }
        for (int i = 0; i < 9; i++) {
            double up[9], down[9];
            memcpy(up, p, sizeof p);
            memcpy(down, p, sizeof p);
            up[i] += 1e-5;
            down[i] -= 1e-5;
            slope[i] = (test_kappa_of(up) - test_kappa_of(down)) / 2e-5;
            mean += p[i] * slope[i];
            squares += p[i] * slope[i] * slope[i];
        }
        LfStatKappa ours;
        assert_true(lf_stat_kappa(a, b, N, 3, 0.95, &ours, NULL));
        check_near(ours.kappa, test_kappa_of(p), 1e-12);
        check_near(ours.standard_error, sqrt((squares - mean * mean) / N), 1e-8);
    }
}

/* --- effect sizes ----------------------------------------------------------------------------- */

static void test_stat_effects(void **state)
{
    (void)state;
    static const double a[] = {3, 4, 5}, b[] = {1, 2, 3};
    double d, g, delta;
    assert_true(lf_stat_cohens_d(a, 3, b, 3, &d, &g, NULL));
    check_near(d, 2, 1e-15); /* means 2 apart, both standard deviations 1 */
    /* Hedges 1981, table 1: c(4) = 0.7979, the square root of 2 / pi; from memory */
    check_near(g, 2 * 0.7979, 0.0001);
    assert_true(lf_stat_cohens_d(b, 3, a, 3, &d, NULL, NULL));
    check_near(d, -2, 1e-15);
    assert_true(lf_stat_cliffs_delta(a, 3, b, 3, &delta, NULL));
    check_near(delta, 8.0 / 9, 1e-15); /* 8 pairs above, one tie */
    assert_true(lf_stat_cliffs_delta(b, 3, a, 3, &delta, NULL));
    check_near(delta, -8.0 / 9, 1e-15);
}

/* --- what is refused -------------------------------------------------------------------------- */

#define check_refused(call, code, words)                                                           \
    do {                                                                                           \
        g_autoptr(GError) refused = NULL;                                                          \
        GError **error = &refused;                                                                 \
        assert_false(call);                                                                        \
        assert_true(g_error_matches(refused, LF_ERROR, code));                                     \
        assert_string_equal(refused->message, words);                                              \
    } while (0)

static void test_stat_refuse_values(void **state)
{
    (void)state;
    static const double same[] = {0.1, 0.1, 0.1, 0.1, 0.1, 0.1}, bad[] = {1, NAN, 2, 3, 4, 5},
                        good[] = {1, 2, 3, 4, 5, 6};
    static const int two[] = {0, 0, 1, 1, 1, 1}, lonely[] = {0, 1, 1, 1, 1, 1},
                     empty[] = {0, 0, 0, 2, 2, 2}, wild[] = {0, 0, 1, 1, 2, 1};
    double out = 7, out2 = 7;
    LfStatBootstrap boot;
    LfStatPermutation perm;
    check_refused(lf_stat_mean(good, 0, &out, error), LF_ERROR_INPUT, "no values");
    check_refused(lf_stat_median(bad, 6, &out, error), LF_ERROR_USAGE, "value 2 is not a number");
    check_refused(lf_stat_bootstrap(good, 1, LF_STAT_MEAN, LF_STAT_BCA, 0.95, 100, 1, &boot, error),
                  LF_ERROR_INPUT, "one value has no spread");
    check_refused(lf_stat_bootstrap(same, 6, LF_STAT_MEAN, LF_STAT_BCA, 0.95, 100, 1, &boot, error),
                  LF_ERROR_INPUT, "all values are the same");
    check_refused(lf_stat_bootstrap(good, 6, LF_STAT_MEAN, LF_STAT_BCA, 95, 100, 1, &boot, error),
                  LF_ERROR_USAGE, "a level of 95 is not between 0 and 1");
    check_refused(lf_stat_bootstrap(good, 6, LF_STAT_MEAN, LF_STAT_BCA, 0.95, 99, 1, &boot, error),
                  LF_ERROR_USAGE, "99 resamples are not between 100 and 10000000");
    check_refused(lf_stat_bootstrap(good, 5, LF_STAT_MEAN, LF_STAT_BCA, 0.95, 100, 1, &boot, error),
                  LF_ERROR_INPUT, "too few values for an interval of this level");
    assert_true(lf_stat_bootstrap(good, 6, LF_STAT_MEAN, LF_STAT_BCA, 0.95, 100, 1, &boot, NULL));
    assert_true(lf_stat_bootstrap(good, 5, LF_STAT_MEAN, LF_STAT_BCA, 0.9375, 100, 1, &boot, NULL));
    check_refused(
        lf_stat_bootstrap_difference(good, 6, good, 5, LF_STAT_MEAN, 0.95, 100, 1, &boot, error),
        LF_ERROR_INPUT, "too few values for an interval of this level");
    check_refused(lf_stat_permutation(same, two, 6, 2, 100, 1, &perm, error), LF_ERROR_INPUT,
                  "all values are the same");
    check_refused(lf_stat_permutation(good, lonely, 6, 2, 100, 1, &perm, error), LF_ERROR_INPUT,
                  "a group with one value");
    check_refused(lf_stat_permutation(good, empty, 6, 3, 100, 1, &perm, error), LF_ERROR_INPUT,
                  "a group with no value");
    check_refused(lf_stat_permutation(good, two, 6, 1, 100, 1, &perm, error), LF_ERROR_INPUT,
                  "fewer than two groups");
    check_refused(lf_stat_permutation(good, two, 6, 0, 100, 1, &perm, error), LF_ERROR_INPUT,
                  "fewer than two groups");
    check_refused(lf_stat_permutation(good, wild, 6, 2, 100, 1, &perm, error), LF_ERROR_USAGE,
                  "group 2 of value 5 is none of 0 to 1");
    check_refused(lf_stat_cohens_d(good, 1, good, 6, &out, &out2, error), LF_ERROR_INPUT,
                  "a group with one value");
    check_refused(lf_stat_cohens_d(same, 2, same, 3, &out, &out2, error), LF_ERROR_INPUT,
                  "no spread within the groups");
    check_refused(lf_stat_cliffs_delta(good, 0, good, 6, &out, error), LF_ERROR_INPUT, "no values");
    check_refused(lf_stat_eta_squared(same, two, 6, 2, &out, error), LF_ERROR_INPUT,
                  "all values are the same");
    assert_true(out == 7 && out2 == 7);
}

static void test_stat_refuse_counts(void **state)
{
    (void)state;
    static const double p[] = {0.1, 1.1}, negative[] = {-0.1, 0.5};
    static const int ones[] = {1, 1, 1}, mixed[] = {0, 1, 1};
    double out = 7, adjusted[2] = {7, 7};
    LfStatInterval interval;
    LfStatKappa kappa;
    check_refused(lf_stat_wilson(0, 0, 0.95, &interval, error), LF_ERROR_INPUT, "no values");
    check_refused(lf_stat_wilson(3, 2, 0.95, &interval, error), LF_ERROR_USAGE,
                  "3 of 2 is no share");
    check_refused(lf_stat_odds_ratio(2, 2, 1, 3, 0.95, &out, &interval, error), LF_ERROR_INPUT,
                  "nobody or everybody in a group: odds of 0 or without end");
    check_refused(lf_stat_holm(p, 2, adjusted, error), LF_ERROR_USAGE,
                  "p number 2, 1.1, is not between 0 and 1");
    check_refused(lf_stat_benjamini_hochberg(negative, 2, adjusted, error), LF_ERROR_USAGE,
                  "p number 1, -0.1, is not between 0 and 1");
    check_refused(lf_stat_kappa(ones, ones, 3, 2, 0.95, &kappa, error), LF_ERROR_INPUT,
                  "both put everything into one category");
    check_refused(lf_stat_kappa(ones, mixed, 3, 1, 0.95, &kappa, error), LF_ERROR_USAGE,
                  "category of thing 1 is none of 0 to 0");
    check_refused(lf_stat_kappa(ones, mixed, 0, 2, 0.95, &kappa, error), LF_ERROR_INPUT,
                  "no values");
    assert_true(out == 7 && adjusted[0] == 7);
}

static void test_stat_refuse_times(void **state)
{
    (void)state;
    static const LfStatTime bad[] = {{1, true}, {-1, true}},
                            never[] = {{1, false}, {2, false}, {3, false}, {4, false}},
                            apart[] = {{1, true}, {2, true}, {3, false}, {4, true}},
                            one[] = {{3, true}};
    static const int early_late[] = {0, 0, 1, 1}, lonely[] = {0, 1, 1, 1};
    LfStatLogRank ours;
    LfStatInterval interval;
    double ratio;
    check_refused(lf_stat_survival(bad, 2, 0.95, error) != NULL, LF_ERROR_USAGE,
                  "time 2, -1, is not 0 or more");
    check_refused(lf_stat_survival(bad, 0, 0.95, error) != NULL, LF_ERROR_INPUT, "no values");
    check_refused(lf_stat_log_rank(never, early_late, 4, 2, NULL, NULL, &ours, error),
                  LF_ERROR_INPUT, "no event in any group");
    check_refused(lf_stat_log_rank(apart, lonely, 4, 2, NULL, NULL, &ours, error), LF_ERROR_INPUT,
                  "a group with one value");
    /* one group censored at once, before the other has its only events */
    static const LfStatTime gone[] = {{1, false}, {1, false}, {3, true}, {4, true}};
    check_refused(lf_stat_log_rank(gone, early_late, 4, 2, NULL, NULL, &ours, error),
                  LF_ERROR_INPUT, "groups never at risk together");
    check_refused(lf_stat_hazard_ratio(gone, early_late, 4, 0.95, &ratio, &interval, error),
                  LF_ERROR_INPUT, "groups never at risk together");
    /* Nobody saw it, and everybody at the first chance: curves without a band */
    g_autoptr(LfStatSurvival) flat = lf_stat_survival(never, 4, 0.95, NULL);
    assert_true(isnan(flat->median) && isnan(flat->median_interval.low) && flat->events == 0);
    check_near(flat->steps[3].survival, 1, 0);
    g_autoptr(LfStatSurvival) single = lf_stat_survival(one, 1, 0.95, NULL);
    check_near(single->median, 3, 0);
    assert_true(isnan(single->median_interval.low) && isnan(single->median_interval.high));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_stat_wilson),        cmocka_unit_test(test_stat_share_difference),
        cmocka_unit_test(test_stat_survival),      cmocka_unit_test(test_stat_log_rank),
        cmocka_unit_test(test_stat_permutation),   cmocka_unit_test(test_stat_permutation_drawn),
        cmocka_unit_test(test_stat_bootstrap),     cmocka_unit_test(test_stat_adjust),
        cmocka_unit_test(test_stat_kappa),         cmocka_unit_test(test_stat_kappa_error),
        cmocka_unit_test(test_stat_effects),       cmocka_unit_test(test_stat_refuse_values),
        cmocka_unit_test(test_stat_refuse_counts), cmocka_unit_test(test_stat_refuse_times),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
