/* Parts of a photo that the video never shows: facings that were moved, sold or swapped since the
 * photo was taken.
 *
 * What stands in front for a moment hides a place now and shows it later; what has changed is never
 * there. So for each cell of a grid over the photo it is counted how often patches were looked for
 * under a firm pose, and how often they agreed. */
#ifndef LF_CAST_CHANGED_H
#define LF_CAST_CHANGED_H

#include "cast/pose.h"

typedef struct LfChanged LfChanged;

LfChanged *lf_changed_new(int width, int height); /* of the photo, px */
void lf_changed_free(LfChanged *changed);
/* One frame's pose, in order of time. */
void lf_changed_learn(LfChanged *changed, const LfPose *pose, int64_t t_us);
/* Whether the photo's texture around the point was missing all the time, and for long enough. */
bool lf_changed_at(const LfChanged *changed, LfPoint photo);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfChanged, lf_changed_free)

#endif
