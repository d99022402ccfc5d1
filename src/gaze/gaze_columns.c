/* Which columns of a gaze file mean what: the COL:UNIT texts, and the header row.
 *
 * A COL of digits only is a 1-based number, anything else a name, matched exactly. The last colon
 * splits, so that names may hold colons. A first row is a header where a column is asked for by
 * name, or where time, x and y are all text in it. */
#include "gaze/gaze_columns.h"

#include <string.h>

#include "gaze/gaze_number.h"

#define SHOW_CHARS 40
#define SHOW_COLUMNS 40

static const char *const gaze_columns_role[LF_GAZE_ROLES] = {"time", "x", "y", "valid"};

static const struct {
    const char *unit;
    int exp10;
} gaze_columns_time_unit[] = {{"s", 6}, {"ms", 3}, {"us", 0}, {"ns", -3}};

char *lf_gaze_columns_show(const char *text)
{
    g_autofree char *valid = g_utf8_make_valid(text, -1);
    GString *out = g_string_new(NULL);
    int n = 0;
    for (const char *p = valid; *p; p = g_utf8_next_char(p), n++) {
        if (n == SHOW_CHARS) {
            g_string_append(out, "...");
            break;
        }
        gunichar c = g_utf8_get_char(p);
        g_string_append_unichar(out, g_unichar_isprint(c) ? c : '?');
    }
    return g_string_free(out, FALSE);
}

char *lf_gaze_columns_label(const LfGazeColumns *columns, LfGazeRole role)
{
    if (columns->name[role]) {
        g_autofree char *name = lf_gaze_columns_show(columns->name[role]);
        return g_strdup_printf("column \"%s\"", name);
    }
    return g_strdup_printf("column %" G_GSIZE_FORMAT, columns->number[role]);
}

static bool gaze_columns_is_number(const char *col)
{
    return *col && strspn(col, "0123456789") == strlen(col);
}

/* Takes COL, the part before the colon. */
static bool gaze_columns_take(LfGazeColumns *columns, LfGazeRole role, const char *spec,
                              gsize length, GError **error)
{
    g_autofree char *col = g_strndup(spec, length);
    guint64 number = 0;
    if (!*col) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "%s column \"%s\": the column's name or number is missing",
                    gaze_columns_role[role], spec);
        return false;
    }
    if (!gaze_columns_is_number(col)) {
        columns->name[role] = g_steal_pointer(&col);
        return true;
    }
    if (!g_ascii_string_to_unsigned(col, 10, 1, G_MAXINT32, &number, NULL)) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "%s column \"%s\": columns are numbered from 1", gaze_columns_role[role], spec);
        return false;
    }
    columns->number[role] = number;
    return true;
}

static bool gaze_columns_unit_error(LfGazeRole role, const char *spec, const char *unit,
                                    GError **error)
{
    bool time = role == LF_GAZE_T;
    g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                "%s column \"%s\": \"%s\" is no unit of %s (%s); where the colon belongs to the "
                "name, add the unit: \"%s:%s\"",
                gaze_columns_role[role], spec, unit, time ? "time" : "position",
                time ? "s, ms, us or ns" : "px or norm", spec, time ? "s" : "px");
    return false;
}

static bool gaze_columns_take_time(LfGazeColumns *columns, const char *spec, GError **error)
{
    const char *colon = strrchr(spec, ':');
    const char *unit = colon ? colon + 1 : "s";
    columns->time_unit = NULL;
    for (gsize i = 0; i < G_N_ELEMENTS(gaze_columns_time_unit); i++) {
        if (strcmp(unit, gaze_columns_time_unit[i].unit) == 0) {
            columns->time_unit = gaze_columns_time_unit[i].unit;
            columns->time_exp10 = gaze_columns_time_unit[i].exp10;
        }
    }
    if (!columns->time_unit) {
        return gaze_columns_unit_error(LF_GAZE_T, spec, unit, error);
    }
    gsize length = colon ? (gsize)(colon - spec) : strlen(spec);
    return gaze_columns_take(columns, LF_GAZE_T, spec, length, error);
}

static bool gaze_columns_take_position(LfGazeColumns *columns, LfGazeRole role, const char *spec,
                                       GError **error)
{
    const char *colon = strrchr(spec, ':');
    const char *unit = colon ? colon + 1 : "px";
    columns->norm[role] = strcmp(unit, "norm") == 0;
    if (!columns->norm[role] && strcmp(unit, "px") != 0) {
        return gaze_columns_unit_error(role, spec, unit, error);
    }
    gsize length = colon ? (gsize)(colon - spec) : strlen(spec);
    return gaze_columns_take(columns, role, spec, length, error);
}

static bool gaze_columns_take_valid(LfGazeColumns *columns, const char *spec, GError **error)
{
    const char *colon = strrchr(spec, ':');
    if (!colon || !colon[1]) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "valid column \"%s\": write COLUMN:VALUE with the value of good samples", spec);
        return false;
    }
    columns->good = g_strdup(colon + 1);
    return gaze_columns_take(columns, LF_GAZE_VALID, spec, (gsize)(colon - spec), error);
}

bool lf_gaze_columns_parse(const LfGazeFormat *format, LfGazeColumns *columns, GError **error)
{
    *columns = (LfGazeColumns){0};
    if (gaze_columns_take_time(columns, format->time ? format->time : "t_s:s", error) &&
        gaze_columns_take_position(columns, LF_GAZE_X, format->x ? format->x : "x_px:px", error) &&
        gaze_columns_take_position(columns, LF_GAZE_Y, format->y ? format->y : "y_px:px", error) &&
        (!format->valid || gaze_columns_take_valid(columns, format->valid, error))) {
        return true;
    }
    lf_gaze_columns_clear(columns);
    return false;
}

void lf_gaze_columns_clear(LfGazeColumns *columns)
{
    for (int role = 0; role < LF_GAZE_ROLES; role++) {
        g_clear_pointer(&columns->name[role], g_free);
    }
    g_clear_pointer(&columns->good, g_free);
}

/* The row's fields as a list for a message. */
static char *gaze_columns_list(const GPtrArray *row)
{
    GString *out = g_string_new(NULL);
    for (guint i = 0; i < row->len && i < SHOW_COLUMNS; i++) {
        g_autofree char *name = lf_gaze_columns_show(row->pdata[i]);
        g_string_append_printf(out, "%s%s", i ? ", " : "", name);
    }
    if (row->len > SHOW_COLUMNS) {
        g_string_append_printf(out, " and %u more", row->len - SHOW_COLUMNS);
    }
    return g_string_free(out, FALSE);
}

static LfGazeKind gaze_columns_kind(const GPtrArray *row, gsize number, bool comma_ok)
{
    LfGazeNumber unused;
    const char *text = row->pdata[number - 1];
    return lf_gaze_number_parse(text, strlen(text), comma_ok, &unused);
}

/* A first row without any text in it is no header. */
static bool gaze_columns_has_text(const GPtrArray *row, bool comma_ok)
{
    for (guint i = 0; i < row->len; i++) {
        if (gaze_columns_kind(row, i + 1, comma_ok) == LF_GAZE_TEXT) {
            return true;
        }
    }
    return false;
}

static bool gaze_columns_find_name(LfGazeColumns *columns, LfGazeRole role, const char *file,
                                   const GPtrArray *row, bool comma_ok, GError **error)
{
    gsize found = 0;
    g_autofree char *label = lf_gaze_columns_label(columns, role);
    for (guint i = 0; i < row->len; i++) {
        if (strcmp(row->pdata[i], columns->name[role]) != 0) {
            continue;
        }
        if (found) {
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "%s: %s is there twice, as number %" G_GSIZE_FORMAT
                        " and %u; say which by its number",
                        file, label, found, i + 1);
            return false;
        }
        found = i + 1;
    }
    columns->number[role] = found;
    if (found) {
        return true;
    }
    g_autofree char *list = gaze_columns_list(row);
    if (gaze_columns_has_text(row, comma_ok)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: has no %s for %s; the columns are: %s",
                    file, label, gaze_columns_role[role], list);
    } else {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: has no header row and so no %s for %s; its first row has %u columns: %s; "
                    "give columns by number, such as 1:s for time",
                    file, label, gaze_columns_role[role], row->len, list);
    }
    return false;
}

/* One column for two things is a slip of the hand: all gaze would lie on a diagonal. */
static bool gaze_columns_apart(const LfGazeColumns *columns, const char *file, GError **error)
{
    for (int a = LF_GAZE_T; a <= LF_GAZE_Y; a++) {
        for (int b = a + 1; b <= LF_GAZE_Y; b++) {
            if (columns->number[a] == columns->number[b]) {
                g_autofree char *label = lf_gaze_columns_label(columns, (LfGazeRole)b);
                g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                            "%s: %s is given for both %s and %s; each needs a column of its own",
                            file, label, gaze_columns_role[a], gaze_columns_role[b]);
                return false;
            }
        }
    }
    return true;
}

bool lf_gaze_columns_find(LfGazeColumns *columns, const char *file, const GPtrArray *row,
                          bool comma_ok, GError **error)
{
    columns->has_header = false;
    for (int role = 0; role < LF_GAZE_ROLES; role++) {
        if (columns->name[role]) {
            columns->has_header = true;
            if (!gaze_columns_find_name(columns, role, file, row, comma_ok, error)) {
                return false;
            }
        } else if (columns->number[role] > row->len) {
            g_autofree char *list = gaze_columns_list(row);
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "%s: has no column %" G_GSIZE_FORMAT " for %s; it has %u: %s", file,
                        columns->number[role], gaze_columns_role[role], row->len, list);
            return false;
        }
    }
    if (!gaze_columns_apart(columns, file, error)) {
        return false;
    }
    if (!columns->has_header) {
        columns->has_header =
            gaze_columns_kind(row, columns->number[LF_GAZE_T], comma_ok) == LF_GAZE_TEXT &&
            gaze_columns_kind(row, columns->number[LF_GAZE_X], comma_ok) == LF_GAZE_TEXT &&
            gaze_columns_kind(row, columns->number[LF_GAZE_Y], comma_ok) == LF_GAZE_TEXT;
    }
    return true;
}
