/* Nearest neighbours of 256-bit descriptors by Hamming distance. */
#ifndef LF_CAST_HAMMING_H
#define LF_CAST_HAMMING_H

#include "shim.h"

/* As lf_shim_match for ORB, the same results: the k nearest of train for each query, the earlier
 * one first where distances are equal. Written here because the general matcher calls a function
 * per pair and takes four times as long (measured by tests/bench); searching for photos out of
 * sight is most of what the engine does besides decoding. k <= 16. */
void lf_hamming_match(const uint8_t *query, int n_query, const uint8_t *train, int n_train, int k,
                      LfShimMatch *matches);

#endif
