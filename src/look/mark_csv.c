/* Marks from and to CSV: walk, name, from_s, to_s, who, at. docs/marks.md describes the format. */
#include <lookfall/mark.h>

#include <math.h>

#include "look/csv_rows.h"

enum { MARK_WALK, MARK_NAME, MARK_FROM, MARK_TO, MARK_WHO, MARK_AT };

static const CsvColumn mark_csv_columns[] = {
    [MARK_WALK] = {"walk", true}, [MARK_NAME] = {"name", true}, [MARK_FROM] = {"from_s", true},
    [MARK_TO] = {"to_s", false},  [MARK_WHO] = {"who", false},  [MARK_AT] = {"at", false},
};

typedef struct {
    GPtrArray *marks;
    GArray *rows; /* may be NULL */
} MarkCsv;

static bool mark_csv_seconds(const char *const *fields, int column, int64_t *us, GError **error)
{
    double s;
    if (!csv_rows_number(fields[column], mark_csv_columns[column].name, &s, error))
        return false;
    if (fabs(s) > 1e7) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s is in seconds of the walk; %s is more than any walk lasts",
                    mark_csv_columns[column].name, fields[column]);
        return false;
    }
    *us = llround(s * 1e6);
    return true;
}

static bool mark_csv_take(const char *const *fields, gsize row, void *data, GError **error)
{
    MarkCsv *csv = data;
    int64_t from_us, to_us = 0;
    bool span = *fields[MARK_TO];
    for (int i = MARK_WALK; i <= MARK_NAME; i++)
        if (!*fields[i]) {
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s is blank", mark_csv_columns[i].name);
            return false;
        }
    if (!mark_csv_seconds(fields, MARK_FROM, &from_us, error) ||
        (span && !mark_csv_seconds(fields, MARK_TO, &to_us, error)))
        return false;
    if (span && to_us <= from_us) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "to_s %s is not after from_s %s; a moment has a blank to_s", fields[MARK_TO],
                    fields[MARK_FROM]);
        return false;
    }
    LfMark *mark = lf_mark_new(fields[MARK_WALK], fields[MARK_NAME], from_us, to_us, span,
                               *fields[MARK_WHO] ? fields[MARK_WHO] : NULL);
    mark->at = *fields[MARK_AT] ? g_strdup(fields[MARK_AT]) : NULL;
    g_ptr_array_add(csv->marks, mark);
    if (csv->rows)
        g_array_append_val(csv->rows, row);
    return true;
}

GPtrArray *lf_mark_read_csv(const char *text, gsize length, const char *file, GArray *rows,
                            GError **error)
{
    g_autoptr(GPtrArray) marks = lf_mark_list_new();
    MarkCsv csv = {marks, rows};
    if (!csv_rows_read(text, length, file, mark_csv_columns, G_N_ELEMENTS(mark_csv_columns),
                       mark_csv_take, &csv, error))
        return NULL;
    if (marks->len == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: it has a header row, but no mark", file);
        return NULL;
    }
    return g_steal_pointer(&marks);
}

static void mark_csv_append_seconds(GString *text, int64_t us)
{
    char number[64];
    g_string_append(text, g_ascii_formatd(number, sizeof number, "%.6f", (double)us * 1e-6));
}

char *lf_mark_write_csv(const GPtrArray *marks)
{
    g_autoptr(GString) text = g_string_new("walk,name,from_s,to_s,who,at\r\n");
    for (guint i = 0; i < marks->len; i++) {
        const LfMark *mark = marks->pdata[i];
        csv_rows_append(text, mark->walk);
        g_string_append_c(text, ',');
        csv_rows_append(text, mark->name);
        g_string_append_c(text, ',');
        mark_csv_append_seconds(text, mark->from_us);
        g_string_append_c(text, ',');
        if (mark->span)
            mark_csv_append_seconds(text, mark->to_us);
        g_string_append_c(text, ',');
        csv_rows_append(text, mark->who);
        g_string_append_c(text, ',');
        csv_rows_append(text, mark->at);
        g_string_append(text, "\r\n");
    }
    return g_string_free(g_steal_pointer(&text), FALSE);
}
