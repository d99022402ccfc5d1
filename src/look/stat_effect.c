/* Effect sizes: d and g, Cliff's delta, eta squared. */
#include "look/stat.h"

#include <math.h>

#include <gsl/gsl_sf_gamma.h>

/* Hedges 1981, equation 6e: the expected value of d is the true one over this. */
static double stat_effect_unbias(double df)
{
    return exp(gsl_sf_lngamma(df / 2) - gsl_sf_lngamma((df - 1) / 2)) / sqrt(df / 2);
}

bool lf_stat_cohens_d(const double *a, gsize n_a, const double *b, gsize n_b, double *d, double *g,
                      GError **error)
{
    if (!stat_check_values(a, n_a, error) || !stat_check_values(b, n_b, error))
        return false;
    if (n_a < 2 || n_b < 2)
        return stat_fail(error, LF_ERROR_INPUT, "a group with one value");
    if (stat_all_same(a, n_a) && stat_all_same(b, n_b))
        return stat_fail(error, LF_ERROR_INPUT, "no spread within the groups");
    double mean_a = stat_mean(a, n_a), mean_b = stat_mean(b, n_b), df = (double)(n_a + n_b - 2);
    double pooled = sqrt((stat_squares(a, n_a, mean_a) + stat_squares(b, n_b, mean_b)) / df);
    if (d)
        *d = (mean_a - mean_b) / pooled;
    if (g)
        *g = (mean_a - mean_b) / pooled * stat_effect_unbias(df);
    return true;
}

bool lf_stat_cliffs_delta(const double *a, gsize n_a, const double *b, gsize n_b, double *delta,
                          GError **error)
{
    if (!stat_check_values(a, n_a, error) || !stat_check_values(b, n_b, error))
        return false;
    g_autofree double *sorted_a = stat_sorted(a, n_a);
    g_autofree double *sorted_b = stat_sorted(b, n_b);
    gsize below = 0, not_above = 0; /* values of b below a's, and not above it */
    double surplus = 0;
    for (gsize i = 0; i < n_a; i++) {
        while (below < n_b && sorted_b[below] < sorted_a[i])
            below++;
        while (not_above < n_b && sorted_b[not_above] <= sorted_a[i])
            not_above++;
        surplus += (double)below - (double)(n_b - not_above);
    }
    *delta = surplus / ((double)n_a * (double)n_b);
    return true;
}

bool lf_stat_eta_squared(const double *values, const int *groups, gsize n, int n_groups,
                         double *eta_squared, GError **error)
{
    g_autofree gsize *sizes = g_new0(gsize, MAX(n_groups, 1));
    g_autofree double *sums = g_new0(double, MAX(n_groups, 1));
    if (!stat_check_values(values, n, error) ||
        !stat_check_groups(groups, n, n_groups, 1, sizes, error))
        return false;
    if (stat_all_same(values, n))
        return stat_fail(error, LF_ERROR_INPUT, "all values are the same");
    double mean = stat_mean(values, n), all = stat_squares(values, n, mean), between = 0;
    for (gsize i = 0; i < n; i++)
        sums[groups[i]] += values[i] - mean;
    for (int g = 0; g < n_groups; g++)
        between += sums[g] * sums[g] / (double)sizes[g];
    *eta_squared = fmin(1, between / all);
    return true;
}
