/* Loops over grey levels run twice as fast with the wider vectors of newer processors. A function
 * marked LF_WIDE is compiled for both and chosen when the program starts; what it calls within must
 * be part of it: LF_WIDE_PART. Bits are the same either way: nothing is fused, and sums run in
 * lanes that are added up in fixed order. */
#ifndef LF_CAST_WIDE_H
#define LF_CAST_WIDE_H

#if defined(__GNUC__)
#define LF_WIDE_PART static inline __attribute__((always_inline))
#else
#define LF_WIDE_PART static inline
#endif

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
#define LF_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define LF_WIDE
#endif

#endif
