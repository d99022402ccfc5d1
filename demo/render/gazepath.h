/* Where a walker looks: fixations held against the head's motion, saccades, blinks, noise. */
#ifndef LOOKFALL_DEMO_GAZEPATH_H
#define LOOKFALL_DEMO_GAZEPATH_H

#include "occluder.h"
#include "scene.h"

/* What the eye tracker records. */
typedef struct {
    double t_s;
    double x, y; /* frame px, as recorded; NaN in blinks and drop-outs */
} LrGaze;

/* Samples at rate_hz from 0 to seconds; GArray of LrGaze. */
GArray *lr_gazepath_new(const LrScene *scene, uint64_t seed, const LrLens *lens, const LrPath *path,
                        const LrOccluders *occluders, double seconds, double rate_hz);

#endif
