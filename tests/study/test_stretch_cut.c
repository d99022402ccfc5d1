/* Cutting stretches out of results: what is one, what is two, what is none. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include "study/stretch_cut.h"

#define INTERVAL_US 20000

/* Results as text: each letter stands for so many samples of 20 ms as the number after it says.
 * s sure, l lost, a away, u unseen, b blocked; of doubtful ones: B blur, A alike, D depth, n no
 * reason; X alike on photo 2. */
static GArray *samples_of(const char *text)
{
    GArray *samples = g_array_new(FALSE, FALSE, sizeof(StretchSample));
    for (const char *c = text; *c;) {
        char letter = *c++, *end;
        guint64 n = g_ascii_strtoull(c, &end, 10);
        c = end;
        for (guint64 i = 0; i < n; i++) {
            StretchSample sample = {.t_us = (int64_t)samples->len * INTERVAL_US,
                                    .photo = letter == 'X' ? 2 : 1,
                                    .confidence = 0.5f,
                                    .state = LF_STATE_DOUBTFUL};
            switch (letter) {
            case 's':
                sample.state = LF_STATE_SURE;
                break;
            case 'l':
                sample.state = LF_STATE_LOST;
                sample.confidence = NAN;
                break;
            case 'a':
            case 'u':
                sample.state = LF_STATE_AWAY;
                sample.photo = 0;
                sample.unseen = letter == 'u';
                sample.confidence = NAN;
                break;
            case 'b':
                sample.state = LF_STATE_BLOCKED;
                break;
            case 'B':
                sample.doubt = LF_DOUBT_BLUR;
                break;
            case 'A':
            case 'X':
                sample.doubt = LF_DOUBT_ALIKE;
                break;
            case 'D':
                sample.doubt = LF_DOUBT_DEPTH;
                break;
            default:
                break;
            }
            g_array_append_val(samples, sample);
        }
    }
    return samples;
}

/* Stretches as text: "reason:first-end(samples)" in samples. */
static char *stretches_of(const char *text)
{
    g_autoptr(GArray) samples = samples_of(text);
    g_autoptr(GArray) stretches = g_array_new(FALSE, FALSE, sizeof(LfStretch));
    g_autoptr(GString) out = g_string_new(NULL);
    stretch_cut((const StretchSample *)(void *)samples->data, samples->len, INTERVAL_US, stretches);
    for (guint i = 0; i < stretches->len; i++) {
        const LfStretch *stretch = &g_array_index(stretches, LfStretch, i);
        assert_int_equal(stretch->left, stretch->samples);
        assert_int_equal(stretch->from_us % INTERVAL_US, 0);
        assert_int_equal(stretch->to_us % INTERVAL_US, 0);
        g_string_append_printf(out, "%s%s:%d-%d(%d)", i ? " " : "", lf_reason_name(stretch->reason),
                               (int)(stretch->from_us / INTERVAL_US),
                               (int)(stretch->to_us / INTERVAL_US), (int)stretch->samples);
        if (stretch->photo == 2)
            g_string_append(out, "@2");
    }
    return g_string_free(g_steal_pointer(&out), FALSE);
}

static void test_cut(void **state)
{
    static const struct {
        const char *samples, *stretches;
    } cases[] = {
        {"", ""},
        {"s100", ""},
        {"s10l10a10", ""},
        {"n1", "unclear:0-1(1)"},
        {"s10A30s10", "alike:10-40(30)"},
        /* a gap of up to 0.2 s is bridged, and what lies in it belongs to the stretch */
        {"A10s10A10", "alike:0-30(30)"},
        {"A10s11A10", "alike:0-10(10) alike:21-31(10)"},
        /* with a blink in it, up to 0.6 s; what is lost is at stake for nobody */
        {"A10l30A10", "alike:0-50(20)"},
        {"A10l31A10", "alike:0-10(10) alike:41-51(10)"},
        {"A10b5A10", "alike:0-25(25)"},
        /* two reasons that last are two stretches; a flicker is none */
        {"A25B25", "alike:0-25(25) blur:25-50(25)"},
        {"A25B24", "alike:0-49(49)"},
        {"A5B5A5B5A5B5", "alike:0-30(30)"},
        {"B5A25B5D25B5", "alike:0-35(35) depth:35-65(30)"},
        {"A25X25", "alike:0-25(25) alike:25-50(25)@2"},
        /* most of its samples tell the reason */
        {"A10B14", "blur:0-24(24)"},
        /* blocked and unseen are stretches of their own */
        {"b20s20u20a20", "blocked:0-20(20) unseen:40-60(20)"},
        {"A20b20s20", "alike:0-20(20) blocked:20-40(20)"},
        /* 50 s in three equal parts */
        {"A2500", "alike:0-834(834) alike:834-1667(833) alike:1667-2500(833)"},
    };
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *got = stretches_of(cases[i].samples);
        if (strcmp(got, cases[i].stretches) != 0)
            fail_msg("%s: \"%s\" instead of \"%s\"", cases[i].samples, got, cases[i].stretches);
    }
}

/* Whatever the results: every doubtful sample lies in exactly one stretch, and none overlap. */
static void test_cover(void **state)
{
    static const char letters[] = "slaubBADnX";
    g_autoptr(GRand) rand = g_rand_new_with_seed(11);
    (void)state;
    for (int round = 0; round < 200; round++) {
        g_autoptr(GString) text = g_string_new(NULL);
        for (int i = g_rand_int_range(rand, 1, 60); i > 0; i--)
            g_string_append_printf(text, "%c%d", letters[g_rand_int_range(rand, 0, 10)],
                                   g_rand_int_range(rand, 1, g_rand_boolean(rand) ? 5 : 60));
        g_autoptr(GArray) samples = samples_of(text->str);
        g_autoptr(GArray) stretches = g_array_new(FALSE, FALSE, sizeof(LfStretch));
        stretch_cut((const StretchSample *)(void *)samples->data, samples->len, INTERVAL_US,
                    stretches);
        for (guint i = 0; i < samples->len; i++) {
            const StretchSample *sample = &g_array_index(samples, StretchSample, i);
            int in = 0;
            for (guint k = 0; k < stretches->len; k++) {
                const LfStretch *stretch = &g_array_index(stretches, LfStretch, k);
                in += stretch->from_us <= sample->t_us && sample->t_us < stretch->to_us;
            }
            bool due = sample->state == LF_STATE_DOUBTFUL || sample->state == LF_STATE_BLOCKED ||
                       sample->unseen;
            if (in > 1 || (due && in == 0))
                fail_msg("%s: sample %u lies in %d stretches", text->str, i, in);
        }
    }
}

static void test_reasons(void **state)
{
    static const char *const names[] = {"unclear", "blur", "front", "alike",   "little",
                                        "changed", "gap",  "depth", "blocked", "unseen"};
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(names); i++) {
        int reason = lf_reason_from_name(names[i]);
        assert_true(reason >= 0);
        assert_string_equal(lf_reason_name(reason), names[i]);
    }
    assert_int_equal(lf_reason_from_name("sunshine"), -1);
    assert_int_equal(lf_reason_from_name(""), -1);
    assert_null(lf_reason_name(20));
    assert_null(lf_reason_name(-1));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cut),
        cmocka_unit_test(test_cover),
        cmocka_unit_test(test_reasons),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
