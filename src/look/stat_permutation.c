/* Permutation test of the means of two and more groups.
 *
 * The values stay, their groups are dealt out anew. As the sum of all squares does not change, the
 * sum of squares between the groups orders all deals as F does, and for two groups as the
 * difference of means does, whatever its sign. Values are taken less their mean, so that the sum
 * between is sum over groups of (sum in the group)^2 / size. */
#include "look/stat.h"

#include <math.h>
#include <string.h>

#include <gsl/gsl_randist.h>

/* A deal nearer to the true one than this share of the sum of squares is as far out as it: sums
 * depend on their order. */
#define STAT_PERMUTATION_EQUAL 1e-10

/* Groups in the order of their size: the largest is what the others leave. */
typedef struct {
    double *values; /* less their mean */
    gsize n;
    gsize *sizes; /* ascending */
    double *sums;
    int n_groups;
    double least; /* the sum between from which a deal is a hit */
    gsize hits, deals;
    bool *taken; /* exact only: n flags */
} StatDeal;

static void stat_deal_clear(StatDeal *deal)
{
    g_clear_pointer(&deal->values, g_free);
    g_clear_pointer(&deal->sizes, g_free);
    g_clear_pointer(&deal->sums, g_free);
    g_clear_pointer(&deal->taken, g_free);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(StatDeal, stat_deal_clear)

static double stat_deal_between(const double *sums, const gsize *sizes, int n_groups)
{
    double between = 0;
    for (int g = 0; g < n_groups; g++)
        between += sums[g] * sums[g] / (double)sizes[g];
    return between;
}

/* All groups but the last have their sums. */
static void stat_deal_count(StatDeal *deal)
{
    double rest = 0;
    for (int g = 0; g + 1 < deal->n_groups; g++)
        rest -= deal->sums[g];
    deal->sums[deal->n_groups - 1] = rest;
    deal->hits += stat_deal_between(deal->sums, deal->sizes, deal->n_groups) >= deal->least;
    deal->deals++;
}

/* Number of deals, or 0 where there are more than LF_STAT_EXACT_MAX. */
static gsize stat_deal_number(const StatDeal *deal)
{
    double number = 1, left = (double)deal->n;
    for (int g = 0; g + 1 < deal->n_groups; g++) {
        for (gsize i = 0; i < deal->sizes[g]; i++, left -= 1) {
            /* whole at each step: the number of ways to choose i + 1 of the first ones */
            number = number * left / (double)(i + 1);
            if (number > 1e15)
                return 0;
        }
    }
    return number <= LF_STAT_EXACT_MAX ? (gsize)number : 0;
}

/* Gives group g `missing` more members from place `from` on, in every way, and goes on with the
 * next group. As deep as there are members of all groups but the largest. */
static void stat_deal_all(StatDeal *deal, int g, gsize missing, gsize from)
{
    if (g + 1 == deal->n_groups) {
        stat_deal_count(deal);
        return;
    }
    if (missing == 0) {
        deal->sums[g + 1] = 0;
        stat_deal_all(deal, g + 1, deal->sizes[g + 1], 0);
        return;
    }
    double sum = deal->sums[g];
    for (gsize i = from; i + missing <= deal->n; i++) {
        if (deal->taken[i])
            continue;
        deal->taken[i] = true;
        deal->sums[g] = sum + deal->values[i];
        stat_deal_all(deal, g, missing - 1, i + 1);
        deal->taken[i] = false;
    }
    deal->sums[g] = sum;
}

/* Shuffles only as far as the smaller groups reach (R. Durstenfeld, Communications of the ACM 7,
 * 1964, 420). Each deal starts from the one before, which is as good as any. */
static void stat_deal_draw(StatDeal *deal, gsize resamples, uint32_t seed)
{
    g_autoptr(gsl_rng) rng = stat_rng_new(seed);
    for (gsize round = 0; round < resamples; round++) {
        gsize at = 0;
        for (int g = 0; g + 1 < deal->n_groups; g++) {
            deal->sums[g] = 0;
            for (gsize i = 0; i < deal->sizes[g]; i++, at++) {
                gsize other = at + stat_rng_below(rng, (uint32_t)(deal->n - at));
                double value = deal->values[other];
                deal->values[other] = deal->values[at];
                deal->values[at] = value;
                deal->sums[g] += value;
            }
        }
        stat_deal_count(deal);
    }
}

/* Two groups of zeros and ones: the number of ones in the first is hypergeometric. */
static bool stat_permutation_is_binary(const double *values, gsize n)
{
    for (gsize i = 0; i < n; i++)
        if (values[i] != 0 && values[i] != 1)
            return false;
    return true;
}

static void stat_permutation_binary(const double *values, const int *groups, gsize n,
                                    const gsize *sizes, LfStatPermutation *out)
{
    gsize ones = 0, ones_in_first = 0;
    for (gsize i = 0; i < n; i++) {
        ones += values[i] == 1;
        ones_in_first += values[i] == 1 && groups[i] == 0;
    }
    /* whole numbers: n ones_in_first - sizes[0] ones, whatever its sign, is the distance from what
     * equal shares would give */
    double middle = (double)sizes[0] * (double)ones, p = 0;
    double far = fabs((double)n * (double)ones_in_first - middle);
    gsize least = ones > sizes[1] ? ones - sizes[1] : 0, most = MIN(ones, sizes[0]);
    for (gsize x = least; x <= most; x++)
        if (fabs((double)n * (double)x - middle) >= far)
            p += gsl_ran_hypergeometric_pdf((guint)x, (guint)ones, (guint)(n - ones),
                                            (guint)sizes[0]);
    out->p = fmin(1, p);
    out->exact = true;
    out->deals = most - least + 1;
}

/* Sizes in ascending order, and what counts as a hit. */
static void stat_deal_init(StatDeal *deal, const double *values, double mean, gsize n,
                           const gsize *sizes, int n_groups, double between, double squares)
{
    *deal = (StatDeal){.values = g_new(double, n),
                       .n = n,
                       .sizes = g_new(gsize, n_groups),
                       .sums = g_new0(double, n_groups),
                       .n_groups = n_groups,
                       .least = between - STAT_PERMUTATION_EQUAL * squares};
    for (gsize i = 0; i < n; i++)
        deal->values[i] = values[i] - mean;
    for (int g = 0; g < n_groups; g++) {
        int at = g;
        for (; at > 0 && deal->sizes[at - 1] > sizes[g]; at--)
            deal->sizes[at] = deal->sizes[at - 1];
        deal->sizes[at] = sizes[g];
    }
}

static void stat_permutation_deal(StatDeal *deal, gsize resamples, uint32_t seed,
                                  LfStatPermutation *out)
{
    out->exact = stat_deal_number(deal) > 0;
    if (out->exact) {
        deal->taken = g_new0(bool, deal->n);
        stat_deal_all(deal, 0, deal->sizes[0], 0);
        out->p = (double)deal->hits / (double)deal->deals;
    } else {
        stat_deal_draw(deal, resamples, seed);
        out->p = ((double)deal->hits + 1) / ((double)deal->deals + 1);
        out->p_error = sqrt(out->p * (1 - out->p) / (double)deal->deals);
    }
    out->deals = deal->deals;
}

bool lf_stat_permutation(const double *values, const int *groups, gsize n, int n_groups,
                         gsize resamples, uint32_t seed, LfStatPermutation *out, GError **error)
{
    g_autofree gsize *sizes = g_new0(gsize, MAX(n_groups, 1));
    g_autofree double *sums = g_new0(double, MAX(n_groups, 1));
    if (!stat_check_resamples(resamples, error) || !stat_check_values(values, n, error) ||
        !stat_check_groups(groups, n, n_groups, 2, sizes, error))
        return false;
    if (n > G_MAXINT32)
        return stat_fail(error, LF_ERROR_USAGE, "%zu values are too many", n);
    if (stat_all_same(values, n))
        return stat_fail(error, LF_ERROR_INPUT, "all values are the same");
    double mean = stat_mean(values, n), squares = stat_squares(values, n, mean);
    for (gsize i = 0; i < n; i++)
        sums[groups[i]] += values[i] - mean;
    double between = stat_deal_between(sums, sizes, n_groups);
    LfStatPermutation result = {.statistic = n_groups == 2 ? sums[0] / (double)sizes[0] -
                                                                 sums[1] / (double)sizes[1]
                                                           : fmin(1, between / squares)};
    if (n_groups == 2 && stat_permutation_is_binary(values, n)) {
        stat_permutation_binary(values, groups, n, sizes, &result);
    } else {
        g_auto(StatDeal) deal = {0};
        stat_deal_init(&deal, values, mean, n, sizes, n_groups, between, squares);
        stat_permutation_deal(&deal, resamples, seed, &result);
    }
    *out = result;
    return true;
}
