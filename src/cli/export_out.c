/* Rows of chosen columns as CSV, and the dictionary of the columns. */
#include "export_out.h"

#include <string.h>

bool export_out_choose(ExportOut *out, const ExportKind *kind, const char *names, GError **error)
{
    gsize n;
    out->line = g_string_new(NULL);
    out->cell = g_string_new(NULL);
    out->chosen = g_array_new(FALSE, FALSE, sizeof(gsize));
    out->columns = kind->columns(&n);
    for (gsize i = 0; !names && i < n; i++)
        g_array_append_val(out->chosen, i);
    if (!names)
        return true;
    g_auto(GStrv) list = g_strsplit(names, ",", -1);
    for (gsize k = 0; list[k]; k++) {
        const char *name = g_strstrip(list[k]);
        gsize i = 0;
        while (i < n && strcmp(out->columns[i].name, name) != 0)
            i++;
        if (i == n) {
            g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                        "%s have no column \"%s\"; --dictionary lists the columns there are",
                        kind->name, name);
            return false;
        }
        g_array_append_val(out->chosen, i);
    }
    if (out->chosen->len > 0)
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "--columns names no column");
    return false;
}

void export_out_clear(ExportOut *out)
{
    if (out->line)
        g_string_free(out->line, TRUE);
    if (out->cell)
        g_string_free(out->cell, TRUE);
    g_clear_pointer(&out->chosen, g_array_unref);
}

void export_out_header(ExportOut *out)
{
    for (guint k = 0; k < out->chosen->len; k++)
        g_string_append_printf(out->line, "%s%s", k ? "," : "",
                               out->columns[g_array_index(out->chosen, gsize, k)].name);
    csv_line_end(out->line);
}

bool export_out_flush(ExportOut *out, GError **error)
{
    bool good =
        fwrite(out->line->str, 1, out->line->len, cli_out_stream(out->out)) == out->line->len;
    g_string_truncate(out->line, 0);
    return good || cli_out_failed(out->out, error);
}

bool export_out_row(ExportOut *out, const void *row, GError **error)
{
    for (guint k = 0; k < out->chosen->len; k++) {
        const ExportColumn *column = &out->columns[g_array_index(out->chosen, gsize, k)];
        g_string_truncate(out->cell, 0);
        column->write(out->cell, row, column->which);
        if (k > 0)
            g_string_append_c(out->line, ',');
        g_string_append_len(out->line, out->cell->str, (gssize)out->cell->len);
    }
    csv_line_end(out->line);
    return export_out_flush(out, error);
}

bool export_out_dictionary(CliOut *out, const ExportKind *kind, GError **error)
{
    g_autoptr(GString) text = g_string_new("column,unit,definition\r\n");
    gsize n;
    const ExportColumn *columns = kind->columns(&n);
    for (gsize i = 0; i < n; i++) {
        csv_line_text(text, columns[i].name);
        csv_line_text(text, columns[i].unit);
        csv_line_text(text, columns[i].definition);
        csv_line_end(text);
    }
    bool good = fwrite(text->str, 1, text->len, cli_out_stream(out)) == text->len;
    return good || cli_out_failed(out, error);
}
