/* Where a gaze point falls on a photo with depth, by the pose and the relief. */
#ifndef LF_CAST_POSE_RELIEF_H
#define LF_CAST_POSE_RELIEF_H

#include "cast/pose.h"

typedef struct {
    LfPoint shift;    /* by the relief, undistorted frame px */
    double sigma_px;  /* one standard error of it */
    double z;         /* how far behind the plane what is there is taken to stand, photo px */
    double larger;    /* how much larger what is there looks than on the plane */
    double variance;  /* of the place, photo px^2 per axis: of which of several depths is seen */
    double elsewhere; /* 0..1: that it is one that puts the point further off than the tolerance */
    double rough_px;  /* how differently things around would shift, frame px */
} LfPoseRelief;

/* at: undistorted; near_px: the tolerance there, photo px. False where
 * the point has no place on the plane. */
bool lf_pose_on_relief(const LfPose *pose, const LfPoseView *view, LfPoint at, double near_px,
                       LfPoseRelief *out);

/* The surface z behind the plane that `at` falls on, at on_photo. */
LfPoseSurface lf_pose_surface(const LfPose *pose, const LfPoseView *view, LfPoint at,
                              LfPoint on_photo, double z);

#endif
