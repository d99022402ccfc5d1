/* 3x3 mappings: products, inverses, orientation, derivatives. */
#include "geometry/check.h"

#include <string.h>

static const LfMat3 test_view = {{1.1, 0.1, 30, -0.05, 0.9, -20, 1e-4, -2e-4, 1}};

static LfMat3 test_mat3_random(GRand *rand)
{
    LfMat3 m;
    for (int i = 0; i < 9; i++) {
        m.m[i] = g_rand_double_range(rand, -1, 1);
    }
    return m;
}

static void test_mat3_mul_order(void **state)
{
    (void)state;
    /* first scale by 2, then shift by 10 */
    LfMat3 shift = lf_mat3_translation(10, -5), scale = lf_mat3_scaling(2, 3);
    LfMat3 both = lf_mat3_mul(&shift, &scale);
    LfPoint p;
    assert_true(lf_mat3_apply(&both, (LfPoint){1, 1}, &p));
    check_near(p.x, 12, 0);
    check_near(p.y, -2, 0);
    LfMat3 one = lf_mat3_identity(), same = lf_mat3_mul(&one, &both);
    assert_memory_equal(&same, &both, sizeof same);
}

static void test_mat3_invert_random(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(1);
    for (int round = 0; round < 1000; round++) {
        LfMat3 m = test_mat3_random(rand), inverse;
        assert_true(lf_mat3_invert(&m, &inverse));
        LfMat3 product = lf_mat3_mul(&m, &inverse);
        double size = 0;
        for (int i = 0; i < 9; i++) {
            size = fmax(size, fabs(inverse.m[i]));
        }
        for (int i = 0; i < 9; i++) {
            check_near(product.m[i], i % 4 == 0, 1e-14 * (1 + size));
        }
    }
}

static void test_mat3_invert_refuses(void **state)
{
    (void)state;
    static const struct {
        const char *what;
        LfMat3 m;
    } cases[] = {
        {"zero", {{0}}},
        {"rank one", {{1, 2, 3, 2, 4, 6, 3, 6, 9}}},
        {"rank two", {{1, 2, 3, 4, 5, 6, 7, 8, 9}}},
        {"rank two, px scaled", {{0.1, 0.7, 512, 0.2, 1.4, 1024, 1e-5, 3e-4, 1}}},
        {"NaN", {{NAN, 0, 0, 0, 1, 0, 0, 0, 1}}},
        {"infinite", {{1, 0, INFINITY, 0, 1, 0, 0, 0, 1}}},
        {"underflows", {{1e-200, 0, 0, 0, 1e-200, 0, 0, 0, 1}}},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfMat3 out = lf_mat3_translation(7, 7), before = out;
        if (lf_mat3_invert(&cases[i].m, &out)) {
            fail_msg("%s was inverted", cases[i].what);
        }
        assert_memory_equal(&out, &before, sizeof out);
    }
}

/* Badly scaled is not singular: rows and columns in px and in 1/px. */
static void test_mat3_invert_keeps_scaled(void **state)
{
    (void)state;
    LfMat3 big = lf_mat3_scaling(1e8, 1e8), small = lf_mat3_scaling(1e-8, 1e-8), inverse;
    LfMat3 m = lf_mat3_mul(&big, &test_view);
    m = lf_mat3_mul(&m, &small);
    assert_true(lf_mat3_invert(&m, &inverse));
}

static void test_mat3_normalize_signs(void **state)
{
    (void)state;
    static const struct {
        LfMat3 in;
        double m8, norm;
    } cases[] = {
        {{{2, 0, 0, 0, 2, 0, 0, 0, 2}}, 1, 0},
        {{{2, 0, 0, 0, 2, 0, 0, 0, -4}}, -1, 0},
        {{{3, 0, 0, 0, 4, 0, 0, 0, 0}}, 0, 1},
        {{{3, 0, 0, 0, 4, 0, 0, 0, 1e-20}}, 2e-21, 1},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfMat3 out = lf_mat3_normalize(&cases[i].in);
        check_near(out.m[8], cases[i].m8, 1e-30);
        double squares = 0;
        for (int j = 0; j < 9; j++) {
            squares += out.m[j] * out.m[j];
        }
        if (cases[i].norm > 0) {
            check_near(sqrt(squares), cases[i].norm, 1e-15);
        }
    }
    LfMat3 zero = {{0}}, out = lf_mat3_normalize(&zero);
    assert_memory_equal(&out, &zero, sizeof out);
}

static void test_mat3_apply_horizon(void **state)
{
    (void)state;
    /* w = 1 - x / 100: the horizon is x = 100 */
    LfMat3 m = {{1, 0, 0, 0, 1, 0, -0.01, 0, 1}};
    LfPoint p = {-1, -1};
    assert_true(lf_mat3_apply(&m, (LfPoint){50, 10}, &p));
    check_near(p.x, 100, 1e-12);
    check_near(p.y, 20, 1e-12);
    assert_false(lf_mat3_apply(&m, (LfPoint){100, 10}, &p));
    assert_false(lf_mat3_apply(&m, (LfPoint){101, 10}, &p));
    assert_false(lf_mat3_apply(&m, (LfPoint){NAN, 10}, &p));
    check_near(p.x, 100, 1e-12); /* untouched */

    /* Negated, the other side is in front, and it stays so through normalising and inverting. */
    for (int i = 0; i < 9; i++) {
        m.m[i] *= -3;
    }
    m = lf_mat3_normalize(&m);
    check_near(m.m[8], -1, 0);
    assert_false(lf_mat3_apply(&m, (LfPoint){50, 10}, &p));
    assert_true(lf_mat3_apply(&m, (LfPoint){150, 10}, &p));
    LfMat3 inverse;
    assert_true(lf_mat3_invert(&m, &inverse));
    LfPoint back;
    assert_true(lf_mat3_apply(&inverse, p, &back));
    check_near(back.x, 150, 1e-10);
    check_near(back.y, 10, 1e-10);
}

static void test_mat3_jacobian_numeric(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(2);
    const double h = 1e-3;
    for (int round = 0; round < 200; round++) {
        LfPoint at = check_point(rand, 1920, 1080), lo, hi;
        double jac[4];
        assert_true(lf_mat3_jacobian(&test_view, at, jac));
        for (int axis = 0; axis < 2; axis++) {
            LfPoint d = {axis == 0 ? h : 0, axis == 1 ? h : 0};
            assert_true(lf_mat3_apply(&test_view, (LfPoint){at.x - d.x, at.y - d.y}, &lo));
            assert_true(lf_mat3_apply(&test_view, (LfPoint){at.x + d.x, at.y + d.y}, &hi));
            check_near(jac[axis], (hi.x - lo.x) / (2 * h), 1e-8);
            check_near(jac[2 + axis], (hi.y - lo.y) / (2 * h), 1e-8);
        }
    }
    LfMat3 m = {{1, 0, 0, 0, 1, 0, -0.01, 0, 1}};
    double jac[4];
    assert_false(lf_mat3_jacobian(&m, (LfPoint){100, 0}, jac));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_mat3_mul_order),
        cmocka_unit_test(test_mat3_invert_random),
        cmocka_unit_test(test_mat3_invert_refuses),
        cmocka_unit_test(test_mat3_invert_keeps_scaled),
        cmocka_unit_test(test_mat3_normalize_signs),
        cmocka_unit_test(test_mat3_apply_horizon),
        cmocka_unit_test(test_mat3_jacobian_numeric),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
