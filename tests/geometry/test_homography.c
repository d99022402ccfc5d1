/* The homography fit: exact data, weights, steep views, degenerate input, covariance. */
#include "geometry/check.h"

#include <string.h>

#define N_POINTS 60

static const LfMat3 test_view = {{1.1, 0.1, 30, -0.05, 0.9, -20, 1e-4, -2e-4, 1}};

typedef struct {
    LfPoint src[N_POINTS], dst[N_POINTS];
    double weight[N_POINTS];
} TestPoints;

static void test_homography_fill(TestPoints *t, GRand *rand, const LfMat3 *m, double noise_px)
{
    for (int i = 0; i < N_POINTS; i++) {
        t->src[i] = check_point(rand, 1920, 1080);
        t->weight[i] = g_rand_double_range(rand, 0.1, 3);
        assert_true(lf_mat3_apply(m, t->src[i], &t->dst[i]));
        t->dst[i].x += noise_px * check_gauss(rand);
        t->dst[i].y += noise_px * check_gauss(rand);
    }
}

/* Both map a grid over the frame alike. */
static void test_homography_same(const LfMat3 *a, const LfMat3 *b, double tolerance_px)
{
    for (int i = 0; i < 25; i++) {
        LfPoint at = {480.0 * (i % 5), 270.0 * (i / 5)}, p, q;
        assert_true(lf_mat3_apply(a, at, &p));
        assert_true(lf_mat3_apply(b, at, &q));
        check_near(p.x, q.x, tolerance_px);
        check_near(p.y, q.y, tolerance_px);
    }
}

static void test_homography_exact(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(3);
    TestPoints t;
    LfMat3 m;
    test_homography_fill(&t, rand, &test_view, 0);
    assert_true(lf_homography_fit(t.dst, t.src, NULL, N_POINTS, &m, NULL));
    check_near(m.m[8], 1, 0);
    test_homography_same(&m, &test_view, 1e-8);
    assert_true(lf_homography_fit(t.dst, t.src, t.weight, N_POINTS, &m, NULL));
    test_homography_same(&m, &test_view, 1e-8);
    /* four points, in corners */
    LfPoint src[4] = {{0, 0}, {1919, 0}, {1919, 1079}, {0, 1079}}, dst[4];
    for (int i = 0; i < 4; i++) {
        assert_true(lf_mat3_apply(&test_view, src[i], &dst[i]));
    }
    double cov[64];
    assert_true(lf_homography_fit(dst, src, NULL, 4, &m, cov));
    test_homography_same(&m, &test_view, 1e-8);
}

/* A look along a shelf: the frame's (0, 0) lies behind the shelf plane's horizon at x = 500. */
static void test_homography_steep(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(4);
    LfMat3 view = {{1, 0.1, 30, 0.2, 1.5, 20, 0.002, 0, -1}}, m;
    LfPoint src[40], dst[40], p;
    for (int i = 0; i < 40; i++) {
        src[i] =
            (LfPoint){g_rand_double_range(rand, 700, 1900), g_rand_double_range(rand, 0, 1000)};
        assert_true(lf_mat3_apply(&view, src[i], &dst[i]));
    }
    double cov[64];
    assert_true(lf_homography_fit(dst, src, NULL, 40, &m, cov));
    check_near(m.m[8], -1, 0);
    for (int i = 0; i < 40; i++) {
        LfCov2 c;
        assert_true(lf_mat3_apply(&m, src[i], &p));
        check_near(p.x, dst[i].x, 1e-8);
        check_near(p.y, dst[i].y, 1e-8);
        assert_true(lf_homography_point_cov(&m, cov, src[i], &c));
        assert_true(c.xx > 0 && c.yy > 0 && c.xx * c.yy > c.xy * c.xy);
    }
    assert_false(lf_mat3_apply(&m, (LfPoint){0, 0}, &p));
}

static void test_homography_weights(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(5);
    TestPoints t;
    LfMat3 m, twice;
    test_homography_fill(&t, rand, &test_view, 1);

    /* Weight 0 is as if the point were not there, wherever it is. */
    for (int i = 0; i < N_POINTS; i++) {
        t.weight[i] = i < 30 ? 1 : 0;
    }
    t.dst[40] = (LfPoint){1e7, -1e7};
    t.dst[41] = (LfPoint){NAN, INFINITY};
    assert_true(lf_homography_fit(t.dst, t.src, t.weight, N_POINTS, &m, NULL));
    assert_true(lf_homography_fit(t.dst, t.src, NULL, 30, &twice, NULL));
    test_homography_same(&m, &twice, 1e-9);

    /* Weight 2 is as if the point were there twice. */
    for (int i = 0; i < 30; i++) {
        t.weight[i] = i < 10 ? 2 : 1;
    }
    memcpy(t.src + 30, t.src, 10 * sizeof(LfPoint));
    memcpy(t.dst + 30, t.dst, 10 * sizeof(LfPoint));
    double cov[64], cov_twice[64];
    assert_true(lf_homography_fit(t.dst, t.src, t.weight, 30, &m, cov));
    assert_true(lf_homography_fit(t.dst, t.src, NULL, 40, &twice, cov_twice));
    test_homography_same(&m, &twice, 1e-8);
    for (int i = 0; i < 64; i++) {
        check_near(cov[i], cov_twice[i], 1e-6 * sqrt(cov[i / 8 * 9] * cov[i % 8 * 9]));
    }

    /* All weights times 4: the same mapping, a quarter of the covariance. */
    for (int i = 0; i < 30; i++) {
        t.weight[i] *= 4;
    }
    assert_true(lf_homography_fit(t.dst, t.src, t.weight, 30, &twice, cov_twice));
    test_homography_same(&m, &twice, 1e-9);
    check_near(cov_twice[0] / cov[0], 0.25, 1e-9);
    check_near(cov_twice[63] / cov[63], 0.25, 1e-9);
}

/* The minimum of the distance in dst: no small change of any element makes it smaller. */
static void test_homography_minimum(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(6);
    TestPoints t;
    LfMat3 m;
    double cov[64];
    test_homography_fill(&t, rand, &test_view, 2);
    assert_true(lf_homography_fit(t.dst, t.src, t.weight, N_POINTS, &m, cov));
    double cost[17];
    for (int k = 0; k < 17; k++) {
        LfMat3 moved = m;
        if (k < 16) { /* a tenth of a standard error up and down */
            moved.m[k / 2] += (k % 2 ? 0.1 : -0.1) * sqrt(cov[9 * (k / 2)]);
        }
        cost[k] = 0;
        for (int i = 0; i < N_POINTS; i++) {
            LfPoint p;
            assert_true(lf_mat3_apply(&moved, t.src[i], &p));
            double dx = p.x - t.dst[i].x, dy = p.y - t.dst[i].y;
            cost[k] += t.weight[i] * (dx * dx + dy * dy);
        }
    }
    for (int k = 0; k < 16; k++) {
        assert_true(cost[k] > cost[16]);
        /* symmetric: the slope at the minimum is nothing against the curvature */
        check_near((cost[k ^ 1] - cost[16]) / (cost[k] - cost[16]), 1, 0.02);
    }
}

typedef struct {
    const char *what;
    int n;
    LfPoint src[6], dst[6];
    double weight[6];
} TestDegenerate;

#define ONES                                                                                       \
    {                                                                                              \
        1, 1, 1, 1, 1, 1                                                                           \
    }
#define GOOD                                                                                       \
    {                                                                                              \
        {0, 0}, {900, 10}, {930, 800}, {-20, 780}, {400, 300},                                     \
        {                                                                                          \
            200, 650                                                                               \
        }                                                                                          \
    }

static const TestDegenerate test_degenerate[] = {
    {"three points", 3, GOOD, GOOD, ONES},
    {"no points", 0, GOOD, GOOD, ONES},
    {"three with a weight", 6, GOOD, GOOD, {1, 1, 1, 0, 0, 0}},
    {"all weights zero", 6, GOOD, GOOD, {0}},
    {"negative weight", 6, GOOD, GOOD, {1, 1, 1, 1, 1, -1}},
    {"NaN weight", 6, GOOD, GOOD, {1, 1, 1, 1, 1, NAN}},
    {"infinite weight", 6, GOOD, GOOD, {1, 1, 1, 1, 1, INFINITY}},
    {"src on a line", 6, {{0, 0}, {10, 20}, {20, 40}, {30, 60}, {45, 90}, {50, 100}}, GOOD, ONES},
    {"src on a slanted line far out",
     5,
     {{1000.1, 333.3}, {1000.4, 334.2}, {1000.7, 335.1}, {1001, 336}, {1001.3, 336.9}},
     GOOD,
     ONES},
    {"dst on a line", 6, GOOD, {{0, 0}, {10, 20}, {20, 40}, {30, 60}, {45, 90}, {50, 100}}, ONES},
    {"src on a line but one",
     6,
     {{0, 0}, {10, 20}, {20, 40}, {30, 60}, {45, 90}, {500, 100}},
     GOOD,
     ONES},
    {"dst on a line but one, of four", 4, GOOD, {{0, 0}, {10, 20}, {20, 40}, {500, 100}}, ONES},
    {"src coincident", 5, {{3, 4}, {3, 4}, {3, 4}, {3, 4}, {3, 4}}, GOOD, ONES},
    {"dst coincident", 5, GOOD, {{3, 4}, {3, 4}, {3, 4}, {3, 4}, {3, 4}}, ONES},
    {"three different points",
     6,
     {{0, 0}, {900, 10}, {930, 800}, {0, 0}, {900, 10}, {930, 800}},
     {{0, 0}, {900, 10}, {930, 800}, {0, 0}, {900, 10}, {930, 800}},
     ONES},
    {"NaN in src", 5, {{0, 0}, {900, NAN}, {930, 800}, {-20, 780}, {400, 300}}, GOOD, ONES},
    {"NaN in dst", 5, GOOD, {{0, 0}, {900, 10}, {NAN, 800}, {-20, 780}, {400, 300}}, ONES},
    {"infinite", 5, GOOD, {{0, 0}, {900, 10}, {INFINITY, 800}, {-20, 780}, {400, 300}}, ONES},
};

static void test_homography_degenerate(void **state)
{
    (void)state;
    LfMat3 m;
    double cov[64];
    const LfPoint good[6] = GOOD;
    assert_true(lf_homography_fit(good, good, NULL, 6, &m, cov));
    for (gsize i = 0; i < G_N_ELEMENTS(test_degenerate); i++) {
        const TestDegenerate *t = &test_degenerate[i];
        if (lf_homography_fit(t->dst, t->src, t->weight, t->n, &m, NULL) ||
            lf_homography_fit(t->dst, t->src, t->weight, t->n, &m, cov)) {
            fail_msg("%s: a homography was found", t->what);
        }
    }
}

/* Monte Carlo: 5,000 fits to fresh noise of 0.5 px. A variance estimated from n draws has a
 * relative standard error of sqrt(2 / n) = 2%; the bound is 5 of those, and for the correlation,
 * whose standard error is at most 1 / sqrt(n), 5 of those too. */
static void test_homography_covariance(void **state)
{
    (void)state;
    enum { N = 5000, N_AT = 4 };
    const LfPoint at[N_AT] = {{960, 540}, {0, 0}, {1919, 1079}, {1500, 100}};
    const double noise_px = 0.5, bound = 5 * sqrt(2.0 / N), r_bound = 5 / sqrt(N);
    g_autoptr(GRand) rand = g_rand_new_with_seed(7);
    TestPoints t, noisy;
    LfMat3 m;
    double cov[64];
    test_homography_fill(&t, rand, &test_view, 0);
    assert_true(lf_homography_fit(t.dst, t.src, t.weight, N_POINTS, &m, cov));

    double var[8] = {0};
    LfCov2 seen[N_AT] = {{0, 0, 0}};
    for (int round = 0; round < N; round++) {
        noisy = t;
        for (int i = 0; i < N_POINTS; i++) {
            /* weight = 1 / variance */
            noisy.dst[i].x += noise_px * check_gauss(rand) / sqrt(t.weight[i]);
            noisy.dst[i].y += noise_px * check_gauss(rand) / sqrt(t.weight[i]);
        }
        LfMat3 fit;
        assert_true(lf_homography_fit(noisy.dst, noisy.src, t.weight, N_POINTS, &fit, NULL));
        for (int i = 0; i < 8; i++) {
            var[i] += (fit.m[i] - m.m[i]) * (fit.m[i] - m.m[i]) / N;
        }
        for (int i = 0; i < N_AT; i++) {
            LfPoint p, q;
            assert_true(lf_mat3_apply(&m, at[i], &p));
            assert_true(lf_mat3_apply(&fit, at[i], &q));
            seen[i].xx += (q.x - p.x) * (q.x - p.x) / N;
            seen[i].xy += (q.x - p.x) * (q.y - p.y) / N;
            seen[i].yy += (q.y - p.y) * (q.y - p.y) / N;
        }
    }
    for (int i = 0; i < 8; i++) {
        check_near(var[i] / (noise_px * noise_px * cov[9 * i]), 1, bound);
    }
    for (int i = 0; i < N_AT; i++) {
        LfCov2 c;
        assert_true(lf_homography_point_cov(&m, cov, at[i], &c));
        check_near(seen[i].xx / (noise_px * noise_px * c.xx), 1, bound);
        check_near(seen[i].yy / (noise_px * noise_px * c.yy), 1, bound);
        check_near(seen[i].xy / sqrt(seen[i].xx * seen[i].yy), c.xy / sqrt(c.xx * c.yy), r_bound);
    }
}

static void test_homography_point_cov_refuses(void **state)
{
    (void)state;
    double cov[64] = {0};
    LfCov2 c;
    LfMat3 m = {{1, 0, 0, 0, 1, 0, -0.01, 0, 1}};
    assert_true(lf_homography_point_cov(&m, cov, (LfPoint){50, 10}, &c));
    assert_false(lf_homography_point_cov(&m, cov, (LfPoint){100, 10}, &c));
    cov[0] = NAN;
    assert_false(lf_homography_point_cov(&m, cov, (LfPoint){50, 10}, &c));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_homography_exact),
        cmocka_unit_test(test_homography_steep),
        cmocka_unit_test(test_homography_weights),
        cmocka_unit_test(test_homography_minimum),
        cmocka_unit_test(test_homography_degenerate),
        cmocka_unit_test(test_homography_covariance),
        cmocka_unit_test(test_homography_point_cov_refuses),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
