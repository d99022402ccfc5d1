/* Random numbers that are the same on every machine: xoshiro256** seeded by splitmix64.
 *
 * Sources: D. Blackman, S. Vigna, "Scrambled linear pseudorandom number generators", ACM TOMS 47
 * (2021), doi:10.1145/3460772. Each part of a scene draws from a stream of its own, so that a
 * change in one part leaves the others as they were. */
#ifndef LOOKFALL_DEMO_RNG_H
#define LOOKFALL_DEMO_RNG_H

#include <stdbool.h>
#include <stdint.h>

typedef struct {
    uint64_t s[4];
} LrRng;

/* The stream called `stream` (any words) of this seed. */
LrRng lr_rng_new(uint64_t seed, const char *stream);
uint64_t lr_rng_next(LrRng *rng);
/* Evenly in [lo, hi). */
double lr_rng_uniform(LrRng *rng, double lo, double hi);
/* Evenly among lo..hi, both included. */
int lr_rng_int(LrRng *rng, int lo, int hi);
bool lr_rng_chance(LrRng *rng, double probability);
/* Mean 0, standard deviation 1. */
double lr_rng_normal(LrRng *rng);
/* -1 or 1. */
double lr_rng_side(LrRng *rng);
/* A well-mixed number from two. */
uint64_t lr_rng_mix(uint64_t a, uint64_t b);

#endif
