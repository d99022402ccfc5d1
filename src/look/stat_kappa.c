/* Cohen's kappa: agreement beyond chance. */
#include "look/stat.h"

#include <math.h>

/* Fleiss, Cohen, Everitt 1969, equation 13, the standard error for kappa other than 0. With shares
 * p[i][j], margins row and col, po observed and pc by chance:
 *   n (1 - pc)^4 var = sum_i p[i][i] ((1 - pc) - (col_i + row_i) (1 - po))^2
 *     + (1 - po)^2 sum_{i != j} p[i][j] (col_i + row_j)^2 - (po pc - 2 pc + po)^2 */
static double stat_kappa_variance(const double *p, const double *row, const double *col, int k,
                                  double po, double pc, double n)
{
    double sum = 0;
    for (int i = 0; i < k; i++)
        for (int j = 0; j < k; j++) {
            double weight =
                i == j ? (1 - pc) - (col[i] + row[i]) * (1 - po) : (1 - po) * (col[i] + row[j]);
            sum += p[i * k + j] * weight * weight;
        }
    double middle = po * pc - 2 * pc + po;
    /* full agreement gives 0 but for rounding */
    return fmax(0, sum - middle * middle) / (n * pow(1 - pc, 4));
}

bool lf_stat_kappa(const int *a, const int *b, gsize n, int n_categories, double level,
                   LfStatKappa *out, GError **error)
{
    if (!stat_check_level(level, error))
        return false;
    if (n == 0)
        return stat_fail(error, LF_ERROR_INPUT, "no values");
    if (n_categories < 1)
        return stat_fail(error, LF_ERROR_USAGE, "no categories");
    gsize k = (gsize)n_categories;
    g_autofree double *p = g_new0(double, k *k);
    g_autofree double *row = g_new0(double, k);
    g_autofree double *col = g_new0(double, k);
    for (gsize i = 0; i < n; i++) {
        if (a[i] < 0 || a[i] >= n_categories || b[i] < 0 || b[i] >= n_categories)
            return stat_fail(error, LF_ERROR_USAGE, "category of thing %zu is none of 0 to %d",
                             i + 1, n_categories - 1);
        p[(gsize)a[i] * k + (gsize)b[i]] += 1;
    }
    double count = (double)n, po = 0, pc = 0;
    for (gsize i = 0; i < k; i++) {
        for (gsize j = 0; j < k; j++) {
            p[i * k + j] /= count;
            row[i] += p[i * k + j];
            col[j] += p[i * k + j];
        }
        po += p[i * k + i];
    }
    for (gsize i = 0; i < k; i++)
        pc += row[i] * col[i];
    /* pc is 1 only where both used one and the same category throughout */
    if (pc > 1 - 1e-12)
        return stat_fail(error, LF_ERROR_INPUT, "both put everything into one category");
    double kappa = (po - pc) / (1 - pc);
    double deviation = sqrt(stat_kappa_variance(p, row, col, n_categories, po, pc, count));
    double reach = stat_z(level) * deviation;
    *out = (LfStatKappa){kappa, po, pc, deviation, {kappa - reach, fmin(1, kappa + reach)}};
    return true;
}
