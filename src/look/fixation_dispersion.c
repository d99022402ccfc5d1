/* Fixations by dispersion: where gaze stays together for long enough (D. D. Salvucci, J. H.
 * Goldberg, "Identifying fixations and saccades in eye-tracking protocols", ETRA 2000, I-DT). The
 * noise of the recording is added to the threshold, for it alone spreads samples apart. */
#include "look/fixation_parts.h"

#include <math.h>

typedef struct {
    double left, right, top, bottom; /* deg */
} DispersionBox;

static bool dispersion_fits(DispersionBox *box, const TrackPoint *p, double most_deg)
{
    DispersionBox wider = {MIN(box->left, p->x_deg), MAX(box->right, p->x_deg),
                           MIN(box->top, p->y_deg), MAX(box->bottom, p->y_deg)};
    if (wider.right - wider.left + wider.bottom - wider.top > most_deg)
        return false;
    *box = wider;
    return true;
}

void lf_track_by_dispersion(LfTrack *track, const LfFixationSettings *settings, LfFixations *out)
{
    const TrackPoint *p = track->points;
    int64_t least_us = (int64_t)(settings->min_fixation_ms * 1000);
    out->noise_deg = lf_track_noise_deg(track);
    out->dispersion_deg = settings->dispersion_deg;
    if (!isnan(out->noise_deg))
        out->dispersion_deg += settings->noise_factor * out->noise_deg;

    for (gsize i = 0; i < track->n; i++) {
        track->events[i] = LF_EVENT_SACCADE;
        track->cuts[i] = false;
    }
    for (gsize i = 0; i < track->n;) {
        DispersionBox box = {p[i].x_deg, p[i].x_deg, p[i].y_deg, p[i].y_deg};
        gsize end = i + 1;
        while (end < track->n && !lf_track_broken(track, end - 1) &&
               dispersion_fits(&box, &p[end], out->dispersion_deg))
            end++;
        if (p[end - 1].t_us + track->interval_us - p[i].t_us < least_us) {
            i++;
            continue;
        }
        track->cuts[end - 1] = true;
        for (; i < end; i++)
            track->events[i] = LF_EVENT_FIXATION;
    }
}
