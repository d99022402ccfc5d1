/* Markov chains and comparison of sequences against published examples. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/measure.h>

static void near(const char *what, double is, double wanted, double tolerance)
{
    if (isnan(is) != isnan(wanted) || fabs(is - wanted) > tolerance)
        fail_msg("%s: %.9g, not %.9g", what, is, wanted);
}

/* C. M. Grinstead, J. L. Snell, "Introduction to Probability", 2nd ed. (AMS 1997), example 11.1,
 * the Land of Oz (after Kemeny, Snell and Thompson): rain, nice, snow; its fixed vector is
 * (2/5, 1/5, 2/5) (example 11.19). Entropies from these by hand: two rows of 1.5 bits and one of 1
 * bit. */
static void test_oz(void **state)
{
    (void)state;
    static const double counts[] = {2, 1, 1, 2, 0, 2, 1, 1, 2};
    static const double p[] = {0.5, 0.25, 0.25, 0.5, 0, 0.5, 0.25, 0.25, 0.5};
    g_autoptr(LfChain) chain = lf_chain_new(counts, 3);
    for (int i = 0; i < 9; i++)
        near("probability", chain->probability[i], p[i], 1e-15);
    near("rain", chain->stationary[0], 0.4, 1e-15);
    near("nice", chain->stationary[1], 0.2, 1e-15);
    near("snow", chain->stationary[2], 0.4, 1e-15);
    near("stationary", chain->stationary_bit, -0.8 * log2(0.4) - 0.2 * log2(0.2), 1e-14);
    near("transition", chain->transition_bit, 0.8 * 1.5 + 0.2 * 1, 1e-14);
    near("share", chain->transition_share, 1.4 / log2(3), 1e-14);
    assert_int_equal(chain->filled, 0);
}

/* T. M. Cover, J. A. Thomas, "Elements of Information Theory", section 4.1: two states that are
 * left with probabilities a and b have the stationary distribution (b, a) / (a + b) (equation
 * 4.10 in the first edition), and the entropy rate (b H(a) + a H(b)) / (a + b). */
static void test_two_states(void **state)
{
    (void)state;
    for (int a = 1; a < 10; a++)
        for (int b = 1; b < 10; b++) {
            const double counts[] = {10 - a, a, b, 10 - b};
            double p = a / 10.0, q = b / 10.0;
            double h_p = -p * log2(p) - (1 - p) * log2(1 - p);
            double h_q = -q * log2(q) - (1 - q) * log2(1 - q);
            g_autoptr(LfChain) chain = lf_chain_new(counts, 2);
            near("stationary", chain->stationary[0], q / (p + q), 1e-15);
            near("rate", chain->transition_bit, (q * h_p + p * h_q) / (p + q), 1e-14);
        }
}

/* The same book, problem "random walk on a chessboard": a king on a board of 3 x 3 has the entropy
 * rate 2.24 bits (value from memory), as its stationary distribution goes with the number of moves
 * from a square: 3, 5 and 8 of 40. */
static void test_king(void **state)
{
    (void)state;
    double counts[81] = {0};
    for (int i = 0; i < 9; i++)
        for (int j = 0; j < 9; j++)
            counts[i * 9 + j] = i != j && abs(i / 3 - j / 3) <= 1 && abs(i % 3 - j % 3) <= 1;
    g_autoptr(LfChain) chain = lf_chain_new(counts, 9);
    near("corner", chain->stationary[0], 3 / 40.0, 1e-15);
    near("edge", chain->stationary[1], 5 / 40.0, 1e-15);
    near("middle", chain->stationary[4], 8 / 40.0, 1e-15);
    near("rate", chain->transition_bit, 2.24, 0.005);
}

static void test_edges(void **state)
{
    (void)state;
    /* Nothing at all. */
    g_autoptr(LfChain) none = lf_chain_new(NULL, 0);
    assert_true(isnan(none->transition_bit));
    /* One state that leads to itself: no choice, no share. */
    g_autoptr(LfChain) alone = lf_chain_new((const double[]){3}, 1);
    near("alone", alone->stationary[0], 1, 0);
    near("alone", alone->transition_bit, 0, 0);
    assert_true(isnan(alone->transition_share));
    /* Two states that are never left: many stationary distributions, so none is given. */
    g_autoptr(LfChain) apart = lf_chain_new((const double[]){1, 0, 0, 1}, 2);
    assert_true(isnan(apart->stationary[0]) && isnan(apart->transition_bit));
    near("but probabilities", apart->probability[0], 1, 0);
    /* The first state is left for good: the others swap. */
    g_autoptr(LfChain) transient = lf_chain_new((const double[]){0, 1, 0, 0, 0, 2, 0, 2, 0}, 3);
    near("left", transient->stationary[0], 0, 0);
    near("swapped", transient->stationary[1], 0.5, 1e-15);
    near("no choice", transient->transition_bit, 0, 1e-15);
    near("one bit", transient->stationary_bit, 1, 1e-15);
    /* The last state was never left and is taken to lead anywhere, by hand: p = ((0, 1), (1/2,
     * 1/2)), so pi = (1/3, 2/3), and the second row has one bit. */
    g_autoptr(LfChain) filled = lf_chain_new((const double[]){0, 1, 0, 0}, 2);
    assert_int_equal(filled->filled, 1);
    assert_true(isnan(filled->probability[2]));
    near("filled", filled->stationary[1], 2 / 3.0, 1e-15);
    near("filled", filled->transition_bit, 2 / 3.0, 1e-15);
}

/* Random chains: pi P = pi, and sums to 1. */
static void test_fixed(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(3);
    for (int round = 0; round < 100; round++) {
        gsize n = (gsize)g_rand_int_range(rand, 2, 30);
        g_autofree double *counts = g_new0(double, n *n);
        for (gsize i = 0; i < n * n; i++)
            counts[i] = g_rand_int_range(rand, 0, 4) ? 0 : g_rand_int_range(rand, 1, 9);
        for (gsize i = 0; i < n; i++) /* a ring keeps it in one piece */
            counts[i * n + (i + 1) % n] += 1;
        g_autoptr(LfChain) chain = lf_chain_new(counts, n);
        double all = 0;
        for (gsize j = 0; j < n; j++) {
            double to = 0;
            for (gsize i = 0; i < n; i++)
                to += chain->stationary[i] * chain->probability[i * n + j];
            near("fixed", to, chain->stationary[j], 1e-14);
            all += to;
        }
        near("sum", all, 1, 1e-13);
    }
}

static gsize letters(const char *text, int *codes)
{
    for (gsize i = 0; text[i]; i++)
        codes[i] = text[i];
    return strlen(text);
}

static void test_sequences(void **state)
{
    (void)state;
    static const struct {
        const char *a, *b;
        gsize distance;
        double score;
    } cases[] = {
        {"", "", 0, 0},
        {"abc", "", 3, -3},
        {"abc", "abc", 0, 3},
        {"abc", "abd", 1, 1},
        {"abc", "bc", 1, 1},
        /* By hand: b left out, a, b for d, c, d left out. */
        {"abcd", "badc", 3, -1},
        /* Common textbook examples. */
        {"kitten", "sitting", 3, 1},
        {"saturday", "sunday", 3, 2},
        /* The usual worked example of Needleman-Wunsch, with these scores: 0. */
        {"GCATGCG", "GATTACA", 4, 0},
    };
    LfAlignScores scores = lf_align_scores_default();
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        int a[32], b[32];
        gsize n_a = letters(cases[i].a, a), n_b = letters(cases[i].b, b);
        for (int swap = 0; swap < 2; swap++) {
            gsize distance =
                swap ? lf_sequence_distance(b, n_b, a, n_a) : lf_sequence_distance(a, n_a, b, n_b);
            double score = swap ? lf_sequence_align(b, n_b, a, n_a, &scores)
                                : lf_sequence_align(a, n_a, b, n_b, &scores);
            if (distance != cases[i].distance || score != cases[i].score)
                fail_msg("%s, %s: %zu, %g", cases[i].a, cases[i].b, distance, score);
        }
    }
}

/* With 0 for equals and -1 for all else, the best alignment is the distance with its sign turned.
 */
static void test_same(void **state)
{
    (void)state;
    const LfAlignScores scores = {0, -1, -1};
    g_autoptr(GRand) rand = g_rand_new_with_seed(8);
    for (int round = 0; round < 200; round++) {
        int a[40], b[40];
        gsize n_a = (gsize)g_rand_int_range(rand, 0, 41),
              n_b = (gsize)g_rand_int_range(rand, 0, 41);
        for (gsize i = 0; i < 40; i++) {
            a[i] = g_rand_int_range(rand, 0, 4);
            b[i] = g_rand_int_range(rand, 0, 4);
        }
        near("both", lf_sequence_align(a, n_a, b, n_b, &scores),
             -(double)lf_sequence_distance(a, n_a, b, n_b), 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_oz),    cmocka_unit_test(test_two_states),
        cmocka_unit_test(test_king),  cmocka_unit_test(test_edges),
        cmocka_unit_test(test_fixed), cmocka_unit_test(test_sequences),
        cmocka_unit_test(test_same),
    };
    return cmocka_run_group_tests_name("look/order", tests, NULL, NULL);
}
