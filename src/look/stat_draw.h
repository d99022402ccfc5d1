/* One resample of the bootstrap. */
#ifndef LF_LOOK_STAT_DRAW_H
#define LF_LOOK_STAT_DRAW_H

#include "look/stat.h"

/* Whether so many values can carry an interval of this level: every resample's centre lies between
 * the smallest and the largest value, and these hold the median of what is sampled in 1 - 2^(1 - n)
 * of all samples only. LF_ERROR_INPUT where that is less than the level. */
bool stat_draw_check(gsize n, double level, GError **error);
/* The centre of n values drawn with replacement from n ascending ones; counts takes n numbers. */
double stat_draw_centre(const double *sorted, gsize n, LfStatCentre centre, gsl_rng *rng,
                        guint *counts);

#endif
