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
/* What is known of a photo's relief; valid until the tracker is freed, grows with each advance. */
const LfRelief *lf_tracker_relief(const LfTracker *tracker, int photo);
/* Finds the photos in the window's newest frame; also fills frames before it. */
void lf_tracker_advance(LfTracker *tracker, LfWindow *window);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfTracker, lf_tracker_free)

#endif
