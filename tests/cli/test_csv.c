/* CSV fields and numbers. Quoting after RFC 4180, section 2, rules 5 to 7. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "cli/csv_line.h"

static void test_text(void **state)
{
    (void)state;
    static const struct {
        const char *text, *field;
    } cases[] = {
        {"w01", "w01"},       {"a b", "a b"},     {"a,b", "\"a,b\""}, {"a\"b", "\"a\"\"b\""},
        {"a\nb", "\"a\nb\""}, {"\"", "\"\"\"\""}, {"Säule", "Säule"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GString) line = g_string_new(NULL);
        csv_line_text(line, cases[i].text);
        assert_string_equal(line->str, cases[i].field);
    }
}

static void test_line(void **state)
{
    (void)state;
    g_autoptr(GString) line = g_string_new(NULL);
    csv_line_text(line, "w");
    csv_line_text(line, NULL);
    csv_line_fixed(line, (double)NAN, 3);
    csv_line_fixed(line, 1.5, 3);
    csv_line_end(line);
    csv_line_text(line, "x");
    assert_string_equal(line->str, "w,,,1.500\r\nx");
}

static void test_fixed(void **state)
{
    (void)state;
    static const struct {
        double value;
        int decimals;
        const char *field;
    } cases[] = {
        {0, 3, "0.000"},
        {-0.0, 3, "0.000"},
        {1, 0, "1"},
        {0.0005, 3, "0.001"},
        {-0.0005, 3, "-0.001"},
        {-0.0004, 3, "0.000"},
        {1234.5678, 3, "1234.568"},
        {0.99996, 4, "1.0000"},
        {1e14, 2, "100000000000000"},
        {(double)INFINITY, 3, ""},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GString) line = g_string_new(NULL);
        csv_line_fixed(line, cases[i].value, cases[i].decimals);
        assert_string_equal(line->str, cases[i].field);
    }
}

/* The C library's printf as a second implementation: they agree but where rounding is a tie. */
static void test_fixed_against_printf(void **state)
{
    (void)state;
    unsigned short seed[3] = {1, 2, 3};
    for (int i = 0; i < 200000; i++) {
        double value = (erand48(seed) - 0.5) * pow(10, erand48(seed) * 8);
        char expected[64];
        g_autoptr(GString) line = g_string_new(NULL);
        csv_line_fixed(line, value, 3);
        snprintf(expected, sizeof expected, "%.3f", value);
        if (g_str_equal(expected, "-0.000"))
            continue; /* printf keeps the sign of zero */
        double tie = fabs(fabs(value * 1000 - trunc(value * 1000)) - 0.5);
        if (tie > 1e-6)
            assert_string_equal(line->str, expected);
    }
}

static void test_seconds(void **state)
{
    (void)state;
    static const struct {
        int64_t t_us;
        int decimals;
        const char *field;
    } cases[] = {
        {0, 4, "0.0000"},
        {16667, 4, "0.0167"},
        {16650, 4, "0.0167"},
        {16649, 4, "0.0166"},
        {1234567890, 6, "1234.567890"},
        {-20000, 4, "-0.0200"},
        {-50, 4, "0.0000"},
        {-51, 4, "-0.0001"},
        {999999, 5, "1.00000"},
        {3600000000, 4, "3600.0000"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GString) line = g_string_new(NULL);
        csv_line_seconds(line, cases[i].t_us, cases[i].decimals);
        assert_string_equal(line->str, cases[i].field);
    }
}

/* Numbers keep their point where the locale has a comma. */
static void test_locale(void **state)
{
    (void)state;
    if (!setlocale(LC_ALL, "de_DE.UTF-8") && !setlocale(LC_ALL, "fr_FR.UTF-8")) {
        print_message("skipped: no locale with a decimal comma is installed\n");
        skip();
    }
    g_autoptr(GString) line = g_string_new(NULL);
    csv_line_fixed(line, 1.5, 1);
    csv_line_exact(line, 0.1);
    csv_line_fixed(line, 1.5e15, 3);
    setlocale(LC_ALL, "C");
    assert_string_equal(line->str, "1.5,0.10000000000000001,1500000000000000");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_text),    cmocka_unit_test(test_line),
        cmocka_unit_test(test_fixed),   cmocka_unit_test(test_fixed_against_printf),
        cmocka_unit_test(test_seconds), cmocka_unit_test(test_locale),
    };
    return cmocka_run_group_tests_name("cli/csv", tests, NULL, NULL);
}
