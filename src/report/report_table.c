/* Tables of the report. */
#include "report/report_table.h"

#include <math.h>
#include <string.h>

typedef struct {
    ReportColumn kind;
    char *head, *csv;
} TableColumn;

typedef struct {
    char *text;      /* of text columns */
    char *small;     /* under it on the page; NULL for none */
    double value[3]; /* number, low, high */
    int decimals;
} TableCell;

struct ReportTable {
    char *name, *caption, *note;
    char *paper_note;      /* NULL for none */
    GHashTable *off_paper; /* set of indices of rows */
    GArray *columns;       /* TableColumn */
    GArray *cells;         /* TableCell, row by row */
};

static void report_table_clear_column(gpointer data)
{
    TableColumn *column = data;
    g_free(column->head);
    g_free(column->csv);
}

static void report_table_clear_cell(gpointer data)
{
    TableCell *cell = data;
    g_free(cell->text);
    g_free(cell->small);
}

ReportTable *report_table_new(const char *name, const char *caption, const char *note)
{
    ReportTable *t = g_new0(ReportTable, 1);
    t->name = g_strdup(name);
    t->caption = g_strdup(caption);
    t->note = g_strdup(note);
    t->off_paper = g_hash_table_new(NULL, NULL);
    t->columns = g_array_new(FALSE, FALSE, sizeof(TableColumn));
    g_array_set_clear_func(t->columns, report_table_clear_column);
    t->cells = g_array_new(FALSE, FALSE, sizeof(TableCell));
    g_array_set_clear_func(t->cells, report_table_clear_cell);
    return t;
}

void report_table_free(ReportTable *t)
{
    if (t == NULL)
        return;
    g_free(t->name);
    g_free(t->caption);
    g_free(t->note);
    g_free(t->paper_note);
    g_hash_table_unref(t->off_paper);
    g_array_unref(t->columns);
    g_array_unref(t->cells);
    g_free(t);
}

void report_table_column(ReportTable *t, ReportColumn kind, const char *head, const char *csv)
{
    const TableColumn column = {kind, g_strdup(head), g_strdup(csv)};
    g_array_append_val(t->columns, column);
}

void report_table_text(ReportTable *t, const char *text)
{
    const TableCell cell = {.text = g_strdup(text), .value = {NAN, NAN, NAN}};
    g_array_append_val(t->cells, cell);
}

void report_table_number(ReportTable *t, double value, int decimals)
{
    report_table_number_told(t, value, decimals, NULL);
}

void report_table_number_told(ReportTable *t, double value, int decimals, const char *small)
{
    const TableCell cell = {
        .value = {value, NAN, NAN}, .decimals = decimals, .small = g_strdup(small)};
    g_array_append_val(t->cells, cell);
}

/* "1.8", "12%"; owned by the caller. */
static char *report_table_shown(double value, int decimals, bool share)
{
    char number[G_ASCII_DTOSTR_BUF_SIZE], format[8];
    g_snprintf(format, sizeof format, "%%.%df", decimals);
    g_ascii_formatd(number, sizeof number, format, share ? 100 * value : value);
    return g_strconcat(number, share ? "%" : "", NULL);
}

static bool report_table_is_share(ReportColumn kind)
{
    return kind == REPORT_SHARE || kind == REPORT_SHARE_RANGE;
}

static bool report_table_is_range(ReportColumn kind)
{
    return kind == REPORT_RANGE || kind == REPORT_SHARE_RANGE;
}

static ReportColumn report_table_next_kind(const ReportTable *t)
{
    return g_array_index(t->columns, TableColumn, t->cells->len % t->columns->len).kind;
}

void report_table_range(ReportTable *t, double value, double low, double high, int decimals,
                        const char *blank)
{
    const bool share = report_table_is_share(report_table_next_kind(t));
    TableCell cell = {.value = {value, low, high}, .decimals = decimals};

    if (isfinite(low) || isfinite(high)) {
        g_autofree char *from = isfinite(low) ? report_table_shown(low, decimals, share) : NULL;
        g_autofree char *to = isfinite(high) ? report_table_shown(high, decimals, share) : NULL;
        if (from != NULL && to != NULL)
            cell.small = g_strdup_printf("%s to %s", from, to);
        else
            cell.small =
                from != NULL ? g_strdup_printf("from %s", from) : g_strdup_printf("up to %s", to);
    } else {
        cell.small = g_strdup(blank);
    }
    g_array_append_val(t->cells, cell);
}

void report_table_off_paper(ReportTable *t)
{
    const guint row = (t->cells->len - 1) / t->columns->len;
    g_hash_table_add(t->off_paper, GUINT_TO_POINTER(row));
}

void report_table_paper_note(ReportTable *t, const char *note)
{
    g_free(t->paper_note);
    t->paper_note = g_strdup(note);
}

gsize report_table_rows(const ReportTable *t)
{
    return t->cells->len / t->columns->len;
}

const char *report_table_name(const ReportTable *t)
{
    return t->name;
}

/* --- HTML --- */

void report_html_text(GString *page, const char *text)
{
    g_autofree char *valid = g_utf8_make_valid(text != NULL ? text : "", -1);
    g_autofree char *escaped = g_markup_escape_text(valid, -1);
    g_string_append(page, escaped);
}

static void report_table_html_head(const ReportTable *t, GString *page)
{
    g_string_append(page, "<thead><tr>");
    for (guint i = 0; i < t->columns->len; i++) {
        const TableColumn *column = &g_array_index(t->columns, TableColumn, i);
        g_string_append(page, column->kind <= REPORT_CODE ? "<th scope=\"col\">"
                                                          : "<th scope=\"col\" class=\"n\">");
        report_html_text(page, column->head);
        g_string_append(page, "</th>");
    }
    g_string_append(page, "</tr></thead>\n<tbody>\n");
}

static void report_table_html_cell(GString *page, const TableColumn *column, const TableCell *cell)
{
    if (column->kind <= REPORT_CODE) {
        g_string_append(page, column->kind == REPORT_CODE ? "<td class=\"code\">" : "<td>");
        report_html_text(page, cell->text);
    } else {
        char sort[G_ASCII_DTOSTR_BUF_SIZE] = "";
        if (isfinite(cell->value[0]))
            g_ascii_dtostr(sort, sizeof sort, cell->value[0]);
        g_string_append_printf(page, "<td class=\"n\" data-v=\"%s\">", sort);
        if (isfinite(cell->value[0])) {
            g_autofree char *shown = report_table_shown(cell->value[0], cell->decimals,
                                                        report_table_is_share(column->kind));
            g_string_append(page, shown);
        }
    }
    if (cell->small != NULL) {
        g_string_append(page, "<small>");
        report_html_text(page, cell->small);
        g_string_append(page, "</small>");
    }
    g_string_append(page, "</td>");
}

void report_table_html(const ReportTable *t, GString *page)
{
    g_string_append_printf(page,
                           "<div class=\"scroll\" role=\"region\" tabindex=\"0\" "
                           "aria-labelledby=\"%s-caption\">\n<table class=\"sorts\" id=\"%s\">\n"
                           "<caption id=\"%s-caption\">",
                           t->name, t->name, t->name);
    report_html_text(page, t->caption);
    if (t->note != NULL) {
        g_string_append(page, " <span>");
        report_html_text(page, t->note);
        g_string_append(page, "</span>");
    }
    g_string_append(page, "</caption>\n");
    report_table_html_head(t, page);
    for (guint i = 0; i < t->cells->len; i++) {
        const guint n = t->columns->len, column = i % n;
        if (column == 0)
            g_string_append(page, g_hash_table_contains(t->off_paper, GUINT_TO_POINTER(i / n))
                                      ? "<tr class=\"off-paper\">"
                                      : "<tr>");
        report_table_html_cell(page, &g_array_index(t->columns, TableColumn, column),
                               &g_array_index(t->cells, TableCell, i));
        if (column + 1 == n)
            g_string_append(page, "</tr>\n");
    }
    g_string_append(page, "</tbody>\n</table>\n</div>\n");
    if (t->paper_note == NULL)
        return;
    g_string_append(page, "<p class=\"paper\">");
    report_html_text(page, t->paper_note);
    g_string_append(page, "</p>\n");
}

/* --- CSV --- */

static void report_table_csv_field(GString *csv, const char *text)
{
    if (text == NULL)
        return;
    if (strpbrk(text, ",\"\r\n") == NULL) {
        g_string_append(csv, text);
        return;
    }
    g_string_append_c(csv, '"');
    for (const char *c = text; *c; c++) {
        if (*c == '"')
            g_string_append_c(csv, '"');
        g_string_append_c(csv, *c);
    }
    g_string_append_c(csv, '"');
}

static void report_table_csv_number(GString *csv, double value)
{
    char number[G_ASCII_DTOSTR_BUF_SIZE];
    if (isfinite(value))
        g_string_append(csv, g_ascii_formatd(number, sizeof number, "%.10g", value));
}

char *report_table_csv(const ReportTable *t)
{
    GString *csv = g_string_new(NULL);

    for (guint i = 0; i < t->columns->len; i++) {
        const TableColumn *column = &g_array_index(t->columns, TableColumn, i);
        g_string_append_printf(csv, "%s%s", i > 0 ? "," : "", column->csv);
        if (report_table_is_range(column->kind))
            g_string_append_printf(csv, ",%s_low,%s_high", column->csv, column->csv);
    }
    g_string_append(csv, "\r\n");
    for (guint i = 0; i < t->cells->len; i++) {
        const guint at = i % t->columns->len;
        const TableColumn *column = &g_array_index(t->columns, TableColumn, at);
        const TableCell *cell = &g_array_index(t->cells, TableCell, i);
        if (at > 0)
            g_string_append_c(csv, ',');
        if (column->kind <= REPORT_CODE)
            report_table_csv_field(csv, cell->text);
        else
            report_table_csv_number(csv, cell->value[0]);
        for (int k = 1; k < 3 && report_table_is_range(column->kind); k++) {
            g_string_append_c(csv, ',');
            report_table_csv_number(csv, cell->value[k]);
        }
        if (at + 1 == t->columns->len)
            g_string_append(csv, "\r\n");
    }
    return g_string_free(csv, FALSE);
}
