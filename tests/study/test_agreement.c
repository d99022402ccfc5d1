/* Agreement of two reviewers, against numbers worked out by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include "study/review_fixture.h"

#define DEGREE_PX (480 / 82.0) /* of a frame without a camera file */

static const LfReviewer ana = {"Ana", false}, eve = {"Eve", true};

/* One reviewer puts the sample at t_us to (200 + right, 100), or says that it is away. */
static void place(LfStudy *study, const LfReviewer *who, int64_t t_us, double right, bool away)
{
    LfStretch stretch = review_stretch(study, who, t_us);
    LfDecision decision = {.stretch = stretch.id,
                           .version = stretch.version,
                           .kind = away ? LF_DECIDE_AWAY : LF_DECIDE_POINT,
                           .scope = LF_SCOPE_SAMPLE,
                           .t_us = t_us,
                           .photo = 1,
                           .x = 200 + right,
                           .y = 100,
                           .radius_px = NAN};
    review_decide(study, who, &decision, LF_DECIDED);
}

static void test_none(void **state)
{
    g_autoptr(Bed) bed = bed_new();
    g_autoptr(LfStudy) study = review_make(bed);
    (void)state;
    g_autoptr(GPtrArray) rows = lf_study_agreement(study, NULL);
    assert_int_equal(rows->len, 0);
    place(study, &ana, 1100000, 0, false);
    g_autoptr(GPtrArray) again = lf_study_agreement(study, NULL);
    assert_int_equal(again->len, 0);
    bed_expect(bed, 3, "blind second opinion", "export r.lookfall agreement");
}

/* Ten pairs of one sample each. Distances 0, 0.5, 1, 1.5, 2 and 2.5 degrees on the photo: median
 * 1.25, 95% at 0.95 * 5 = 4.75 between ranks: 2 + 0.75 * 0.5 = 2.375. Three both away, one of them
 * not for Ana: states 6 (photo, photo), 3 (away, away), 1 (photo, away). Observed 0.9; by chance
 * 0.7 * 0.6 + 0.3 * 0.4 = 0.54; kappa (0.9 - 0.54) / 0.46 = 0.782609. */
static void test_hand(void **state)
{
    g_autoptr(Bed) bed = bed_new();
    g_autoptr(LfStudy) study = review_make(bed);
    (void)state;
    for (int i = 0; i < 10; i++) {
        int64_t t_us = 1040000 + 40000 * i; /* each with a frame of its own; none of them lost */
        place(study, &ana, t_us, 0, i >= 6 && i < 9);
        place(study, &eve, t_us, 0.5 * i * DEGREE_PX, i >= 6);
    }
    g_autoptr(GPtrArray) rows = lf_study_agreement(study, NULL);
    assert_int_equal(rows->len, 1);
    const LfAgreement *row = rows->pdata[0];
    assert_string_equal(row->first, "Ana");
    assert_string_equal(row->second, "Eve");
    assert_int_equal(row->pairs, 10);
    assert_int_equal(row->samples, 10);
    assert_int_equal(row->points, 6);
    assert_true(fabs(row->median_deg - 1.25) < 1e-9);
    assert_true(fabs(row->p95_deg - 2.375) < 1e-9);
    assert_true(fabs(row->same_state - 0.9) < 1e-12);
    assert_true(fabs(row->kappa - 0.36 / 0.46) < 1e-12);
    assert_true(row->kappa_low < row->kappa && row->kappa < row->kappa_high);
    g_autofree char *text = bed_output(bed, "export r.lookfall agreement");
    assert_non_null(strstr(text, "first,second,pairs,samples,points,distance_median_deg,"));
    assert_non_null(strstr(text, "Ana,Eve,10,10,6,1.250,2.375,0.9000,0.7826,"));
}

/* A guess that flickers, kept whole by both: one pair, however often its state changes. */
static void test_flicker(void **state)
{
    g_autoptr(Bed) bed = bed_new();
    g_autoptr(LfStudy) study = review_make(bed);
    (void)state;
    review_sql(study, "UPDATE cast_sample SET state = 2 WHERE walk = 1 AND state = 3 AND "
                      "t_us BETWEEN 1000000 AND 2000000 AND t_us / 20000 % 3 = 0");
    const LfReviewer *who[] = {&ana, &eve};
    for (int i = 0; i < 2; i++) {
        LfStretch stretch = review_stretch(study, who[i], 1500000);
        LfDecision decision = {.stretch = stretch.id,
                               .version = stretch.version,
                               .kind = i == 0 ? LF_DECIDE_ACCEPT : LF_DECIDE_AWAY,
                               .scope = LF_SCOPE_STRETCH,
                               .x = NAN,
                               .y = NAN,
                               .radius_px = NAN};
        review_decide(study, who[i], &decision, LF_DECIDED);
    }
    g_autoptr(GPtrArray) rows = lf_study_agreement(study, NULL);
    assert_int_equal(rows->len, 1);
    const LfAgreement *row = rows->pdata[0];
    assert_int_equal(row->pairs, 1);
    assert_true(row->samples > 20);
    assert_int_equal(row->points, 0);
    assert_true(row->same_state == 0);
}

/* A second blind reviewer: a row for each pair of people, and one for all. */
static void test_all(void **state)
{
    g_autoptr(Bed) bed = bed_new();
    g_autoptr(LfStudy) study = review_make(bed);
    const LfReviewer kim = {"Kim", true};
    (void)state;
    place(study, &ana, 1100000, 0, false);
    place(study, &eve, 1100000, DEGREE_PX, false);
    place(study, &kim, 1100000, 3 * DEGREE_PX, false);
    g_autoptr(GPtrArray) rows = lf_study_agreement(study, NULL);
    assert_int_equal(rows->len, 3);
    static const double wanted[] = {1, 3, 2};
    for (int i = 0; i < 3; i++) {
        const LfAgreement *row = rows->pdata[i];
        assert_true(fabs(row->median_deg - wanted[i]) < 1e-9);
        assert_true(isnan(row->kappa)); /* all on one photo: chance explains it */
    }
    assert_null(((const LfAgreement *)rows->pdata[2])->first);
    assert_int_equal(((const LfAgreement *)rows->pdata[2])->pairs, 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_none),
        cmocka_unit_test(test_hand),
        cmocka_unit_test(test_flicker),
        cmocka_unit_test(test_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
