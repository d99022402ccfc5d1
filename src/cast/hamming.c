/* Brute-force Hamming matching, with the processor's popcount where it has one. */
#include "cast/hamming.h"

#include <string.h>

enum { HAMMING_WORDS = 4, HAMMING_MAX_K = 16 };

/* Puts (train, bits) into the ascending list; gives the distance from which on nothing enters. */
static int hamming_insert(LfShimMatch *list, int *n, int k, int train, int bits)
{
    int at = *n < k ? (*n)++ : k - 1;
    while (at > 0 && list[at - 1].distance > (float)bits) {
        list[at] = list[at - 1];
        at--;
    }
    list[at] = (LfShimMatch){train, (float)bits};
    return *n < k ? 257 : (int)list[k - 1].distance;
}

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
__attribute__((target_clones("popcnt", "default")))
#endif
void lf_hamming_match(const uint8_t *query, int n_query, const uint8_t *train, int n_train, int k,
                      LfShimMatch *matches)
{
    for (int i = 0; i < n_query; i++) {
        uint64_t q[HAMMING_WORDS];
        LfShimMatch list[HAMMING_MAX_K];
        int n = 0, limit = 257;
        memcpy(q, query + (size_t)i * sizeof q, sizeof q);
        for (int j = 0; j < n_train; j++) {
            uint64_t t[HAMMING_WORDS];
            memcpy(t, train + (size_t)j * sizeof t, sizeof t);
            int bits = __builtin_popcountll(q[0] ^ t[0]) + __builtin_popcountll(q[1] ^ t[1]) +
                       __builtin_popcountll(q[2] ^ t[2]);
            if (bits >= limit) /* nearly always */
                continue;
            bits += __builtin_popcountll(q[3] ^ t[3]);
            if (bits < limit)
                limit = hamming_insert(list, &n, k, j, bits);
        }
        for (int j = 0; j < k; j++)
            matches[i * k + j] = j < n ? list[j] : (LfShimMatch){-1, 0};
    }
}
