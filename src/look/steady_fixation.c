/* What a fixation lies on.
 *
 * Its samples may differ: gaze rests on a pack and a hand passes, or the engine is sure of half of
 * them. The most frequent kind decides, and only samples of that kind, on one photo, make its
 * position. Their errors come from the same few poses and the same eye tracker, so the mean is no
 * better placed than each of them: its radius is the root mean square of theirs. */
#include "look/steady.h"

#include <math.h>

typedef enum {
    SETTLED, /* sure or placed */
    DOUBTFUL,
    BLOCKED,
    AWAY,
    KINDS
} SteadyKind;

static SteadyKind steady_kind(LfState state)
{
    switch (state) {
    case LF_STATE_SURE:
    case LF_STATE_PLACED:
        return SETTLED;
    case LF_STATE_DOUBTFUL:
        return DOUBTFUL;
    case LF_STATE_BLOCKED:
        return BLOCKED;
    default:
        return AWAY;
    }
}

static bool steady_has_gaze(const LfSteadySample *sample)
{
    return !isnan(sample->gaze_px.x) && !isnan(sample->gaze_px.y);
}

/* Of several that are equally frequent the first, which is the more useful kind. */
static int steady_most(const gsize *counts, int n)
{
    int most = 0;
    for (int i = 1; i < n; i++)
        if (counts[i] > counts[most])
            most = i;
    return most;
}

/* The photo on which most samples of the kind have a place, or -1. */
static int steady_most_photo(const LfSteadySample *samples, const LfFixationSpan *span,
                             SteadyKind kind, int n_photos)
{
    g_autofree gsize *counts = g_new0(gsize, MAX(n_photos, 1));
    for (gsize i = span->first; i < span->end; i++)
        if (steady_has_gaze(&samples[i]) && steady_kind(samples[i].state) == kind &&
            samples[i].photo >= 0 && isfinite(samples[i].at_px.x))
            counts[samples[i].photo]++;
    int most = steady_most(counts, n_photos);
    return counts[most] > 0 ? most : -1;
}

LfFixation lf_steady_fixation(const LfSteadySample *samples, const LfFixationSpan *span,
                              int n_photos)
{
    static const LfState names[] = {LF_STATE_SURE, LF_STATE_DOUBTFUL, LF_STATE_BLOCKED,
                                    LF_STATE_AWAY};
    gsize kinds[KINDS] = {0}, n_placed = 0, n = 0;
    LfFixation out = {.from_us = span->from_us,
                      .to_us = span->to_us,
                      .x_px = NAN,
                      .y_px = NAN,
                      .radius_px = NAN,
                      .samples = span->samples};
    for (gsize i = span->first; i < span->end; i++) {
        if (!steady_has_gaze(&samples[i]))
            continue;
        kinds[steady_kind(samples[i].state)]++;
        n_placed += samples[i].state == LF_STATE_PLACED;
    }
    SteadyKind kind = (SteadyKind)steady_most(kinds, KINDS);
    out.state = kind == SETTLED && 2 * n_placed > kinds[SETTLED] ? LF_STATE_PLACED : names[kind];
    int photo = kind == AWAY ? -1 : steady_most_photo(samples, span, kind, n_photos);
    if (photo < 0)
        return out;
    double x = 0, y = 0, square = 0;
    for (gsize i = span->first; i < span->end; i++) {
        const LfSteadySample *s = &samples[i];
        if (!steady_has_gaze(s) || steady_kind(s->state) != kind || s->photo != photo ||
            !isfinite(s->at_px.x))
            continue;
        x += s->at_px.x;
        y += s->at_px.y;
        square += s->radius_px * s->radius_px;
        n++;
    }
    out.photo_id = photo + 1;
    out.x_px = x / (double)n;
    out.y_px = y / (double)n;
    out.radius_px = sqrt(square / (double)n);
    return out;
}
