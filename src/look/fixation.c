/* Fixations of one recording: samples with gaze become a track, a method tells what each of them
 * is, and what it calls rest becomes spans, which are merged and dropped by rules that are the same
 * for both methods (docs/fixations.md). */
#include <lookfall/fixation.h>

#include <math.h>

#include "look/fixation_parts.h"

const char *lf_event_name(LfEvent event)
{
    static const char *const names[] = {"lost", "fixation", "saccade", "other"};
    return (gsize)event < G_N_ELEMENTS(names) ? names[event] : "";
}

void lf_fixations_free(LfFixations *fixations)
{
    if (!fixations)
        return;
    g_free(fixations->events);
    g_free(fixations->fixations);
    g_free(fixations);
}

static bool fixation_check(const LfDirection *directions, gsize n, GError **error)
{
    for (gsize i = 0; i < n; i++) {
        double t_s = (double)directions[i].t_us / 1e6;
        if (i > 0 && directions[i].t_us <= directions[i - 1].t_us) {
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "sample %" G_GSIZE_FORMAT " (%.6f s) is not later than the one before it; "
                        "samples must be in the order of time",
                        i + 1, t_s);
            return false;
        }
        if (!directions[i].lost &&
            !(isfinite(directions[i].x_deg) && isfinite(directions[i].y_deg))) {
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "sample %" G_GSIZE_FORMAT " (%.6f s) has no direction and is not lost",
                        i + 1, t_s);
            return false;
        }
    }
    return true;
}

static int fixation_compare_us(const void *a, const void *b)
{
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

static int64_t fixation_interval_us(const LfDirection *directions, gsize n)
{
    if (n < 2)
        return 0;
    g_autofree int64_t *gaps = g_new(int64_t, n - 1);
    for (gsize i = 0; i + 1 < n; i++)
        gaps[i] = directions[i + 1].t_us - directions[i].t_us;
    qsort(gaps, n - 1, sizeof *gaps, fixation_compare_us);
    return gaps[(n - 1) / 2];
}

static void fixation_track_init(LfTrack *track, const LfDirection *directions, gsize n,
                                const LfFixationSettings *settings)
{
    track->interval_us = fixation_interval_us(directions, n);
    /* A gap is what is more than the interval between two samples. */
    track->bridge_us = track->interval_us * 3 / 2 + (int64_t)(settings->bridge_ms * 1000);
    track->points = g_new(TrackPoint, MAX(n, 1));
    track->events = g_new0(LfEvent, MAX(n, 1));
    track->cuts = g_new0(bool, MAX(n, 1));
    track->n = 0;
    for (gsize i = 0; i < n; i++)
        if (!directions[i].lost)
            track->points[track->n++] = (TrackPoint){i, directions[i].t_us, directions[i].x_deg,
                                                     directions[i].y_deg, directions[i].moving};
}

static void fixation_track_clear(LfTrack *track)
{
    g_free(track->points);
    g_free(track->events);
    g_free(track->cuts);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(LfTrack, fixation_track_clear)

static GArray *fixation_runs(const LfTrack *track)
{
    GArray *runs = g_array_new(FALSE, FALSE, sizeof(TrackRun));
    for (gsize i = 0; i < track->n; i++) {
        if (track->events[i] != LF_EVENT_FIXATION)
            continue;
        TrackRun run = {i, i + 1};
        while (run.end < track->n && track->events[run.end] == LF_EVENT_FIXATION &&
               !track->cuts[run.end - 1])
            run.end++;
        g_array_append_val(runs, run);
        i = run.end - 1;
    }
    return runs;
}

static LfPoint fixation_centre(const LfTrack *track, const TrackRun *run)
{
    LfPoint sum = {0, 0};
    double n = (double)(run->end - run->first);
    for (gsize i = run->first; i < run->end; i++) {
        sum.x += track->points[i].x_deg / n;
        sum.y += track->points[i].y_deg / n;
    }
    return sum;
}

static bool fixation_mergeable(const LfTrack *track, const LfFixationSettings *settings,
                               const TrackRun *a, const TrackRun *b)
{
    /* Time that belongs to neither of them. */
    int64_t apart_us =
        track->points[b->first].t_us - track->points[a->end - 1].t_us - track->interval_us;
    if (settings->merge_deg <= 0 || (double)apart_us > settings->merge_ms * 1000)
        return false;
    for (gsize i = a->end - 1; i < b->first; i++)
        if (lf_track_broken(track, i))
            return false;
    LfPoint p = fixation_centre(track, a), q = fixation_centre(track, b);
    return hypot(p.x - q.x, p.y - q.y) <= settings->merge_deg;
}

/* One pass from the start; what was merged is compared whole with what follows. */
static void fixation_merge(LfTrack *track, const LfFixationSettings *settings, GArray *runs)
{
    guint kept = 0;
    for (guint i = 0; i < runs->len; i++) {
        TrackRun run = g_array_index(runs, TrackRun, i);
        TrackRun *last = kept > 0 ? &g_array_index(runs, TrackRun, kept - 1) : NULL;
        if (last && fixation_mergeable(track, settings, last, &run)) {
            for (gsize k = last->end; k < run.first; k++)
                track->events[k] = LF_EVENT_FIXATION;
            last->end = run.end;
        } else {
            g_array_index(runs, TrackRun, kept++) = run;
        }
    }
    g_array_set_size(runs, kept);
}

static LfFixationSpan fixation_span(const LfTrack *track, const LfDirection *directions, gsize n,
                                    const TrackRun *run)
{
    const TrackPoint *last = &track->points[run->end - 1];
    LfPoint centre = fixation_centre(track, run);
    LfFixationSpan span = {.first = track->points[run->first].sample,
                           .end = last->sample + 1,
                           .from_us = track->points[run->first].t_us,
                           .to_us = last->t_us + track->interval_us,
                           .x_deg = centre.x,
                           .y_deg = centre.y,
                           .samples = run->end - run->first};
    /* The next sample ends it unless a hole in the recording lies between. */
    if (span.end < n && directions[span.end].t_us - last->t_us <= track->interval_us * 3 / 2)
        span.to_us = directions[span.end].t_us;
    return span;
}

/* A saccade of A degrees takes about 21 ms + 2.2 ms for each of them (R. H. S. Carpenter,
 * "Movements of the Eyes", 2nd ed., 1988). Samples show that only as far as their rate lets them;
 * what they do not show is taken from the fixation before, which would be too long otherwise. */
static void fixation_leave_saccade(const LfTrack *track, const TrackRun *run, const TrackRun *next,
                                   LfFixationSpan *span)
{
    const TrackPoint *last = &track->points[run->end - 1], *first = &track->points[next->first];
    for (gsize i = run->end - 1; i < next->first; i++)
        if (lf_track_broken(track, i))
            return;
    double deg = hypot(first->x_deg - last->x_deg, first->y_deg - last->y_deg);
    int64_t begun_us = first->t_us - (int64_t)(1000 * (21 + 2.2 * deg));
    span->to_us = MAX(MIN(span->to_us, begun_us), MAX(last->t_us, span->from_us + 1));
}

/* Spans that last; the points of the others become LF_EVENT_OTHER. */
static void fixation_spans(LfTrack *track, const LfDirection *directions, gsize n,
                           const LfFixationSettings *settings, const GArray *runs, LfFixations *out)
{
    out->fixations = g_new(LfFixationSpan, MAX(runs->len, 1));
    for (guint i = 0; i < runs->len; i++) {
        const TrackRun *run = &g_array_index(runs, TrackRun, i);
        LfFixationSpan span = fixation_span(track, directions, n, run);
        if ((double)(span.to_us - span.from_us) < settings->min_fixation_ms * 1000) {
            for (gsize k = run->first; k < run->end; k++)
                track->events[k] = LF_EVENT_OTHER;
            continue;
        }
        if (i + 1 < runs->len)
            fixation_leave_saccade(track, run, run + 1, &span);
        out->fixations[out->n_fixations++] = span;
    }
}

LfFixations *lf_fixations_find(const LfDirection *directions, gsize n,
                               const LfFixationSettings *settings, GError **error)
{
    if (!lf_fixation_settings_check(settings, error) || !fixation_check(directions, n, error))
        return NULL;
    g_auto(LfTrack) track = {0};
    fixation_track_init(&track, directions, n, settings);
    LfFixations *out = g_new0(LfFixations, 1);
    out->events = g_new0(LfEvent, MAX(n, 1));
    out->interval_us = track.interval_us;
    out->noise_deg = out->dispersion_deg = out->smooth_ms = NAN;
    for (int moving = 0; moving < 2; moving++)
        out->noise_deg_s[moving] = out->peak_deg_s[moving] = NAN;

    if (track.n > 0) {
        if (settings->method == LF_FIXATION_VELOCITY)
            lf_track_by_velocity(&track, settings, out);
        else
            lf_track_by_dispersion(&track, settings, out);
    }
    g_autoptr(GArray) runs = fixation_runs(&track);
    fixation_merge(&track, settings, runs);
    fixation_spans(&track, directions, n, settings, runs, out);
    for (gsize i = 0; i < track.n; i++)
        out->events[track.points[i].sample] = track.events[i];
    return out;
}
