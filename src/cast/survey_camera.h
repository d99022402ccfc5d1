/* Where a photo was taken from, by what views of it leave unexplained.
 *
 * What stands behind the plane is seen in the photo along the rays of the photo's own camera. With
 * the camera at m + (0, 0, -d) a point of the photo p whose depth is z stands at
 * p + z (p - m) / d. If it was taken from elsewhere, what is found in a frame lies off from what
 * the relief foretells, by z (a (p - m) + b) along the plane, with a = change of 1 / d, and b that
 * of -m / d. These three follow by weighted least squares from all patches of all views; what lies
 * along the way the point moves with its depth is left out, since it may be an error of the depth.
 */
#ifndef LF_CAST_SURVEY_CAMERA_H
#define LF_CAST_SURVEY_CAMERA_H

#include "cast/pose.h"

/* Normal equations: aa ab ac bb bc cc, and right sides. */
typedef struct {
    double n[6], r[3];
    double points; /* sum of weights */
} LfCameraSums;

/* Adds what a pose, fitted with the relief, says. */
void lf_camera_sums_add(LfCameraSums *sums, const LfRelief *relief, const LfPose *pose,
                        const LfLens *lens);
/* Adds other sums. */
void lf_camera_sums_join(LfCameraSums *sums, const LfCameraSums *other);
/* The camera they speak for; the one given where they say too little. side: the photo's longer one,
 * px. */
LfReliefCamera lf_camera_sums_solve(const LfCameraSums *sums, LfReliefCamera camera, double side);

#endif
