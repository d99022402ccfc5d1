/* Lines and rings by distance: they cover what geometry says, and no pixel twice. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "draw/stroke.h"

enum { SIDE = 200 };

static const LfInk INK = {1, 0.5, 0.25, 0.8};

static LfStrokeSheet sheet_new(void)
{
    return (LfStrokeSheet){g_new0(uint32_t, SIDE * SIDE), SIDE, 0, 0, SIDE, SIDE};
}

/* Pixels covered, the ink's own opacity being whole; fails where one is darker than the ink. */
static double sheet_area(const LfStrokeSheet *s)
{
    double sum = 0;

    for (int i = 0; i < SIDE * SIDE; i++) {
        const uint32_t a = s->argb[i] >> 24, r = s->argb[i] >> 16 & 255, g = s->argb[i] >> 8 & 255,
                       b = s->argb[i] & 255;
        if (a > 204 + 1)
            fail_msg("pixel %d, %d: alpha %u is more than the ink's 204", i % SIDE, i / SIDE, a);
        if (r > a + 1 || fabs(g - 0.5 * r) > 1.5 || fabs(b - 0.25 * r) > 1.5)
            fail_msg("pixel %d, %d: %u %u %u %u is not of the ink's colour", i % SIDE, i / SIDE, a,
                     r, g, b);
        sum += a / 204.0;
    }
    return sum;
}

static void test_line(void **state)
{
    static const struct {
        gsize n;
        LfPoint points[6];
        double width, area;
    } CASES[] = {
        /* length x width, and a disc for the two ends */
        {2, {{20, 50}, {120, 50}}, 5, 500 + G_PI * 6.25},
        {2, {{50, 20}, {50, 120}}, 1, 100 + G_PI / 4},
        {2, {{20.3, 30.7}, {80.3, 110.7}}, 4, 400 + G_PI * 4},
        {2, {{20.3, 30.7}, {80.3, 110.7}}, 0.5, 50 + G_PI / 16},
        {2, {{60, 60}, {60, 60}}, 20, G_PI * 100},
        /* bent by a right angle: a square less, a quarter of a disc more */
        {3, {{20, 20}, {100, 20}, {100, 80}}, 8, 8 * 140 - 16 + G_PI * 4 + G_PI * 16},
        /* nearly straight, as an edge bent by a lens */
        {5, {{10, 100}, {50, 101}, {90, 101.5}, {130, 101}, {170, 100}}, 3, 480.1 + G_PI * 2.25},
        /* closed: four joints, no ends */
        {5, {{50, 50}, {150, 50}, {150, 150}, {50, 150}, {50, 50}}, 6, 4 * (600 - 9) + G_PI * 9},
        {0, {{0, 0}}, 5, 0},
        {1, {{50, 50}}, 5, 0},
    };

    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(CASES); i++) {
        const LfStrokeSheet s = sheet_new();
        lf_stroke_line(&s, CASES[i].points, CASES[i].n, CASES[i].width, INK);
        const double area = sheet_area(&s);
        if (fabs(area - CASES[i].area) > 0.01 * CASES[i].area + 1)
            fail_msg("line %" G_GSIZE_FORMAT " covers %.1f px, not %.1f", i, area, CASES[i].area);
        g_free(s.argb);
    }
}

static void test_ring(void **state)
{
    static const double CASES[][2] = {{0, 30}, {0, 2}, {28, 32}, {1, 3}, {0.3, 12}, {59.7, 60.9}};

    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(CASES); i++) {
        const LfStrokeSheet s = sheet_new();
        const double inner = CASES[i][0], outer = CASES[i][1];
        lf_stroke_ring(&s, (LfPoint){99.6, 100.2}, inner, outer, INK);
        const double area = sheet_area(&s), want = G_PI * (outer * outer - inner * inner);
        if (fabs(area - want) > 0.01 * want + 1)
            fail_msg("ring of %g to %g px covers %.1f px, not %.1f", inner, outer, area, want);
        g_free(s.argb);
    }
}

/* Half outside, and all of it. */
static void test_outside(void **state)
{
    LfStrokeSheet s = sheet_new();
    const LfPoint through[] = {{-9e4, 100}, {9e4, 100}}, far[] = {{-9e4, -20}, {9e4, -21}};
    const LfPoint flat[] = {{-9e4, 50}, {9e4, 50.001}};

    (void)state;
    lf_stroke_line(&s, far, 2, 5, INK);
    lf_stroke_ring(&s, (LfPoint){-50, 100}, 0, 49, INK);
    assert_true(sheet_area(&s) == 0);
    s.x1 = SIDE / 2;
    lf_stroke_line(&s, through, 2, 2, INK);
    lf_stroke_line(&s, flat, 2, 2, INK);
    assert_true(fabs(sheet_area(&s) - 2 * SIDE) < 4);
    for (int y = 0; y < SIDE; y++)
        assert_int_equal(s.argb[y * SIDE + SIDE / 2], 0);
    g_free(s.argb);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_line),
        cmocka_unit_test(test_ring),
        cmocka_unit_test(test_outside),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
