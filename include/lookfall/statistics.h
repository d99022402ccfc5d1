/* Statistics across people: pure functions on plain arrays.
 *
 * One value stands for one participant: combining a person's recordings comes before. Nothing is
 * kept between calls; every function may be called from any thread. Input with nothing to say (no
 * values, one value, all the same, a group with one member) is LF_ERROR_INPUT with a sentence that
 * tells why, short enough for a cell of a table; a result is never NaN unless its comment says so.
 * Values that are not finite, and a level outside 0 to 1, are LF_ERROR_USAGE. On an error the
 * results are untouched.
 *
 * `level` is the share of intervals that hold the true value in the long run, 0.95 mostly. Random
 * numbers are GSL's mt19937 (M. Matsumoto, T. Nishimura, ACM TOMACS 8, 1998), seeded with `seed`
 * alone: equal seeds give equal bits. docs/statistics.md has formulas, sources and edge cases. */
#ifndef LOOKFALL_STATISTICS_H
#define LOOKFALL_STATISTICS_H

#include <stdbool.h>
#include <stdint.h>

#include <lookfall/error.h>

G_BEGIN_DECLS

typedef struct {
    double low, high;
} LfStatInterval;

/* --- one sample ------------------------------------------------------------------------------- */

LF_API bool lf_stat_mean(const double *values, gsize n, double *mean, GError **error);
/* The mean of the two middle values where n is even. */
LF_API bool lf_stat_median(const double *values, gsize n, double *median, GError **error);

/* --- shares ----------------------------------------------------------------------------------- */

/* Score interval of a share yes / n (E. B. Wilson, J. American Statistical Association 22, 1927,
 * 209-212), without continuity correction. Holds for 0 and n of n too. */
LF_API bool lf_stat_wilson(gsize yes, gsize n, double level, LfStatInterval *interval,
                           GError **error);
/* yes_a / n_a - yes_b / n_b with an interval made of the two score intervals (R. G. Newcombe,
 * Statistics in Medicine 17, 1998, 873-890, method 10). */
LF_API bool lf_stat_share_difference(gsize yes_a, gsize n_a, gsize yes_b, gsize n_b, double level,
                                     double *difference, LfStatInterval *interval, GError **error);
/* (yes_a / no_a) / (yes_b / no_b) with an interval symmetrical in its logarithm (B. Woolf, Annals
 * of Human Genetics 19, 1955, 251-253). LF_ERROR_INPUT where one of the four counts is 0. */
LF_API bool lf_stat_odds_ratio(gsize yes_a, gsize n_a, gsize yes_b, gsize n_b, double level,
                               double *ratio, LfStatInterval *interval, GError **error);

/* --- times until something happens -------------------------------------------------------------
 * A time is that of the event, or, where it did not happen, the end of the time in which it could
 * have been seen (censored). Someone censored at t is still at risk at t. Times are 0 or more. */

typedef struct {
    double t;
    bool event;
} LfStatTime;

/* The curve from t on, up to the next step. */
typedef struct {
    double t;
    gsize at_risk; /* just before t */
    gsize events, censored;
    double survival;         /* share for whom it has not happened by t, t included */
    double variance_log;     /* Greenwood's sum: variance of log(survival); NaN at survival 0 */
    LfStatInterval interval; /* pointwise; NaN at survival 0 and 1 */
} LfStatSurvivalStep;

typedef struct {
    LfStatSurvivalStep *steps; /* one for each different time, ascending */
    gsize n_steps;
    gsize n, events;
    double median;                  /* NaN where half of them never saw the event */
    LfStatInterval median_interval; /* each end NaN where the band does not reach one half */
} LfStatSurvival;

/* E. L. Kaplan, P. Meier, J. American Statistical Association 53, 1958, 457-481. Intervals by the
 * log(-log) transform (J. D. Kalbfleisch, R. L. Prentice, "The Statistical Analysis of Failure Time
 * Data", 1980); that of the median by inverting them (R. Brookmeyer, J. Crowley, Biometrics 38,
 * 1982, 29-41). Where the curve is level at one half the median is the middle of that stretch, as
 * the median of an even number of values is. Owned by the caller. */
LF_API LfStatSurvival *lf_stat_survival(const LfStatTime *times, gsize n, double level,
                                        GError **error);
LF_API void lf_stat_survival_free(LfStatSurvival *survival);

typedef struct {
    double chi_square;
    int df; /* groups with an expected number above 0, less one */
    double p;
} LfStatLogRank;

/* Log-rank test (N. Mantel, Cancer Chemotherapy Reports 50, 1966, 163-170; R. Peto, J. Peto, J.
 * Royal Statistical Society A 135, 1972, 185-207), ties by the hypergeometric variance. groups:
 * 0 to n_groups - 1 for each time, each with 2 members or more. observed and expected may be NULL,
 * or take n_groups numbers of events. LF_ERROR_INPUT where there is no event, or never more than
 * one group at risk. */
LF_API bool lf_stat_log_rank(const LfStatTime *times, const int *groups, gsize n, int n_groups,
                             double *observed, double *expected, LfStatLogRank *out,
                             GError **error);
/* Hazard of group 0 over that of group 1 by Peto's one step, exp((O - E) / V) of the log-rank test
 * (S. Yusuf et al., Progress in Cardiovascular Diseases 27, 1985, 335-371): good near 1, drawn
 * towards 1 far from it. Above 1: it happens sooner in group 0. */
LF_API bool lf_stat_hazard_ratio(const LfStatTime *times, const int *groups, gsize n, double level,
                                 double *ratio, LfStatInterval *interval, GError **error);

/* --- bootstrap -------------------------------------------------------------------------------- */

typedef enum { LF_STAT_MEAN, LF_STAT_MEDIAN } LfStatCentre;
typedef enum {
    LF_STAT_PERCENTILE,
    LF_STAT_BCA, /* corrected for bias and for skewness */
} LfStatBootstrapMethod;

#define LF_STAT_RESAMPLES_MIN 100
#define LF_STAT_RESAMPLES_MAX 10000000

typedef struct {
    double estimate;       /* of the values themselves */
    double standard_error; /* standard deviation of the estimate over the resamples */
    LfStatInterval interval;
} LfStatBootstrap;

/* Nonparametric bootstrap (B. Efron, R. J. Tibshirani, "An Introduction to the Bootstrap", 1993,
 * chapters 13 and 14). LF_ERROR_INPUT for fewer than 2 different values; for so few values that
 * even the smallest and the largest hold the middle less often than `level`, 1 - 2^(1 - n) (5 at
 * 0.95); and where BCa does not exist: all resamples on one side of the estimate, or values too
 * skewed for it. */
LF_API bool lf_stat_bootstrap(const double *values, gsize n, LfStatCentre centre,
                              LfStatBootstrapMethod method, double level, gsize resamples,
                              uint32_t seed, LfStatBootstrap *out, GError **error);

/* Centre of a less centre of b, each drawn by itself; percentile interval. Needs as many
 * values in each as above, and some spread within one of them. */
LF_API bool lf_stat_bootstrap_difference(const double *a, gsize n_a, const double *b, gsize n_b,
                                         LfStatCentre centre, double level, gsize resamples,
                                         uint32_t seed, LfStatBootstrap *out, GError **error);

/* --- permutation test ------------------------------------------------------------------------- */

/* Up to so many ways to deal the values out to the groups all of them are looked at. */
#define LF_STAT_EXACT_MAX 200000

typedef struct {
    /* Two groups: mean of group 0 less mean of group 1. More: eta squared, which rises with F
     * whatever the deal, so that p is that of F. */
    double statistic;
    double p; /* two-sided */
    bool exact;
    gsize deals;    /* looked at (exact) or drawn */
    double p_error; /* one standard error of p by drawing; 0 where exact */
} LfStatPermutation;

/* Means of two or more groups against the deals of the same values to groups of the same sizes (R.
 * A. Fisher, "The Design of Experiments", 1935; E. S. Edgington, "Randomization Tests"). By
 * drawing, p = (hits + 1) / (deals + 1) (B. Phipson, G. K. Smyth, Statistical Applications in
 * Genetics and Molecular Biology 9, 2010, article 39). Two groups of zeros and ones are always
 * exact, by the hypergeometric distribution. LF_ERROR_INPUT: fewer than 2 groups, a group with
 * fewer than 2 values, all values the same. */
LF_API bool lf_stat_permutation(const double *values, const int *groups, gsize n, int n_groups,
                                gsize resamples, uint32_t seed, LfStatPermutation *out,
                                GError **error);

/* --- many tests ------------------------------------------------------------------------------- */

/* Adjusted p of n tests; NaN stands for a test that could not be made: it stays NaN and is not
 * counted. adjusted may be p itself. S. Holm, Scandinavian J. Statistics 6, 1979, 65-70 (chance of
 * one false finding); Y. Benjamini, Y. Hochberg, J. Royal Statistical Society B 57, 1995, 289-300
 * (share of false among the findings). */
LF_API bool lf_stat_holm(const double *p, gsize n, double *adjusted, GError **error);
LF_API bool lf_stat_benjamini_hochberg(const double *p, gsize n, double *adjusted, GError **error);

/* --- effect sizes ----------------------------------------------------------------------------- */

/* Mean of a less mean of b in pooled standard deviations: d (J. Cohen, "Statistical Power Analysis
 * for the Behavioral Sciences", 1988, chapter 2), and g, d without its bias in small samples (L. V.
 * Hedges, J. Educational Statistics 6, 1981, 107-128, exact factor). d or g may be NULL. Needs 2
 * values in each, and some spread within. */
LF_API bool lf_stat_cohens_d(const double *a, gsize n_a, const double *b, gsize n_b, double *d,
                             double *g, GError **error);
/* Chance that a value of a is above one of b, less the chance that it is below (N. Cliff,
 * Psychological Bulletin 114, 1993, 494-509), -1 to 1. */
LF_API bool lf_stat_cliffs_delta(const double *a, gsize n_a, const double *b, gsize n_b,
                                 double *delta, GError **error);
/* Share of the sum of squares that lies between the groups, 0 to 1 (R. A. Fisher, "Statistical
 * Methods for Research Workers", 1925). Each group needs a value. */
LF_API bool lf_stat_eta_squared(const double *values, const int *groups, gsize n, int n_groups,
                                double *eta_squared, GError **error);

/* --- agreement -------------------------------------------------------------------------------- */

typedef struct {
    double kappa;
    double observed, chance; /* shares of agreement: seen, and by chance */
    double standard_error;
    LfStatInterval interval; /* kappa -+ z standard errors, not past 1 */
} LfStatKappa;

/* Agreement of two codings of the same n things into categories 0 to n_categories - 1 (J. Cohen,
 * Educational and Psychological Measurement 20, 1960, 37-46); standard error of J. L. Fleiss, J.
 * Cohen, B. S. Everitt, Psychological Bulletin 72, 1969, 323-327. LF_ERROR_INPUT where both have
 * put everything into one and the same category: chance explains it all. */
LF_API bool lf_stat_kappa(const int *a, const int *b, gsize n, int n_categories, double level,
                          LfStatKappa *out, GError **error);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfStatSurvival, lf_stat_survival_free)

G_END_DECLS

#endif
