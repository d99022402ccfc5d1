/* The mappings of a tied stretch that are found going backwards in time: a list by time, and the
 * pass that fills it, block by block of frames decoded again from key frames. */
#ifndef LF_CAST_TIE_BACK_H
#define LF_CAST_TIE_BACK_H

#include <lookfall/tie.h>

#include "cast/tracker.h"

typedef struct {
    int64_t t_us;
    LfMat3 frame_from_photo; /* undistorted */
} LfTieMap;

/* A tied frame with its pose. */
typedef struct {
    int64_t t_us; /* of the frame */
    int first, n; /* its ties, in the list ordered by time */
    bool refined;
    bool trust; /* the picture speaks for the ties (tie_follow.h) */
    double miss_deg;
    LfPose pose;
} LfTieAnchor;

/* Told of each frame: done counts those of the stretch, and is 0 for others that are only decoded.
 * False stops. */
typedef bool (*LfTieTick)(int done, void *data);

typedef struct {
    const LfTieTask *task;
    LfTracker *tracker;
    LfWindow *window; /* of one photo; the larger, the less is decoded twice */
    LfVideo *video;
    LfTieTick tick;
    void *tick_data;
} LfTieBack;

/* The key frame to decode from so that what comes before `before_us` is seen. */
int64_t lf_tie_key(const LfCastWalk *walk, int64_t before_us);
/* Empties the window and fills it with the last frames that come at or before until_us, decoded
 * from key_us on. False with *error unset where the tick said stop. */
bool lf_tie_load(LfTieBack *back, int64_t key_us, int64_t until_us, GError **error);
/* Follows the photo from the anchor back to stop_us (not beyond it) and adds what is found to
 * `maps` (LfTieMap). */
bool lf_tie_back(LfTieBack *back, const LfTieAnchor *anchor, int64_t stop_us, GArray *maps,
                 GError **error);

#endif
