/* Directions of gaze with the head's motion taken out. Internal to the library.
 *
 * A person who walks past a shelf and looks at one pack turns the eyes all the while: in the scene
 * video gaze moves, on the photo it rests. So a step of gaze is measured on the photo wherever both
 * its ends have a place there, and turned into degrees by the scale of the photo as it is seen from
 * there and then. Elsewhere it is measured in the scene camera's picture, and the head's motion
 * stays in. docs/fixations.md has the whole of it. */
#ifndef LF_LOOK_STEADY_H
#define LF_LOOK_STEADY_H

#include <lookfall/fixation.h>

typedef struct {
    int64_t t_us;
    LfPoint gaze_px; /* frame as shown; NaN where lost */
    int photo;       /* any number from 0 on that tells photos apart, or -1 */
    LfState state;
    LfPoint at_px;    /* on the photo; NaN where it has no place there */
    double radius_px; /* one standard error there */
} LfSteadySample;

typedef struct {
    int64_t t_us;
    int photo;
    LfMat3 photo_from_frame; /* from undistorted frame px */
} LfSteadyPose;

/* samples and poses in time order; n_photos over any photo's number. n directions, owned by the
 * caller (g_free). A sample without gaze is lost. */
LfDirection *lf_steady_directions(const LfSteadySample *samples, gsize n, const LfSteadyPose *poses,
                                  gsize n_poses, int n_photos, const LfLens *lens);

/* What a fixation lies on: the state of most of its samples (sure and placed count as one,
 * settled), the photo most of those are on, and the mean of those. photo_id is the photo's number +
 * 1, or 0; photo is not set. */
LfFixation lf_steady_fixation(const LfSteadySample *samples, const LfFixationSpan *span,
                              int n_photos);

#endif
