/* Densities and clusters against scipy (Debian's python3-scipy): ndimage.gaussian_filter,
 * ttest_ind, ndimage.label. Exit status 77, skipped, where it is not installed. */
#include <glib/gstdio.h>
#include <string.h>
#include <sys/wait.h>

#include "geometry/check.h"
#include "look/cluster.h"
#include "look/density.h"

#define SKIPPED 77

static bool test_reference_missing;

/* The script's answer; owned by the caller. Skips the test where there is no scipy. */
static GArray *test_reference_ask(const char *input)
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
        print_message("skipped: python3-scipy is not installed: %s\n", err);
        test_reference_missing = true;
        skip();
    }
    if (code != 0)
        fail_msg("the reference script failed: %s", err);
    GArray *values = g_array_new(FALSE, FALSE, sizeof(double));
    for (char *at = out, *end;; at = end) {
        double value = g_ascii_strtod(at, &end);
        if (end == at)
            break;
        g_array_append_val(values, value);
    }
    return values;
}

static void test_reference_append(GString *out, double v)
{
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    g_string_append_printf(out, " %s", g_ascii_dtostr(text, sizeof text, v));
}

static void test_reference_density(void **state)
{
    (void)state;
    static const struct {
        int width, height, n;
        double sigma_px, radius_px;
    } cases[] = {{300, 200, 150, 12, 0},
                 {300, 200, 150, 12, 25},
                 {200, 300, 1, 9, 0},
                 {150, 100, 40, 30, 60}};
    for (gsize c = 0; c < G_N_ELEMENTS(cases); c++) {
        int w = cases[c].width, h = cases[c].height, n = cases[c].n;
        g_autoptr(GRand) rand = g_rand_new_with_seed(40 + (guint32)c);
        g_autoptr(GString) task = g_string_new(NULL);
        g_autofree LfDensityPoint *points = g_new(LfDensityPoint, n);
        g_string_printf(task, "density %d %d %d %d\n", w, h, (int)cases[c].sigma_px, n);
        for (int i = 0; i < n; i++) {
            /* scipy filters px, so every look stands on the middle of one; ten radii are enough */
            points[i] = (LfDensityPoint){g_rand_int_range(rand, 0, w), g_rand_int_range(rand, 0, h),
                                         g_rand_double_range(rand, 0.05, 1),
                                         cases[c].radius_px * g_rand_int_range(rand, 0, 10) / 10};
            test_reference_append(task, points[i].x);
            test_reference_append(task, points[i].y);
            test_reference_append(task, points[i].weight);
            test_reference_append(task, points[i].radius_px);
        }
        g_autoptr(GArray) expected = test_reference_ask(task->str);
        assert_int_equal(expected->len, w * h);
        g_autoptr(LfDensity) density = lf_density_new(points, (gsize)n, w, h, cases[c].sigma_px, 4);
        g_autofree float *got = g_new(float, w *h);
        lf_density_read(density, w, h, got);
        double most = 0, worst = 0;
        for (int i = 0; i < w * h; i++) {
            most = fmax(most, g_array_index(expected, double, i));
            worst = fmax(worst, fabs(g_array_index(expected, double, i) - (double)got[i]));
        }
        if (!(worst <= 1e-3 * most))
            fail_msg("case %d: off by %g of scipy's highest", (int)c, worst / most);
    }
}

static void test_reference_clusters(void **state)
{
    (void)state;
    enum { NX = 30, NY = 20, N1 = 9, N2 = 7, N = (N1 + N2) * NX * NY };
    g_autoptr(GRand) rand = g_rand_new_with_seed(11);
    g_autoptr(GString) task = g_string_new(NULL);
    g_autofree float *maps = g_new(float, N);
    g_string_printf(task, "cluster %d %d %d %d 0.1\n", NX, NY, N1, N2);
    for (int i = 0; i < N; i++) {
        /* a bump for some of the first group, on noise */
        int x = i % NX, y = i / NX % NY, person = i / (NX * NY);
        maps[i] =
            (float)(check_gauss(rand) + (person < N1 ? 2 * exp(-(hypot(x - 9, y - 11) / 4)) : 0));
        test_reference_append(task, (double)maps[i]);
    }
    g_autoptr(GArray) expected = test_reference_ask(task->str);
    LfClusterMaps given = {.nx = NX,
                           .ny = NY,
                           .first = maps,
                           .second = maps + N1 * NX * NY,
                           .n_first = N1,
                           .n_second = N2};
    LfClusterSettings settings = {.cell_p = 0.1, .permutations = 100, .seed = 1};
    g_autoptr(LfClusters) found = lf_clusters_test(&given, &settings, NULL);
    assert_true(found->n_clusters > 10);
    assert_int_equal(expected->len, 2 * found->n_clusters);
    for (gsize i = 0; i < found->n_clusters; i++) {
        assert_int_equal(found->clusters[i].sign, (int)g_array_index(expected, double, 2 * i));
        check_near(found->clusters[i].mass, g_array_index(expected, double, 2 * i + 1), 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reference_density),
        cmocka_unit_test(test_reference_clusters),
    };
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    return failed ? failed : test_reference_missing ? SKIPPED : 0;
}
