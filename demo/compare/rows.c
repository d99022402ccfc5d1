/* CSV files with a header row; see rows.h. */
#include "rows.h"

#include <math.h>
#include <string.h>

#include <csv.h>

#include <lookfall/error.h>

typedef struct {
    GPtrArray *rows;
    GPtrArray *fields; /* of the row being read */
} RowsParse;

static void rows_field(void *text, size_t length, void *data)
{
    RowsParse *parse = data;
    g_ptr_array_add(parse->fields, g_strndup(text ? text : "", length));
}

static void rows_end(int end, void *data)
{
    (void)end;
    RowsParse *parse = data;
    g_ptr_array_add(parse->fields, NULL);
    g_ptr_array_add(parse->rows, g_ptr_array_free(parse->fields, FALSE));
    parse->fields = g_ptr_array_new();
}

static void rows_strfreev(gpointer fields)
{
    g_strfreev(fields);
}

static bool rows_parse(LrRows *rows, const char *text, gsize length, GError **error)
{
    struct csv_parser parser;
    RowsParse parse = {rows->rows, g_ptr_array_new()};
    bool good = csv_init(&parser, CSV_STRICT | CSV_APPEND_NULL) == 0;
    good = good && csv_parse(&parser, text, length, rows_field, rows_end, &parse) == length &&
           csv_fini(&parser, rows_field, rows_end, &parse) == 0;
    csv_free(&parser);
    g_ptr_array_set_free_func(parse.fields, g_free);
    g_ptr_array_free(parse.fields, TRUE);
    if (!good)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: quotes out of place in line %u.",
                    rows->path, rows->rows->len + 1);
    return good;
}

LrRows *lr_rows_read(const char *path, GError **error)
{
    g_autofree char *text = NULL;
    gsize length;
    GError *cause = NULL;
    if (!g_file_get_contents(path, &text, &length, &cause)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s.", cause->message);
        g_error_free(cause);
        return NULL;
    }
    g_autoptr(LrRows) rows = g_new0(LrRows, 1);
    rows->path = g_strdup(path);
    rows->rows = g_ptr_array_new_with_free_func(rows_strfreev);
    if (!rows_parse(rows, text, length, error))
        return NULL;
    if (rows->rows->len == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s is empty.", path);
        return NULL;
    }
    guint width = g_strv_length(rows->rows->pdata[0]);
    for (guint i = 1; i < rows->rows->len; i++)
        if (g_strv_length(rows->rows->pdata[i]) != width) {
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "%s, line %u: %u fields where the header has %u.", path, i + 1,
                        g_strv_length(rows->rows->pdata[i]), width);
            return NULL;
        }
    return g_steal_pointer(&rows);
}

void lr_rows_free(LrRows *rows)
{
    if (!rows)
        return;
    g_free(rows->path);
    if (rows->rows)
        g_ptr_array_unref(rows->rows);
    g_free(rows);
}

guint lr_rows_count(const LrRows *rows)
{
    return rows->rows->len - 1;
}

bool lr_rows_column(const LrRows *rows, const char *name, guint *column, GError **error)
{
    char **header = rows->rows->pdata[0];
    for (guint i = 0; header[i]; i++)
        if (strcmp(header[i], name) == 0) {
            *column = i;
            return true;
        }
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s has no column %s.", rows->path, name);
    return false;
}

const char *lr_rows_text(const LrRows *rows, guint row, guint column)
{
    return ((char **)rows->rows->pdata[row + 1])[column];
}

bool lr_rows_number(const LrRows *rows, guint row, guint column, double *value, GError **error)
{
    const char *text = lr_rows_text(rows, row, column);
    char *end;
    *value = NAN;
    if (!*text)
        return true;
    *value = g_ascii_strtod(text, &end);
    if (*end == '\0' && isfinite(*value))
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s, line %u: \"%s\" is no number.", rows->path,
                row + 2, text);
    return false;
}
