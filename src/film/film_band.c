/* The band under the scene. */
#include "film/film_band.h"

#include <math.h>

#include "film/film_look.h"

/* Units from the film's left edge and the band's upper one. */
#define BAND_SIDE 24
#define BAND_ROW 40    /* middle of the words */
#define BAND_LINE_Y 82 /* of the line of the whole film */
#define BAND_LINE_H 16
#define BAND_NAME_X 236
#define BAND_STATE_X 520
#define BAND_CONFIDENCE_X 720
#define BAND_BAR_W 170

static double film_band_x(const FilmLayout *l, int64_t t_us, int64_t from_us, int64_t to_us)
{
    const double share = (double)(t_us - from_us) / (double)MAX(to_us - from_us, 1);
    return BAND_SIDE * l->unit + CLAMP(share, 0, 1) * (l->width - 2 * BAND_SIDE * l->unit);
}

/* A sample of the state that most of the samples of a column have; in a column narrower than their
 * interval the one that holds; NULL for none. */
static const FilmSample *film_band_most(const FilmData *d, int64_t from_us, int64_t to_us)
{
    const FilmSample *last[LF_STATE_PLACED + 2] = {NULL};
    gsize counts[LF_STATE_PLACED + 2] = {0};
    int most = 0;

    for (gsize i = film_data_first_sample(d, from_us);
         i < d->n_samples && d->samples[i].t_us < to_us; i++) {
        const int state = d->samples[i].cast ? (int)d->samples[i].state : LF_STATE_PLACED + 1;
        last[state] = &d->samples[i];
        if (++counts[state] > counts[most])
            most = state;
    }
    return counts[most] > 0 ? last[most] : film_data_sample(d, (from_us + to_us) / 2, 0);
}

static void film_band_states(LfOverlay *o, const FilmData *d, const FilmLayout *l, int64_t from_us,
                             int64_t to_us)
{
    const double u = l->unit;
    const int first = (int)(BAND_SIDE * u), end = l->width - first;

    for (int x = first; x < end; x++) {
        const double a = (double)(x - first) / (end - first),
                     b = (double)(x + 1 - first) / (end - first);
        const FilmSample *most =
            film_band_most(d, from_us + (int64_t)(a * (double)(to_us - from_us)),
                           from_us + (int64_t)(b * (double)(to_us - from_us)));
        lf_overlay_box(o, (LfBox){x, l->band.y + BAND_LINE_Y * u, 1, BAND_LINE_H * u}, 0,
                       most != NULL ? film_look_state(most) : film_look_track);
    }
}

static void film_band_marks(LfOverlay *o, const FilmData *d, const FilmLayout *l, int64_t from_us,
                            int64_t to_us)
{
    const double u = l->unit, y = l->band.y + (BAND_LINE_Y - 8) * u;

    for (guint i = 0; i < d->marks->len; i++) {
        const LfMark *mark = d->marks->pdata[i];
        const int64_t end_us = mark->span ? mark->to_us : mark->from_us;
        if (end_us < from_us || mark->from_us > to_us)
            continue;
        const double x = film_band_x(l, mark->from_us, from_us, to_us);
        const double w = mark->span ? film_band_x(l, end_us, from_us, to_us) - x : 0;
        lf_overlay_box(o, (LfBox){x, y, fmax(w, 3 * u), 5 * u}, 0, film_look_ink);
    }
}

void film_band_draw_ground(LfOverlay *o, const FilmData *d, const FilmLayout *l, int64_t from_us,
                           int64_t to_us)
{
    const double u = l->unit, y = l->band.y + BAND_ROW * u;
    const double room = (BAND_STATE_X - BAND_NAME_X - 20) * u;
    const LfStudyWalk *walk = d->walk;
    g_autofree char *who =
        walk->participant != NULL && walk->group != NULL
            ? g_strdup_printf("%s, %s", walk->participant, walk->group)
            : g_strdup(walk->participant != NULL ? walk->participant : walk->group);

    lf_overlay_box(o, l->band, 0, film_look_ground);
    lf_overlay_text(o, BAND_NAME_X * u, who != NULL ? y - 13 * u : y, 25 * u, true, LF_OVERLAY_LEFT,
                    room, film_look_ink, walk->name);
    if (who != NULL)
        lf_overlay_text(o, BAND_NAME_X * u, y + 16 * u, 21 * u, false, LF_OVERLAY_LEFT, room,
                        film_look_soft, who);
    film_band_states(o, d, l, from_us, to_us);
    film_band_marks(o, d, l, from_us, to_us);
}

static void film_band_clock(LfOverlay *o, double x, double y, double size, int64_t t_us)
{
    const int64_t ms = MAX(t_us, 0) / 1000;
    g_autofree char *clock =
        ms >= 3600000
            ? g_strdup_printf("%d:%02d:%02d.%03d", (int)(ms / 3600000), (int)(ms / 60000 % 60),
                              (int)(ms / 1000 % 60), (int)(ms % 1000))
            : g_strdup_printf("%d:%02d.%03d", (int)(ms / 60000), (int)(ms / 1000 % 60),
                              (int)(ms % 1000));
    lf_overlay_text(o, x, y, size, true, LF_OVERLAY_LEFT, 0, film_look_ink, clock);
}

static void film_band_confidence(LfOverlay *o, const FilmMoment *m, double y)
{
    const FilmLayout *l = m->layout;
    const double u = l->unit, sure_at = m->data->settings.sure_at;
    const bool known = m->sample != NULL && m->sample->cast && isfinite(m->sample->confidence);
    const double x = BAND_CONFIDENCE_X * u +
                     lf_overlay_text(o, BAND_CONFIDENCE_X * u, y, 21 * u, false, LF_OVERLAY_LEFT, 0,
                                     film_look_soft, "confidence") +
                     14 * u;
    const LfBox bar = {x, y - 9 * u, BAND_BAR_W * u, 18 * u};
    g_autofree char *value =
        known ? g_strdup_printf("%.2f", m->sample->confidence) : g_strdup("none");

    lf_overlay_box(o, bar, 4 * u, film_look_track);
    if (known)
        lf_overlay_box(o, (LfBox){bar.x, bar.y, bar.w * m->sample->confidence, bar.h}, 4 * u,
                       film_look_state(m->sample));
    /* From here on a sample is sure. */
    lf_overlay_box(o, (LfBox){bar.x + bar.w * sure_at - u, bar.y - 5 * u, 2 * u, bar.h + 10 * u}, 0,
                   film_look_ink);
    lf_overlay_text(o, bar.x + bar.w + 14 * u, y, 21 * u, false, LF_OVERLAY_LEFT, 0,
                    known ? film_look_ink : film_look_soft, value);
}

void film_band_draw(LfOverlay *o, const FilmMoment *m, int64_t from_us, int64_t to_us)
{
    const FilmLayout *l = m->layout;
    const double u = l->unit, y = l->band.y + BAND_ROW * u;
    const double head = film_band_x(l, m->t_us, from_us, to_us);
    const bool seen = m->sample != NULL && m->sample->state != LF_STATE_LOST;

    lf_overlay_clip(o, &l->band);
    film_band_clock(o, BAND_SIDE * u, y, 32 * u, m->t_us);
    if (seen)
        film_look_gaze(o, (LfPoint){(BAND_STATE_X + 14) * u, y}, 12 * u, 0.8 * u, m->sample);
    lf_overlay_text(o, (BAND_STATE_X + 38) * u, y, 25 * u, true, LF_OVERLAY_LEFT, 0,
                    seen ? film_look_ink : film_look_soft, film_look_word(m->sample));
    film_band_confidence(o, m, y);
    lf_overlay_box(
        o, (LfBox){head - 3 * u, l->band.y + (BAND_LINE_Y - 6) * u, 6 * u, (BAND_LINE_H + 12) * u},
        3 * u, film_look_ground);
    lf_overlay_box(
        o,
        (LfBox){head - 1.5 * u, l->band.y + (BAND_LINE_Y - 6) * u, 3 * u, (BAND_LINE_H + 12) * u},
        1.5 * u, film_look_ink);
}
