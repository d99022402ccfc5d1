/* Rows of a small CSV text with named columns: areas, planograms, marks. */
#ifndef LF_LOOK_CSV_ROWS_H
#define LF_LOOK_CSV_ROWS_H

#include <stdbool.h>

#include <glib.h>

typedef struct {
    const char *name;
    bool needed;
} CsvColumn;

/* The fields of one row, in the order of the columns asked for, without blanks around; "" where
 * the column is not there. row: as a spreadsheet counts, the header is row 1. Borrowed. Returning
 * false stops with that error, which need not name file and row. */
typedef bool (*CsvTake)(const char *const *fields, gsize row, void *data, GError **error);

/* Comma, semicolon or tab, whichever the header has most of; quotes as in RFC 4180; a byte order
 * mark is passed over, blank rows too. LF_ERROR_INPUT with file and row. */
bool csv_rows_read(const char *text, gsize length, const char *file, const CsvColumn *columns,
                   gsize n_columns, CsvTake take, void *data, GError **error);

/* A finite number with a decimal point; LF_ERROR_INPUT names the column. */
bool csv_rows_number(const char *field, const char *column, double *value, GError **error);

/* A field for writing, quoted where it needs to be. */
void csv_rows_append(GString *line, const char *text);

#endif
