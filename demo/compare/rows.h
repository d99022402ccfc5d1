/* CSV files (RFC 4180) with a header row, read whole. */
#ifndef LOOKFALL_DEMO_ROWS_H
#define LOOKFALL_DEMO_ROWS_H

#include <stdbool.h>

#include <glib.h>

typedef struct {
    char *path;
    GPtrArray *rows; /* of char **, fields of a row, NULL-terminated; row 0 is the header */
} LrRows;

/* Every row must have as many fields as the header. Errors name file and line. */
LrRows *lr_rows_read(const char *path, GError **error);
void lr_rows_free(LrRows *rows);
/* Number of rows below the header. */
guint lr_rows_count(const LrRows *rows);
/* Index of a column, which must be there. */
bool lr_rows_column(const LrRows *rows, const char *name, guint *column, GError **error);
const char *lr_rows_text(const LrRows *rows, guint row, guint column);
/* A blank field is NaN; anything else must be a number. */
bool lr_rows_number(const LrRows *rows, guint row, guint column, double *value, GError **error);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LrRows, lr_rows_free)

#endif
