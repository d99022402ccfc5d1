/* Rules for spans: what they take, what they give, what they refuse. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include "look/expect.h"
#include "look/measure_walk.h"

/* n spans, numbered from 1, from and to at times_s; none at all is one of number 0. */
static void expect_spans(LfSpanRule *rule, const GPtrArray *marks, int64_t from_us, int64_t to_us,
                         int n, const double *times_s)
{
    g_autoptr(GPtrArray) rules = g_ptr_array_new();
    g_ptr_array_add(rules, rule);
    g_autoptr(GArray) spans = look_spans(rules, marks, from_us, to_us);
    assert_int_equal(spans->len, MAX(n, 1));
    for (guint k = 0; k < spans->len; k++) {
        const LookSpan *span = &g_array_index(spans, LookSpan, k);
        assert_int_equal(span->number, n ? (int)k + 1 : 0);
        expect(rule->name, (double)span->from_us * 1e-6, times_s[2 * k]);
        expect(rule->name, (double)span->to_us * 1e-6, times_s[2 * k + 1]);
    }
}

static void test_spans(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int64_t from_us, to_us;
        bool span;
    } given[] = {{"door", 1000000, 0, false},
                 {"talk", 2000000, 3000000, true},
                 {"door", 4000000, 0, false},
                 {"till", 5000000, 0, false},
                 {"till, end", 9000000, 0, false}};
    static const struct {
        const char *rule;
        int n;
        double times_s[4];
    } cases[] = {
        {"walk", 1, {0, 10}},
        {"mark:talk", 1, {2, 3}},
        {"mark:door", 0, {0}}, /* a moment has no length */
        {"between:door,till", 2, {1, 5, 4, 5}},
        {"between:door,door", 1, {1, 4}},
        {"between:talk,till", 1, {3, 5}},
        {"between:till,door", 0, {0}},
        {"around:door,2,0.5", 2, {0, 1.5, 2, 4.5}}, /* cut to the walk */
        {"around:talk,0.5,1", 1, {1.5, 4}},
        {"around:till, end,0,5", 1, {9, 10}},
        {"mark:nobody", 0, {0}},
    };
    g_autoptr(GPtrArray) marks = lf_mark_list_new();
    for (gsize i = 0; i < G_N_ELEMENTS(given); i++)
        g_ptr_array_add(marks, lf_mark_new("w", given[i].name, given[i].from_us, given[i].to_us,
                                           given[i].span, NULL));
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(LfSpanRule) rule = lf_span_rule_parse(cases[i].rule, &error);
        if (!rule)
            fail_msg("%s", error->message);
        assert_string_equal(rule->name, cases[i].rule);
        expect_spans(rule, marks, 0, 10000000, cases[i].n, cases[i].times_s);
    }
    /* Of a part of the walk: what lies outside is gone, what reaches over its edge is cut. */
    static const struct {
        const char *rule;
        int n;
        double times_s[4];
    } parts[] = {{"walk", 1, {2.5, 4.5}},
                 {"mark:talk", 1, {2.5, 3}},
                 {"around:door,2,0.5", 1, {2.5, 4.5}},
                 {"between:door,till", 2, {2.5, 4.5, 4, 4.5}},
                 {"around:till,0.2,1", 0, {0}}};
    for (gsize i = 0; i < G_N_ELEMENTS(parts); i++) {
        g_autoptr(LfSpanRule) rule = lf_span_rule_parse(parts[i].rule, NULL);
        expect_spans(rule, marks, 2500000, 4500000, parts[i].n, parts[i].times_s);
    }
    static const char *const faults[] = {
        "",         "walks",      "mark:",       "between:a",     "between:,",    "between:a,b,c",
        "around:a", "around:a,1", "around:,1,2", "around:a,-1,2", "around:a,0,0", "around:a,b,2"};
    for (gsize i = 0; i < G_N_ELEMENTS(faults); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(LfSpanRule) rule = lf_span_rule_parse(faults[i], &error);
        if (rule || !g_error_matches(error, LF_ERROR, LF_ERROR_USAGE))
            fail_msg("\"%s\" was taken", faults[i]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_spans)};
    return cmocka_run_group_tests_name("look/span", tests, NULL, NULL);
}
