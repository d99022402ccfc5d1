/* Small patches of the photo compared with a frame at many places each: what a sweep does most. */
#ifndef LF_CAST_SWEEP_PATCH_H
#define LF_CAST_SWEEP_PATCH_H

#include "cast/plane.h"

/* Side of the patch compared, px of the working image: small, so that at the edge of a pack what is
 * in the cell speaks and not what stands beside it; many frames make up for its size. */
#define LF_SWEEP_SIDE 8
#define LF_SWEEP_AREA (LF_SWEEP_SIDE * LF_SWEEP_SIDE)
/* Agreements are whole numbers, this for one of 1, so that the order in which they are added up
 * does not matter. */
#define LF_SWEEP_WHOLE 1000

/* Zero mean and unit norm, in whole numbers that fit the processor. */
typedef struct {
    int16_t t[LF_SWEEP_AREA];
    int32_t sum; /* of t: what rounding left of the mean */
} LfSweepPatch;

/* A frame made ready for comparing, as it is and moved by half a px along and across: between whole
 * px small patches of fine print agree too little to tell depths apart. */
#define LF_SWEEP_HALVES 4
typedef struct {
    const LfPlane *plane;
    int16_t *grey[LF_SWEEP_HALVES]; /* bit 0: half a px to the right; bit 1: down */
    bool wide;                      /* with the wider vectors of newer processors: same bits */
} LfSweepFrame;

/* plane is borrowed. */
void lf_sweep_frame_init(LfSweepFrame *frame, const LfPlane *plane);
void lf_sweep_frame_clear(LfSweepFrame *frame);

/* The patch of the source around `centre`, with steps of `a` (dsx/dx, dsx/dy, dsy/dx, dsy/dy);
 * false where that leaves the source. */
bool lf_sweep_patch_lay(LfSweepPatch *patch, const LfPlane *source, LfPoint centre,
                        const double a[4]);

/* Where a patch is held against the frame: its top left px there, in half px. The patch must lie
 * inside. */
typedef struct {
    int x, y;
} LfSweepPlace;

/* Normalised cross-correlation of the patch with the frame at each of n places. */
void lf_sweep_patch_compare(const LfSweepPatch *patch, const LfSweepFrame *frame,
                            const LfSweepPlace *place, int n, int *agreement);

#endif
