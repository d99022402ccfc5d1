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

/* A rest of the eye as it was meant, without drift and noise. */
typedef struct {
    double from_s, to_s;
    double x, y; /* frame px half-way through it */
} LrRest;

/* Samples at rate_hz from 0 to seconds; GArray of LrGaze. *rests (may be NULL) takes a
 * GArray of the LrRest in them. */
GArray *lr_gazepath_new(const LrScene *scene, uint64_t seed, const LrLens *lens, const LrPath *path,
                        const LrOccluders *occluders, double seconds, double rate_hz,
                        GArray **rests);

#endif
