/* Censored times, checked and in order. */
#include "look/stat_times.h"

#include "look/stat.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

bool stat_check_times(const LfStatTime *times, gsize n, GError **error)
{
    if (n == 0)
        return stat_fail(error, LF_ERROR_INPUT, "no values");
    for (gsize i = 0; i < n; i++)
        if (!(times[i].t >= 0) || !isfinite(times[i].t))
            return stat_fail(error, LF_ERROR_USAGE, "time %zu, %g, is not 0 or more", i + 1,
                             times[i].t);
    return true;
}

static int stat_times_compare(const void *a, const void *b)
{
    const LfStatTime *x = a, *y = b;
    return (x->t > y->t) - (x->t < y->t);
}

LfStatTime *stat_times_sorted(const LfStatTime *times, gsize n)
{
    LfStatTime *sorted = g_new(LfStatTime, n);
    memcpy(sorted, times, n * sizeof *times);
    qsort(sorted, n, sizeof *sorted, stat_times_compare);
    return sorted;
}
