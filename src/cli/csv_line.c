/* CSV fields. Numbers are made by hand because millions of them are: it is several times as quick
 * as printf. */
#include "csv_line.h"

#include <math.h>
#include <string.h>

static void csv_line_next(GString *line)
{
    if (line->len > 0 && line->str[line->len - 1] != '\n')
        g_string_append_c(line, ',');
}

/* A line that begins with a blank field has nothing yet to put a comma after; the callers of this
 * module begin each line with a name, which is never blank. */
void csv_line_text(GString *line, const char *text)
{
    csv_line_next(line);
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

/* n / 10^decimals, exactly. */
static void csv_line_scaled(GString *line, int64_t n, int decimals)
{
    char digits[32];
    int at = (int)sizeof digits;
    uint64_t rest = n < 0 ? (uint64_t)-n : (uint64_t)n;
    for (int i = 0; i <= decimals || rest > 0; i++) {
        if (i == decimals && decimals > 0)
            digits[--at] = '.';
        digits[--at] = (char)('0' + rest % 10);
        rest /= 10;
    }
    if (n < 0)
        digits[--at] = '-';
    g_string_append_len(line, digits + at, (gssize)sizeof digits - at);
}

void csv_line_fixed(GString *line, double value, int decimals)
{
    static const double powers[] = {1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9};
    csv_line_next(line);
    if (!isfinite(value))
        return;
    double scaled = value * powers[decimals];
    if (fabs(scaled) < 9e15) { /* whole numbers are exact in a double up to here */
        csv_line_scaled(line, llround(scaled), decimals);
        return;
    }
    char number[G_ASCII_DTOSTR_BUF_SIZE];
    g_string_append(line, g_ascii_dtostr(number, sizeof number, value));
}

void csv_line_exact(GString *line, double value)
{
    char number[G_ASCII_DTOSTR_BUF_SIZE];
    csv_line_next(line);
    if (isfinite(value))
        g_string_append(line, g_ascii_dtostr(number, sizeof number, value));
}

void csv_line_seconds(GString *line, int64_t t_us, int decimals)
{
    int64_t step_us = 1;
    for (int i = decimals; i < 6; i++)
        step_us *= 10;
    int64_t t = t_us + step_us / 2;
    csv_line_next(line);
    csv_line_scaled(line, t / step_us - (t % step_us < 0), decimals);
}

void csv_line_end(GString *line)
{
    g_string_append(line, "\r\n");
}
