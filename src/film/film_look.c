/* The signs of films. */
#include "film/film_look.h"

#include <math.h>

const LfInk film_look_ground = {0.078, 0.086, 0.110, 1}, film_look_track = {0.235, 0.255, 0.302, 1},
            film_look_ink = {0.957, 0.961, 0.969, 1}, film_look_soft = {0.722, 0.745, 0.788, 1},
            film_look_shade = {0.031, 0.035, 0.047, 0.62};

/* sure and placed are of the colour map viridis, blocked and doubtful of plasma (S. van der Walt,
 * N. Smith, "A better default colormap for Matplotlib", SciPy 2015): they differ in lightness, and
 * so without colour vision too. */
static const LfInk FILM_STATES[] = {
    [LF_STATE_LOST] = {0.392, 0.416, 0.463, 1},    [LF_STATE_AWAY] = {0.604, 0.667, 0.757, 1},
    [LF_STATE_BLOCKED] = {0.800, 0.278, 0.471, 1}, [LF_STATE_DOUBTFUL] = {0.973, 0.584, 0.251, 1},
    [LF_STATE_SURE] = {0.267, 0.749, 0.439, 1},    [LF_STATE_PLACED] = {0.992, 0.906, 0.145, 1},
};

LfInk film_look_state(const FilmSample *s)
{
    return s != NULL && s->cast ? FILM_STATES[s->state] : FILM_STATES[LF_STATE_LOST];
}

const char *film_look_word(const FilmSample *s)
{
    if (s == NULL)
        return "no gaze";
    if (!s->cast)
        return "not cast yet";
    switch (s->state) {
    case LF_STATE_LOST:
        return "no gaze";
    case LF_STATE_AWAY:
        return "away";
    default:
        return lf_state_name(s->state);
    }
}

LfInk film_look_fade(LfInk ink, double alpha)
{
    ink.a *= alpha;
    return ink;
}

static void film_look_square(LfOverlay *o, LfPoint c, double r, double width, LfInk ink)
{
    const LfPoint p[] = {
        {c.x, c.y - r}, {c.x + r, c.y}, {c.x, c.y + r}, {c.x - r, c.y}, {c.x, c.y - r}};
    lf_overlay_line(o, p, G_N_ELEMENTS(p), width, ink);
}

/* Each line lies on a wider dark one, so that it shows on any ground. */
void film_look_gaze(LfOverlay *o, LfPoint c, double r, double u, const FilmSample *s)
{
    const LfInk ink = film_look_state(s);
    const LfState state = s != NULL && s->cast ? s->state : LF_STATE_AWAY;

    if (s == NULL || !isfinite(c.x) || !isfinite(c.y))
        return;
    for (int pass = 0; pass < 2; pass++) {
        const LfInk now = pass == 0 ? film_look_shade : ink;
        const double width = (pass == 0 ? 7.5 : 3.5) * u;
        if (state == LF_STATE_AWAY || state == LF_STATE_LOST) {
            film_look_square(o, c, 0.8 * r, width, now);
            continue;
        }
        lf_overlay_ring(o, c, r, width, state == LF_STATE_DOUBTFUL ? r / 2 : 0, now);
        if (state == LF_STATE_BLOCKED) {
            const LfPoint bar[] = {{c.x - r, c.y}, {c.x + r, c.y}};
            lf_overlay_line(o, bar, 2, width, now);
        } else {
            lf_overlay_disc(o, c, (pass == 0 ? 6 : 4) * u, now);
        }
    }
}
