/* Two sequences of areas against each other.
 *
 * Distance: V. I. Levenshtein, "Binary codes capable of correcting deletions, insertions, and
 * reversals", Soviet Physics Doklady 10 (1966) 707-710. Alignment: S. B. Needleman, C. D. Wunsch,
 * "A general method applicable to the search for similarities in the amino acid sequence of two
 * proteins", Journal of Molecular Biology 48 (1970) 443-453, doi:10.1016/0022-2836(70)90057-4, in
 * its usual form with one score for each element left out. Both keep two rows of the table. */
#include <lookfall/measure.h>

#include <math.h>

gsize lf_sequence_distance(const int *a, gsize n_a, const int *b, gsize n_b)
{
    g_autofree gsize *row = g_new(gsize, n_b + 1);
    for (gsize j = 0; j <= n_b; j++)
        row[j] = j;
    for (gsize i = 1; i <= n_a; i++) {
        gsize diagonal = row[0];
        row[0] = i;
        for (gsize j = 1; j <= n_b; j++) {
            gsize swap = diagonal + (a[i - 1] != b[j - 1]);
            gsize leave = MIN(row[j], row[j - 1]) + 1;
            diagonal = row[j];
            row[j] = MIN(swap, leave);
        }
    }
    return row[n_b];
}

LfAlignScores lf_align_scores_default(void)
{
    return (LfAlignScores){.match = 1, .mismatch = -1, .gap = -1};
}

double lf_sequence_align(const int *a, gsize n_a, const int *b, gsize n_b,
                         const LfAlignScores *scores)
{
    g_autofree double *row = g_new(double, n_b + 1);
    for (gsize j = 0; j <= n_b; j++)
        row[j] = (double)j * scores->gap;
    for (gsize i = 1; i <= n_a; i++) {
        double diagonal = row[0];
        row[0] = (double)i * scores->gap;
        for (gsize j = 1; j <= n_b; j++) {
            double pair = diagonal + (a[i - 1] == b[j - 1] ? scores->match : scores->mismatch);
            double leave = fmax(row[j], row[j - 1]) + scores->gap;
            diagonal = row[j];
            row[j] = fmax(pair, leave);
        }
    }
    return row[n_b];
}
