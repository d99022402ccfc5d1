/* The exact answer: where a recorded gaze point's ray meets the world, and where that is on which
 * photo. Everything is found from geometry in double precision, nothing from rendered pixels. */
#ifndef LOOKFALL_DEMO_TRUTH_H
#define LOOKFALL_DEMO_TRUTH_H

#include "occluder.h"
#include "scene.h"

typedef enum {
    LR_TRUTH_LOST,
    LR_TRUTH_AWAY,
    LR_TRUTH_BLOCKED,
    LR_TRUTH_VISIBLE,
    LR_TRUTH_HIDDEN, /* on a surface of the shelf before which the photo shows another one */
    LR_TRUTH_BESIDE, /* on the floor or a wall that the photo shows around its shelf or sign */
} LrTruthState;

/* A place on a photo. */
typedef struct {
    int photo;            /* index, or -1 */
    double x, y;          /* photo px */
    double px_per_degree; /* how many photo px one degree of the walker's view is, there and then */
} LrTruthPlace;

typedef struct {
    LrTruthState state;
    LrTruthPlace at; /* where visible, hidden, beside, and blocked: of what is behind */
    LrTruthPlace
        also;     /* where another photo shows the same visible surface: a post between shelves */
    int occluder; /* part, or 0 */
} LrTruth;

const char *lr_truth_state_name(LrTruthState state);

/* Gaze at frame px (x, y) at time t; NaN is lost. */
LrTruth lr_truth_cast(const LrScene *scene, const LrLens *lens, const LrPath *path,
                      const LrOccluders *occluders, double t_s, double x, double y);

/* photo_from_frame for the fixture's front plane at time t: undistorted frame px (same camera
 * matrix) to photo px, row by row, h[8] = 1. False where no part of the photo is in the frame.
 * *visible_share: share of the photo's area that is in the frame and behind nothing. */
bool lr_truth_pose(const LrScene *scene, int photo, const LrLens *lens, const LrPath *path,
                   const LrOccluders *occluders, double t_s, double h[9], double *visible_share);

#endif
