/* A table that is shown on the page and written as CSV from the same cells. */
#ifndef LF_REPORT_TABLE_H
#define LF_REPORT_TABLE_H

#include <stdbool.h>

#include <glib.h>

typedef struct ReportTable ReportTable;

typedef enum {
    REPORT_TEXT,
    REPORT_CODE,   /* text that is copied: checksums, paths */
    REPORT_NUMBER, /* one number */
    REPORT_RANGE,  /* a number and an interval: three columns of the CSV, _low and _high */
    REPORT_SHARE,  /* 0..1, shown in per cent */
    REPORT_SHARE_RANGE,
} ReportColumn;

/* name: of the CSV file and on the page; caption, note: what it shows; note may be NULL. */
ReportTable *report_table_new(const char *name, const char *caption, const char *note);
void report_table_free(ReportTable *table);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ReportTable, report_table_free)

/* Before the first cell. head: on the page; csv: name of the column, with its unit. */
void report_table_column(ReportTable *table, ReportColumn kind, const char *head, const char *csv);

/* Cells, row by row, one for each column. NULL and NaN are blank; `blank` (may be NULL) says why.
 */
void report_table_text(ReportTable *table, const char *text);
void report_table_number(ReportTable *table, double value, int decimals);
/* small (may be NULL): a line under the number on the page. */
void report_table_number_told(ReportTable *table, double value, int decimals, const char *small);
void report_table_range(ReportTable *table, double value, double low, double high, int decimals,
                        const char *blank);

/* The row of the last cell is not printed. note: said in its stead on paper, once for all. */
void report_table_off_paper(ReportTable *table);
void report_table_paper_note(ReportTable *table, const char *note);

gsize report_table_rows(const ReportTable *table);
const char *report_table_name(const ReportTable *table);
void report_table_html(const ReportTable *table, GString *page);
/* RFC 4180, decimal points, all digits; owned by the caller. */
char *report_table_csv(const ReportTable *table);

/* Appends text with what HTML would take for its own signs written otherwise. */
void report_html_text(GString *page, const char *text);

#endif
