/* Log-rank test for two and more groups, and the hazard ratio that comes with it.
 *
 * At each time with d events among n at risk, n_g of them in group g, the expected number in g is
 * d n_g / n, and the covariance of the numbers in g and h, given the margins, is
 *   d (n - d) / (n - 1) (n_g / n) ([g = h] - n_h / n)
 * (J. P. Klein, M. L. Moeschberger, "Survival Analysis", 2nd ed., 2003, section 7.3). The test is
 * (O - E)' V^-1 (O - E) over all groups but the last, chi-square distributed. */
#include "look/stat.h"
#include "look/stat_times.h"

#include <math.h>
#include <stdlib.h>

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_linalg.h>

/* Pivots below this share of the largest count as nothing (common practice). */
#define STAT_LOG_RANK_TINY 1e-12

typedef struct {
    LfStatTime time;
    int group;
} StatMember;

typedef struct {
    gsize k;
    double *observed, *expected; /* k events */
    double *covariance;          /* k x k */
} StatLogRank;

static void stat_log_rank_clear(StatLogRank *sums)
{
    g_clear_pointer(&sums->observed, g_free);
    g_clear_pointer(&sums->expected, g_free);
    g_clear_pointer(&sums->covariance, g_free);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(StatLogRank, stat_log_rank_clear)

static int stat_log_rank_compare(const void *a, const void *b)
{
    double x = ((const StatMember *)a)->time.t, y = ((const StatMember *)b)->time.t;
    return (x > y) - (x < y);
}

/* One time with `events` events in all; at_risk: k numbers just before it. */
static void stat_log_rank_add(StatLogRank *sums, const gsize *at_risk, gsize all_at_risk,
                              gsize events)
{
    double n = (double)all_at_risk, d = (double)events;
    double scale = all_at_risk > 1 ? d * (n - d) / (n - 1) : 0;
    for (gsize g = 0; g < sums->k; g++) {
        double share = (double)at_risk[g] / n;
        sums->expected[g] += d * share;
        for (gsize h = 0; h < sums->k; h++)
            sums->covariance[g * sums->k + h] +=
                scale * share * ((g == h ? 1.0 : 0.0) - (double)at_risk[h] / n);
    }
}

static bool stat_log_rank_sum(const LfStatTime *times, const int *groups, gsize n, int n_groups,
                              StatLogRank *sums, GError **error)
{
    gsize k = (gsize)MAX(n_groups, 1);
    g_autofree gsize *at_risk = g_new0(gsize, k);
    if (!stat_check_times(times, n, error) ||
        !stat_check_groups(groups, n, n_groups, 2, at_risk, error))
        return false;
    g_autofree StatMember *members = g_new(StatMember, n);
    for (gsize i = 0; i < n; i++)
        members[i] = (StatMember){times[i], groups[i]};
    qsort(members, n, sizeof *members, stat_log_rank_compare);
    *sums = (StatLogRank){k, g_new0(double, k), g_new0(double, k), g_new0(double, k *k)};
    gsize all_events = 0;
    for (gsize i = 0; i < n;) {
        gsize end = i, events = 0;
        for (; end < n && members[end].time.t == members[i].time.t; end++)
            events += members[end].time.event;
        if (events > 0)
            stat_log_rank_add(sums, at_risk, n - i, events);
        for (; i < end; i++) {
            if (members[i].time.event)
                sums->observed[members[i].group] += 1;
            at_risk[members[i].group]--;
        }
        all_events += events;
    }
    return all_events > 0 || stat_fail(error, LF_ERROR_INPUT, "no event in any group");
}

/* x' V^-1 x for the first df of the kept groups; false where V is singular. */
static bool stat_log_rank_form(const StatLogRank *sums, const gsize *kept, gsize df, double *form)
{
    gsl_matrix *matrix = gsl_matrix_alloc(df, df);
    gsl_vector *difference = gsl_vector_alloc(df), *solution = gsl_vector_alloc(df);
    gsl_permutation *order = gsl_permutation_alloc(df);
    double largest = 0, smallest = INFINITY;
    int sign = 0;
    for (gsize i = 0; i < df; i++) {
        gsl_vector_set(difference, i, sums->observed[kept[i]] - sums->expected[kept[i]]);
        for (gsize j = 0; j < df; j++)
            gsl_matrix_set(matrix, i, j, sums->covariance[kept[i] * sums->k + kept[j]]);
    }
    gsl_linalg_LU_decomp(matrix, order, &sign);
    for (gsize i = 0; i < df; i++) {
        double pivot = fabs(gsl_matrix_get(matrix, i, i));
        largest = fmax(largest, pivot);
        smallest = fmin(smallest, pivot);
    }
    bool good = largest > 0 && smallest > STAT_LOG_RANK_TINY * largest;
    *form = 0;
    if (good) {
        gsl_linalg_LU_solve(matrix, order, difference, solution);
        for (gsize i = 0; i < df; i++)
            *form += gsl_vector_get(difference, i) * gsl_vector_get(solution, i);
    }
    gsl_permutation_free(order);
    gsl_vector_free(solution);
    gsl_vector_free(difference);
    gsl_matrix_free(matrix);
    return good;
}

bool lf_stat_log_rank(const LfStatTime *times, const int *groups, gsize n, int n_groups,
                      double *observed, double *expected, LfStatLogRank *out, GError **error)
{
    g_auto(StatLogRank) sums = {0};
    if (!stat_log_rank_sum(times, groups, n, n_groups, &sums, error))
        return false;
    g_autofree gsize *kept = g_new(gsize, sums.k);
    gsize n_kept = 0;
    for (gsize g = 0; g < sums.k; g++)
        if (sums.expected[g] > 0)
            kept[n_kept++] = g;
    double form = 0;
    if (n_kept < 2 || !stat_log_rank_form(&sums, kept, n_kept - 1, &form))
        return stat_fail(error, LF_ERROR_INPUT, "groups never at risk together");
    for (gsize g = 0; g < sums.k; g++) {
        if (observed)
            observed[g] = sums.observed[g];
        if (expected)
            expected[g] = sums.expected[g];
    }
    int df = (int)n_kept - 1;
    *out = (LfStatLogRank){form, df, gsl_cdf_chisq_Q(form, df)};
    return true;
}

bool lf_stat_hazard_ratio(const LfStatTime *times, const int *groups, gsize n, double level,
                          double *ratio, LfStatInterval *interval, GError **error)
{
    g_auto(StatLogRank) sums = {0};
    if (!stat_check_level(level, error) || !stat_log_rank_sum(times, groups, n, 2, &sums, error))
        return false;
    double variance = sums.covariance[0];
    if (!(variance > 0))
        return stat_fail(error, LF_ERROR_INPUT, "groups never at risk together");
    double log_ratio = (sums.observed[0] - sums.expected[0]) / variance;
    double reach = stat_z(level) / sqrt(variance);
    *ratio = exp(log_ratio);
    *interval = (LfStatInterval){exp(log_ratio - reach), exp(log_ratio + reach)};
    return true;
}
