/* Locate: find photos in an image with no prior. */
#ifndef LF_CAST_LOCATE_H
#define LF_CAST_LOCATE_H

#include "cast/follow.h"

/* Features of one frame, found once for all photos. */
typedef struct {
    LfPoint *at; /* undistorted frame px */
    float *size; /* frame px */
    float *angle;
    uint8_t *descriptors; /* of the bank's kind */
    int n;
} LfFrameFeatures;

/* where: of the size of the frame's first level, 0 where none is wanted; may be NULL. */
bool lf_frame_features_find(LfFrameFeatures *features, const LfFramePyramid *frame,
                            const LfPlane *where, const LfLens *lens, LfShimKind kind, int max);
void lf_frame_features_clear(LfFrameFeatures *features);

/* bank: of task->photo, usually its own. True and a pose (rival filled in, since_locate 0) where
 * the photo is in the frame. focus: as in LfFollowTask, may be empty; task->predicted is not used.
 */
bool lf_locate(LfFollower *follower, const LfFollowTask *task, const LfBank *bank,
               const LfFrameFeatures *features, LfPose *pose);

/* What a pose is worth against another of the same photo: agreeing patches, less those that ought
 * to agree and do not. */
double lf_locate_score(const LfPose *pose);

/* Holds the pose against itself moved by the photo's own repeats: takes the better one and sets
 * the pose's rivals (rivals.h). */
void lf_locate_against_repeats(LfFollower *follower, const LfFollowTask *task, LfPose *pose);

#endif
