/* Bootstrap intervals of mean and median.
 *
 * Page and equation numbers are those of Efron and Tibshirani 1993. Percentile interval (13.5): the
 * level's quantiles of the resampled estimates. BCa (14.9 to 14.15): the quantiles are moved,
 *   alpha' = Phi(z0 + (z0 + z) / (1 - a (z0 + z))),
 * by the bias z0 = Phi^-1(share of resamples below the estimate) and the acceleration
 *   a = sum(d^3) / (6 (sum(d^2))^1.5), d: mean of the jackknife estimates less each of them.
 * Resamples that equal the estimate count half as below, which matters for medians. */
#include "look/stat_draw.h"

#include <math.h>

#include <gsl/gsl_cdf.h>

/* Estimates nearer than this share of the largest value are equal: sums depend on their order. */
#define STAT_BOOTSTRAP_EQUAL 1e-12

/* Estimates of all resamples, ascending; owned by the caller. */
static double *stat_bootstrap_draw(const double *sorted, gsize n, LfStatCentre centre,
                                   gsize resamples, uint32_t seed)
{
    g_autoptr(gsl_rng) rng = stat_rng_new(seed);
    g_autofree guint *counts = g_new(guint, n);
    double *drawn = g_new(double, resamples);
    for (gsize i = 0; i < resamples; i++)
        drawn[i] = stat_draw_centre(sorted, n, centre, rng, counts);
    stat_sort(drawn, resamples);
    return drawn;
}

/* The estimate without value number i, n >= 2. */
static double stat_bootstrap_without(const double *sorted, gsize n, gsize i, LfStatCentre centre,
                                     double mean)
{
    if (centre == LF_STAT_MEAN)
        return mean + (mean - sorted[i]) / (double)(n - 1);
    gsize lower = (n - 2) / 2, upper = (n - 1) / 2; /* middle places of n - 1 values */
    return (sorted[lower + (lower >= i)] + sorted[upper + (upper >= i)]) / 2;
}

static double stat_bootstrap_acceleration(const double *sorted, gsize n, LfStatCentre centre)
{
    g_autofree double *without = g_new(double, n);
    double mean = stat_mean(sorted, n), squares = 0, cubes = 0;
    for (gsize i = 0; i < n; i++)
        without[i] = stat_bootstrap_without(sorted, n, i, centre, mean);
    double middle = stat_mean(without, n);
    for (gsize i = 0; i < n; i++) {
        double d = middle - without[i];
        squares += d * d;
        cubes += d * d * d;
    }
    /* no value moves the median: then it has no skewness either */
    return squares > 0 ? cubes / (6 * pow(squares, 1.5)) : 0;
}

static bool stat_bootstrap_bca(const double *drawn, gsize resamples, double estimate, double near,
                               double acceleration, double z, double alpha[2], GError **error)
{
    gsize below = 0, equal = 0;
    for (gsize i = 0; i < resamples && drawn[i] <= estimate + near; i++)
        *(drawn[i] < estimate - near ? &below : &equal) += 1;
    double share = ((double)below + (double)equal / 2) / (double)resamples;
    if (!(share > 0 && share < 1))
        return stat_fail(error, LF_ERROR_INPUT, "all resamples on one side of the estimate");
    double bias = gsl_cdf_ugaussian_Pinv(share);
    for (int side = 0; side < 2; side++) {
        double reach = bias + (side ? z : -z), room = 1 - acceleration * reach;
        if (!(room > 0))
            return stat_fail(error, LF_ERROR_INPUT, "too skewed for a BCa interval");
        alpha[side] = gsl_cdf_ugaussian_P(bias + reach / room);
    }
    return true;
}

bool lf_stat_bootstrap(const double *values, gsize n, LfStatCentre centre,
                       LfStatBootstrapMethod method, double level, gsize resamples, uint32_t seed,
                       LfStatBootstrap *out, GError **error)
{
    if (!stat_check_level(level, error) || !stat_check_resamples(resamples, error) ||
        !stat_check_values(values, n, error))
        return false;
    if (n < 2)
        return stat_fail(error, LF_ERROR_INPUT, "one value has no spread");
    if (n > G_MAXUINT32)
        return stat_fail(error, LF_ERROR_USAGE, "%zu values are too many", n);
    g_autofree double *sorted = stat_sorted(values, n);
    if (stat_all_same(sorted, n))
        return stat_fail(error, LF_ERROR_INPUT, "all values are the same");
    if (!stat_draw_check(n, level, error))
        return false;
    double estimate = centre == LF_STAT_MEAN ? stat_mean(sorted, n) : stat_sorted_median(sorted, n);
    g_autofree double *drawn = stat_bootstrap_draw(sorted, n, centre, resamples, seed);
    double alpha[2] = {(1 - level) / 2, (1 + level) / 2};
    double near = STAT_BOOTSTRAP_EQUAL * fmax(fabs(sorted[0]), fabs(sorted[n - 1]));
    if (method == LF_STAT_BCA && !stat_bootstrap_bca(drawn, resamples, estimate, near,
                                                     stat_bootstrap_acceleration(sorted, n, centre),
                                                     stat_z(level), alpha, error))
        return false;
    double spread = stat_squares(drawn, resamples, stat_mean(drawn, resamples));
    *out = (LfStatBootstrap){estimate,
                             sqrt(spread / (double)(resamples - 1)),
                             {stat_sorted_quantile(drawn, resamples, alpha[0]),
                              stat_sorted_quantile(drawn, resamples, alpha[1])}};
    return true;
}
