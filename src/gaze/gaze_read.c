/* Gaze files to samples.
 *
 * Rows stream through libcsv (RFC 4180, strict) into gaze_samples; nothing but the samples is
 * kept. The separator is the first of tab, semicolon and comma that stands outside of quotes in the
 * first row. Lines are counted from 1 as an editor does, line breaks inside quotes included; a row
 * is named by the line it begins in. */
#include "gaze/gaze_read.h"

#include <csv.h>
#include <math.h>
#include <string.h>

#include "gaze/gaze_columns.h"
#include "gaze/gaze_samples.h"
#include "gaze/gaze_text.h"

/* A quotation mark that is never closed would otherwise take the rest of the file into memory. */
#define MAX_FIELD_BYTES (1 << 20)

typedef struct {
    LfGazeColumns columns;
    LfGazeSamples *samples;
    const char *file;
    GPtrArray *first_row; /* char *; NULL once the columns are known */
    gsize n_columns;
    bool comma_ok;

    gsize at;      /* fields of this row so far */
    bool any;      /* one of them is not blank */
    bool after_cr; /* the last thing was a carriage return that ended a row */
    int64_t line;
    int64_t row_line;
    GString *field[LF_GAZE_ROLES];

    GError *error; /* the first failure; what follows is passed over */
} GazeReader;

static void gaze_read_init(GazeReader *r, const char *file)
{
    *r = (GazeReader){.file = file, .line = 1};
    r->first_row = g_ptr_array_new_with_free_func(g_free);
    for (int role = 0; role < LF_GAZE_ROLES; role++) {
        r->field[role] = g_string_new(NULL);
    }
}

static void gaze_read_clear(GazeReader *r)
{
    lf_gaze_columns_clear(&r->columns);
    lf_gaze_samples_free(r->samples);
    g_clear_pointer(&r->first_row, g_ptr_array_unref);
    for (int role = 0; role < LF_GAZE_ROLES; role++) {
        g_string_free(r->field[role], TRUE);
    }
    g_clear_error(&r->error);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(GazeReader, gaze_read_clear)

static void gaze_read_pick(GazeReader *r, const char *text, gsize n)
{
    for (int role = 0; role < LF_GAZE_ROLES; role++) {
        if (r->columns.number[role] == r->at + 1) {
            g_string_truncate(r->field[role], 0);
            g_string_append_len(r->field[role], text, (gssize)n);
        }
    }
}

/* libcsv: one field. */
static void gaze_read_field(void *text, size_t n, void *data)
{
    GazeReader *r = data;
    if (r->error) {
        return;
    }
    if (r->at == 0) {
        r->row_line = r->line;
        r->any = false;
    }
    if (r->first_row) {
        g_ptr_array_add(r->first_row, g_strndup(text, n));
    } else if (r->at < r->n_columns) {
        gaze_read_pick(r, text, n);
    } else if (n > 0) {
        g_set_error(&r->error, LF_ERROR, LF_ERROR_INPUT,
                    "%s, line %" G_GINT64_FORMAT ": has more than the %" G_GSIZE_FORMAT
                    " columns of the first row%s",
                    r->file, r->row_line, r->n_columns,
                    r->comma_ok ? ""
                                : "; with decimal commas, columns must be separated by semicolons "
                                  "or tabs");
        return;
    }
    r->any = r->any || n > 0;
    r->at++;
    for (const char *p = text, *end = p + n; n > 0 && (p = memchr(p, '\n', (gsize)(end - p)));) {
        r->line++;
        p++;
    }
}

static bool gaze_read_samples_row(GazeReader *r)
{
    return lf_gaze_samples_add(r->samples, &r->columns, (const GString *const *)r->field,
                               r->row_line, &r->error);
}

/* Finds the columns, and takes the row as a sample where it is no header. */
static bool gaze_read_first_row(GazeReader *r)
{
    g_autoptr(GPtrArray) row = g_steal_pointer(&r->first_row);
    if (!lf_gaze_columns_find(&r->columns, r->file, row, r->comma_ok, &r->error)) {
        return false;
    }
    r->n_columns = row->len;
    if (r->columns.has_header) {
        return true;
    }
    for (r->at = 0; r->at < row->len; r->at++) {
        gaze_read_pick(r, row->pdata[r->at], strlen(row->pdata[r->at]));
    }
    return gaze_read_samples_row(r);
}

/* libcsv: end of a row, also of an empty one; ended_by is the character, or -1 at the end. */
static void gaze_read_row(int ended_by, void *data)
{
    GazeReader *r = data;
    if (r->error) {
        return;
    }
    bool second_half = ended_by == '\n' && r->after_cr && r->at == 0;
    r->after_cr = ended_by == '\r';
    if (second_half) {
        return;
    }
    if (r->first_row && !r->any) {
        g_ptr_array_set_size(r->first_row, 0); /* a row of blanks above the header */
    } else if (r->at > 0 && r->any) {
        if (r->first_row ? !gaze_read_first_row(r) : !gaze_read_samples_row(r)) {
            return;
        }
    }
    for (int role = 0; role < LF_GAZE_ROLES; role++) {
        g_string_truncate(r->field[role], 0);
    }
    r->at = 0;
    r->any = false;
    r->line++;
}

static char gaze_read_separator(const char *text, gsize n)
{
    bool quoted = false, tab = false, semicolon = false, any = false;
    for (gsize i = 0; i < n; i++) {
        char c = text[i];
        if (c == '"') {
            quoted = !quoted;
        } else if (!quoted && (c == '\n' || c == '\r')) {
            if (any) {
                break;
            }
            continue;
        }
        any = true;
        tab = tab || (!quoted && c == '\t');
        semicolon = semicolon || (!quoted && c == ';');
    }
    return tab ? '\t' : semicolon ? ';' : ',';
}

static bool gaze_read_csv_error(GazeReader *r, int code)
{
    if (code == CSV_EPARSE) {
        g_set_error(&r->error, LF_ERROR, LF_ERROR_INPUT,
                    "%s, line %" G_GINT64_FORMAT ": a quotation mark is out of place or never "
                    "closed; inside quotes it is written twice",
                    r->file, r->line);
    } else {
        g_set_error(&r->error, LF_ERROR, LF_ERROR_MACHINE, "%s: %s", r->file, csv_strerror(code));
    }
    return false;
}

/* Runs all blocks through the parser. */
static bool gaze_read_rows(GazeReader *r, LfGazeText *text, struct csv_parser *parser)
{
    const char *data;
    gsize n;
    bool first = true;
    do {
        if (!lf_gaze_text_next(text, &data, &n, &r->error)) {
            return false;
        }
        if (first) {
            char separator = gaze_read_separator(data, n);
            r->comma_ok = separator != ',';
            r->samples = lf_gaze_samples_new(r->file, r->comma_ok);
            csv_set_delim(parser, (unsigned char)separator);
            first = false;
        }
        if (csv_parse(parser, data, n, gaze_read_field, gaze_read_row, r) != n && !r->error) {
            return gaze_read_csv_error(r, csv_error(parser));
        }
        if (csv_get_buffer_size(parser) > MAX_FIELD_BYTES && !r->error) {
            return gaze_read_csv_error(r, CSV_EPARSE);
        }
    } while (n > 0 && !r->error);
    if (!r->error && csv_fini(parser, gaze_read_field, gaze_read_row, r) != 0 && !r->error) {
        return gaze_read_csv_error(r, csv_error(parser));
    }
    if (!r->error && r->first_row) {
        g_set_error(&r->error, LF_ERROR, LF_ERROR_INPUT, "%s: is empty", r->file);
    }
    return !r->error;
}

static LfGaze *gaze_read_text(LfGazeText *text, const LfGazeFormat *format, int frame_width,
                              int frame_height, GError **error)
{
    const LfGazeFormat plain = {0};
    format = format ? format : &plain;
    if (!(fabs(format->clock_shift_ms) <= LF_GAZE_MAX_SHIFT_MS)) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "clock shift: %g ms is out of range",
                    format->clock_shift_ms);
        return NULL;
    }
    g_auto(GazeReader) r;
    gaze_read_init(&r, lf_gaze_text_name(text));
    if (!lf_gaze_columns_parse(format, &r.columns, error)) {
        return NULL;
    }
    struct csv_parser parser;
    if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI | CSV_APPEND_NULL | CSV_REPALL_NL) != 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "%s: out of memory", r.file);
        return NULL;
    }
    bool ok = gaze_read_rows(&r, text, &parser);
    csv_free(&parser);
    if (!ok) {
        g_propagate_error(error, g_steal_pointer(&r.error));
        return NULL;
    }
    return lf_gaze_samples_finish(r.samples, &r.columns, frame_width, frame_height,
                                  format->clock_shift_ms, error);
}

LfGaze *lf_gaze_read(const char *path, const LfGazeFormat *format, int frame_width,
                     int frame_height, GError **error)
{
    g_autoptr(LfGazeText) text = lf_gaze_text_open(path, error);
    return text ? gaze_read_text(text, format, frame_width, frame_height, error) : NULL;
}

LfGaze *lf_gaze_read_memory(const void *data, gsize n, const char *name, const LfGazeFormat *format,
                            int frame_width, int frame_height, GError **error)
{
    g_autoptr(LfGazeText) text = lf_gaze_text_from_memory(data, n, name);
    return gaze_read_text(text, format, frame_width, frame_height, error);
}
