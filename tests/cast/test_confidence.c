/* The confidence model: always a probability, and it moves the right way. */
#include "cast/scene.h"

#include <string.h>

#include <lookfall/cast.h>

#include "cast/confidence.h"

static const LfEvidence CONFIDENCE_FIRM = {.sigma_deg = 0.02,
                                           .agreement = 0.95,
                                           .support = 4,
                                           .good_share = 0.95,
                                           .share_good = 0.9,
                                           .n_good = 120,
                                           .cover = 1,
                                           .motion_deg = 0.2,
                                           .spread_deg = 0.02,
                                           .mismatch = 1};

/* Evidence as it may come: any value within its range, some beyond reason. */
static LfEvidence confidence_random(GRand *rand)
{
    return (LfEvidence){.sigma_deg = pow(10, g_rand_double_range(rand, -6, 3)),
                        .agreement = g_rand_double(rand),
                        .support = g_rand_double_range(rand, 0, 50),
                        .good_share = g_rand_double(rand),
                        .share_good = g_rand_double(rand),
                        .n_good = g_rand_int_range(rand, 0, 320),
                        .cover = g_rand_double(rand),
                        .rival = g_rand_double(rand),
                        .gap_frames = g_rand_int_range(rand, 0, 30),
                        .motion_deg = pow(10, g_rand_double_range(rand, -3, 2)),
                        .spread_deg = pow(10, g_rand_double_range(rand, -3, 2)),
                        .shift_deg = pow(10, g_rand_double_range(rand, -3, 2)),
                        .mismatch = pow(10, g_rand_double_range(rand, -3, 3)),
                        .missing = g_rand_double_range(rand, 0, 2),
                        .tint = pow(10, g_rand_double_range(rand, -2, 2)),
                        .elsewhere = g_rand_double(rand)};
}

static void test_confidence_range(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(3);
    LfEvidence zero = {0};
    double p = lf_confidence(&zero, 1);
    assert_true(p >= 0 && p <= 1);
    for (int i = 0; i < 20000; i++) {
        LfEvidence e = confidence_random(rand);
        double tolerance = pow(10, g_rand_double_range(rand, -1.5, 1.3));
        p = lf_confidence(&e, tolerance);
        if (!(p >= 0 && p <= 1))
            fail_msg("confidence %g", p);
    }
}

static void test_confidence_extremes(void **state)
{
    (void)state;
    LfEvidence worst = {
        .sigma_deg = 20, .rival = 1, .gap_frames = 12, .motion_deg = 6, .spread_deg = 2};
    assert_true(lf_confidence(&CONFIDENCE_FIRM, 1) > 0.95);
    assert_true(lf_confidence(&worst, 1) < 0.05);
}

/* What makes a point worse; better where sign is -1. */
static const struct {
    const char *name;
    size_t offset;
    double from, to;
    int sign;
} CONFIDENCE_MOVES[] = {
    {"sigma", offsetof(LfEvidence, sigma_deg), 0.01, 3, 1},
    {"rival", offsetof(LfEvidence, rival), 0, 1, 1},
    {"gap", offsetof(LfEvidence, gap_frames), 0, 6, 1},
    {"mismatch", offsetof(LfEvidence, mismatch), 1, 30, 1},
    {"missing texture", offsetof(LfEvidence, missing), 0, 1.5, 1},
    {"tint", offsetof(LfEvidence, tint), 1, 15, 1},
    {"elsewhere", offsetof(LfEvidence, elsewhere), 0, 1, 1},
    {"good share", offsetof(LfEvidence, good_share), 0, 1, -1},
    {"points", offsetof(LfEvidence, n_good), 10, 100, -1},
};

/* Log odds of +p or -p: tells 0.999 from 0.99. */
static double confidence_odds(double p)
{
    return p < 0 ? -log(-p / (1 + p)) : log(p / (1 - p));
}

static void test_confidence_moves(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(4);
    for (gsize m = 0; m < G_N_ELEMENTS(CONFIDENCE_MOVES); m++) {
        for (int trial = 0; trial < 500; trial++) {
            LfEvidence e = trial == 0 ? CONFIDENCE_FIRM : confidence_random(rand);
            double first = 0, last = 0;
            enum { STEPS = 10 };
            for (int i = 0; i <= STEPS; i++) {
                double v = CONFIDENCE_MOVES[m].from +
                           (CONFIDENCE_MOVES[m].to - CONFIDENCE_MOVES[m].from) * i / STEPS;
                memcpy((char *)&e + CONFIDENCE_MOVES[m].offset, &v, sizeof v);
                double p = CONFIDENCE_MOVES[m].sign * lf_confidence(&e, 1);
                if (i > 0 && p > last + 1e-12)
                    fail_msg("%s: %g after %g at step %d of trial %d", CONFIDENCE_MOVES[m].name, p,
                             last, i, trial);
                if (i == 0)
                    first = p;
                last = p;
            }
            /* and from end to end it counts: a term of no weight would pass the above */
            if (trial == 0 && !(confidence_odds(last) < confidence_odds(first) - 0.05))
                fail_msg("%s does not count: %g to %g", CONFIDENCE_MOVES[m].name, first, last);
        }
    }
}

static void test_confidence_tolerance(void **state)
{
    (void)state;
    static const double tolerances[] = {0.1, 0.25, 0.5, 1, 1.5, 2, 5, 10};
    g_autoptr(GRand) rand = g_rand_new_with_seed(5);
    for (int trial = 0; trial < 2000; trial++) {
        LfEvidence e = trial == 0 ? CONFIDENCE_FIRM : confidence_random(rand);
        double last = 0;
        for (gsize i = 0; i < G_N_ELEMENTS(tolerances); i++) {
            double p = lf_confidence(&e, tolerances[i]);
            if (p < last - 1e-12)
                fail_msg("a tolerance of %g deg: %g, after %g", tolerances[i], p, last);
            last = p;
        }
    }
}

static void test_confidence_blocked(void **state)
{
    (void)state;
    LfEvidence hand = CONFIDENCE_FIRM;
    hand.good_share = 0.05;
    hand.agreement = 0.2;
    assert_true(lf_confidence_blocked(&hand));
    assert_false(lf_confidence_blocked(&CONFIDENCE_FIRM));
    LfEvidence unknown = hand; /* no texture around: nothing can be said */
    unknown.support = 0.1;
    assert_false(lf_confidence_blocked(&unknown));
    LfEvidence other = CONFIDENCE_FIRM; /* none around, and the picture there is another one */
    other.support = 0;
    other.mismatch = 20;
    other.missing = 1.5;
    assert_true(lf_confidence_blocked(&other));
    LfEvidence weak = hand; /* the pose itself may be wrong */
    weak.n_good = 10;
    weak.share_good = 0.1;
    assert_false(lf_confidence_blocked(&weak));
}

static void test_confidence_names(void **state)
{
    (void)state;
    double x[LF_CONFIDENCE_FEATURES];
    lf_confidence_features(&CONFIDENCE_FIRM, 1, x);
    assert_string_equal(lf_confidence_feature_name(0), "constant");
    check_near(x[0], 1, 0);
    for (int i = 0; i < LF_CONFIDENCE_FEATURES; i++) {
        assert_true(isfinite(x[i]));
        for (int j = 0; j < i; j++)
            assert_string_not_equal(lf_confidence_feature_name(i), lf_confidence_feature_name(j));
    }
}

/* A table of other weights has another version: put both here. */
static void test_confidence_version(void **state)
{
    (void)state;
    assert_string_equal(lf_confidence_model(), "7-b07190bede99");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_confidence_range),   cmocka_unit_test(test_confidence_extremes),
        cmocka_unit_test(test_confidence_moves),   cmocka_unit_test(test_confidence_tolerance),
        cmocka_unit_test(test_confidence_blocked), cmocka_unit_test(test_confidence_names),
        cmocka_unit_test(test_confidence_version),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
