/* How fast gaze moves, and how much of that is noise.
 *
 * Speed belongs to a step between two samples, not to a sample: at low rates a saccade lies wholly
 * between two samples, both of which rest. Over several samples it is the slope of the
 * least-squares line, which is what a Savitzky-Golay filter of order 1 or 2 gives on even samples,
 * and holds for uneven ones too. */
#include "look/fixation_parts.h"

#include <math.h>
#include <string.h>

/* A saccade of any size takes at least about this long (21 ms + 2.2 ms for each degree; R. H. S.
 * Carpenter, "Movements of the Eyes", 2nd ed., 1988). A step that lasts longer, at low rates or
 * over a bridged gap, is taken as a movement of this length, so that the pause in it does not
 * dilute it.
 */
#define SACCADE_LEAST_US 20000

/* The median of fewer speeds than this says little of noise: common practice. */
#define NOISE_LEAST_STEPS 30

/* Median of the length of a 2D normal vector in standard deviations of one axis: sqrt(2 ln 2). */
#define RAYLEIGH_MEDIAN 1.1774100225154747
/* Median of |x| of a normal variable in standard deviations. */
#define NORMAL_MEDIAN 0.6744897501960817

bool lf_track_moving(const LfTrack *track, gsize i)
{
    return track->points[i].moving || track->points[i + 1].moving;
}

bool lf_track_broken(const LfTrack *track, gsize i)
{
    return track->points[i + 1].t_us - track->points[i].t_us > track->bridge_us;
}

static double track_step_speed(const TrackPoint *a, const TrackPoint *b)
{
    double us = (double)MIN(b->t_us - a->t_us, SACCADE_LEAST_US);
    return hypot(b->x_deg - a->x_deg, b->y_deg - a->y_deg) / us * 1e6;
}

/* Slope of the lines through points first to last. */
static double track_slope(const TrackPoint *points, gsize first, gsize last)
{
    double n = (double)(last - first + 1), mean_t = 0, mean_x = 0, mean_y = 0;
    double tt = 0, tx = 0, ty = 0;
    int64_t origin_us = points[first].t_us;
    for (gsize i = first; i <= last; i++) {
        mean_t += (double)(points[i].t_us - origin_us) * 1e-6 / n;
        mean_x += points[i].x_deg / n;
        mean_y += points[i].y_deg / n;
    }
    for (gsize i = first; i <= last; i++) {
        double t = (double)(points[i].t_us - origin_us) * 1e-6 - mean_t;
        tt += t * t;
        tx += t * (points[i].x_deg - mean_x);
        ty += t * (points[i].y_deg - mean_y);
    }
    return hypot(tx, ty) / tt;
}

double *lf_track_speeds(const LfTrack *track, double smooth_ms)
{
    const TrackPoint *p = track->points;
    double *speeds = g_new0(double, MAX(track->n, 1));
    /* A quarter of an interval more, so that jitter of the times does not change the number of
     * samples. */
    int64_t reach_us = (int64_t)(smooth_ms * 500) + track->interval_us / 4;
    for (gsize i = 0; i + 1 < track->n; i++) {
        if (lf_track_broken(track, i))
            continue;
        int64_t middle_us = p[i].t_us + (p[i + 1].t_us - p[i].t_us) / 2;
        gsize wide = 0; /* points more on either side */
        while (wide < i && i + 2 + wide < track->n &&
               middle_us - p[i - wide - 1].t_us <= reach_us &&
               p[i + wide + 2].t_us - middle_us <= reach_us &&
               !lf_track_broken(track, i - wide - 1) && !lf_track_broken(track, i + wide + 1))
            wide++;
        speeds[i] =
            wide == 0 ? track_step_speed(&p[i], &p[i + 1]) : track_slope(p, i - wide, i + 1 + wide);
    }
    return speeds;
}

static int track_compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void track_sort(GArray *values)
{
    if (values->len > 1)
        qsort(values->data, values->len, sizeof(double), track_compare);
}

static double track_median(GArray *values)
{
    track_sort(values);
    return values->len > 0 ? g_array_index(values, double, values->len / 2) : NAN;
}

/* Medians, for they do not mind how fast the saccades are (R. Engbert, R. Kliegl, "Microsaccades
 * uncover the orientation of covert attention", Vision Research 43, 2003); and what lies above the
 * threshold that follows is left out until nothing changes any more, so that they do not mind how
 * many there are either (Nystrom and Holmqvist, 2010). */
double lf_track_speed_noise(const LfTrack *track, const double *speeds, double factor, bool moving)
{
    g_autoptr(GArray) some = g_array_new(FALSE, FALSE, sizeof(double));
    for (gsize i = 0; i + 1 < track->n; i++)
        if (!lf_track_broken(track, i) && lf_track_moving(track, i) == moving)
            g_array_append_val(some, speeds[i]);
    if (some->len < NOISE_LEAST_STEPS)
        return NAN;
    track_sort(some);
    double noise = NAN;
    for (guint n = some->len, before = 0; n > 0 && n != before;) {
        noise = g_array_index(some, double, n / 2) / RAYLEIGH_MEDIAN;
        before = n;
        while (n > 0 && g_array_index(some, double, n - 1) > factor * noise)
            n--;
    }
    return noise;
}

/* Second differences take out drift; theirs is sqrt(6) times the deviation of a single sample. */
double lf_track_noise_deg(const LfTrack *track)
{
    g_autoptr(GArray) x = g_array_new(FALSE, FALSE, sizeof(double));
    g_autoptr(GArray) y = g_array_new(FALSE, FALSE, sizeof(double));
    const TrackPoint *p = track->points;
    for (gsize i = 0; i + 2 < track->n; i++) {
        if (lf_track_broken(track, i) || lf_track_broken(track, i + 1))
            continue;
        double dx = fabs(p[i].x_deg - 2 * p[i + 1].x_deg + p[i + 2].x_deg);
        double dy = fabs(p[i].y_deg - 2 * p[i + 1].y_deg + p[i + 2].y_deg);
        g_array_append_val(x, dx);
        g_array_append_val(y, dy);
    }
    return hypot(track_median(x), track_median(y)) / sqrt(2) / NORMAL_MEDIAN / sqrt(6);
}
