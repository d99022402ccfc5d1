/* Lines of RFC 4180 CSV: comma, CRLF, quotes where a field needs them, numbers with a point in any
 * locale. Fields are appended to a GString; csv_line_end ends the line. */
#ifndef LF_CLI_CSV_LINE_H
#define LF_CLI_CSV_LINE_H

#include <stdint.h>

#include <glib.h>

/* NULL is a blank field. */
void csv_line_text(GString *line, const char *text);
/* Rounded to `decimals` (0 to 9), halves away from zero; NaN and infinities are blank. */
void csv_line_fixed(GString *line, double value, int decimals);
/* All digits that are needed to read the same double back. */
void csv_line_exact(GString *line, double value);
/* Microseconds as seconds with 0 to 6 decimals, halves up. */
void csv_line_seconds(GString *line, int64_t t_us, int decimals);
void csv_line_end(GString *line);

#endif
