/* Fixations by velocity: what lies between saccades (D. D. Salvucci, J. H. Goldberg, "Identifying
 * fixations and saccades in eye-tracking protocols", ETRA 2000, I-VT), with thresholds from the
 * recording's own noise, a lower threshold for a saccade's ends than for its peak, and the eye's
 * ringing after it kept apart (M. Nystrom, K. Holmqvist, "An adaptive algorithm for fixation,
 * saccade, and glissade detection in eyetracking data", Behavior Research Methods 42, 2010). */
#include "look/fixation_parts.h"

#include <math.h>

typedef struct {
    LfTrack *track;
    const LfFixationSettings *settings;
    double *speeds;
    TrackStep *steps;
    double peak_deg_s[2];
} Velocity;

static double velocity_peak(const LfFixationSettings *settings, double noise_deg_s)
{
    double peak = isnan(noise_deg_s) ? 0 : settings->noise_factor * noise_deg_s;
    return CLAMP(peak, settings->peak_deg_s, settings->peak_most_deg_s);
}

static bool velocity_over(const Velocity *v, gsize i, double share)
{
    return v->speeds[i] >= share * v->peak_deg_s[lf_track_moving(v->track, i)];
}

/* Ends of the saccade whose steps first <= i < end are over the peak's threshold. */
static void velocity_widen(Velocity *v, gsize first, gsize end)
{
    const TrackPoint *p = v->track->points;
    gsize n_steps = v->track->n - 1;
    double edge = v->settings->edge_share;

    /* Where speed is measured over several samples it has crossed the peak's threshold half a span
     * before the eye moves, so that nothing is added in front. */
    bool sharp = p[first + 1].t_us - p[first].t_us >= (int64_t)(v->settings->smooth_ms * 500);
    for (gsize i = first; sharp && i > 0 && v->steps[i - 1] == TRACK_SLOW; i--) {
        if (!velocity_over(v, i - 1, edge))
            break;
        v->steps[i - 1] = TRACK_SACCADE;
    }
    gsize at = end;
    while (at < n_steps && v->steps[at] == TRACK_SLOW && velocity_over(v, at, edge))
        v->steps[at++] = TRACK_SACCADE;

    int64_t until_us = p[end].t_us + (int64_t)(v->settings->ringing_ms * 1000);
    gsize ring = at;
    for (gsize i = at; i < n_steps && p[i].t_us < until_us && v->steps[i] == TRACK_SLOW; i++)
        if (velocity_over(v, i, edge))
            ring = i + 1;
    for (gsize i = at; i < ring; i++)
        v->steps[i] = TRACK_RINGING;
}

static void velocity_steps(Velocity *v)
{
    gsize n_steps = v->track->n - 1;
    for (gsize i = 0; i < n_steps; i++)
        v->steps[i] = lf_track_broken(v->track, i) ? TRACK_BROKEN
                      : velocity_over(v, i, 1)     ? TRACK_SACCADE
                                                   : TRACK_SLOW;
    for (gsize i = 0; i < n_steps;) {
        gsize end = i;
        while (end < n_steps && v->steps[end] == TRACK_SACCADE && velocity_over(v, end, 1))
            end++;
        if (end > i)
            velocity_widen(v, i, end);
        i = MAX(end, i + 1);
    }
}

/* A point rests unless gaze moves both to and from it; a break does not count as rest. */
static LfEvent velocity_event(TrackStep before, TrackStep after)
{
    if (before == TRACK_SLOW || after == TRACK_SLOW || (before == TRACK_BROKEN && after == before))
        return LF_EVENT_FIXATION;
    return before == TRACK_SACCADE && (after == TRACK_SACCADE || after == TRACK_BROKEN)
               ? LF_EVENT_SACCADE
           : after == TRACK_SACCADE ? LF_EVENT_SACCADE
                                    : LF_EVENT_OTHER;
}

void lf_track_by_velocity(LfTrack *track, const LfFixationSettings *settings, LfFixations *out)
{
    g_autofree double *speeds = lf_track_speeds(track, settings->smooth_ms);
    g_autofree TrackStep *steps = g_new0(TrackStep, track->n);
    Velocity v = {.track = track, .settings = settings, .speeds = speeds, .steps = steps};

    for (int moving = 0; moving < 2; moving++) {
        out->noise_deg_s[moving] = lf_track_speed_noise(track, speeds, moving);
        v.peak_deg_s[moving] = velocity_peak(settings, out->noise_deg_s[moving]);
        if (!isnan(out->noise_deg_s[moving]))
            out->peak_deg_s[moving] = v.peak_deg_s[moving];
    }
    velocity_steps(&v);
    for (gsize i = 0; i < track->n; i++) {
        TrackStep before = i > 0 ? steps[i - 1] : TRACK_BROKEN;
        TrackStep after = i + 1 < track->n ? steps[i] : TRACK_BROKEN;
        track->events[i] = velocity_event(before, after);
        track->cuts[i] = after != TRACK_SLOW;
    }
}
