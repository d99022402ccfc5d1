/* Mean, median. */
#include "look/stat.h"

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
