/* Mean, median, standard deviation. */
#include "look/stat.h"

#include <math.h>

bool lf_stat_mean(const double *values, gsize n, double *mean, GError **error)
{
    if (!stat_check_values(values, n, error))
        return false;
    *mean = stat_mean(values, n);
    return true;
}

bool lf_stat_median(const double *values, gsize n, double *median, GError **error)
{
    if (!stat_check_values(values, n, error))
        return false;
    g_autofree double *sorted = stat_sorted(values, n);
    *median = stat_sorted_median(sorted, n);
    return true;
}

bool lf_stat_deviation(const double *values, gsize n, double *deviation, GError **error)
{
    if (!stat_check_values(values, n, error))
        return false;
    if (n < 2)
        return stat_fail(error, LF_ERROR_INPUT, "one value has no spread");
    *deviation = sqrt(stat_squares(values, n, stat_mean(values, n)) / (double)(n - 1));
    return true;
}
