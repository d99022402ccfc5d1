/* Which corners of the photo to look for in a frame, and how each will look there. */
#ifndef LF_CAST_SELECT_H
#define LF_CAST_SELECT_H

#include "cast/follow.h"

typedef struct {
    LfPoint photo;    /* photo px */
    LfPoint at;       /* where it is expected: plane px, as shown */
    LfPoint shift_px; /* of it, by the relief, against the photo's plane: undistorted frame px */
    double shift_sigma_px;
    LfReliefSpot spot;          /* by which that was worked out, where there is a relief */
    double photo_from_plane[4]; /* local affine part: photo px per plane px */
} LfSelected;

typedef struct {
    double cell_px; /* plane px; at most per_cell corners in each cell of this size */
    int per_cell;
    int max;
    double focus_radius_px; /* plane px around focus points in which more corners are taken */
    int focus_max;          /* at most so many more; 0 for none */
} LfSelectPlan;

/* Corners whose photo octave fits the local scale, the strongest of each cell. Gives their number;
 * out takes plan->max + plan->focus_max. */
int lf_select_points(const LfFollowTask *task, const LfMat3 *frame_from_photo, const LfPlane *plane,
                     const LfSelectPlan *plan, LfSelected *out);

/* Frame px per photo px where the photo's visible middle is. */
double lf_select_scale(const LfMat3 *frame_from_photo, const LfLens *lens, const LfPhoto *photo);

#endif
