/* Bootstrap interval of the difference of two groups (Efron and Tibshirani 1993, section 8.3: each
 * group is resampled by itself, as it was sampled). */
#include "look/stat_draw.h"

#include <math.h>

static bool stat_difference_check(const double *a, gsize n_a, const double *b, gsize n_b,
                                  GError **error)
{
    if (n_a < 2 || n_b < 2)
        return stat_fail(error, LF_ERROR_INPUT, "a group with %s",
                         n_a == 0 || n_b == 0 ? "no value" : "one value");
    if (n_a > G_MAXUINT32 || n_b > G_MAXUINT32)
        return stat_fail(error, LF_ERROR_USAGE, "%zu values are too many", MAX(n_a, n_b));
    if (!stat_check_values(a, n_a, error) || !stat_check_values(b, n_b, error))
        return false;
    if (stat_all_same(a, n_a) && stat_all_same(b, n_b))
        return stat_fail(error, LF_ERROR_INPUT, "no spread within the groups");
    return true;
}

bool lf_stat_bootstrap_difference(const double *a, gsize n_a, const double *b, gsize n_b,
                                  LfStatCentre centre, double level, gsize resamples, uint32_t seed,
                                  LfStatBootstrap *out, GError **error)
{
    if (!stat_check_level(level, error) || !stat_check_resamples(resamples, error) ||
        !stat_difference_check(a, n_a, b, n_b, error) ||
        !stat_draw_check(MIN(n_a, n_b), level, error))
        return false;
    g_autofree double *sorted_a = stat_sorted(a, n_a);
    g_autofree double *sorted_b = stat_sorted(b, n_b);
    g_autofree guint *counts = g_new(guint, MAX(n_a, n_b));
    g_autofree double *drawn = g_new(double, resamples);
    g_autoptr(gsl_rng) rng = stat_rng_new(seed);
    for (gsize i = 0; i < resamples; i++) {
        double centre_a = stat_draw_centre(sorted_a, n_a, centre, rng, counts);
        drawn[i] = centre_a - stat_draw_centre(sorted_b, n_b, centre, rng, counts);
    }
    stat_sort(drawn, resamples);
    double spread = stat_squares(drawn, resamples, stat_mean(drawn, resamples));
    double estimate = centre == LF_STAT_MEAN
                          ? stat_mean(sorted_a, n_a) - stat_mean(sorted_b, n_b)
                          : stat_sorted_median(sorted_a, n_a) - stat_sorted_median(sorted_b, n_b);
    *out = (LfStatBootstrap){estimate,
                             sqrt(spread / (double)(resamples - 1)),
                             {stat_sorted_quantile(drawn, resamples, (1 - level) / 2),
                              stat_sorted_quantile(drawn, resamples, (1 + level) / 2)}};
    return true;
}
