/* Tables of the report: the same cells as HTML and as CSV. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "report/report_table.h"

static ReportTable *table_of(void)
{
    ReportTable *t = report_table_new("marks", "Marks & <notes>", "What \"it\" shows.");
    report_table_column(t, REPORT_TEXT, "Name", "name");
    report_table_column(t, REPORT_NUMBER, "Time, s", "time_s");
    report_table_column(t, REPORT_SHARE_RANGE, "Share", "share");
    report_table_column(t, REPORT_RANGE, "Median", "median_s");
    report_table_text(t, "a, \"b\" <c>");
    report_table_number(t, 1.25, 1);
    report_table_range(t, 0.5, 0.25, 0.75, 0, NULL);
    report_table_range(t, 2, 1.5, NAN, 1, "nobody");
    report_table_text(t, NULL);
    report_table_number(t, NAN, 1);
    report_table_range(t, NAN, NAN, NAN, 0, "too few");
    report_table_range(t, -0.125, NAN, 3, 3, NULL);
    return t;
}

static void test_csv(void **state)
{
    (void)state;
    g_autoptr(ReportTable) t = table_of();
    g_autofree char *csv = report_table_csv(t);
    assert_string_equal(csv, "name,time_s,share,share_low,share_high,median_s,median_s_low,"
                             "median_s_high\r\n"
                             "\"a, \"\"b\"\" <c>\",1.25,0.5,0.25,0.75,2,1.5,\r\n"
                             ",,,,,-0.125,,3\r\n");
    assert_int_equal(report_table_rows(t), 2);
}

static void expect_in(const char *html, const char *text)
{
    if (strstr(html, text) == NULL)
        fail_msg("\"%s\" is not in\n%s", text, html);
}

/* Paper leaves out what is marked, and only that; the numbers as CSV keep it. */
static void test_off_paper(void **state)
{
    (void)state;
    g_autoptr(ReportTable) t = table_of();
    g_autoptr(GString) before = g_string_new(NULL), page = g_string_new(NULL);
    g_autofree char *csv_before = report_table_csv(t);
    report_table_html(t, before);
    assert_null(strstr(before->str, "paper"));
    report_table_off_paper(t);
    report_table_paper_note(t, "Without a & b.");
    report_table_text(t, "third");
    report_table_number(t, 1, 1);
    report_table_range(t, 1, NAN, NAN, 0, NULL);
    report_table_range(t, 1, NAN, NAN, 1, NULL);
    report_table_html(t, page);
    g_auto(GStrv) rows = g_strsplit(page->str, "<tr", -1);
    assert_int_equal(g_strv_length(rows), 5); /* what is before, the head, three rows */
    for (int i = 1; i < 5; i++)
        assert_int_equal(g_str_has_prefix(rows[i], " class=\"off-paper\">"), i == 3);
    expect_in(page->str, "<p class=\"paper\">Without a &amp; b.</p>");
    g_autofree char *csv = report_table_csv(t);
    assert_true(g_str_has_prefix(csv, csv_before));
}

static void test_html(void **state)
{
    (void)state;
    g_autoptr(ReportTable) t = table_of();
    g_autoptr(GString) page = g_string_new(NULL);
    report_table_html(t, page);
    expect_in(page->str, "Marks &amp; &lt;notes&gt;");
    expect_in(page->str, "<td>a, &quot;b&quot; &lt;c&gt;</td>");
    expect_in(page->str, "<td class=\"n\" data-v=\"0.5\">50%<small>25% to 75%</small></td>");
    expect_in(page->str, "data-v=\"2\">2.0<small>from 1.5</small>");
    expect_in(page->str, "data-v=\"\"><small>too few</small>");
    expect_in(page->str, "data-v=\"-0.125\">-0.125<small>up to 3.000</small>");
    assert_null(strstr(page->str, "nan"));
    assert_null(strstr(page->str, "<c>"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_csv), cmocka_unit_test(test_html),
                                       cmocka_unit_test(test_off_paper)};
    return cmocka_run_group_tests_name("report/table", tests, NULL, NULL);
}
