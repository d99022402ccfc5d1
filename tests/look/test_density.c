/* Density of looks against the sum of its kernels, each worked out in full with mirrored edges. */
#include "look/density.h"

#include <math.h>

#include "geometry/check.h"

/* One axis of a Gaussian between mirrors at -0.5 and size - 0.5. */
static double test_density_axis(double at, double heart, double size, double sigma)
{
    double sum = 0;
    int far = 1 + (int)ceil(6 * sigma / (2 * size));
    for (int k = -far; k <= far; k++) {
        double same = at - (heart + 2 * k * size), mirrored = at - (-1 - heart + 2 * k * size);
        sum += exp(-same * same / (2 * sigma * sigma)) +
               exp(-mirrored * mirrored / (2 * sigma * sigma));
    }
    return sum / (sqrt(2 * G_PI) * sigma);
}

static double test_density_exact(const LfDensityPoint *points, int n, int width, int height,
                                 double sigma_px, double x, double y)
{
    double sum = 0;
    for (int i = 0; i < n; i++) {
        double sigma = hypot(sigma_px, points[i].radius_px);
        sum += points[i].weight * test_density_axis(x, points[i].x, width, sigma) *
               test_density_axis(y, points[i].y, height, sigma);
    }
    return sum;
}

/* Over the whole photo. */
static double test_density_integral(const LfDensity *density)
{
    double sum = 0,
           area = (double)density->width_px / density->nx * density->height_px / density->ny;
    for (gsize i = 0; i < (gsize)density->nx * (gsize)density->ny; i++)
        sum += density->cell[i];
    return sum * area;
}

static void test_density_points(LfDensityPoint *points, int n, int width, int height,
                                double radius_px, guint32 seed)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(seed);
    for (int i = 0; i < n; i++)
        points[i] =
            (LfDensityPoint){g_rand_double_range(rand, -0.5, width - 0.5),
                             g_rand_double_range(rand, -0.5, height - 0.5),
                             g_rand_double_range(rand, 0.05, 1), radius_px * g_rand_double(rand)};
}

/* Every pixel against the exact sum, to 1e-3 of the highest; the integral to 1e-3 of the weights.
 */
static void test_density_equals_sum(void **state)
{
    (void)state;
    static const struct {
        int width, height, n;
        double sigma_px, radius_px;
    } cases[] = {
        {120, 80, 60, 8, 0},  /* alike */
        {120, 80, 60, 8, 20}, /* every one of its own accuracy */
        {120, 80, 1, 8, 0},   /* a single one, whose peak shows every error of shape */
        {120, 80, 1, 6, 9},   /* between two rungs */
        {90, 130, 20, 2, 0},  /* the narrowest kernel */
        {90, 130, 20, 40, 0}, /* as wide as the photo */
        {64, 64, 10, 5, 400}, /* accuracies beyond the photo */
        {1, 50, 5, 4, 3},     /* a single column */
    };
    for (gsize c = 0; c < G_N_ELEMENTS(cases); c++) {
        LfDensityPoint points[60];
        int w = cases[c].width, h = cases[c].height;
        test_density_points(points, cases[c].n, w, h, cases[c].radius_px, 7 + (guint32)c);
        g_autoptr(LfDensity) density =
            lf_density_new(points, (gsize)cases[c].n, w, h, cases[c].sigma_px, 4);
        g_autofree float *got = g_new(float, w *h);
        double most = 0, worst = 0, weights = 0;
        lf_density_read(density, w, h, got);
        for (int y = 0; y < h; y++)
            for (int x = 0; x < w; x++) {
                double exact =
                    test_density_exact(points, cases[c].n, w, h, cases[c].sigma_px, x, y);
                most = fmax(most, exact);
                worst = fmax(worst, fabs(exact - (double)got[y * w + x]));
            }
        for (int i = 0; i < cases[c].n; i++)
            weights += points[i].weight;
        if (!(worst <= 1e-3 * most))
            fail_msg("case %d: off by %g of the highest", (int)c, worst / most);
        check_near(test_density_integral(density), weights, 1e-3 * weights);
    }
}

/* What is read at another size is the same surface. */
static void test_density_read_sizes(void **state)
{
    (void)state;
    LfDensityPoint point = {30, 40, 2, 0};
    g_autoptr(LfDensity) density = lf_density_new(&point, 1, 200, 100, 10, 4);
    float coarse[50 * 25];
    lf_density_read(density, 50, 25, coarse);
    for (int y = 0; y < 25; y++)
        for (int x = 0; x < 50; x++) {
            double exact = test_density_exact(&point, 1, 200, 100, 10, 4 * x + 1.5, 4 * y + 1.5);
            check_near((double)coarse[y * 50 + x], exact, 1e-3 * 2 / (2 * G_PI * 100));
        }
}

static void test_density_leaves_out(void **state)
{
    (void)state;
    const LfDensityPoint points[] = {
        {10, 10, 1, 0}, {-0.6, 10, 5, 0}, {10, 39.6, 5, 0}, {NAN, 10, 5, 0},
        {10, 10, 0, 0}, {10, 10, -1, 0},  {10, 10, NAN, 0}, {10, 10, 1, NAN}, /* radius unknown */
    };
    g_autoptr(LfDensity) density = lf_density_new(points, G_N_ELEMENTS(points), 40, 40, 4, 4);
    check_near(test_density_integral(density), 2, 1e-9);
    g_autoptr(LfDensity) none = lf_density_new(NULL, 0, 40, 40, 4, 4);
    check_near(test_density_integral(none), 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_density_equals_sum),
        cmocka_unit_test(test_density_read_sizes),
        cmocka_unit_test(test_density_leaves_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
