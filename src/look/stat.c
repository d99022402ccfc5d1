/* What the statistics share: checks of input, z, order, random numbers. */
#include "look/stat.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_cdf.h>

bool stat_fail(GError **error, LfErrorCode code, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    g_autofree char *message = g_strdup_vprintf(format, arguments);
    va_end(arguments);
    g_set_error_literal(error, LF_ERROR, (gint)code, message);
    return false;
}

bool stat_check_level(double level, GError **error)
{
    return (level > 0 && level < 1) ||
           stat_fail(error, LF_ERROR_USAGE, "a level of %g is not between 0 and 1", level);
}

bool stat_check_values(const double *values, gsize n, GError **error)
{
    if (n == 0)
        return stat_fail(error, LF_ERROR_INPUT, "no values");
    for (gsize i = 0; i < n; i++)
        if (!isfinite(values[i]))
            return stat_fail(error, LF_ERROR_USAGE, "value %zu is not a number", i + 1);
    return true;
}

bool stat_check_groups(const int *groups, gsize n, int n_groups, gsize least, gsize *sizes,
                       GError **error)
{
    if (n_groups < 2)
        return stat_fail(error, LF_ERROR_INPUT, "fewer than two groups");
    memset(sizes, 0, (gsize)n_groups * sizeof *sizes);
    for (gsize i = 0; i < n; i++) {
        if (groups[i] < 0 || groups[i] >= n_groups)
            return stat_fail(error, LF_ERROR_USAGE, "group %d of value %zu is none of 0 to %d",
                             groups[i], i + 1, n_groups - 1);
        sizes[groups[i]]++;
    }
    for (int g = 0; g < n_groups; g++)
        if (sizes[g] < least)
            return stat_fail(error, LF_ERROR_INPUT, "a group with %s",
                             sizes[g] == 0 ? "no value" : "one value");
    return true;
}

bool stat_check_resamples(gsize resamples, GError **error)
{
    return (resamples >= LF_STAT_RESAMPLES_MIN && resamples <= LF_STAT_RESAMPLES_MAX) ||
           stat_fail(error, LF_ERROR_USAGE, "%zu resamples are not between %d and %d", resamples,
                     LF_STAT_RESAMPLES_MIN, LF_STAT_RESAMPLES_MAX);
}

bool stat_all_same(const double *values, gsize n)
{
    for (gsize i = 1; i < n; i++)
        if (values[i] != values[0])
            return false;
    return true;
}

double stat_z(double level)
{
    return gsl_cdf_ugaussian_Qinv((1 - level) / 2);
}

double stat_mean(const double *values, gsize n)
{
    double sum = 0;
    for (gsize i = 0; i < n; i++)
        sum += values[i];
    return sum / (double)n;
}

double stat_squares(const double *values, gsize n, double mean)
{
    double sum = 0;
    for (gsize i = 0; i < n; i++)
        sum += (values[i] - mean) * (values[i] - mean);
    return sum;
}

double stat_sorted_median(const double *values, gsize n)
{
    return n % 2 ? values[n / 2] : (values[n / 2 - 1] + values[n / 2]) / 2;
}

double stat_sorted_quantile(const double *values, gsize n, double p)
{
    double at = p * (double)(n - 1);
    gsize below = (gsize)at;
    if (below + 1 >= n)
        return values[n - 1];
    return values[below] + (at - (double)below) * (values[below + 1] - values[below]);
}

static int stat_compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

void stat_sort(double *values, gsize n)
{
    qsort(values, n, sizeof *values, stat_compare);
}

double *stat_sorted(const double *values, gsize n)
{
    double *sorted = g_new(double, n);
    memcpy(sorted, values, n * sizeof *values);
    stat_sort(sorted, n);
    return sorted;
}

gsl_rng *stat_rng_new(uint32_t seed)
{
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    g_assert(rng); /* out of memory, where GLib ends the program too */
    gsl_rng_set(rng, seed);
    return rng;
}
