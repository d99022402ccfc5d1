/* Our geometry against OpenCV 4 (Debian's python3-opencv) on random input with fixed seeds:
 * cv2.findHomography with method 0, which too minimises the distance in dst, cv2.projectPoints and
 * cv2.undistortPointsIter for the lens. Exit status 77, skipped, where it is not installed. */
#include "geometry/check.h"

#include <glib/gstdio.h>
#include <string.h>
#include <sys/wait.h>

#define N_POINTS 100
#define SKIPPED 77

static bool test_reference_missing;

/* Runs the script on `input`; the numbers it answers with, `expected` of them, owned by the caller.
 * Skips the test where there is no python3-opencv. */
static double *test_reference_ask(const char *input, gsize expected)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *path = NULL, *out = NULL, *err = NULL;
    int status = 0, fd = g_file_open_tmp("lookfall-reference-XXXXXX", &path, &error);
    assert_true(fd >= 0);
    g_close(fd, NULL);
    assert_true(g_file_set_contents(path, input, -1, &error));
    /* Debian's own python3: another one first in PATH would not have Debian's modules. */
    char *argv[] = {
        "/bin/sh", "-c", "exec /usr/bin/python3 \"$1\" < \"$2\"", "sh", REFERENCE_SCRIPT,
        path,      NULL};
    bool ran =
        g_spawn_sync(NULL, argv, NULL, G_SPAWN_DEFAULT, NULL, NULL, &out, &err, &status, &error);
    g_remove(path);
    assert_true(ran);
    int code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    if (code == SKIPPED || code == 126 || code == 127) {
        print_message("skipped: python3-opencv is not installed: %s\n", err);
        test_reference_missing = true;
        skip();
    }
    if (code != 0) {
        fail_msg("the reference script failed: %s", err);
    }
    double *values = g_new(double, expected);
    char *at = out;
    for (gsize i = 0; i < expected; i++) {
        char *end;
        values[i] = g_ascii_strtod(at, &end);
        assert_true(end > at);
        at = end;
    }
    assert_string_equal(g_strstrip(at), "");
    return values;
}

static void test_reference_append(GString *out, double v)
{
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    g_string_append_printf(out, " %s", g_ascii_dtostr(text, sizeof text, v));
}

/* Sum of squared distances in dst. */
static double test_reference_cost(const LfMat3 *m, const LfPoint *dst, const LfPoint *src)
{
    double cost = 0;
    for (int i = 0; i < N_POINTS; i++) {
        LfPoint p;
        assert_true(lf_mat3_apply(m, src[i], &p));
        cost += (p.x - dst[i].x) * (p.x - dst[i].x) + (p.y - dst[i].y) * (p.y - dst[i].y);
    }
    return cost;
}

static void test_reference_homography(void **state)
{
    (void)state;
    enum { ROUNDS = 50 };
    static LfPoint src[ROUNDS][N_POINTS], dst[ROUNDS][N_POINTS];
    g_autoptr(GRand) rand = g_rand_new_with_seed(11);
    g_autoptr(GString) input = g_string_new(NULL);
    for (int round = 0; round < ROUNDS; round++) {
        LfMat3 view = {{g_rand_double_range(rand, 0.5, 2), g_rand_double_range(rand, -0.3, 0.3),
                        g_rand_double_range(rand, -500, 500), g_rand_double_range(rand, -0.3, 0.3),
                        g_rand_double_range(rand, 0.5, 2), g_rand_double_range(rand, -500, 500),
                        g_rand_double_range(rand, -2e-4, 2e-4),
                        g_rand_double_range(rand, -2e-4, 2e-4), 1}};
        g_string_append_printf(input, "homography %d\n", N_POINTS);
        for (int i = 0; i < N_POINTS; i++) {
            LfPoint *s = &src[round][i], *d = &dst[round][i];
            *s = check_point(rand, 1920, 1080);
            assert_true(lf_mat3_apply(&view, *s, d));
            d->x += 1.5 * check_gauss(rand);
            d->y += 1.5 * check_gauss(rand);
            test_reference_append(input, s->x);
            test_reference_append(input, s->y);
            test_reference_append(input, d->x);
            test_reference_append(input, d->y);
            g_string_append_c(input, '\n');
        }
    }
    g_autofree double *theirs = test_reference_ask(input->str, 9 * ROUNDS);
    for (int round = 0; round < ROUNDS; round++) {
        LfMat3 ours, other;
        assert_true(lf_homography_fit(dst[round], src[round], NULL, N_POINTS, &ours, NULL));
        memcpy(other.m, theirs + 9 * round, sizeof other.m);
        double cost = test_reference_cost(&ours, dst[round], src[round]);
        double other_cost = test_reference_cost(&other, dst[round], src[round]);
        /* never worse, and the same place: OpenCV stops after at most 10 steps */
        assert_true(cost <= other_cost * (1 + 1e-9));
        check_near(other_cost / cost, 1, 1e-6);
        for (int i = 0; i < N_POINTS; i++) {
            LfPoint p, q;
            assert_true(lf_mat3_apply(&ours, src[round][i], &p));
            assert_true(lf_mat3_apply(&other, src[round][i], &q));
            check_near(p.x, q.x, 1e-3);
            check_near(p.y, q.y, 1e-3);
        }
    }
}

#define LENS(count, ...)                                                                           \
    {                                                                                              \
        .width = 1920, .height = 1080, .fx = 1010, .fy = 990, .cx = 950.5, .cy = 547.25,           \
        .n_k = count, .calibrated = true, .k = {                                                   \
            __VA_ARGS__                                                                            \
        }                                                                                          \
    }

static const LfLens test_reference_lenses[] = {
    LENS(0, 0),
    LENS(4, -0.28, 0.07, 0.0008, -0.0005),
    LENS(4, 0.12, -0.01, -0.004, 0.003),
    LENS(5, -0.32, 0.12, 0.001, 0.0006, -0.005),
    LENS(5, 0.05, 0.02, -0.002, 0.001, 0.01),
    LENS(8, 1.9, 0.7, 0.0003, -0.0002, 0.05, 2.2, 1.3, 0.2),
    LENS(12, -0.2, 0.05, 0.001, -0.001, -0.003, 0.02, -0.01, 0.001, 0.002, -0.001, -0.0015, 0.0007),
};

#define N_LENSES G_N_ELEMENTS(test_reference_lenses)

static void test_reference_append_lens(GString *out, const char *word, const LfLens *lens)
{
    g_string_append(out, word);
    test_reference_append(out, lens->fx);
    test_reference_append(out, lens->fy);
    test_reference_append(out, lens->cx);
    test_reference_append(out, lens->cy);
    g_string_append_printf(out, " %d", lens->n_k);
    for (int i = 0; i < lens->n_k; i++) {
        test_reference_append(out, lens->k[i]);
    }
    g_string_append_printf(out, " %d\n", N_POINTS);
}

/* Random points over the frame, for every lens, as the script's input. */
static char *test_reference_lens_input(const char *word, guint32 seed, LfPoint points[][N_POINTS])
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(seed);
    GString *input = g_string_new(NULL);
    for (gsize l = 0; l < N_LENSES; l++) {
        test_reference_append_lens(input, word, &test_reference_lenses[l]);
        for (int i = 0; i < N_POINTS; i++) {
            points[l][i] = check_point(rand, 1919, 1079);
            test_reference_append(input, points[l][i].x);
            test_reference_append(input, points[l][i].y);
            g_string_append_c(input, '\n');
        }
    }
    return g_string_free(input, FALSE);
}

static void test_reference_distort(void **state)
{
    (void)state;
    LfPoint points[N_LENSES][N_POINTS];
    g_autofree char *input = test_reference_lens_input("lens", 12, points);
    g_autofree double *theirs = test_reference_ask(input, 2 * N_POINTS * N_LENSES);
    for (gsize l = 0; l < N_LENSES; l++) {
        for (int i = 0; i < N_POINTS; i++) {
            LfPoint ours = lf_lens_distort(&test_reference_lenses[l], points[l][i]);
            check_near(ours.x, theirs[2 * (l * N_POINTS + (gsize)i)], 1e-9);
            check_near(ours.y, theirs[2 * (l * N_POINTS + (gsize)i) + 1], 1e-9);
        }
    }
}

static void test_reference_undistort(void **state)
{
    (void)state;
    LfPoint points[N_LENSES][N_POINTS];
    g_autofree char *input = test_reference_lens_input("undistort", 13, points);
    g_autofree double *theirs = test_reference_ask(input, 2 * N_POINTS * N_LENSES);
    for (gsize l = 0; l < N_LENSES; l++) {
        for (int i = 0; i < N_POINTS; i++) {
            LfPoint ours;
            assert_true(lf_lens_undistort(&test_reference_lenses[l], points[l][i], &ours));
            /* OpenCV iterates to a fixed point and stops near it */
            check_near(ours.x, theirs[2 * (l * N_POINTS + (gsize)i)], 1e-4);
            check_near(ours.y, theirs[2 * (l * N_POINTS + (gsize)i) + 1], 1e-4);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reference_homography),
        cmocka_unit_test(test_reference_distort),
        cmocka_unit_test(test_reference_undistort),
    };
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    return failed ? failed : test_reference_missing ? SKIPPED : 0;
}
