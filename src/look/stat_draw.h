/* One resample of the bootstrap. */
#ifndef LF_LOOK_STAT_DRAW_H
#define LF_LOOK_STAT_DRAW_H

#include "look/stat.h"

/* The centre of n values drawn with replacement from n ascending ones; counts takes n numbers. */
double stat_draw_centre(const double *sorted, gsize n, LfStatCentre centre, gsl_rng *rng,
                        guint *counts);

#endif
