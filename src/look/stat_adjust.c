/* p adjusted for many tests. */
#include "look/stat.h"

#include <math.h>
#include <stdlib.h>

typedef struct {
    double p;
    gsize at;
} StatRank;

static int stat_adjust_compare(const void *a, const void *b)
{
    const StatRank *x = a, *y = b;
    return (x->p > y->p) - (x->p < y->p);
}

/* The tests that were made, p ascending; owned by the caller. NULL with an error. */
static StatRank *stat_adjust_rank(const double *p, gsize n, gsize *n_made, GError **error)
{
    g_autofree StatRank *ranks = g_new(StatRank, n + 1);
    *n_made = 0;
    for (gsize i = 0; i < n; i++) {
        if (isnan(p[i]))
            continue;
        if (p[i] < 0 || p[i] > 1) {
            stat_fail(error, LF_ERROR_USAGE, "p number %zu, %g, is not between 0 and 1", i + 1,
                      p[i]);
            return NULL;
        }
        ranks[(*n_made)++] = (StatRank){p[i], i};
    }
    qsort(ranks, *n_made, sizeof *ranks, stat_adjust_compare);
    return g_steal_pointer(&ranks);
}

/* Of m tests the one with the i-th smallest p is rejected only after all before it, each at
 * level / (m - i + 1): adjusted p is the largest of (m - j + 1) p(j) for j up to i. */
bool lf_stat_holm(const double *p, gsize n, double *adjusted, GError **error)
{
    gsize m = 0;
    g_autofree StatRank *ranks = stat_adjust_rank(p, n, &m, error);
    double largest = 0;
    if (!ranks)
        return false;
    for (gsize i = 0; i < n; i++)
        adjusted[i] = NAN;
    for (gsize i = 0; i < m; i++) {
        largest = fmax(largest, (double)(m - i) * ranks[i].p);
        adjusted[ranks[i].at] = fmin(1, largest);
    }
    return true;
}

/* All up to the largest i with p(i) <= (i / m) q are findings: adjusted p is the smallest of
 * (m / j) p(j) for j from i on. */
bool lf_stat_benjamini_hochberg(const double *p, gsize n, double *adjusted, GError **error)
{
    gsize m = 0;
    g_autofree StatRank *ranks = stat_adjust_rank(p, n, &m, error);
    double smallest = 1;
    if (!ranks)
        return false;
    for (gsize i = 0; i < n; i++)
        adjusted[i] = NAN;
    for (gsize i = m; i-- > 0;) {
        smallest = fmin(smallest, (double)m / (double)(i + 1) * ranks[i].p);
        adjusted[ranks[i].at] = smallest;
    }
    return true;
}
