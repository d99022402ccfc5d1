/* Fixations found in recordings whose fixations are known. */
#include "look/eye.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static LfFixations *fixation_find(const GArray *directions, const LfFixationSettings *settings)
{
    g_autoptr(GError) error = NULL;
    LfFixations *found = lf_fixations_find((const LfDirection *)(void *)directions->data,
                                           directions->len, settings, &error);
    if (!found)
        fail_msg("%s", error->message);
    return found;
}

/* --- known fixations -------------------------------------------------------------------------- */

typedef struct {
    const char *name;
    EyeTracker tracker;
    LfFixationMethod method;
    double edge_ms;           /* most that a start or an end may be off */
    double least_ms, most_ms; /* of the mean error of lengths */
} FixationCase;

/* An edge is known to a sample interval and the slow beginning of a saccade; uneven times make
 * intervals of up to 1.8 times the mean. Errors of length have to cancel out, but for ringing,
 * which is no part of a fixation, and for the dispersion method, which takes the saccade's ends in.
 */
static const FixationCase fixation_cases[] = {
    {"30 Hz", {30, 0, 0.05, 0, 1}, LF_FIXATION_VELOCITY, 40, -4, 4},
    {"60 Hz", {60, 0, 0.05, 0, 2}, LF_FIXATION_VELOCITY, 20, -4, 4},
    {"60 Hz, uneven", {60, 0.8, 0.05, 0, 3}, LF_FIXATION_VELOCITY, 40, -4, 4},
    {"100 Hz, noise", {100, 0, 0.1, 0, 4}, LF_FIXATION_VELOCITY, 20, -4, 4},
    {"120 Hz, uneven", {120, 0.8, 0.05, 0, 5}, LF_FIXATION_VELOCITY, 35, -4, 4},
    {"200 Hz, much noise", {200, 0, 0.2, 0, 6}, LF_FIXATION_VELOCITY, 20, -4, 4},
    {"500 Hz", {500, 0, 0.02, 0, 7}, LF_FIXATION_VELOCITY, 6, -2, 2},
    {"1000 Hz", {1000, 0, 0.02, 0, 8}, LF_FIXATION_VELOCITY, 6, -2, 2},
    {"1000 Hz, much noise", {1000, 0, 0.2, 0, 9}, LF_FIXATION_VELOCITY, 20, -4, 4},
    {"no noise at all", {250, 0, 0, 0, 10}, LF_FIXATION_VELOCITY, 8, -2, 2},
    {"ringing", {500, 0, 0.02, 1, 11}, LF_FIXATION_VELOCITY, 40, -30, -15},
    {"dispersion, 60 Hz", {60, 0, 0.05, 0, 12}, LF_FIXATION_DISPERSION, 25, -5, 5},
    {"dispersion, 500 Hz", {500, 0, 0.02, 0, 13}, LF_FIXATION_DISPERSION, 40, 0, 15},
};

static void test_known(void **state)
{
    const FixationCase *c = *state;
    g_autoptr(GArray) rests = eye_plan(100, c->tracker.seed);
    g_autoptr(GArray) directions = eye_record(rests, &c->tracker);
    LfFixationSettings settings = lf_fixation_settings_default();
    settings.method = c->method;
    g_autoptr(LfFixations) found = fixation_find(directions, &settings);
    assert_int_equal(found->n_fixations, rests->len);
    double sum_s = 0, worst_ms = 0;
    for (guint i = 0; i < rests->len; i++) {
        const EyeRest *rest = &g_array_index(rests, EyeRest, i);
        const LfFixationSpan *f = &found->fixations[i];
        double from_ms = (double)f->from_us / 1e3 - rest->from_s * 1e3;
        double to_ms = (double)f->to_us / 1e3 - rest->to_s * 1e3;
        worst_ms = fmax(worst_ms, fmax(fabs(from_ms), fabs(to_ms)));
        sum_s += (double)(f->to_us - f->from_us) / 1e6 - (rest->to_s - rest->from_s);
        if (hypot(f->x_deg - rest->x_deg, f->y_deg - rest->y_deg) > 0.25)
            fail_msg("fixation %u lies at %.2f, %.2f", i, f->x_deg, f->y_deg);
    }
    print_message("%s: worst edge %.1f ms, mean length %+.1f ms\n", c->name, worst_ms,
                  1e3 * sum_s / rests->len);
    double mean_ms = 1e3 * sum_s / rests->len;
    if (!(worst_ms <= c->edge_ms && mean_ms >= c->least_ms && mean_ms <= c->most_ms))
        fail_msg("an edge is %.1f ms off, the mean length %+.1f ms", worst_ms, mean_ms);
}

/* --- rules ------------------------------------------------------------------------------------ */

/* Rests at given places and times; 500 Hz, hardly any noise. */
static GArray *fixation_record(const EyeRest *rests, guint n)
{
    g_autoptr(GArray) list = g_array_new(FALSE, FALSE, sizeof(EyeRest));
    const EyeTracker tracker = {500, 0, 0.01, 0, 20};
    g_array_append_vals(list, rests, n);
    return eye_record(list, &tracker);
}

static void fixation_expect_near(int64_t us, double s)
{
    if (fabs((double)us / 1e6 - s) > 0.008)
        fail_msg("%.3f s, expected %.3f s", (double)us / 1e6, s);
}

/* Samples from_s <= t < to_s are of this event; as many as there are. */
static void fixation_expect_events(const GArray *directions, const LfFixations *found,
                                   double from_s, double to_s, LfEvent event)
{
    gsize n = 0;
    for (guint i = 0; i < directions->len; i++) {
        double t = (double)g_array_index(directions, LfDirection, i).t_us / 1e6;
        if (t < from_s || t >= to_s)
            continue;
        if (found->events[i] != event)
            fail_msg("%.3f s: %s, expected %s", t, lf_event_name(found->events[i]),
                     lf_event_name(event));
        n++;
    }
    assert_true(n > 0);
}

/* A gap of 60 ms is bridged, one of 90 ms ends the fixation; lost samples stay lost. */
static void test_gaps(void **state)
{
    (void)state;
    static const EyeRest rest[] = {{0, 3, 5, 5}};
    g_autoptr(GArray) directions = fixation_record(rest, 1);
    eye_lose(directions, 1, 1.06);
    eye_lose(directions, 2, 2.09);
    LfFixationSettings settings = lf_fixation_settings_default();
    g_autoptr(LfFixations) found = fixation_find(directions, &settings);
    assert_int_equal(found->n_fixations, 2);
    assert_int_equal(found->fixations[0].from_us, 0);
    assert_int_equal(found->fixations[0].to_us, 2000000);
    assert_int_equal(found->fixations[0].samples, 1000 - 30);
    assert_int_equal(found->fixations[1].from_us, 2090000);
    assert_int_equal(found->fixations[1].to_us, 3000000);
    fixation_expect_events(directions, found, 1, 1.06, LF_EVENT_LOST);
    fixation_expect_events(directions, found, 2, 2.09, LF_EVENT_LOST);

    settings.bridge_ms = 0;
    g_autoptr(LfFixations) none = fixation_find(directions, &settings);
    assert_int_equal(none->n_fixations, 3);
    settings.bridge_ms = 100;
    g_autoptr(LfFixations) both = fixation_find(directions, &settings);
    assert_int_equal(both->n_fixations, 1);
}

/* Rows that are missing from the file are a gap like any other. */
static void test_missing_rows(void **state)
{
    (void)state;
    static const EyeRest rest[] = {{0, 2, 0, 0}};
    g_autoptr(GArray) directions = fixation_record(rest, 1);
    g_array_remove_range(directions, 500, 100); /* 200 ms */
    const LfFixationSettings settings = lf_fixation_settings_default();
    g_autoptr(LfFixations) found = fixation_find(directions, &settings);
    assert_int_equal(found->n_fixations, 2);
    assert_int_equal(found->fixations[0].to_us, 1000000); /* an interval after its last sample */
    assert_int_equal(found->fixations[1].from_us, 1200000);
}

/* A gap in which the eye moved on is not bridged, however short. */
static void test_moved_in_gap(void **state)
{
    (void)state;
    static const EyeRest rests[] = {{0, 1, 0, 0}, {1.03, 2, 3, 0}};
    g_autoptr(GArray) directions = fixation_record(rests, 2);
    eye_lose(directions, 0.998, 1.034);
    const LfFixationSettings settings = lf_fixation_settings_default();
    g_autoptr(LfFixations) found = fixation_find(directions, &settings);
    assert_int_equal(found->n_fixations, 2);
    fixation_expect_near(found->fixations[0].to_us, 1);
    fixation_expect_near(found->fixations[1].from_us, 1.034);
}

/* 40 ms between two saccades are no fixation, 80 ms are one. */
static void test_short(void **state)
{
    (void)state;
    static const EyeRest rests[] = {
        {0, 1, 0, 0}, {1.03, 1.07, 4, 0}, {1.1, 2, 8, 0}, {2.03, 2.11, 4, 0}, {2.14, 3, 0, 0}};
    g_autoptr(GArray) directions = fixation_record(rests, 5);
    LfFixationSettings settings = lf_fixation_settings_default();
    settings.ringing_ms = 0;
    g_autoptr(LfFixations) found = fixation_find(directions, &settings);
    assert_int_equal(found->n_fixations, 4);
    fixation_expect_events(directions, found, 1.04, 1.06, LF_EVENT_OTHER);
    fixation_expect_events(directions, found, 2.05, 2.09, LF_EVENT_FIXATION);
    fixation_expect_events(directions, found, 1.01, 1.02, LF_EVENT_SACCADE);
    fixation_expect_near(found->fixations[1].from_us, 1.1);
    settings.min_fixation_ms = 100;
    g_autoptr(LfFixations) longer = fixation_find(directions, &settings);
    assert_int_equal(longer->n_fixations, 3);
}

/* Two rests 0.6 degrees apart are two, until they are to be one. */
static void test_merge(void **state)
{
    (void)state;
    static const EyeRest rests[] = {{0, 1, 0, 0}, {1.022, 2, 0.6, 0}};
    g_autoptr(GArray) directions = fixation_record(rests, 2);
    LfFixationSettings settings = lf_fixation_settings_default();
    g_autoptr(LfFixations) apart = fixation_find(directions, &settings);
    assert_int_equal(apart->n_fixations, 2);
    settings.merge_deg = 0.7;
    settings.merge_ms = 40;
    g_autoptr(LfFixations) one = fixation_find(directions, &settings);
    assert_int_equal(one->n_fixations, 1);
    fixation_expect_events(directions, one, 0.1, 1.9, LF_EVENT_FIXATION);
    settings.merge_ms = 5;
    g_autoptr(LfFixations) late = fixation_find(directions, &settings);
    assert_int_equal(late->n_fixations, 2);
}

/* The eye swings after the saccade: neither a fixation nor a saccade. */
static void test_ringing(void **state)
{
    (void)state;
    g_autoptr(GArray) list = g_array_new(FALSE, FALSE, sizeof(EyeRest));
    static const EyeRest rests[] = {{0, 1, 0, 0}, {1.035, 2, 6, 0}};
    const EyeTracker tracker = {500, 0, 0.01, 1, 20};
    g_array_append_vals(list, rests, 2);
    g_autoptr(GArray) directions = eye_record(list, &tracker);
    LfFixationSettings settings = lf_fixation_settings_default();
    g_autoptr(LfFixations) found = fixation_find(directions, &settings);
    assert_int_equal(found->n_fixations, 2);
    fixation_expect_events(directions, found, 1.01, 1.03, LF_EVENT_SACCADE);
    bool other = false;
    for (guint i = 0; i < directions->len; i++) {
        double t = (double)g_array_index(directions, LfDirection, i).t_us / 1e6;
        other = other || (t > 1.035 && t < 1.08 && found->events[i] == LF_EVENT_OTHER);
    }
    assert_true(other);
    assert_true(found->fixations[1].from_us > 1045000);
    assert_true(found->fixations[1].from_us < 1080000);
}

/* --- thresholds ------------------------------------------------------------------------------- */

static void test_thresholds(void **state)
{
    (void)state;
    g_autoptr(GArray) rests = eye_plan(60, 30);
    const EyeTracker quiet = {500, 0, 0.01, 0, 31}, loud = {500, 0, 0.06, 0, 31};
    g_autoptr(GArray) quiet_record = eye_record(rests, &quiet);
    g_autoptr(GArray) loud_record = eye_record(rests, &loud);
    LfFixationSettings settings = lf_fixation_settings_default();
    g_autoptr(LfFixations) a = fixation_find(quiet_record, &settings);
    g_autoptr(LfFixations) b = fixation_find(loud_record, &settings);
    /* Slope of the line through 8 samples at +-1, 3, 5, 7 ms: deviation / sqrt(168) ms. */
    double expected = 0.06 / sqrt(168) * 1000;
    if (fabs(b->noise_deg_s[0] / expected - 1) > 0.15)
        fail_msg("noise %.2f deg/s, expected %.2f", b->noise_deg_s[0], expected);
    assert_true(a->peak_deg_s[0] == settings.peak_deg_s); /* the least */
    assert_true(b->peak_deg_s[0] == settings.noise_factor * b->noise_deg_s[0]);
    settings.noise_factor = 0;
    settings.peak_deg_s = 40;
    g_autoptr(LfFixations) fixed = fixation_find(loud_record, &settings);
    assert_true(fixed->peak_deg_s[0] == 40);
    settings.method = LF_FIXATION_DISPERSION;
    settings.noise_factor = 6;
    g_autoptr(LfFixations) spread = fixation_find(loud_record, &settings);
    if (fabs(spread->noise_deg / 0.06 - 1) > 0.1)
        fail_msg("noise %.4f deg, expected 0.06", spread->noise_deg);
    assert_true(spread->dispersion_deg == settings.dispersion_deg + 6 * spread->noise_deg);
    g_autofree char *used = lf_fixations_used_text(spread);
    assert_true(g_str_has_prefix(used, "interval_us 2000\nnoise_deg 0.0"));
}

/* Where the head's motion is still in, noise is another: it neither hides saccades elsewhere nor
 * makes some up here. */
static void test_moving(void **state)
{
    (void)state;
    g_autoptr(GArray) rests = eye_plan(100, 40);
    const EyeTracker tracker = {200, 0, 0.02, 0, 41};
    g_autoptr(GArray) directions = eye_record(rests, &tracker);
    double half_s = g_array_index(rests, EyeRest, 50).from_s;
    for (guint i = 0; i < directions->len; i++) {
        LfDirection *d = &g_array_index(directions, LfDirection, i);
        double past_s = (double)d->t_us / 1e6 - half_s;
        if (past_s < 0)
            continue;
        d->moving = true;
        d->x_deg += 8 * sin(2 * G_PI * 0.3 * past_s); /* up to 15 deg/s */
    }
    const LfFixationSettings settings = lf_fixation_settings_default();
    g_autoptr(LfFixations) found = fixation_find(directions, &settings);
    assert_int_equal(found->n_fixations, rests->len);
    assert_true(found->peak_deg_s[0] < 40);
    assert_true(found->peak_deg_s[1] > 45);
}

/* --- odd and bad input ------------------------------------------------------------------------ */

static void test_little(void **state)
{
    (void)state;
    static const EyeRest rest[] = {{0, 0.2, 0, 0}};
    const LfFixationSettings settings = lf_fixation_settings_default();
    for (int method = 0; method < 2; method++) {
        LfFixationSettings s = settings;
        s.method = (LfFixationMethod)method;
        for (guint n = 0; n < 4; n++) {
            g_autoptr(GArray) directions = fixation_record(rest, 1);
            g_array_set_size(directions, n);
            g_autoptr(LfFixations) found = fixation_find(directions, &s);
            assert_int_equal(found->n_fixations, 0);
        }
        g_autoptr(GArray) lost = fixation_record(rest, 1);
        eye_lose(lost, 0, 1);
        g_autoptr(LfFixations) none = fixation_find(lost, &s);
        assert_int_equal(none->n_fixations, 0);
        fixation_expect_events(lost, none, 0, 1, LF_EVENT_LOST);
        g_autoptr(GArray) few = fixation_record(rest, 1);
        g_array_set_size(few, 25); /* 50 ms, too few to tell noise by */
        g_autoptr(LfFixations) one = fixation_find(few, &s);
        assert_int_equal(one->n_fixations, 1);
        assert_int_equal(one->fixations[0].to_us, 50000);
    }
}

static void test_bad(void **state)
{
    (void)state;
    static const struct {
        LfDirection directions[2];
        const char *text;
    } cases[] = {
        {{{0, 0, 0, false, false}, {0, 0, 0, false, false}}, "sample 2 (0.000000 s) is not later"},
        {{{5, 0, 0, false, false}, {4, 0, 0, false, false}}, "sample 2 (0.000004 s) is not later"},
        {{{0, 0, 0, false, false}, {4, NAN, 0, false, false}}, "sample 2 (0.000004 s) has no dir"},
        {{{0, 0, INFINITY, false, false}, {4, 0, 0, false, false}}, "sample 1 (0.000000 s) has no"},
    };
    const LfFixationSettings settings = lf_fixation_settings_default();
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        assert_null(lf_fixations_find(cases[i].directions, 2, &settings, &error));
        assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
        if (!strstr(error->message, cases[i].text))
            fail_msg("%s", error->message);
    }
}

static void test_settings(void **state)
{
    (void)state;
    const LfFixationSettings settings = lf_fixation_settings_default();
    static const struct {
        gsize offset;
        double value;
        const char *text;
    } cases[] = {
        {G_STRUCT_OFFSET(LfFixationSettings, noise_factor), -1, "noise_factor must lie between"},
        {G_STRUCT_OFFSET(LfFixationSettings, smooth_ms), NAN, "smooth_ms must lie between"},
        {G_STRUCT_OFFSET(LfFixationSettings, peak_deg_s), 0, "peak_deg_s must lie between"},
        {G_STRUCT_OFFSET(LfFixationSettings, peak_most_deg_s), 10, "must not be less than"},
        {G_STRUCT_OFFSET(LfFixationSettings, edge_share), 1.5, "edge_share must lie between"},
        {G_STRUCT_OFFSET(LfFixationSettings, bridge_ms), INFINITY, "bridge_ms must lie between"},
        {G_STRUCT_OFFSET(LfFixationSettings, min_fixation_ms), -5, "min_fixation_ms must lie"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfFixationSettings bad = settings;
        g_autoptr(GError) error = NULL;
        G_STRUCT_MEMBER(double, &bad, cases[i].offset) = cases[i].value;
        assert_false(lf_fixation_settings_check(&bad, &error));
        assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_USAGE));
        if (!strstr(error->message, cases[i].text))
            fail_msg("%s", error->message);
        g_autoptr(GError) again = NULL;
        assert_null(lf_fixations_find(NULL, 0, &bad, &again));
        assert_non_null(again);
    }
    g_autofree char *text = lf_fixation_settings_text(&settings);
    g_autofree char *same = lf_fixation_settings_text(&settings);
    LfFixationSettings other = settings;
    other.merge_deg = nextafter(other.merge_deg, 1);
    g_autofree char *unlike = lf_fixation_settings_text(&other);
    assert_string_equal(text, same);
    assert_string_not_equal(text, unlike);
    assert_true(g_str_has_prefix(text, "version 1\nmethod velocity\nnoise_factor 7.5\n"));
}

int main(void)
{
    const struct CMUnitTest rules[] = {
        cmocka_unit_test(test_gaps),         cmocka_unit_test(test_missing_rows),
        cmocka_unit_test(test_moved_in_gap), cmocka_unit_test(test_short),
        cmocka_unit_test(test_merge),        cmocka_unit_test(test_ringing),
        cmocka_unit_test(test_thresholds),   cmocka_unit_test(test_moving),
        cmocka_unit_test(test_little),       cmocka_unit_test(test_bad),
        cmocka_unit_test(test_settings),
    };
    struct CMUnitTest known[G_N_ELEMENTS(fixation_cases)];
    for (gsize i = 0; i < G_N_ELEMENTS(fixation_cases); i++)
        known[i] = (struct CMUnitTest){.name = fixation_cases[i].name,
                                       .test_func = test_known,
                                       .initial_state = (void *)(uintptr_t)&fixation_cases[i]};
    int failed = cmocka_run_group_tests_name("known", known, NULL, NULL);
    return failed + cmocka_run_group_tests_name("rules", rules, NULL, NULL);
}
