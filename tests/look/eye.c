#include "look/eye.h"

#include <math.h>

GArray *eye_plan(guint n, guint32 seed)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(seed);
    GArray *rests = g_array_new(FALSE, FALSE, sizeof(EyeRest));
    EyeRest at = {0, 0, 0, 0};
    for (guint i = 0; i < n; i++) {
        at.to_s = at.from_s + g_rand_double_range(rand, 0.15, 0.5);
        g_array_append_val(rests, at);
        double far = g_rand_double_range(rand, 2, 8), turn = g_rand_double_range(rand, 0, 2 * G_PI);
        at.x_deg += far * cos(turn);
        at.y_deg += far * sin(turn);
        /* R. H. S. Carpenter, "Movements of the Eyes", 2nd ed., 1988 */
        at.from_s = at.to_s + 0.021 + 0.0022 * far;
    }
    return rests;
}

/* Minimum-jerk course (T. Flash, N. Hogan, Journal of Neuroscience 5, 1985, eq. 3). */
static double eye_course(double u)
{
    return u * u * u * (10 - u * (15 - 6 * u));
}

static double eye_gauss(GRand *rand)
{
    double u = 1 - g_rand_double(rand), v = g_rand_double(rand);
    return sqrt(-2 * log(u)) * cos(2 * G_PI * v);
}

GArray *eye_record(const GArray *rests, const EyeTracker *tracker)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(tracker->seed);
    GArray *out = g_array_new(FALSE, FALSE, sizeof(LfDirection));
    double end_s = g_array_index(rests, EyeRest, rests->len - 1).to_s;
    guint at = 0;
    for (gsize i = 0;; i++) {
        double wobble = g_rand_double_range(rand, -tracker->jitter, tracker->jitter) / 2;
        double t = ((double)i + (i > 0 ? wobble : 0)) / tracker->rate_hz;
        if (t >= end_s)
            return out;
        while (at + 1 < rests->len && t >= g_array_index(rests, EyeRest, at + 1).from_s)
            at++;
        const EyeRest *rest = &g_array_index(rests, EyeRest, at);
        LfDirection d = {.t_us = llround(t * 1e6), .x_deg = rest->x_deg, .y_deg = rest->y_deg};
        if (t >= rest->to_s) {
            double u = eye_course((t - rest->to_s) / (rest[1].from_s - rest->to_s));
            d.x_deg += u * (rest[1].x_deg - rest->x_deg);
            d.y_deg += u * (rest[1].y_deg - rest->y_deg);
        } else if (at > 0) {
            double since_s = t - rest->from_s;
            d.x_deg += tracker->ring_deg * exp(-since_s / 0.012) * sin(2 * G_PI * 50 * since_s);
        }
        d.x_deg += tracker->noise_deg * eye_gauss(rand);
        d.y_deg += tracker->noise_deg * eye_gauss(rand);
        g_array_append_val(out, d);
    }
}

void eye_lose(GArray *directions, double from_s, double to_s)
{
    for (guint i = 0; i < directions->len; i++) {
        LfDirection *d = &g_array_index(directions, LfDirection, i);
        double t = (double)d->t_us / 1e6;
        if (t >= from_s && t < to_s)
            *d = (LfDirection){d->t_us, NAN, NAN, true, false};
    }
}
