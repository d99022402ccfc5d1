/* The inside of an LfRelief: what relief.c learns and relief_ray.c looks through. */
#ifndef LF_CAST_RELIEF_CELLS_H
#define LF_CAST_RELIEF_CELLS_H

#include "cast/relief.h"

typedef struct {
    double a[6]; /* information: uu uv uz vv vz zz */
    double b[3];
    double z, z_variance; /* as of the last settling */
    double off, off_seen; /* running sum of squared surprises, px^2 per axis, and of how many */
    double near_z;  /* z of the nearest cell that tells, its own where it does; relief_ray.c */
    double trust;   /* 0..1: probability that what is seen here stands at near_z */
    double vouched; /* trust as a survey told it; 0 where it did not */
    bool touched;
    bool fresh; /* since the last settling, and in LfRelief's list of these */
    bool barred;
} LfReliefCell;

struct LfRelief {
    int columns, rows;
    double cell_px;
    double side; /* the photo's longer one, px */
    LfReliefCamera camera;
    double sigma_z;
    double off_plane, off_relief; /* running sums of squared shifts against plane and relief */
    double seen;                  /* of how many */
    bool useful;
    bool surveyed; /* it was told by a survey, and `useful` is settled by that */
    LfReliefCell *cells;
    double *glance; /* z by cell where one is taken to stand, else 0: what is asked of thousands of
                     * places in each frame, and the cells are too large for the cache */
    int *fresh;     /* cells that learnt since the last settling */
    int n_fresh;
};

/* NULL off the photo. */
static inline LfReliefCell *lf_relief_cell(const LfRelief *relief, int column, int row)
{
    if (column < 0 || row < 0 || column >= relief->columns || row >= relief->rows)
        return NULL;
    return &relief->cells[row * relief->columns + column];
}

/* relief_ray.c: lays down for each cell which one that tells is nearest, and how far to trust it.
 */
void lf_relief_weigh(LfRelief *relief);
/* Of the eight cells around, how many tell that they stand where this one is taken to. */
int lf_relief_same(const LfRelief *relief, int cell);

#endif
