/* Random numbers that are the same on every machine; see rng.h. */
#include "rng.h"

#include <math.h>

#include <glib.h>

static uint64_t rng_splitmix(uint64_t *state)
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static uint64_t rng_rotl(uint64_t x, int k)
{
    return (x << k) | (x >> (64 - k));
}

uint64_t lr_rng_mix(uint64_t a, uint64_t b)
{
    uint64_t state = a ^ rng_rotl(b * 0xd6e8feb86659fd93u, 32);
    rng_splitmix(&state);
    return rng_splitmix(&state);
}

LrRng lr_rng_new(uint64_t seed, const char *stream)
{
    /* FNV-1a over the stream's name. */
    uint64_t hash = 0xcbf29ce484222325u;
    for (const char *c = stream; *c; c++)
        hash = (hash ^ (uint8_t)*c) * 0x100000001b3u;
    uint64_t state = lr_rng_mix(seed, hash);
    LrRng rng;
    for (int i = 0; i < 4; i++)
        rng.s[i] = rng_splitmix(&state);
    return rng;
}

uint64_t lr_rng_next(LrRng *rng)
{
    uint64_t *s = rng->s;
    uint64_t result = rng_rotl(s[1] * 5, 7) * 9, t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = rng_rotl(s[3], 45);
    return result;
}

double lr_rng_uniform(LrRng *rng, double lo, double hi)
{
    return lo + (hi - lo) * (double)(lr_rng_next(rng) >> 11) * 0x1.0p-53;
}

int lr_rng_int(LrRng *rng, int lo, int hi)
{
    return lo + (int)lr_rng_uniform(rng, 0, hi - lo + 1);
}

bool lr_rng_chance(LrRng *rng, double probability)
{
    return lr_rng_uniform(rng, 0, 1) < probability;
}

double lr_rng_normal(LrRng *rng)
{
    /* Box and Muller; the second value is dropped so that a draw is always two numbers. */
    double u = 1 - lr_rng_uniform(rng, 0, 1), v = lr_rng_uniform(rng, 0, 1);
    return sqrt(-2 * log(u)) * cos(2 * G_PI * v);
}

double lr_rng_side(LrRng *rng)
{
    return lr_rng_chance(rng, 0.5) ? 1 : -1;
}
