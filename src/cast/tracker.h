/* Keeps every photo of a study in view through a video: locate, follow, lose, fill backwards. */
#ifndef LF_CAST_TRACKER_H
#define LF_CAST_TRACKER_H

#include <lookfall/gaze.h>

#include "cast/locate.h"
#include "cast/window.h"

typedef struct LfTracker LfTracker;

/* photos are borrowed. */
LfTracker *lf_tracker_new(LfPhoto *const *photos, int n_photos);
void lf_tracker_free(LfTracker *tracker);
/* Forgets where the photos were: a new chunk starts. lens and samples are borrowed until the next
 * start; samples (frame px, ascending) say where to look closely. */
void lf_tracker_start(LfTracker *tracker, const LfLens *lens, const LfGazeSample *samples,
                      gsize n_samples);
/* From now on photos out of sight are searched for more often while another is in view: once they
 * were seen together, each tells where the other one is. */
void lf_tracker_search_often(LfTracker *tracker);
/* What is known of a photo's relief; valid until the tracker is freed, grows with each advance. */
const LfRelief *lf_tracker_relief(const LfTracker *tracker, int photo);
/* Finds the photos in the window's newest frame; also fills frames before it. */
void lf_tracker_advance(LfTracker *tracker, LfWindow *window);
/* For those who decide themselves what is followed from where (tie.c). Follows a photo from `near`
 * (and the frame beyond it, `far`, for the motion; may be NULL) into `frame`. */
bool lf_tracker_step(LfTracker *tracker, LfWindowFrame *frame, const LfWindowFrame *near,
                     const LfWindowFrame *far, int photo);
/* Refines a pose from a mapping of frame_from_photo. came_from: the pose one frame ago, for blur;
 * may be NULL. */
bool lf_tracker_refine(LfTracker *tracker, LfWindowFrame *frame, int photo, const LfMat3 *predicted,
                       const LfPose *came_from);
/* What a search of the frame needs to know. */
LfFollowTask lf_tracker_task(const LfTracker *tracker, const LfWindowFrame *frame, int photo);
LfFollower *lf_tracker_follower(LfTracker *tracker);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfTracker, lf_tracker_free)

#endif
