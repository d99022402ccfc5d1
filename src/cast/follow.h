/* Follow: refine a predicted pose against a frame, always anchored to the photo. */
#ifndef LF_CAST_FOLLOW_H
#define LF_CAST_FOLLOW_H

#include "cast/pose.h"
#include "cast/relief.h"

/* Gaze points of the frame, around which more patches are laid. */
#define LF_FOCUS_MAX 16

typedef struct {
    const LfPhoto *photo;
    int photo_index;
    const LfLens *lens;
    const LfFramePyramid *frame;
    LfMat3 predicted;            /* undistorted frame from photo */
    LfPoint focus[LF_FOCUS_MAX]; /* frame px, as shown */
    int n_focus;
    LfRelief *relief; /* of the photo; NULL for none */
    LfMat3 came_from; /* the mapping one frame ago, for blur */
    double exposure;  /* share of the frame interval that the shutter was open: patches are smeared
                       * as  the picture moved meanwhile; 0 for sharp ones */
    bool strict;      /* patches count only where they are expected, as for comparing positions */
} LfFollowTask;

typedef struct LfFollower LfFollower; /* scratch memory; one per thread */

LfFollower *lf_follower_new(void);
void lf_follower_free(LfFollower *follower);

/* True and a pose where the frame shows the photo there (enough patches agree). coarse: search
 * widely first; otherwise the prediction must be within some px of the working image. */
bool lf_follow(LfFollower *follower, const LfFollowTask *task, bool coarse, LfPose *pose);

/* What a pose that was taken says of the photo's relief; once per frame. */
void lf_follow_learn(LfRelief *relief, const LfPose *pose, const LfLens *lens);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfFollower, lf_follower_free)

#endif
