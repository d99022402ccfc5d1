/* For tests of measures, to be included after cmocka.h. */
#ifndef LF_TEST_EXPECT_H
#define LF_TEST_EXPECT_H

#include <math.h>

static inline void expect(const char *what, double is, double wanted)
{
    if (isnan(is) != isnan(wanted) || fabs(is - wanted) > 1e-9)
        fail_msg("%s: %.9g, not %.9g", what, is, wanted);
}

#endif
