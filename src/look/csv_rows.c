/* Named columns of CSV text, parsed by libcsv. */
#include "look/csv_rows.h"

#include <csv.h>
#include <math.h>
#include <stdarg.h>
#include <string.h>

#include <lookfall/error.h>

#include "look/shown.h"

typedef struct {
    const char *file;
    const CsvColumn *columns;
    gsize n_columns;
    CsvTake take;
    void *data;

    GPtrArray *fields; /* char *: of the row being read */
    GArray *header;    /* int: the column each field belongs to */
    gsize row;
    int last_end; /* character that ended the last row */
    GError *error;
} CsvRows;

static void csv_rows_fail(CsvRows *rows, const char *format, ...) G_GNUC_PRINTF(2, 3);
static void csv_rows_fail(CsvRows *rows, const char *format, ...)
{
    if (rows->error)
        return;
    va_list list;
    va_start(list, format);
    g_autofree char *what = g_strdup_vprintf(format, list);
    va_end(list);
    g_set_error(&rows->error, LF_ERROR, LF_ERROR_INPUT, "%s, row %" G_GSIZE_FORMAT ": %s",
                rows->file, MAX(rows->row, 1), what);
}

/* --- rows ---------------------------------------------------------------------------------------
 */

static char *csv_rows_names(const CsvRows *rows)
{
    g_autoptr(GString) names = g_string_new(NULL);
    for (gsize i = 0; i < rows->n_columns; i++)
        g_string_append_printf(names, "%s%s", i ? ", " : "", rows->columns[i].name);
    return g_string_free(g_steal_pointer(&names), FALSE);
}

static void csv_rows_header(CsvRows *rows)
{
    g_autofree bool *seen = g_new0(bool, rows->n_columns);
    g_autofree char *names = csv_rows_names(rows);
    for (guint i = 0; i < rows->fields->len; i++) {
        const char *name = rows->fields->pdata[i];
        g_autofree char *shown = look_shown(name);
        int column = -1;
        for (gsize k = 0; k < rows->n_columns; k++)
            if (strcmp(rows->columns[k].name, name) == 0)
                column = (int)k;
        if (column < 0)
            csv_rows_fail(rows, "there is no column called \"%s\" here; the columns are %s", shown,
                          names);
        else if (seen[column])
            csv_rows_fail(rows, "the column %s is there twice", name);
        else
            seen[column] = true;
        g_array_append_val(rows->header, column);
    }
    for (gsize k = 0; k < rows->n_columns; k++)
        if (rows->columns[k].needed && !seen[k])
            csv_rows_fail(rows, "the column %s is missing; the columns are %s",
                          rows->columns[k].name, names);
}

static void csv_rows_give(CsvRows *rows)
{
    g_autofree const char **values = g_new(const char *, rows->n_columns);
    bool blank = true;
    for (gsize k = 0; k < rows->n_columns; k++)
        values[k] = "";
    for (guint i = 0; i < rows->fields->len; i++) {
        blank = blank && !*(const char *)rows->fields->pdata[i];
        if (i < rows->header->len)
            values[g_array_index(rows->header, int, i)] = rows->fields->pdata[i];
    }
    if (blank)
        return;
    if (rows->fields->len > rows->header->len) {
        csv_rows_fail(rows, "it has %u fields, the header %u", rows->fields->len,
                      rows->header->len);
        return;
    }
    GError *why = NULL;
    if (rows->take(values, rows->row, rows->data, &why))
        return;
    csv_rows_fail(rows, "%s", why->message);
    g_error_free(why);
}

static void csv_rows_on_field(void *text, size_t length, void *data)
{
    CsvRows *rows = data;
    g_autofree char *field = g_strndup(text ? text : "", length);
    g_ptr_array_add(rows->fields, g_strdup(g_strstrip(field)));
}

static void csv_rows_on_row(int end, void *data)
{
    CsvRows *rows = data;
    /* The parser tells of both characters of CR LF. */
    bool second = end == '\n' && rows->last_end == '\r' && rows->fields->len == 0;
    rows->last_end = end;
    if (second)
        return;
    rows->row++;
    if (!rows->error && rows->row == 1)
        csv_rows_header(rows);
    else if (!rows->error)
        csv_rows_give(rows);
    g_ptr_array_set_size(rows->fields, 0);
}

/* --- the whole ----------------------------------------------------------------------------------
 */

/* The separator there is most of in the header row. */
static unsigned char csv_rows_separator(const char *text, gsize length)
{
    static const char separators[] = ",;\t";
    gsize counts[3] = {0}, best = 0;
    for (gsize i = 0; i < length && text[i] != '\n' && text[i] != '\r'; i++)
        for (gsize k = 0; k < 3; k++)
            counts[k] += text[i] == separators[k];
    for (gsize k = 1; k < 3; k++)
        if (counts[k] > counts[best])
            best = k;
    return (unsigned char)separators[best];
}

static void csv_rows_parse(CsvRows *rows, const char *text, gsize length)
{
    struct csv_parser parser;
    /* Blank rows are kept, so that rows are numbered as a spreadsheet does. */
    if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI | CSV_REPALL_NL) != 0) {
        csv_rows_fail(rows, "there is not enough memory");
        return;
    }
    csv_set_delim(&parser, csv_rows_separator(text, length));
    if (csv_parse(&parser, text, length, csv_rows_on_field, csv_rows_on_row, rows) != length ||
        csv_fini(&parser, csv_rows_on_field, csv_rows_on_row, rows) != 0) {
        rows->row++;
        csv_rows_fail(rows, "a quote is in the wrong place or is not closed");
    }
    csv_free(&parser);
}

bool csv_rows_read(const char *text, gsize length, const char *file, const CsvColumn *columns,
                   gsize n_columns, CsvTake take, void *data, GError **error)
{
    const char *mark = "\xef\xbb\xbf"; /* UTF-8 byte order mark, which spreadsheets write */
    gsize skip = length >= 3 && memcmp(text, mark, 3) == 0 ? 3 : 0;
    CsvRows rows = {.file = file,
                    .columns = columns,
                    .n_columns = n_columns,
                    .take = take,
                    .data = data,
                    .fields = g_ptr_array_new_with_free_func(g_free),
                    .header = g_array_new(FALSE, FALSE, sizeof(int))};
    if (!g_utf8_validate_len(text, length, NULL))
        g_set_error(&rows.error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: it is not text in UTF-8; save it as CSV in UTF-8", file);
    else
        csv_rows_parse(&rows, text + skip, length - skip);
    if (!rows.error && rows.row == 0)
        g_set_error(&rows.error, LF_ERROR, LF_ERROR_INPUT, "%s: it is empty", file);
    g_ptr_array_unref(rows.fields);
    g_array_unref(rows.header);
    if (!rows.error)
        return true;
    g_propagate_error(error, rows.error);
    return false;
}

bool csv_rows_number(const char *field, const char *column, double *value, GError **error)
{
    const char *digits = field + (*field == '-' || *field == '+');
    char *end;
    *value = g_ascii_strtod(field, &end);
    bool good = end != field && !*end && isfinite(*value) &&
                (g_ascii_isdigit(digits[0]) || digits[0] == '.') &&
                !(digits[0] == '0' && (digits[1] == 'x' || digits[1] == 'X'));
    if (good)
        return true;
    g_autofree char *shown = look_shown(field);
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "%s must be a number with a decimal point, not \"%s\"", column, shown);
    return false;
}

void csv_rows_append(GString *line, const char *text)
{
    if (!text)
        return;
    if (!strpbrk(text, ",\"\r\n")) {
        g_string_append(line, text);
        return;
    }
    g_string_append_c(line, '"');
    for (const char *c = text; *c; c++) {
        if (*c == '"')
            g_string_append_c(line, '"');
        g_string_append_c(line, *c);
    }
    g_string_append_c(line, '"');
}
