/* The pose of a tied frame: proposals from priors and features, moved to meet the ties, refined
 * against the picture where that agrees with them. */
#ifndef LF_CAST_TIE_POSE_H
#define LF_CAST_TIE_POSE_H

#include "cast/tie_fix.h"
#include "cast/tracker.h"

/* The photo is number 0 of the tracker. prior: frame_from_photo, may be NULL; same_frame: it is of
 * this very frame. *miss_deg: largest distance of a tie from where the pose, with what is known of
 * depth, has it. The pose goes to frame->pose[0]. False with no way to meet the ties (one tie and
 * the photo's size not known, or ties that contradict each other). */
bool lf_tie_pose(LfTracker *tracker, LfWindowFrame *frame, const LfTiePoint *ties, int n,
                 const LfMat3 *prior, bool same_frame, bool *refined, double *miss_deg);

#endif
