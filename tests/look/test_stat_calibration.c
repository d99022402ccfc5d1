/* Whether p and intervals keep their promise over many invented studies: p is uniform where there
 * is no effect (Kolmogorov and Smirnov's distance), a planted effect is found as often as theory
 * says, intervals hold the true value as often as they claim. Fixed seeds. */
#include "geometry/check.h"

#include <stdlib.h>

#include <lookfall/statistics.h>

/* What is right stays under this in 99.9 of 100 runs: the large-sample 0.1% point of the distance
 * is 1.95 / sqrt(n) (N. Smirnov, Annals of Mathematical Statistics 19, 1948, 279; from memory). */
#define FAR(n) (1.95 / sqrt(n))

static int test_compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Largest distance of the values' distribution from the uniform one on 0 to 1. */
static double test_distance(double *p, int n)
{
    double far = 0;
    qsort(p, (gsize)n, sizeof *p, test_compare);
    for (int i = 0; i < n; i++)
        far = fmax(far, fmax((i + 1.0) / n - p[i], p[i] - (double)i / n));
    return far;
}

enum { N = 40, STUDIES = 1500, DEALS = 399 };

/* Skewed values, as durations are; `effect` is added in group 0. */
static void test_study(GRand *rand, int n_groups, double effect, double values[N], int groups[N])
{
    for (int i = 0; i < N; i++) {
        groups[i] = i % n_groups;
        values[i] = exp(0.8 * check_gauss(rand)) + (groups[i] == 0 ? effect : 0);
    }
}

static void test_uniform(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(31);
    for (int n_groups = 2; n_groups <= 4; n_groups++) {
        static double p[STUDIES];
        double values[N];
        int groups[N];
        for (int i = 0; i < STUDIES; i++) {
            LfStatPermutation ours;
            test_study(rand, n_groups, 0, values, groups);
            assert_true(
                lf_stat_permutation(values, groups, N, n_groups, DEALS, (uint32_t)i, &ours, NULL));
            assert_false(ours.exact);
            p[i] = ours.p;
        }
        double far = test_distance(p, STUDIES);
        /* p comes in steps of 1 / (DEALS + 1) */
        if (far > FAR(STUDIES) + 1.0 / (DEALS + 1))
            fail_msg("%d groups: p is %g away from uniform", n_groups, far);
        /* the check itself: p that is a fifth too small is told from a right one */
        for (int i = 0; i < STUDIES; i++)
            p[i] *= 0.8;
        assert_true(test_distance(p, STUDIES) > FAR(STUDIES) + 1.0 / (DEALS + 1));
    }
}

/* Two normal groups of 20, one standard deviation apart: the t test finds 86.9 of 100 at 0.05 (J.
 * Cohen, "Statistical Power Analysis for the Behavioral Sciences", 1988, table 2.3.5, prints 87;
 * from memory), and the permutation test is as good to a percent or so. */
static void test_power(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(32);
    int found = 0;
    for (int i = 0; i < STUDIES; i++) {
        double values[N];
        int groups[N];
        LfStatPermutation ours;
        for (int k = 0; k < N; k++) {
            groups[k] = k % 2;
            values[k] = check_gauss(rand) + (groups[k] == 0 ? 1 : 0);
        }
        assert_true(lf_stat_permutation(values, groups, N, 2, DEALS, (uint32_t)i, &ours, NULL));
        found += ours.p <= 0.05;
    }
    /* 3 standard errors of a share of 1,500, and the percent */
    check_near((double)found / STUDIES, 0.87, 3 * sqrt(0.87 * 0.13 / STUDIES) + 0.01);
}

/* Exponential times, cut off at a time of one's own: log-rank p is uniform (large samples). */
static void test_log_rank_uniform(void **state)
{
    (void)state;
    enum { PEOPLE = 120 };
    static double p[STUDIES];
    g_autoptr(GRand) rand = g_rand_new_with_seed(33);
    for (int i = 0; i < STUDIES; i++) {
        LfStatTime times[PEOPLE];
        int groups[PEOPLE];
        LfStatLogRank ours;
        for (int k = 0; k < PEOPLE; k++) {
            double t = -log(1 - g_rand_double(rand)), end = 3 * g_rand_double(rand);
            times[k] = (LfStatTime){fmin(t, end), t <= end};
            groups[k] = k % 3;
        }
        assert_true(lf_stat_log_rank(times, groups, PEOPLE, 3, NULL, NULL, &ours, NULL));
        p[i] = ours.p;
    }
    double far = test_distance(p, STUDIES);
    if (far > FAR(STUDIES))
        fail_msg("p is %g away from uniform", far);
}

/* The share of intervals that hold the true value. For 30 skewed values of 0.8 in the logarithm,
 * percentile intervals of the mean are known to hold it less often than they say, and BCa less
 * seldom (Efron and Tibshirani 1993, chapter 14). */
static void test_coverage(void **state)
{
    (void)state;
    enum { PEOPLE = 30, RESAMPLES = 400, TIMES = 1000 };
    g_autoptr(GRand) rand = g_rand_new_with_seed(34);
    double truth = exp(0.32); /* mean of exp(0.8 z) */
    int held[2] = {0}, median_held = 0;
    for (int i = 0; i < TIMES; i++) {
        double values[PEOPLE];
        LfStatBootstrap ours;
        for (int k = 0; k < PEOPLE; k++)
            values[k] = exp(0.8 * check_gauss(rand));
        for (int method = 0; method < 2; method++) {
            assert_true(lf_stat_bootstrap(values, PEOPLE, LF_STAT_MEAN,
                                          (LfStatBootstrapMethod)method, 0.95, RESAMPLES,
                                          (uint32_t)i, &ours, NULL));
            held[method] += ours.interval.low <= truth && truth <= ours.interval.high;
        }
        assert_true(lf_stat_bootstrap(values, PEOPLE, LF_STAT_MEDIAN, LF_STAT_PERCENTILE, 0.95,
                                      RESAMPLES, (uint32_t)i, &ours, NULL));
        median_held += ours.interval.low <= 1 && 1 <= ours.interval.high;
    }
    print_message("coverage of 95%% intervals, n = %d: mean by percentile %.1f%%, by BCa %.1f%%, "
                  "median %.1f%%\n",
                  PEOPLE, 100.0 * held[LF_STAT_PERCENTILE] / TIMES,
                  100.0 * held[LF_STAT_BCA] / TIMES, 100.0 * median_held / TIMES);
    assert_true(held[LF_STAT_BCA] > held[LF_STAT_PERCENTILE]);
    assert_in_range(held[LF_STAT_PERCENTILE], 0.88 * TIMES, 0.95 * TIMES);
    assert_in_range(held[LF_STAT_BCA], 0.89 * TIMES, 0.96 * TIMES);
    assert_in_range(median_held, 0.92 * TIMES, 0.975 * TIMES);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_uniform),
        cmocka_unit_test(test_power),
        cmocka_unit_test(test_log_rank_uniform),
        cmocka_unit_test(test_coverage),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
