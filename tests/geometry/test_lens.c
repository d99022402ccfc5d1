/* The lens: round trips, derivatives, scaling, limits of the model, angles. */
#include "geometry/check.h"

#include <string.h>

#define LENS(count, ...)                                                                           \
    {                                                                                              \
        .width = 1920, .height = 1080, .fx = 1010, .fy = 990, .cx = 950.5, .cy = 547.25,           \
        .n_k = count, .calibrated = true, .k = {                                                   \
            __VA_ARGS__                                                                            \
        }                                                                                          \
    }

/* Invented, of the size that wide-angle scene cameras have. */
static const LfLens test_lenses[] = {
    LENS(0, 0),
    LENS(4, -0.28, 0.07, 0.0008, -0.0005),
    LENS(5, -0.32, 0.12, 0.001, 0.0006, -0.005),
    LENS(5, 0.15, 0.05, -0.002, 0.001, 0.01),
    LENS(8, 1.9, 0.7, 0.0003, -0.0002, 0.05, 2.2, 1.3, 0.2),
    LENS(12, -0.2, 0.05, 0.001, -0.001, -0.003, 0.02, -0.01, 0.001, 0.002, -0.001, -0.0015, 0.0007),
};

static void test_lens_round_trip(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(8);
    for (gsize l = 0; l < G_N_ELEMENTS(test_lenses); l++) {
        const LfLens *lens = &test_lenses[l];
        for (int i = 0; i < 2000; i++) {
            LfPoint frame = check_point(rand, 1919, 1079), u;
            if (!lf_lens_undistort(lens, frame, &u)) {
                fail_msg("lens %zu: (%g, %g) has no undistorted point", l, frame.x, frame.y);
            }
            LfPoint back = lf_lens_distort(lens, u);
            check_near(back.x, frame.x, 1e-8);
            check_near(back.y, frame.y, 1e-8);
        }
    }
}

static void test_lens_jacobian(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(9);
    const double h = 1e-3;
    for (gsize l = 0; l < G_N_ELEMENTS(test_lenses); l++) {
        for (int i = 0; i < 200; i++) {
            LfPoint at = check_point(rand, 1919, 1079);
            double jac[4];
            lf_lens_distort_jacobian(&test_lenses[l], at, jac);
            for (int axis = 0; axis < 2; axis++) {
                LfPoint d = {axis == 0 ? h : 0, axis == 1 ? h : 0};
                LfPoint lo = lf_lens_distort(&test_lenses[l], (LfPoint){at.x - d.x, at.y - d.y});
                LfPoint hi = lf_lens_distort(&test_lenses[l], (LfPoint){at.x + d.x, at.y + d.y});
                check_near(jac[axis], (hi.x - lo.x) / (2 * h), 1e-7);
                check_near(jac[2 + axis], (hi.y - lo.y) / (2 * h), 1e-7);
            }
        }
    }
}

static bool test_lens_in_frame(const LfLens *lens, LfPoint p)
{
    return p.x >= -0.5 && p.x < lens->width - 0.5 && p.y >= -0.5 && p.y < lens->height - 0.5;
}

/* Wherever distort lands in the frame, undistort leads back to where it came from: nothing from
 * beyond the model's turning point is mirrored into the picture. Rays up to 88 degrees. */
static void test_lens_never_folds(void **state)
{
    (void)state;
    static const LfLens folding[] = {
        /* barrel without a second term turns at r^2 = 1 / (3 * 0.4), inside of the frame's corners
         */
        LENS(4, -0.4, 0, 0, 0),
        LENS(5, -0.35, 0.2, 0.001, -0.002, -0.06),
        /* turns, and turns again further out */
        LENS(5, -0.9, 0.35, 0, 0, 0),
        /* a pole at r^2 = 2.5 */
        LENS(8, -0.1, 0, 0, 0, 0, -0.4, 0, 0),
    };
    g_autoptr(GRand) rand = g_rand_new_with_seed(10);
    for (gsize l = 0; l < G_N_ELEMENTS(folding); l++) {
        const LfLens *lens = &folding[l];
        int inside = 0, outside = 0;
        for (int i = 0; i < 20000; i++) {
            double r = tan(g_rand_double_range(rand, 0, 88 * G_PI / 180));
            double a = g_rand_double_range(rand, 0, 2 * G_PI);
            LfPoint u = {lens->cx + lens->fx * r * cos(a), lens->cy + lens->fy * r * sin(a)};
            LfPoint frame = lf_lens_distort(lens, u), back;
            if (!test_lens_in_frame(lens, frame)) {
                outside++;
                continue;
            }
            inside++;
            if (!lf_lens_undistort(lens, frame, &back)) {
                fail_msg("lens %zu: (%g, %g) does not lead back from (%g, %g)", l, u.x, u.y,
                         frame.x, frame.y);
            }
            check_near(back.x, u.x, 1e-3);
            check_near(back.y, u.y, 1e-3);
        }
        assert_true(inside > 1000 && outside > 1000);
    }

    /* The barrel's largest radius is g(r) = r (1 - 0.4 r^2) at r = sqrt(1 / 1.2): 2 r / 3. */
    double limit_px = 2.0 / 3 * sqrt(1 / 1.2) * folding[0].fx;
    LfPoint u;
    assert_true(lf_lens_undistort(&folding[0], (LfPoint){950.5 - limit_px + 1, 547.25}, &u));
    assert_false(lf_lens_undistort(&folding[0], (LfPoint){950.5 - limit_px - 1, 547.25}, &u));
    /* and beyond it the answer is out of the frame, on the same side */
    LfPoint far = lf_lens_distort(&folding[0], (LfPoint){950.5 - 3000, 547.25});
    assert_true(far.x < -1920);
    check_near(far.y, 547.25, 1e-9);
    double jac[4];
    lf_lens_distort_jacobian(&folding[0], (LfPoint){950.5 - 3000, 547.25}, jac);
    check_near(jac[0], 1, 0);
    check_near(jac[1], 0, 0);
}

static void test_lens_not_finite(void **state)
{
    (void)state;
    LfPoint u;
    for (gsize l = 0; l < G_N_ELEMENTS(test_lenses); l++) {
        assert_false(lf_lens_undistort(&test_lenses[l], (LfPoint){NAN, 3}, &u));
        assert_false(lf_lens_undistort(&test_lenses[l], (LfPoint){3, INFINITY}, &u));
    }
    LfLens broken = test_lenses[2];
    broken.k[0] = NAN;
    assert_false(lf_lens_undistort(&broken, (LfPoint){10, 10}, &u));
}

/* The same point of the scene: x_small = (x + 0.5) s - 0.5, edges on edges. */
static void test_lens_scaled(void **state)
{
    (void)state;
    for (gsize l = 0; l < G_N_ELEMENTS(test_lenses); l++) {
        const LfLens *lens = &test_lenses[l];
        LfLens half = lf_lens_scaled(lens, 640, 360);
        assert_int_equal(half.width, 640);
        assert_int_equal(half.height, 360);
        for (int i = 0; i < 9; i++) {
            LfPoint u = {300.0 + 500 * (i % 3), 100.0 + 350 * (i / 3)};
            LfPoint big = lf_lens_distort(lens, u);
            LfPoint small =
                lf_lens_distort(&half, (LfPoint){(u.x + 0.5) / 3 - 0.5, (u.y + 0.5) / 3 - 0.5});
            check_near(small.x, (big.x + 0.5) / 3 - 0.5, 1e-9);
            check_near(small.y, (big.y + 0.5) / 3 - 0.5, 1e-9);
        }
        LfLens same = lf_lens_scaled(&half, 1920, 1080);
        check_near(same.cx, lens->cx, 1e-9);
        check_near(same.fy, lens->fy, 1e-9);
    }
}

static void test_lens_plain(void **state)
{
    (void)state;
    LfLens lens = lf_lens_plain(1640, 900);
    LfPoint p = {123.25, -7}, q = lf_lens_distort(&lens, p);
    double jac[4];
    check_near(q.x, p.x, 0);
    check_near(q.y, p.y, 0);
    assert_true(lf_lens_undistort(&lens, p, &q));
    check_near(q.x, p.x, 0);
    lf_lens_distort_jacobian(&lens, p, jac);
    check_near(jac[0] * jac[3] - jac[1] * jac[2], 1, 0);
    /* one degree is 1640 / 82 = 20 px, in the middle as at the edge */
    check_near(lf_lens_angle_deg(&lens, (LfPoint){0, 0}, (LfPoint){20, 0}), 1, 1e-12);
    check_near(lf_lens_angle_deg(&lens, (LfPoint){820, 450}, (LfPoint){832, 466}), 1, 1e-12);
    LfLens small = lf_lens_scaled(&lens, 820, 450);
    check_near(lf_lens_angle_deg(&small, (LfPoint){0, 0}, (LfPoint){10, 0}), 1, 1e-12);
}

static void test_lens_angle(void **state)
{
    (void)state;
    LfLens lens = {.width = 1000,
                   .height = 1000,
                   .fx = 500,
                   .fy = 500,
                   .cx = 500,
                   .cy = 500,
                   .calibrated = true};
    static const struct {
        LfPoint a, b;
        double deg, tolerance;
    } cases[] = {
        {{500, 500}, {1000, 500}, 45, 1e-12},
        {{0, 500}, {1000, 500}, 90, 1e-12},
        {{500, 0}, {500, 500}, 45, 1e-12},
        {{700, 300}, {700, 300}, 0, 0},
        /* (1, 1, 1) and (1, -1, 1): cos = 1/3 */
        {{1000, 1000}, {1000, 0}, 70.528779365509308, 1e-12},
        /* tiny angles keep their digits: 1e-6 px / 500 px */
        {{500, 500}, {500.000001, 500}, 1e-6 / 500 * 180 / G_PI, 1e-15},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        check_near(lf_lens_angle_deg(&lens, cases[i].a, cases[i].b), cases[i].deg,
                   cases[i].tolerance);
        check_near(lf_lens_angle_deg(&lens, cases[i].b, cases[i].a), cases[i].deg,
                   cases[i].tolerance);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_lens_round_trip),  cmocka_unit_test(test_lens_jacobian),
        cmocka_unit_test(test_lens_never_folds), cmocka_unit_test(test_lens_not_finite),
        cmocka_unit_test(test_lens_scaled),      cmocka_unit_test(test_lens_plain),
        cmocka_unit_test(test_lens_angle),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
