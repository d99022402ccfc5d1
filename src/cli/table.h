/* A table of text with aligned columns, for people. */
#ifndef LF_CLI_TABLE_H
#define LF_CLI_TABLE_H

#include <stdbool.h>
#include <stdio.h>

#include <glib.h>

typedef struct CliTable CliTable;

/* `align` has one letter for each column: l or r. */
CliTable *cli_table_new(const char *align);
/* One string for each column; copied. NULL is blank. */
void cli_table_row(CliTable *table, ...);
void cli_table_print(const CliTable *table, FILE *to);
void cli_table_free(CliTable *table);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(CliTable, cli_table_free)

#endif
