/* First-order Markov chains from transition counts: K. Krejtz, T. Szmidt, A. T. Duchowski,
 * I. Krejtz, "Entropy-based statistical analysis of eye movement transitions", ETRA 2014, 159-166,
 * doi:10.1145/2578153.2578176; K. Krejtz et al., "Gaze transition entropy", ACM Transactions on
 * Applied Perception 13 (2015) 1:4, doi:10.1145/2834121.
 *
 * p_ij = n_ij / sum_j n_ij, stationary distribution pi = pi P, and in bits
 *   stationary entropy  Hs = - sum_i pi_i log2 pi_i
 *   transition entropy  Ht = - sum_i pi_i sum_j p_ij log2 p_ij
 * each also over log2 n, the most either can be.
 *
 * A state that is never left (often the last of a walk) has no row of probabilities; it is taken to
 * go anywhere equally often, 1/n. There is one stationary distribution where there is one set of
 * states that is never left again; outside it pi is 0. It is solved for inside that set without a
 * subtraction: W. K. Grassmann, M. I. Taksar, D. P. Heyman, "Regenerative analysis and steady state
 * distributions for Markov chains", Operations Research 33 (1985) 1107-1116,
 * doi:10.1287/opre.33.5.1107. */
#include <lookfall/measure.h>

#include <math.h>
#include <string.h>

/* Rows of probabilities, those without a transition as NaN; filled has them as 1/n. */
static void chain_probabilities(LfChain *chain, const double *counts, double *filled, gsize n)
{
    for (gsize i = 0; i < n; i++) {
        double sum = 0;
        for (gsize j = 0; j < n; j++)
            sum += counts[i * n + j];
        chain->filled += sum == 0;
        for (gsize j = 0; j < n; j++) {
            chain->probability[i * n + j] = sum > 0 ? counts[i * n + j] / sum : (double)NAN;
            filled[i * n + j] = sum > 0 ? counts[i * n + j] / sum : 1 / (double)n;
        }
    }
}

/* What can be reached from a state, itself included. */
static void chain_reach(const double *p, gsize n, gsize from, bool *reached)
{
    g_autoptr(GArray) open = g_array_new(FALSE, FALSE, sizeof(gsize));
    memset(reached, 0, n * sizeof *reached);
    reached[from] = true;
    g_array_append_val(open, from);
    while (open->len > 0) {
        gsize i = g_array_index(open, gsize, open->len - 1);
        g_array_set_size(open, open->len - 1);
        for (gsize j = 0; j < n; j++)
            if (p[i * n + j] > 0 && !reached[j]) {
                reached[j] = true;
                g_array_append_val(open, j);
            }
    }
}

/* The one set of states that is never left; false where there are several. The set of states that
 * every state can reach is that set, or empty. */
static bool chain_closed(const double *p, gsize n, bool *closed)
{
    g_autofree bool *reached = g_new(bool, MAX(n, 1));
    bool any = false;
    for (gsize j = 0; j < n; j++)
        closed[j] = true;
    for (gsize i = 0; i < n; i++) {
        chain_reach(p, n, i, reached);
        for (gsize j = 0; j < n; j++)
            closed[j] = closed[j] && reached[j];
    }
    for (gsize j = 0; j < n; j++)
        any = any || closed[j];
    return any;
}

/* pi of the closed states: eliminates them one by one from the last, then goes back. */
static void chain_solve(const double *p, gsize n, const bool *closed, double *pi)
{
    g_autofree gsize *state = g_new(gsize, n);
    gsize m = 0;
    for (gsize i = 0; i < n; i++) {
        pi[i] = 0;
        if (closed[i])
            state[m++] = i;
    }
    g_autofree double *a = g_new(double, m *m);
    for (gsize i = 0; i < m; i++)
        for (gsize j = 0; j < m; j++)
            a[i * m + j] = p[state[i] * n + state[j]];
    for (gsize k = m - 1; k > 0; k--) {
        double out = 0;
        for (gsize j = 0; j < k; j++)
            out += a[k * m + j];
        for (gsize i = 0; i < k; i++) {
            a[i * m + k] /= out;
            for (gsize j = 0; j < k; j++)
                a[i * m + j] += a[i * m + k] * a[k * m + j];
        }
    }
    double sum = 1;
    pi[state[0]] = 1;
    for (gsize k = 1; k < m; k++) {
        double value = 0;
        for (gsize i = 0; i < k; i++)
            value += pi[state[i]] * a[i * m + k];
        pi[state[k]] = value;
        sum += value;
    }
    for (gsize k = 0; k < m; k++)
        pi[state[k]] /= sum;
}

static double chain_bits(double p)
{
    return p > 0 ? -p * log2(p) : 0;
}

static void chain_entropies(LfChain *chain, const double *p, gsize n)
{
    double most = log2((double)n);
    chain->stationary_bit = chain->transition_bit = 0;
    for (gsize i = 0; i < n; i++) {
        double row = 0;
        for (gsize j = 0; j < n; j++)
            row += chain_bits(p[i * n + j]);
        chain->stationary_bit += chain_bits(chain->stationary[i]);
        chain->transition_bit += chain->stationary[i] * row;
    }
    if (n > 1) {
        chain->stationary_share = chain->stationary_bit / most;
        chain->transition_share = chain->transition_bit / most;
    }
}

LfChain *lf_chain_new(const double *counts, gsize n)
{
    LfChain *chain = g_new0(LfChain, 1);
    g_autofree double *filled = g_new(double, MAX(n * n, 1));
    g_autofree bool *closed = g_new(bool, MAX(n, 1));
    chain->probability = g_new(double, MAX(n * n, 1));
    chain->stationary = g_new(double, MAX(n, 1));
    chain->stationary_bit = chain->transition_bit = (double)NAN;
    chain->stationary_share = chain->transition_share = (double)NAN;
    for (gsize i = 0; i < n; i++)
        chain->stationary[i] = (double)NAN;
    chain_probabilities(chain, counts, filled, n);
    if (n > 0 && chain_closed(filled, n, closed)) {
        chain_solve(filled, n, closed, chain->stationary);
        chain_entropies(chain, filled, n);
    }
    return chain;
}

void lf_chain_free(LfChain *chain)
{
    if (!chain)
        return;
    g_free(chain->probability);
    g_free(chain->stationary);
    g_free(chain);
}
