/* Following the one photo of a tied stretch, frame by frame in either direction of time. */
#ifndef LF_CAST_TIE_FOLLOW_H
#define LF_CAST_TIE_FOLLOW_H

#include "cast/tracker.h"

/* What is carried over frames in which the photo cannot be seen. */
typedef struct {
    bool has;       /* a mapping is carried */
    LfMat3 carried; /* frame_from_photo in the last frame, moved as the whole picture moved */
    int frames;     /* carried for so many frames */
    int unseen;     /* frames since the photo was last seen */
} LfTieCarry;

/* The pose of `frame` from its neighbour `near` and the one beyond, `far` (may be NULL), which are
 * earlier or later. Gives whether there is one; *carry is brought up to date either way. search:
 * where all else fails, the frame may be searched. */
bool lf_tie_follow(LfTracker *tracker, LfTieCarry *carry, LfWindowFrame *frame,
                   const LfWindowFrame *near, const LfWindowFrame *far, bool search);

#endif
