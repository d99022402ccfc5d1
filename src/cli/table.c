/* Aligned columns. Widths count the columns a terminal gives a letter, not bytes. */
#include "table.h"

#include <stdarg.h>
#include <string.h>

struct CliTable {
    char *align;
    gsize columns;
    GPtrArray *cells; /* char *, row by row */
};

CliTable *cli_table_new(const char *align)
{
    CliTable *table = g_new0(CliTable, 1);
    table->align = g_strdup(align);
    table->columns = strlen(align);
    table->cells = g_ptr_array_new_with_free_func(g_free);
    return table;
}

void cli_table_row(CliTable *table, ...)
{
    va_list list;
    va_start(list, table);
    for (gsize i = 0; i < table->columns; i++) {
        const char *cell = va_arg(list, const char *);
        g_ptr_array_add(table->cells, g_strdup(cell ? cell : ""));
    }
    va_end(list);
}

static gsize cli_table_width(const char *text)
{
    gsize width = 0;
    for (const char *c = text; *c; c = g_utf8_next_char(c)) {
        gunichar letter = g_utf8_get_char(c);
        if (!g_unichar_iszerowidth(letter))
            width += g_unichar_iswide(letter) ? 2 : 1;
    }
    return width;
}

void cli_table_print(const CliTable *table, FILE *to)
{
    g_autofree gsize *widths = g_new0(gsize, table->columns);
    for (guint i = 0; i < table->cells->len; i++) {
        gsize *width = &widths[i % table->columns];
        *width = MAX(*width, cli_table_width(table->cells->pdata[i]));
    }
    for (guint i = 0; i < table->cells->len; i++) {
        gsize column = i % table->columns;
        const char *cell = table->cells->pdata[i];
        int gap = (int)(widths[column] - cli_table_width(cell));
        bool last = column + 1 == table->columns;
        if (table->align[column] == 'r')
            fprintf(to, "%*s%s", gap, "", cell);
        else
            fprintf(to, "%s%*s", cell, last ? 0 : gap, "");
        fputs(last ? "\n" : "  ", to);
    }
}

void cli_table_free(CliTable *table)
{
    if (!table)
        return;
    g_free(table->align);
    g_ptr_array_unref(table->cells);
    g_free(table);
}
