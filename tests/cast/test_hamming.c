/* Our Hamming matcher against a second implementation: OpenCV's cv::BFMatcher, through the shim. */
#include "cast/scene.h"

#include <string.h>

#include "cast/hamming.h"

/* random: all bits at random, distances around 128. near: copies with few bits changed, so that
 * small and equal distances are common. same: one descriptor over and over, all distances equal. */
typedef enum { BITS_RANDOM, BITS_NEAR, BITS_SAME } HammingBits;

typedef struct {
    int n_query, n_train, k;
    HammingBits bits;
} HammingCase;

static const HammingCase HAMMING_CASES[] = {
    {50, 400, 1, BITS_RANDOM}, {50, 400, 3, BITS_RANDOM}, {50, 400, 16, BITS_RANDOM},
    {50, 400, 3, BITS_NEAR},   {50, 400, 16, BITS_NEAR},  {20, 30, 3, BITS_SAME},
    {10, 3, 3, BITS_RANDOM},   {10, 2, 3, BITS_RANDOM},   {10, 1, 16, BITS_NEAR},
    {10, 5, 16, BITS_SAME},    {1, 1, 1, BITS_RANDOM},
};

static uint8_t *hamming_fill(GRand *rand, int n, HammingBits bits)
{
    uint8_t *out = g_malloc((gsize)n * 32);
    for (int i = 0; i < n; i++) {
        uint8_t *d = out + (gsize)i * 32;
        for (int j = 0; j < 32; j++)
            d[j] = bits == BITS_RANDOM ? (uint8_t)g_rand_int_range(rand, 0, 256) : (uint8_t)(j * 7);
        for (int flip = 0; bits == BITS_NEAR && flip < 4; flip++)
            d[g_rand_int_range(rand, 0, 32)] ^= (uint8_t)(1U << g_rand_int_range(rand, 0, 8));
    }
    return out;
}

static void test_hamming_reference(void **state)
{
    (void)state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(7);
    for (gsize c = 0; c < G_N_ELEMENTS(HAMMING_CASES); c++) {
        const HammingCase *h = &HAMMING_CASES[c];
        g_autofree uint8_t *query = hamming_fill(rand, h->n_query, h->bits);
        g_autofree uint8_t *train = hamming_fill(rand, h->n_train, h->bits);
        gsize n = (gsize)h->n_query * (gsize)h->k;
        g_autofree LfShimMatch *ours = g_new(LfShimMatch, n);
        g_autofree LfShimMatch *theirs = g_new(LfShimMatch, n);
        char message[LF_SHIM_MESSAGE];
        lf_hamming_match(query, h->n_query, train, h->n_train, h->k, ours);
        assert_int_equal(
            lf_shim_match(LF_SHIM_ORB, query, h->n_query, train, h->n_train, h->k, theirs, message),
            LF_SHIM_OK);
        for (gsize i = 0; i < n; i++) {
            bool there = (int)(i % (gsize)h->k) < h->n_train;
            assert_int_equal(theirs[i].train >= 0, there);
            if (ours[i].train != theirs[i].train ||
                (there && ours[i].distance != theirs[i].distance))
                fail_msg("case %zu, match %zu: %d at %g, OpenCV has %d at %g", c, i, ours[i].train,
                         (double)ours[i].distance, theirs[i].train, (double)theirs[i].distance);
        }
    }
}

static void test_hamming_known(void **state)
{
    (void)state;
    uint8_t query[32] = {0}, train[4][32];
    LfShimMatch m[5];
    memset(train, 0, sizeof train);
    memset(train[0], 0xff, 32); /* 256 bits */
    train[1][31] = 0x81;        /* 2 bits */
    train[2][0] = 0x03;         /* 2 bits, after an equal one */
    train[3][5] = 0x10;         /* 1 bit */
    static const LfShimMatch expected[5] = {{3, 1}, {1, 2}, {2, 2}, {0, 256}, {-1, 0}};
    lf_hamming_match(query, 1, train[0], 4, 5, m);
    for (int i = 0; i < 5; i++) {
        assert_int_equal(m[i].train, expected[i].train);
        if (m[i].train >= 0)
            check_near((double)m[i].distance, (double)expected[i].distance, 0);
    }
    /* nothing to match with, nothing to match */
    lf_hamming_match(query, 1, NULL, 0, 5, m);
    for (int i = 0; i < 5; i++)
        assert_int_equal(m[i].train, -1);
    m[0].train = 99;
    lf_hamming_match(NULL, 0, train[0], 4, 5, m);
    assert_int_equal(m[0].train, 99);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_hamming_reference),
        cmocka_unit_test(test_hamming_known),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
