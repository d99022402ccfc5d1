/* Numbers of gaze files: grammar, exact times, values against the C library's own reading. */
#include "gaze/check.h"

#include "gaze/gaze_number.h"

static LfGazeKind test_number_parse(const char *text, bool comma_ok, LfGazeNumber *number)
{
    return lf_gaze_number_parse(text, strlen(text), comma_ok, number);
}

static void test_number_kinds(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        LfGazeKind point, comma; /* where the decimal mark is a point only, or a comma too */
    } cases[] = {
        {"", LF_GAZE_NOTHING, LF_GAZE_NOTHING},
        {"  \t", LF_GAZE_NOTHING, LF_GAZE_NOTHING},
        {"nan", LF_GAZE_NOTHING, LF_GAZE_NOTHING},
        {"NaN", LF_GAZE_NOTHING, LF_GAZE_NOTHING},
        {"-nan", LF_GAZE_NOTHING, LF_GAZE_NOTHING},
        {"inf", LF_GAZE_INFINITE, LF_GAZE_INFINITE},
        {"-Infinity", LF_GAZE_INFINITE, LF_GAZE_INFINITE},
        {"0", LF_GAZE_NUMBER, LF_GAZE_NUMBER},
        {"-12", LF_GAZE_NUMBER, LF_GAZE_NUMBER},
        {"+12", LF_GAZE_NUMBER, LF_GAZE_NUMBER},
        {" 12.5 ", LF_GAZE_NUMBER, LF_GAZE_NUMBER},
        {"12.", LF_GAZE_NUMBER, LF_GAZE_NUMBER},
        {".5", LF_GAZE_NUMBER, LF_GAZE_NUMBER},
        {"1e3", LF_GAZE_NUMBER, LF_GAZE_NUMBER},
        {"1.5E-3", LF_GAZE_NUMBER, LF_GAZE_NUMBER},
        {"12,5", LF_GAZE_TEXT, LF_GAZE_NUMBER},
        {",5", LF_GAZE_TEXT, LF_GAZE_NUMBER},
        {"1.234,5", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {"1,234.5", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {"1.2.3", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {".", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {"-", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {"--1", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {"1e", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {"1e+", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {"1e2x", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {"1 2", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {"12px", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {"0x10", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {"nano", LF_GAZE_TEXT, LF_GAZE_TEXT},
        {"abc", LF_GAZE_TEXT, LF_GAZE_TEXT},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfGazeNumber n;
        if (test_number_parse(cases[i].text, false, &n) != cases[i].point ||
            test_number_parse(cases[i].text, true, &n) != cases[i].comma) {
            fail_msg("\"%s\" is taken for something else", cases[i].text);
        }
    }
}

static void test_number_round(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int unit; /* power of ten of the unit in microseconds: s 6, ms 3, us 0, ns -3 */
        bool fits;
        int64_t us;
    } cases[] = {
        {"0", 6, true, 0},
        {"-0", 6, true, 0},
        {"1", 6, true, 1000000},
        {"0.0000005", 6, true, 1}, /* halves away from zero */
        {"-0.0000005", 6, true, -1},
        {"0.00000049999999999999999", 6, true, 0},
        {"33.3667", 3, true, 33367},
        {"1700000000.123456", 6, true, 1700000000123456},
        /* neither of these two is a double */
        {"1700000000123456789", -3, true, 1700000000123457},
        {"1700000000123456499", -3, true, 1700000000123456},
        {"9007199254740993", 0, true, 9007199254740993},
        {"1700000000.12345678901234567890", 6, true, 1700000000123457},
        {"1.7e9", 6, true, 1700000000000000},
        {"17e-7", 6, true, 2},
        {"0000000000000000000000000012", 0, true, 12},
        {"0.00000000000000000000000000001", 6, true, 0},
        {"1e-100000", 6, true, 0},
        {"0e999999999999", 6, true, 0},
        {"2305843009213693952", 0, true, 2305843009213693952}, /* 2^61 */
        {"2305843009213693953", 0, false, 0},
        {"1700000000123456789", 6, false, 0},
        {"99999999999999999999999", 0, false, 0},
        {"1e100", 6, false, 0},
        {"-1e100", 6, false, 0},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfGazeNumber n;
        int64_t us = 0;
        assert_int_equal(test_number_parse(cases[i].text, false, &n), LF_GAZE_NUMBER);
        bool fits = lf_gaze_number_round(&n, cases[i].unit, &us);
        if (fits != cases[i].fits || (fits && us != cases[i].us)) {
            fail_msg("%s: %" G_GINT64_FORMAT, cases[i].text, us);
        }
    }
}

/* The same double as the C library's strtod reads, to the bit. */
static void test_number_value(void **state)
{
    (void)state;
    static const char *const fixed[] = {
        "0",
        "0.1",
        "-512.34",
        "1e22",
        "1e23",
        "123456789012345678",
        "9007199254740993",
        "1e-22",
        "1e-23",
        "0.30000000000000004",
        "4.9e-324",
        "1.7976931348623157e308",
        "123456789012345678901234567890",
        "0.000000000000000000000000000000123456789",
    };
    for (gsize i = 0; i < G_N_ELEMENTS(fixed); i++) {
        LfGazeNumber n;
        assert_int_equal(test_number_parse(fixed[i], false, &n), LF_GAZE_NUMBER);
        double ours = lf_gaze_number_value(&n, fixed[i], strlen(fixed[i]));
        double theirs = g_ascii_strtod(fixed[i], NULL);
        assert_memory_equal(&ours, &theirs, sizeof ours);
    }
    g_autoptr(GRand) rand = g_rand_new_with_seed(21);
    for (int i = 0; i < 100000; i++) {
        char text[64];
        double v = g_rand_double_range(rand, -1, 1) * pow(10, g_rand_int_range(rand, -12, 13));
        static const char *const how[] = {"%.2f", "%.6f", "%.17g", "%.9e", "%g"};
        g_ascii_formatd(text, sizeof text, how[i % 5], v);
        LfGazeNumber n;
        assert_int_equal(test_number_parse(text, false, &n), LF_GAZE_NUMBER);
        double ours = lf_gaze_number_value(&n, text, strlen(text));
        double theirs = g_ascii_strtod(text, NULL);
        if (ours != theirs) {
            fail_msg("%s: %.17g", text, ours);
        }
        for (char *c = text; *c; c++) {
            *c = *c == '.' ? ',' : *c;
        }
        assert_int_equal(test_number_parse(text, true, &n), LF_GAZE_NUMBER);
        assert_true(lf_gaze_number_value(&n, text, strlen(text)) == theirs);
    }
}

static void test_number_equal(void **state)
{
    (void)state;
    static const struct {
        const char *a, *b;
        bool equal;
    } cases[] = {
        {"1", "1.000", true},          {"100", "1e2", true},
        {"0", "-0.0", true},           {"1", "-1", false},
        {"0.012", "0.0120001", false}, {"1700000000123456788", "1700000000123456789", false},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        LfGazeNumber a, b;
        assert_int_equal(test_number_parse(cases[i].a, false, &a), LF_GAZE_NUMBER);
        assert_int_equal(test_number_parse(cases[i].b, false, &b), LF_GAZE_NUMBER);
        assert_int_equal(lf_gaze_number_equal(&a, &b), cases[i].equal);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_number_kinds),
        cmocka_unit_test(test_number_round),
        cmocka_unit_test(test_number_value),
        cmocka_unit_test(test_number_equal),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
