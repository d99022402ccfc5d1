/* Rivals of a pose: other places on the photo that explain the frame nearly as well.
 *
 * They are gathered while a photo is located and while a pose is held against the photo's own
 * repeats, and stay with the pose through following until the next check. */
#ifndef LF_CAST_RIVALS_H
#define LF_CAST_RIVALS_H

#include "cast/pose.h"

/* Places looked at: hypotheses of the features and repeats by the photo's pitches. */
#define LF_RIVALS_SEEN 32

typedef struct {
    LfMat3 photo_from_frame;
    double score; /* lf_locate_score */
} LfRivalSeen;

typedef struct {
    LfRivalSeen seen[LF_RIVALS_SEEN];
    int n;
} LfRivalList;

/* Beyond LF_RIVALS_SEEN the weakest is dropped. */
void lf_rivals_add(LfRivalList *list, const LfPose *pose, double score);
/* Sets pose->rivals from all of the list that put the frame elsewhere than the pose does, against
 * the pose's own score: each place once, strongest first. pose->rival becomes the strength of the
 * strongest, 0..1, and 1 where the pose itself is worth nothing. */
void lf_rivals_take(LfPose *pose, const LfPhoto *photo, const LfRivalList *list, double own_score);
/* A followed pose has the rivals of the one it was followed from. */
void lf_rivals_keep(LfPose *pose, const LfPose *prior);

#endif
