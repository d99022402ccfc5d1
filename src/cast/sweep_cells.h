/* The inside of an LfSweep: what sweep.c gathers from frames and sweep_teach.c makes depths of. */
#ifndef LF_CAST_SWEEP_CELLS_H
#define LF_CAST_SWEEP_CELLS_H

#include "cast/sweep.h"
#include "cast/sweep_patch.h"

#define LF_SWEEP_BINS 128

typedef struct {
    int index;      /* of the relief's cell */
    LfPoint anchor; /* its middle, photo px */
    int views;
    bool out[LF_SWEEP_BINS];  /* depths that are not tried any more */
    int score[LF_SWEEP_BINS]; /* sums over views, LF_SWEEP_WHOLE for an agreement of 1 */
} LfSweepCell;

struct LfSweep {
    const LfPhoto *photo;
    LfReliefCamera camera;
    LfReliefGrid grid;
    double from, step; /* of z, photo px */
    GMutex lock;       /* guards the cells' views and scores */
    LfSweepCell *cells;
    int n_cells;
};

#endif
