/* What the geometry tests share: comparisons that print both numbers, and random numbers with a
 * fixed seed. */
#ifndef LOOKFALL_TESTS_GEOMETRY_CHECK_H
#define LOOKFALL_TESTS_GEOMETRY_CHECK_H

#include <lookfall/geometry.h>

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* Fails for NaN too. */
#define check_near(value, expected, tolerance)                                                     \
    do {                                                                                           \
        double check_v = (value), check_e = (expected), check_t = (tolerance);                     \
        if (!(fabs(check_v - check_e) <= check_t)) {                                               \
            fail_msg("%s = %.17g, expected %.17g within %g", #value, check_v, check_e, check_t);   \
        }                                                                                          \
    } while (0)

static inline double check_gauss(GRand *rand)
{
    /* Box and Muller; 1 - u is never 0 */
    double u = 1 - g_rand_double(rand), v = g_rand_double(rand);
    return sqrt(-2 * log(u)) * cos(2 * G_PI * v);
}

static inline LfPoint check_point(GRand *rand, double width, double height)
{
    return (LfPoint){g_rand_double_range(rand, 0, width), g_rand_double_range(rand, 0, height)};
}

#endif
