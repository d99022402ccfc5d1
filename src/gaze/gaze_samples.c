/* Samples being collected from rows, each checked against the one before.
 *
 * Times are compared after rounding to microseconds, the resolution of everything downstream. A
 * file that writes decimals with a point here and a comma there is refused: one of them would be
 * a thousands separator. */
#include "gaze/gaze_samples.h"

#include <math.h>
#include <string.h>

#include "gaze/gaze_number.h"

/* Beyond this a position is a placeholder or a mistake in any unit. */
#define MAX_POSITION 1e9

struct LfGazeSamples {
    const char *file;
    bool comma_ok;
    char mark; /* decimal mark in use, 0 until one is seen */
    int64_t mark_line;

    LfGazeNumber last_time;
    GString *last_text;
    int64_t last_line;

    LfGazeSample *all;
    gsize n, room, n_lost;
};

LfGazeSamples *lf_gaze_samples_new(const char *file, bool comma_ok)
{
    LfGazeSamples *s = g_new0(LfGazeSamples, 1);
    s->file = file;
    s->comma_ok = comma_ok;
    s->last_text = g_string_new(NULL);
    return s;
}

void lf_gaze_samples_free(LfGazeSamples *s)
{
    if (!s) {
        return;
    }
    g_string_free(s->last_text, TRUE);
    g_free(s->all);
    g_free(s);
}

G_GNUC_PRINTF(4, 5)
static bool gaze_samples_fail(const LfGazeSamples *s, int64_t line, GError **error,
                              const char *format, ...)
{
    va_list args;
    va_start(args, format);
    g_autofree char *what = g_strdup_vprintf(format, args);
    va_end(args);
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s, line %" G_GINT64_FORMAT ": %s", s->file, line,
                what);
    return false;
}

/* One field to a number, or *nothing where it is blank or nan. */
static bool gaze_samples_number(LfGazeSamples *s, const LfGazeColumns *columns, LfGazeRole role,
                                const GString *text, int64_t line, LfGazeNumber *number,
                                bool *nothing, GError **error)
{
    LfGazeKind kind = lf_gaze_number_parse(text->str, text->len, s->comma_ok, number);
    *nothing = kind == LF_GAZE_NOTHING;
    if (kind == LF_GAZE_TEXT || kind == LF_GAZE_INFINITE) {
        g_autofree char *label = lf_gaze_columns_label(columns, role);
        g_autofree char *shown = lf_gaze_columns_show(text->str);
        return gaze_samples_fail(s, line, error, "%s holds \"%s\", which is not a %snumber%s",
                                 label, shown, kind == LF_GAZE_INFINITE ? "finite " : "",
                                 role == LF_GAZE_T ? "" : "; leave lost samples blank");
    }
    if (kind == LF_GAZE_NUMBER && number->mark) {
        if (!s->mark) {
            s->mark = number->mark;
            s->mark_line = line;
        } else if (number->mark != s->mark) {
            g_autofree char *label = lf_gaze_columns_label(columns, role);
            g_autofree char *shown = lf_gaze_columns_show(text->str);
            return gaze_samples_fail(s, line, error,
                                     "%s holds \"%s\", but line %" G_GINT64_FORMAT
                                     " writes decimals with '%c'; write all of them alike",
                                     label, shown, s->mark_line, s->mark);
        }
    }
    return true;
}

/* The row's time in microseconds. */
static bool gaze_samples_time(LfGazeSamples *s, const LfGazeColumns *columns, const GString *text,
                              int64_t line, LfGazeNumber *time, int64_t *t_us, GError **error)
{
    bool nothing;
    if (!gaze_samples_number(s, columns, LF_GAZE_T, text, line, time, &nothing, error)) {
        return false;
    }
    if (nothing) {
        g_autofree char *label = lf_gaze_columns_label(columns, LF_GAZE_T);
        return gaze_samples_fail(s, line, error,
                                 "%s is blank; every sample needs a time, lost ones too", label);
    }
    if (!lf_gaze_number_round(time, columns->time_exp10, t_us)) {
        g_autofree char *shown = lf_gaze_columns_show(text->str);
        return gaze_samples_fail(s, line, error,
                                 "the time %s %s is out of range; is the unit right?", shown,
                                 columns->time_unit);
    }
    return true;
}

/* Times must rise. */
static bool gaze_samples_order(const LfGazeSamples *s, const LfGazeColumns *columns,
                               const GString *text, int64_t line, const LfGazeNumber *time,
                               int64_t t_us, GError **error)
{
    int64_t last_us = s->all[s->n - 1].t_us;
    if (t_us > last_us) {
        return true;
    }
    g_autofree char *now = lf_gaze_columns_show(text->str);
    g_autofree char *last = lf_gaze_columns_show(s->last_text->str);
    const char *unit = columns->time_unit;
    if (t_us < last_us) {
        return gaze_samples_fail(s, line, error,
                                 "the time %s %s is earlier than %s %s in line %" G_GINT64_FORMAT
                                 "; sort the rows by time",
                                 now, unit, last, unit, s->last_line);
    }
    if (lf_gaze_number_equal(time, &s->last_time)) {
        return gaze_samples_fail(s, line, error,
                                 "the time %s %s is repeated: line %" G_GINT64_FORMAT
                                 " has %s %s; keep one of the two rows",
                                 now, unit, s->last_line, last, unit);
    }
    return gaze_samples_fail(s, line, error,
                             "the time %s %s is the same microsecond as %s %s in line "
                             "%" G_GINT64_FORMAT "; is the unit right? If so, keep one of the two "
                             "rows",
                             now, unit, last, unit, s->last_line);
}

static bool gaze_samples_is_good(const LfGazeSamples *s, const char *good, const GString *text)
{
    LfGazeNumber a, b;
    return strcmp(text->str, good) == 0 ||
           (lf_gaze_number_parse(text->str, text->len, s->comma_ok, &a) == LF_GAZE_NUMBER &&
            lf_gaze_number_parse(good, strlen(good), true, &b) == LF_GAZE_NUMBER &&
            lf_gaze_number_equal(&a, &b));
}

/* One coordinate, in the file's unit; NaN where there is none. */
static bool gaze_samples_position(LfGazeSamples *s, const LfGazeColumns *columns, LfGazeRole role,
                                  const GString *text, int64_t line, double *out, GError **error)
{
    LfGazeNumber number;
    bool nothing;
    if (!gaze_samples_number(s, columns, role, text, line, &number, &nothing, error)) {
        return false;
    }
    *out = nothing ? NAN : lf_gaze_number_value(&number, text->str, text->len);
    if (fabs(*out) > MAX_POSITION) {
        g_autofree char *label = lf_gaze_columns_label(columns, role);
        g_autofree char *shown = lf_gaze_columns_show(text->str);
        return gaze_samples_fail(s, line, error,
                                 "%s holds %s, which is out of range; leave lost samples blank",
                                 label, shown);
    }
    return true;
}

static bool gaze_samples_push(LfGazeSamples *s, const LfGazeSample *sample, GError **error)
{
    if (s->n == s->room) {
        gsize room = s->room ? s->room + s->room / 2 : 4096;
        LfGazeSample *all = g_try_renew(LfGazeSample, s->all, room);
        if (!all) {
            g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                        "%s: no memory for more than %zu samples", s->file, s->n);
            return false;
        }
        s->all = all;
        s->room = room;
    }
    s->all[s->n++] = *sample;
    s->n_lost += sample->lost;
    return true;
}

bool lf_gaze_samples_add(LfGazeSamples *s, const LfGazeColumns *columns,
                         const GString *const field[LF_GAZE_ROLES], int64_t line, GError **error)
{
    LfGazeNumber time;
    LfGazeSample sample = {.x = NAN, .y = NAN};
    if (!gaze_samples_time(s, columns, field[LF_GAZE_T], line, &time, &sample.t_us, error) ||
        (s->n > 0 &&
         !gaze_samples_order(s, columns, field[LF_GAZE_T], line, &time, sample.t_us, error))) {
        return false;
    }
    /* What a tracker writes as the position of an invalid sample is not looked at. */
    sample.lost = columns->good && !gaze_samples_is_good(s, columns->good, field[LF_GAZE_VALID]);
    if (!sample.lost) {
        if (!gaze_samples_position(s, columns, LF_GAZE_X, field[LF_GAZE_X], line, &sample.x,
                                   error) ||
            !gaze_samples_position(s, columns, LF_GAZE_Y, field[LF_GAZE_Y], line, &sample.y,
                                   error)) {
            return false;
        }
        sample.lost = isnan(sample.x) || isnan(sample.y);
    }
    s->last_time = time;
    s->last_line = line;
    g_string_truncate(s->last_text, 0);
    g_string_append_len(s->last_text, field[LF_GAZE_T]->str, (gssize)field[LF_GAZE_T]->len);
    return gaze_samples_push(s, &sample, error);
}

/* v / step rounded to nearest, halves away from zero. */
static int64_t gaze_samples_round(int64_t v, int64_t step)
{
    return v >= 0 ? (v + step / 2) / step : -((-v + step / 2) / step);
}

/* The fewest decimals of a second, 4 to 6, with which no two neighbours look alike. */
static int gaze_samples_decimals(const LfGazeSample *all, gsize n)
{
    int decimals = 4;
    int64_t step = 100;
    for (gsize i = 1; i < n && step > 1; i++) {
        while (step > 1 &&
               gaze_samples_round(all[i].t_us, step) == gaze_samples_round(all[i - 1].t_us, step)) {
            step /= 10;
            decimals++;
        }
    }
    return decimals;
}

LfGaze *lf_gaze_samples_finish(LfGazeSamples *s, const LfGazeColumns *columns, int frame_width,
                               int frame_height, double clock_shift_ms, GError **error)
{
    if (s->n == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: has a header row but no samples",
                    s->file);
        return NULL;
    }
    if (s->n_lost == s->n) {
        g_autofree char *label =
            columns->good ? lf_gaze_columns_label(columns, LF_GAZE_VALID) : NULL;
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: all %zu samples are lost: none has a number for both x and y%s%s%s%s%s",
                    s->file, s->n, label ? " and " : "", label ? "\"" : "",
                    label ? columns->good : "", label ? "\" in " : "", label ? label : "");
        return NULL;
    }
    int64_t shift_us = llround(clock_shift_ms * 1000);
    for (gsize i = 0; i < s->n; i++) {
        LfGazeSample *sample = &s->all[i];
        sample->t_us += shift_us;
        if (sample->lost) {
            sample->x = sample->y = NAN;
            continue;
        }
        /* 0 and 1 are the frame's edges, half a pixel outside of its outermost pixel centres. */
        if (columns->norm[LF_GAZE_X]) {
            sample->x = sample->x * frame_width - 0.5;
        }
        if (columns->norm[LF_GAZE_Y]) {
            sample->y = sample->y * frame_height - 0.5;
        }
    }
    LfGaze *gaze = g_new0(LfGaze, 1);
    gaze->n_samples = s->n;
    gaze->n_lost = s->n_lost;
    gaze->time_decimals = gaze_samples_decimals(s->all, s->n);
    gaze->samples = g_renew(LfGazeSample, s->all, s->n);
    s->all = NULL;
    s->n = s->room = s->n_lost = 0;
    return gaze;
}

void lf_gaze_free(LfGaze *gaze)
{
    if (gaze) {
        g_free(gaze->samples);
        g_free(gaze);
    }
}
