/* Kaplan-Meier curve and its median.
 *
 * At each different time t, with d events among n at risk: S(t) = S(t-) (1 - d / n), and
 * Greenwood's sum V(t) = V(t-) + d / (n (n - d)) (M. Greenwood, 1926) is the variance of log S. On
 * the log(-log S) scale the standard error is sqrt(V) / |log S|, so that the band is S^exp(-+ z
 * sqrt(V) / |log S|), which stays between 0 and 1. */
#include "look/stat.h"
#include "look/stat_times.h"

#include <math.h>
#include <string.h>

/* A curve nearer to one half than this is at one half: products of n / (n + 1) do not hit it. */
#define STAT_SURVIVAL_EVEN 1e-9

static LfStatInterval stat_survival_band(double survival, double variance_log, double z)
{
    double log_survival = log(survival);
    if (!(survival > 0) || !(log_survival < 0))
        return (LfStatInterval){NAN, NAN};
    double reach = z * sqrt(variance_log) / -log_survival;
    return (LfStatInterval){exp(log_survival * exp(reach)), exp(log_survival * exp(-reach))};
}

static double stat_survival_at_median(const LfStatSurvivalStep *step)
{
    return step->survival;
}

static double stat_survival_at_low(const LfStatSurvivalStep *step)
{
    return step->interval.low;
}

static double stat_survival_at_high(const LfStatSurvivalStep *step)
{
    return step->interval.high;
}

/* Where a falling curve crosses one half; NaN where it does not. On a level stretch at one half,
 * its middle, if it ends. */
static double stat_survival_cross(const LfStatSurvival *survival,
                                  double (*height)(const LfStatSurvivalStep *step))
{
    for (gsize i = 0; i < survival->n_steps; i++) {
        const LfStatSurvivalStep *step = &survival->steps[i];
        double at = height(step);
        if (!(at <= 0.5 + STAT_SURVIVAL_EVEN)) /* so is NaN */
            continue;
        if (at < 0.5 - STAT_SURVIVAL_EVEN)
            return step->t;
        for (gsize j = i + 1; j < survival->n_steps; j++)
            if (height(&survival->steps[j]) < 0.5 - STAT_SURVIVAL_EVEN)
                return (step->t + survival->steps[j].t) / 2;
        return step->t;
    }
    return NAN;
}

LfStatSurvival *lf_stat_survival(const LfStatTime *times, gsize n, double level, GError **error)
{
    if (!stat_check_level(level, error) || !stat_check_times(times, n, error))
        return NULL;
    g_autofree LfStatTime *sorted = stat_times_sorted(times, n);
    LfStatSurvival *out = g_new0(LfStatSurvival, 1);
    double z = stat_z(level), curve = 1, variance = 0;
    out->steps = g_new0(LfStatSurvivalStep, n);
    out->n = n;
    for (gsize i = 0; i < n;) {
        LfStatSurvivalStep *step = &out->steps[out->n_steps++];
        step->t = sorted[i].t;
        step->at_risk = n - i;
        for (; i < n && sorted[i].t == step->t; i++)
            *(sorted[i].event ? &step->events : &step->censored) += 1;
        double risk = (double)step->at_risk, d = (double)step->events;
        curve *= (risk - d) / risk;
        variance = step->events < step->at_risk ? variance + d / (risk * (risk - d)) : NAN;
        step->survival = curve;
        step->variance_log = variance;
        step->interval = stat_survival_band(curve, variance, z);
        out->events += step->events;
    }
    out->median = stat_survival_cross(out, stat_survival_at_median);
    out->median_interval.low = stat_survival_cross(out, stat_survival_at_low);
    out->median_interval.high = stat_survival_cross(out, stat_survival_at_high);
    return out;
}

void lf_stat_survival_free(LfStatSurvival *survival)
{
    if (survival)
        g_free(survival->steps);
    g_free(survival);
}
