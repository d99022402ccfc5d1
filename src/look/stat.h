/* What the statistics share: checks of input, z, random numbers. */
#ifndef LF_LOOK_STAT_H
#define LF_LOOK_STAT_H

#include <gsl/gsl_rng.h>

#include <lookfall/statistics.h>

/* Always false. */
bool stat_fail(GError **error, LfErrorCode code, const char *format, ...) G_GNUC_PRINTF(3, 4);
bool stat_check_level(double level, GError **error);
/* n >= 1 finite values. */
bool stat_check_values(const double *values, gsize n, GError **error);
/* n_groups >= 2, each with `least` members or more; sizes takes n_groups counts. */
bool stat_check_groups(const int *groups, gsize n, int n_groups, gsize least, gsize *sizes,
                       GError **error);
bool stat_check_resamples(gsize resamples, GError **error);
/* Exactly: sums of differences would be a rounding error instead of 0. */
bool stat_all_same(const double *values, gsize n);

/* How far from the middle of the standard normal distribution `level` of it reaches. */
double stat_z(double level);

/* --- on checked values --- */

double stat_mean(const double *values, gsize n);
/* Sum of squared differences from the mean. */
double stat_squares(const double *values, gsize n, double mean);
/* values ascend */
double stat_sorted_median(const double *values, gsize n);
/* The value at share p of the way from first to last, straight between neighbours; values ascend
 * (type 7 of R. J. Hyndman, Y. Fan, American Statistician 50, 1996, 361-365). */
double stat_sorted_quantile(const double *values, gsize n, double p);
/* Ascending; owned by the caller. */
double *stat_sorted(const double *values, gsize n);
void stat_sort(double *values, gsize n);

/* --- random numbers --- */

static inline void stat_rng_free(gsl_rng *rng)
{
    gsl_rng_free(rng);
}
G_DEFINE_AUTOPTR_CLEANUP_FUNC(gsl_rng, stat_rng_free)

gsl_rng *stat_rng_new(uint32_t seed);

/* 0 to n - 1 with equal chances: multiply and shift, and reject the uneven rest (D. Lemire, ACM
 * Transactions on Modeling and Computer Simulation 29(1), 2019, algorithm 5). mt19937 gives all 32
 * bits. */
static inline uint32_t stat_rng_below(gsl_rng *rng, uint32_t n)
{
    uint64_t product = (uint64_t)gsl_rng_get(rng) * n;
    uint32_t low = (uint32_t)product;
    if (low < n) {
        uint32_t uneven = -n % n;
        while (low < uneven) {
            product = (uint64_t)gsl_rng_get(rng) * n;
            low = (uint32_t)product;
        }
    }
    return (uint32_t)(product >> 32);
}

#endif
