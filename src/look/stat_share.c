/* Shares: the score interval of one, difference and odds ratio of two. */
#include "look/stat.h"

#include <math.h>

static bool stat_share_check(gsize yes, gsize n, double level, GError **error)
{
    if (!stat_check_level(level, error))
        return false;
    if (n == 0)
        return stat_fail(error, LF_ERROR_INPUT, "no values");
    return yes <= n || stat_fail(error, LF_ERROR_USAGE, "%zu of %zu is no share", yes, n);
}

/* Wilson 1927, as written by R. G. Newcombe, Statistics in Medicine 17, 1998, 857-872, method 3:
 *   (2 n p + z^2 -+ z sqrt(z^2 + 4 n p q)) / (2 (n + z^2)) */
bool lf_stat_wilson(gsize yes, gsize n, double level, LfStatInterval *interval, GError **error)
{
    if (!stat_share_check(yes, n, level, error))
        return false;
    double z = stat_z(level), count = (double)n, hits = (double)yes;
    double middle = 2 * hits + z * z;
    double half = z * sqrt(z * z + 4 * hits * (count - hits) / count);
    double whole = 2 * (count + z * z);
    /* 0 and 1 are reached exactly; rounding would miss them */
    interval->low = yes == 0 ? 0 : (middle - half) / whole;
    interval->high = yes == n ? 1 : (middle + half) / whole;
    return true;
}

bool lf_stat_share_difference(gsize yes_a, gsize n_a, gsize yes_b, gsize n_b, double level,
                              double *difference, LfStatInterval *interval, GError **error)
{
    LfStatInterval a, b;
    if (!lf_stat_wilson(yes_a, n_a, level, &a, error) ||
        !lf_stat_wilson(yes_b, n_b, level, &b, error))
        return false;
    double share_a = (double)yes_a / (double)n_a, share_b = (double)yes_b / (double)n_b;
    *difference = share_a - share_b;
    interval->low = *difference - hypot(share_a - a.low, b.high - share_b);
    interval->high = *difference + hypot(a.high - share_a, share_b - b.low);
    return true;
}

bool lf_stat_odds_ratio(gsize yes_a, gsize n_a, gsize yes_b, gsize n_b, double level, double *ratio,
                        LfStatInterval *interval, GError **error)
{
    if (!stat_share_check(yes_a, n_a, level, error) || !stat_share_check(yes_b, n_b, level, error))
        return false;
    double a = (double)yes_a, b = (double)(n_a - yes_a), c = (double)yes_b,
           d = (double)(n_b - yes_b);
    if (a == 0 || b == 0 || c == 0 || d == 0)
        return stat_fail(error, LF_ERROR_INPUT,
                         "nobody or everybody in a group: odds of 0 or "
                         "without end");
    double log_ratio = log(a * d / (b * c));
    double reach = stat_z(level) * sqrt(1 / a + 1 / b + 1 / c + 1 / d);
    *ratio = exp(log_ratio);
    *interval = (LfStatInterval){exp(log_ratio - reach), exp(log_ratio + reach)};
    return true;
}
