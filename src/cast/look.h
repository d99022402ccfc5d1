/* A look at the picture itself: does the frame show at a point what the photo shows there? */
#ifndef LF_CAST_LOOK_H
#define LF_CAST_LOOK_H

#include "cast/pose.h"

typedef struct {
    double mismatch; /* how much more grey levels differ at the point than in patches that agree:
                      * about 1 where the photo is seen, several where something is in front */
    double missing;  /* 0..2: how much less the frame follows the photo's texture around the point
                      * than  patches that agree do; 0 where the photo has none there */
} LfLook;

/* frame: px as shown; at: the point on the photo; larger: how much larger the photo looks there
 * than by the pose (1, unless it has a relief). {1, 0} where it cannot be told. */
LfLook lf_look(const LfPose *pose, const LfPhoto *photo, const LfFramePyramid *pyramid,
               const LfLens *lens, LfPoint frame, LfPoint at, double larger);

#endif
