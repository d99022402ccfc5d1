/* One resample of the bootstrap. */
#include "look/stat_draw.h"

#include <math.h>
#include <string.h>

bool stat_draw_check(gsize n, double level, GError **error)
{
    return 1 - exp2(1 - (double)n) >= level ||
           stat_fail(error, LF_ERROR_INPUT, "too few values for an interval of this level");
}

static double stat_draw_mean(const double *sorted, gsize n, gsl_rng *rng)
{
    double sum = 0;
    for (gsize i = 0; i < n; i++)
        sum += sorted[stat_rng_below(rng, (uint32_t)n)];
    return sum / (double)n;
}

/* Counts how often each place is drawn and walks along them to the middle, which saves sorting. */
static double stat_draw_median(const double *sorted, gsize n, gsl_rng *rng, guint *counts)
{
    memset(counts, 0, n * sizeof *counts);
    for (gsize i = 0; i < n; i++)
        counts[stat_rng_below(rng, (uint32_t)n)]++;
    gsize at = 0, passed = counts[0];
    while (passed <= (n - 1) / 2)
        passed += counts[++at];
    double lower = sorted[at];
    while (passed <= n / 2)
        passed += counts[++at];
    return (lower + sorted[at]) / 2;
}

double stat_draw_centre(const double *sorted, gsize n, LfStatCentre centre, gsl_rng *rng,
                        guint *counts)
{
    return centre == LF_STAT_MEAN ? stat_draw_mean(sorted, n, rng)
                                  : stat_draw_median(sorted, n, rng, counts);
}
