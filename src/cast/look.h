/* A look at the picture itself: does the frame show at a point what the photo shows there? */
#ifndef LF_CAST_LOOK_H
#define LF_CAST_LOOK_H

#include "cast/pose.h"

/* How much more the frame differs from the photo at a point (a window of about half a degree) than
 * patches that agree do: about 1 where the photo is seen, several where something is in front.
 * frame: px as shown; at: the point on the photo, from lf_pose_local. 1 where it cannot be told. */
double lf_look_mismatch(const LfPose *pose, const LfPhoto *photo, const LfFramePyramid *pyramid,
                        const LfLens *lens, LfPoint frame, LfPoint at);

#endif
