/* Fixations by velocity: what lies between saccades (D. D. Salvucci, J. H. Goldberg, "Identifying
 * fixations and saccades in eye-tracking protocols", ETRA 2000, I-VT), with thresholds from the
 * recording's own noise, a lower threshold for a saccade's ends than for its peak, and the eye's
 * ringing after it kept apart (M. Nystrom, K. Holmqvist, "An adaptive algorithm for fixation,
 * saccade, and glissade detection in eyetracking data", Behavior Research Methods 42, 2010). */
#include "look/fixation_parts.h"

#include <math.h>

/* About the peak speed of a saccade of one degree (main sequence; value from memory). */
#define SMALL_SACCADE_DEG_S 60.0
/* Noise itself reaches three times its deviation; what lies below is not left out of it. */
#define NOISE_LEAST_FACTOR 3.0

typedef struct {
    LfTrack *track;
    const LfFixationSettings *settings;
    double smooth_ms;
    double *speeds;
    TrackStep *steps;
    double peak_deg_s[2];
} Velocity;

static double velocity_peak(const LfFixationSettings *settings, double noise_deg_s)
{
    double peak = isnan(noise_deg_s) ? 0 : settings->noise_factor * noise_deg_s;
    return CLAMP(peak, settings->peak_deg_s, settings->peak_most_deg_s);
}

/* Steps with and without the head's motion have noise of their own; where there are too few of a
 * kind to tell, the other kind's stands in. A head that turns is no saccade: nothing fast is left
 * out of the noise that it makes. */
static void velocity_measure(Velocity *v, LfFixations *out)
{
    double noise[2], factor = MAX(v->settings->noise_factor, NOISE_LEAST_FACTOR);
    g_free(v->speeds);
    v->speeds = lf_track_speeds(v->track, v->smooth_ms);
    for (int moving = 0; moving < 2; moving++)
        noise[moving] =
            lf_track_speed_noise(v->track, v->speeds, moving ? INFINITY : factor, moving);
    for (int moving = 0; moving < 2; moving++) {
        double own = isnan(noise[moving]) ? noise[1 - moving] : noise[moving];
        v->peak_deg_s[moving] = velocity_peak(v->settings, own);
        out->noise_deg_s[moving] = noise[moving];
        out->peak_deg_s[moving] = v->peak_deg_s[moving];
    }
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
    bool sharp = p[first + 1].t_us - p[first].t_us >= (int64_t)(v->smooth_ms * 500);
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
    g_autofree TrackStep *steps = g_new0(TrackStep, track->n);
    Velocity v = {.track = track, .settings = settings, .steps = steps};

    /* Noise that hides small saccades is met by measuring speed over a longer span, up to twice. */
    for (double span = 1; span <= 2; span += 0.5) {
        v.smooth_ms = span * settings->smooth_ms;
        velocity_measure(&v, out);
        if (v.peak_deg_s[false] <= SMALL_SACCADE_DEG_S)
            break;
    }
    velocity_steps(&v);
    for (gsize i = 0; i < track->n; i++) {
        TrackStep before = i > 0 ? steps[i - 1] : TRACK_BROKEN;
        TrackStep after = i + 1 < track->n ? steps[i] : TRACK_BROKEN;
        track->events[i] = velocity_event(before, after);
        track->cuts[i] = after != TRACK_SLOW;
    }
    out->smooth_ms = v.smooth_ms;
    g_free(v.speeds);
}
