/* The accuracy table, on pairings whose answers are worked out by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>

#include "score.h"

#define NEAR(a, b) assert_true(fabs((a) - (b)) < 1e-12)

static GArray *pairings_of(const LrPairing *p, guint n)
{
    GArray *out = g_array_new(FALSE, FALSE, sizeof *p);
    g_array_append_vals(out, p, n);
    return out;
}

static void counts_are_right(void **state)
{
    (void)state;
    const LrPairing p[] = {
        /* truth, cast, same photo, error, px per degree, confidence */
        {LR_SEEN_VISIBLE, LR_CAST_SURE, true, 1, 20, 0.9},
        {LR_SEEN_VISIBLE, LR_CAST_SURE, true, 3, 20, 0.9},
        {LR_SEEN_VISIBLE, LR_CAST_SURE, true, 21, 20, 0.9}, /* wrong: over a degree */
        {LR_SEEN_VISIBLE, LR_CAST_SURE, false, 0, 20, 0.9}, /* wrong: another photo */
        {LR_SEEN_VISIBLE, LR_CAST_DOUBTFUL, true, 2, 20, 0.4},
        {LR_SEEN_VISIBLE, LR_CAST_BLOCKED, true, 2, 20, 0.2},
        {LR_SEEN_BLOCKED, LR_CAST_SURE, true, 2, 20, 0.8},
        {LR_SEEN_BLOCKED, LR_CAST_BLOCKED, true, 2, 20, 0.1},
        {LR_SEEN_AWAY, LR_CAST_SURE, false, NAN, NAN, 0.8},
        {LR_SEEN_AWAY, LR_CAST_AWAY, false, NAN, NAN, NAN},
        {LR_SEEN_LOST, LR_CAST_LOST, false, NAN, NAN, NAN},
    };
    g_autoptr(GArray) pairings = pairings_of(p, G_N_ELEMENTS(p));
    LrScore s = lr_score_make(pairings, 1);
    assert_int_equal(s.samples, 11);
    assert_int_equal(s.visible, 6);
    assert_int_equal(s.visible_sure, 4);
    assert_int_equal(s.wrong, 2);
    assert_int_equal(s.off_photo, 4);
    assert_int_equal(s.off_photo_sure, 2);
    assert_int_equal(s.blocked, 2);
    assert_int_equal(s.blocked_sure, 1);
    assert_int_equal(s.blocked_told, 1);
    assert_int_equal(s.visible_blocked, 1);
    assert_int_equal(s.judged, 9);
    NEAR(s.median_px, 3);
    NEAR(s.p95_px, 3 + 0.9 * 18); /* errors 1 3 21, between the last two */
    assert_int_equal(lr_score_make(pairings, 2).wrong, 1);
}

static void calibration_is_right(void **state)
{
    (void)state;
    const LrPairing p[] = {
        {LR_SEEN_VISIBLE, LR_CAST_SURE, true, 1, 20, 0.9},
        {LR_SEEN_VISIBLE, LR_CAST_SURE, true, 1, 20, 0.9},
        {LR_SEEN_VISIBLE, LR_CAST_SURE, true, 99, 20, 0.9},
        {LR_SEEN_AWAY, LR_CAST_DOUBTFUL, false, NAN, NAN, 0.25},
        {LR_SEEN_VISIBLE, LR_CAST_DOUBTFUL, true, 1, 20, 0.25},
    };
    g_autoptr(GArray) pairings = pairings_of(p, G_N_ELEMENTS(p));
    LrScore s = lr_score_make(pairings, 1);
    NEAR(s.brier, (0.01 + 0.01 + 0.81 + 0.0625 + 0.5625) / 5);
    /* Bins at 0.9 (2 of 3 right) and 0.25 (1 of 2): gaps 0.7 and 0.5, in samples. */
    NEAR(s.calibration_error, (0.7 + 0.5) / 5);
    /* Right 0.9 0.9 0.25 against wrong 0.9 0.25: pairs won 1+1, tied 2 x 1/2 + 1/2, of 6. */
    NEAR(s.auroc, (2 + 1.5) / 6);
}

static void nothing_gives_no_number(void **state)
{
    (void)state;
    g_autoptr(GArray) pairings = pairings_of(NULL, 0);
    LrScore s = lr_score_make(pairings, 1);
    assert_int_equal(s.samples, 0);
    assert_true(isnan(s.median_px) && isnan(s.p95_px) && isnan(s.brier) && isnan(s.auroc));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(counts_are_right),
        cmocka_unit_test(calibration_is_right),
        cmocka_unit_test(nothing_gives_no_number),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
