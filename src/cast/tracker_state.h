/* The inside of an LfTracker: what tracker.c and tracker_neighbours.c share. */
#ifndef LF_CAST_TRACKER_STATE_H
#define LF_CAST_TRACKER_STATE_H

#include "cast/tracker.h"

/* A find that fewer patches agree with than this share is chance or a look-alike: right ones reach
 * 0.7 and more unless something stands in front (measured on the rendered walks). */
#define LF_TRACKER_MIN_SHARE 0.3
/* Where a photo is further than this share of the frame's width (0.8 degrees of 82) from where it
 * is by other evidence, one of both is wrong ... */
#define LF_TRACKER_APART 0.01
/* ... and the place that is supported by the other evidence is taken where it is at least so good.
 */
#define LF_TRACKER_NEAR 0.8
/* A followed pose under this share is shaky: it is searched for anew beside being followed. */
#define LF_TRACKER_SHAKY_SHARE 0.6

typedef struct {
    bool following;
    int tries;        /* searches since it was lost, or since it was last firm */
    int64_t next_try; /* frame number */
    int64_t next_by;  /* it is held against its neighbours from then on */
} LfTrackerPhoto;

struct LfTracker {
    LfPhoto *const *photos;
    int n_photos;
    LfTrackerPhoto *state;
    LfFollower *follower;
    double exposure;       /* share of the frame interval, as far as fast frames have told */
    LfRelief **relief;     /* one per photo, learnt on from the photo's own in every chunk */
    LfNeighbourSeen *seen; /* scratch, one per photo */
    int wait_beside;       /* frames between searches for a photo while another one is in view */
    const LfLens *lens;
    const LfGazeSample *samples;
    gsize n_samples;
};

static inline bool lf_tracker_firm(const LfWindowFrame *frame, int photo)
{
    return frame->has[photo] && frame->pose[photo].share_good >= LF_TRACKER_SHAKY_SHARE;
}

/* From the find in frame `number` back to where the photo was last seen as well as this. moved: it
 * was found in the wrong place before; then back to where it was in the right one, or was much
 * better. */
void lf_tracker_fill_back(LfTracker *tracker, LfWindow *window, int64_t number, int photo,
                          bool moved);
/* How far the visible part of the photo is from where another mapping has it, mean share of the
 * frame's width; negative where none of it is in the frame. */
double lf_tracker_apart(const LfTracker *tracker, int photo, const LfMat3 *frame_from_photo,
                        const LfMat3 *other);
/* Holds a photo of the window's newest frame against where its neighbours have it. False where it
 * need not be searched for: it is where they have it, or out of the picture, or hidden there. */
bool lf_tracker_ask_neighbours(LfTracker *tracker, LfWindow *window, int photo);

#endif
