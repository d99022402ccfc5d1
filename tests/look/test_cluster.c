/* The cluster test: masses worked out by hand, p-values uniform where there is no effect, a planted
 * effect found. */
#include "look/cluster.h"

#include <math.h>
#include <stdlib.h>

#include "geometry/check.h"
#include "look/density.h"

/* --- by hand ---------------------------------------------------------------------------------- */

/* Two people a group, a row of four cells. Cell 0: 1 and 3 against 7 and 9: t = -6 / sqrt(2) =
 * -4.243 (means 2 and 8, both variances 2, pooled 2, standard error sqrt(2)). Cell 1: 2 and 4
 * against 7 and 9: t = -5 / sqrt(2) = -3.536. Cell 2: no difference. Cell 3: 9 and 11 against 1 and
 * 3: t = 8 / sqrt(2) = 5.657. t of p = 0.1, two-sided, 2 degrees of freedom: 2.919986 (tables of
 * Student's t). So two clusters: {3}, +5.657, and {0, 1}, -7.778. */
static void test_cluster_by_hand(void **state)
{
    (void)state;
    const float first[] = {1, 2, 5, 9, 3, 4, 6, 11}, second[] = {7, 7, 5, 1, 9, 9, 6, 3};
    LfClusterMaps maps = {
        .nx = 4, .ny = 1, .first = first, .second = second, .n_first = 2, .n_second = 2};
    LfClusterSettings settings = {.cell_p = 0.1, .permutations = 500, .seed = 3};
    GError *error = NULL;
    g_autoptr(LfClusters) found = lf_clusters_test(&maps, &settings, &error);
    assert_null(error);
    check_near(found->cell_t, 2.919986, 1e-6);
    assert_int_equal(found->n_clusters, 2);
    assert_int_equal(found->clusters[0].sign, -1);
    assert_int_equal(found->clusters[0].cells, 2);
    check_near(found->clusters[0].mass, 11 / sqrt(2), 1e-6);
    assert_int_equal(found->clusters[1].sign, 1);
    check_near(found->clusters[1].mass, 8 / sqrt(2), 1e-6);
    const int expected[] = {0, 0, -1, 1};
    assert_memory_equal(found->cluster_of, expected, sizeof expected);
    /* Two of the six ways to share out four people, the true one and its mirror, weigh 7.778; each
     * draw meets one of them with p = 1/3. Lighter ones: at least as often. */
    check_near(found->clusters[0].p, 1.0 / 3, 4 * sqrt(2.0 / 9 / 500));
    assert_true(found->clusters[1].p >= found->clusters[0].p);
}

/* The same differences in every person: paired t = mean / (sd / sqrt(n)). 1, 2, 3: 2 / (1 /
 * sqrt(3)). */
static void test_cluster_paired_by_hand(void **state)
{
    (void)state;
    const float first[] = {5, 0, 7, 0, 9, 0}, second[] = {4, 1, 5, 1, 6, 1};
    LfClusterMaps maps = {.nx = 2,
                          .ny = 1,
                          .first = first,
                          .second = second,
                          .n_first = 3,
                          .n_second = 3,
                          .paired = true};
    LfClusterSettings settings = {.cell_p = 0.1, .permutations = 400, .seed = 3};
    g_autoptr(LfClusters) found = lf_clusters_test(&maps, &settings, NULL);
    assert_int_equal(found->n_clusters,
                     1); /* cell 1 differs by the same in all: no t, no cluster */
    check_near(found->clusters[0].mass, 2 * sqrt(3), 1e-6);
    /* All three signs alike: 2 of 8. */
    check_near(found->clusters[0].p, 0.25, 4 * sqrt(0.25 * 0.75 / 400));
}

static void test_cluster_shapes(void **state)
{
    (void)state;
    /* + beyond t, . not: cells that touch by a corner only are apart; an end of a row does not
     * touch the start of the next. */
    static const char picture[] = "+.+"
                                  "..+"
                                  "+..";
    float first[4 * 9], second[4 * 9];
    for (int p = 0; p < 4; p++)
        for (int c = 0; c < 9; c++) {
            first[p * 9 + c] = (float)(p % 2) + (picture[c] == '+' ? 9 : 0);
            second[p * 9 + c] = (float)(p % 2);
        }
    LfClusterMaps maps = {
        .nx = 3, .ny = 3, .first = first, .second = second, .n_first = 4, .n_second = 4};
    LfClusterSettings settings = {.cell_p = 0.05, .permutations = 100, .seed = 3};
    g_autoptr(LfClusters) found = lf_clusters_test(&maps, &settings, NULL);
    assert_int_equal(found->n_clusters, 3);
    assert_int_equal(found->clusters[0].cells, 2);
    assert_int_equal(found->cluster_of[2], found->cluster_of[5]);
    const bool within[9] = {true, true, false, true, true, false, true, true, true};
    maps.within = within;
    g_autoptr(LfClusters) fewer = lf_clusters_test(&maps, &settings, NULL);
    assert_int_equal(fewer->n_clusters, 2);
    assert_int_equal(fewer->cluster_of[2], -1);
}

static void test_cluster_refuses(void **state)
{
    (void)state;
    const float map[2] = {0, 1};
    LfClusterMaps maps = {
        .nx = 1, .ny = 1, .first = map, .second = map, .n_first = 1, .n_second = 2};
    const LfClusterSettings settings = {.cell_p = 0.05, .permutations = 1000, .seed = 1};
    g_autoptr(GError) error = NULL;
    assert_null(lf_clusters_test(&maps, &settings, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
}

/* --- simulated people ------------------------------------------------------------------------- */

enum { GRID_X = 24, GRID_Y = 16, CELLS = GRID_X * GRID_Y, PLACES = 8, LOOKS = 40 };
static const LfPoint test_cluster_place[PLACES] = {{40, 45},  {95, 50},   {150, 40},  {210, 45},
                                                   {45, 120}, {100, 125}, {155, 115}, {205, 120}};

/* Somebody who looks 40 times at eight places of a photo of 240 x 160 px. How he shares his time
 * out differs from person to person: Dirichlet's distribution with 4 for each place, so that the
 * share of a place is 12.5% with a standard deviation of 5.8 points, and his few fixations add as
 * much again. `more`: that much of his time goes to the last place, taken from all alike. */
static void test_cluster_person(GRand *rand, double more, float *map)
{
    double liking[PLACES], sum = 0;
    for (int k = 0; k < PLACES; k++) {
        liking[k] = 0;
        for (int i = 0; i < 4; i++)
            liking[k] -= log(1 - g_rand_double(rand));
        sum += liking[k];
    }
    LfDensityPoint points[LOOKS];
    for (int i = 0; i < LOOKS; i++) {
        double pick = sum * g_rand_double(rand);
        int k = 0;
        while (k < PLACES - 1 && (pick -= liking[k]) > 0)
            k++;
        if (g_rand_double(rand) < more)
            k = PLACES - 1;
        points[i] =
            (LfDensityPoint){test_cluster_place[k].x + 5 * check_gauss(rand),
                             test_cluster_place[k].y + 5 * check_gauss(rand), 1.0 / LOOKS, 3};
    }
    g_autoptr(LfDensity) density = lf_density_new(points, LOOKS, 240, 160, 9, 2);
    lf_density_read(density, GRID_X, GRID_Y, map);
}

typedef struct {
    int people;  /* in each group */
    double more; /* as test_cluster_person; in the second group */
    bool paired;
    int permutations;
    double cell_p;
} TestClusterRun;

static LfClusters *test_cluster_run(GRand *rand, TestClusterRun run, guint32 seed)
{
    gsize n = (gsize)run.people * CELLS;
    g_autofree float *first = g_new(float, n), *second = g_new(float, n);
    for (int p = 0; p < run.people; p++) {
        test_cluster_person(rand, 0, first + p * CELLS);
        test_cluster_person(rand, run.more, second + p * CELLS);
    }
    LfClusterMaps maps = {.nx = GRID_X,
                          .ny = GRID_Y,
                          .first = first,
                          .second = second,
                          .n_first = (gsize)run.people,
                          .n_second = (gsize)run.people,
                          .paired = run.paired};
    LfClusterSettings settings = {run.cell_p, run.permutations, seed};
    return lf_clusters_test(&maps, &settings, NULL);
}

static int test_cluster_order(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* p of Kolmogorov and Smirnov's test against the uniform distribution on 0..1 (M. A. Stephens,
 * Journal of the Royal Statistical Society B 32, 1970). */
static double test_cluster_ks(double *p, int n)
{
    double d = 0, sum = 0;
    qsort(p, (gsize)n, sizeof *p, test_cluster_order);
    for (int i = 0; i < n; i++)
        d = fmax(d, fmax(p[i] - (double)i / n, (i + 1.0) / n - p[i]));
    double lambda = (sqrt(n) + 0.12 + 0.11 / sqrt(n)) * d;
    for (int k = 1; k <= 100; k++)
        sum += (k % 2 ? 2 : -2) * exp(-2.0 * k * k * lambda * lambda);
    return fmin(fmax(sum, 0), 1);
}

/* Where two groups do not differ, the p of the heaviest cluster is uniform. Cells count from p =
 * 0.2 here, for with 0.05 a fifth of such pictures has no cluster at all, whose p is 1. */
static void test_cluster_uniform(void **state)
{
    (void)state;
    enum { RUNS = 120, DRAWS = 99 };
    for (int paired = 0; paired < 2; paired++) {
        g_autoptr(GRand) rand = g_rand_new_with_seed(20 + (guint32)paired);
        TestClusterRun run = {8, 0, paired, DRAWS, 0.2};
        double p[RUNS], squeezed[RUNS];
        for (int i = 0; i < RUNS; i++) {
            g_autoptr(LfClusters) found = test_cluster_run(rand, run, 1000 + (guint32)i);
            p[i] = found->n_clusters ? found->clusters[0].p : 1;
            squeezed[i] = p[i] * p[i];
        }
        double ks = test_cluster_ks(p, RUNS);
        if (!(ks > 0.05))
            fail_msg("%s: p-values are not uniform, Kolmogorov-Smirnov p = %g",
                     paired ? "paired" : "apart", ks);
        /* p that are too small by as much as their square are noticed. */
        assert_true(test_cluster_ks(squeezed, RUNS) < 1e-3);
    }
}

/* With the usual 0.05 for cells, one picture in twenty is under 0.05, within chance: a binomial
 * count of 400 lies outside of 8 to 34 twice in 1,000 times. (190 of 4,000 in a long run.) */
static void test_cluster_false_alarms(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(31);
    int alarms = 0;
    for (int i = 0; i < 400; i++) {
        g_autoptr(LfClusters) found =
            test_cluster_run(rand, (TestClusterRun){8, 0, false, 99, 0.05}, 1 + (guint32)i);
        alarms += found->n_clusters && found->clusters[0].p <= 0.05;
    }
    if (alarms < 8 || alarms > 34)
        fail_msg("%d of 400", alarms);
}

/* 15 points more of the dwell at one place, 20 people a group: found there in 9 of 10 runs. A place
 * of 12.5% gets 15 points when 0.15 / 0.875 of all time moves there. */
static void test_cluster_planted(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(5);
    int there = (int)(test_cluster_place[PLACES - 1].y / 10) * GRID_X +
                (int)(test_cluster_place[PLACES - 1].x / 10);
    int found_in = 0;
    for (int i = 0; i < 10; i++) {
        TestClusterRun run = {20, 0.15 / 0.875, false, 1000, 0.05};
        g_autoptr(LfClusters) found = test_cluster_run(rand, run, 1 + (guint32)i);
        int cluster = found->cluster_of[there];
        if (cluster >= 0 && found->clusters[cluster].p <= 0.05 && found->clusters[cluster].sign < 0)
            found_in++;
    }
    if (found_in < 9)
        fail_msg("found in %d of 10 runs", found_in);
}

static void test_cluster_seed(void **state)
{
    (void)state;
    double p[3];
    static const guint32 seed[] = {8, 8, 9};
    for (int i = 0; i < 3; i++) {
        g_autoptr(GRand) rand = g_rand_new_with_seed(77);
        g_autoptr(LfClusters) found =
            test_cluster_run(rand, (TestClusterRun){8, 0.1, false, 999, 0.2}, seed[i]);
        assert_true(found->n_clusters > 0);
        p[i] = found->clusters[0].p;
    }
    assert_true(p[0] == p[1]);
    check_near(p[2], p[0], 6 * sqrt(0.25 / 999));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cluster_by_hand), cmocka_unit_test(test_cluster_paired_by_hand),
        cmocka_unit_test(test_cluster_shapes),  cmocka_unit_test(test_cluster_refuses),
        cmocka_unit_test(test_cluster_uniform), cmocka_unit_test(test_cluster_false_alarms),
        cmocka_unit_test(test_cluster_planted), cmocka_unit_test(test_cluster_seed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
