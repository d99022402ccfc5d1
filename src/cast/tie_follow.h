/* Following the one photo of a tied stretch, frame by frame in either direction of time. */
#ifndef LF_CAST_TIE_FOLLOW_H
#define LF_CAST_TIE_FOLLOW_H

#include "cast/tracker.h"

/* What is known beside the last frame's pose. */
typedef struct {
    bool trust; /* the picture does not contradict the ties: then it may say that the pose slipped
                 * to a look-alike place on the way */
    bool unsettled; /* the picture moved fast or agreed badly since the last check for that */
    int since_check;
    int64_t settled_us; /* the last frame that was tied, checked, or came from elsewhere */
    bool has;           /* a mapping is carried over frames in which the photo cannot be seen */
    LfMat3 carried;     /* frame_from_photo in the last frame, moved as the whole picture moved */
    int frames;         /* carried for so many frames */
    int unseen;         /* frames since the photo was last seen */
} LfTieCarry;

/* The pose of the window's frame `number` from the frame before it in the direction of the way: 1
 * forwards, -1 backwards. Gives whether there is one; *carry is brought up to date either way.
 * search: where all else fails, the frame may be searched. Where the pose turns out to have slipped
 * to a look-alike place, it and the frames before it are set right. */
bool lf_tie_follow(LfTracker *tracker, LfTieCarry *carry, LfWindow *window, int64_t number,
                   int direction, bool search);
/* Whether the picture clearly speaks for a look-alike place rather than for the pose. */
bool lf_tie_contradicted(LfTracker *tracker, const LfWindowFrame *frame, const LfPose *pose);
/* The frame at t_us has a pose of its own: nothing is carried over it. */
void lf_tie_settled(LfTieCarry *carry, int64_t t_us);

#endif
