/* One chunk of one walk: frames in, poses and samples out, on one thread. */
#ifndef LF_CAST_CHUNK_H
#define LF_CAST_CHUNK_H

#include <lookfall/cast.h>

#include "cast/place.h"
#include "cast/tracker.h"

typedef struct {
    GArray *placed; /* LfPlaced, by sample */
    GArray *poses;  /* LfPoseCast, by time, then photo */
    int64_t frames, damaged;
    int64_t end_us; /* where the video broke off, or LF_NO_TIME */
} LfChunkOutput;

void lf_chunk_output_init(LfChunkOutput *output);
void lf_chunk_output_clear(LfChunkOutput *output);

/* Told after each frame; false stops the chunk (lf_chunk_cast then fails with *error unset). */
typedef bool (*LfChunkTick)(int64_t frames, int64_t t_us, void *data);

/* Finds the photos in the window's newest frame. */
typedef void (*LfChunkAdvance)(LfWindow *window, void *data);

typedef struct {
    LfPhoto *const *photos;
    int n_photos;
    LfTracker *tracker; /* of the same photos */
    LfWindow **window;  /* kept from chunk to chunk by the caller, who frees it; NULL at first */
    LfVideo *video;
    const LfCastWalk *walk;
    const LfChunkSpan *span;
    const LfCastSettings *settings;
    int64_t lead_us;        /* frames so long before the span are looked at as well */
    LfChunkAdvance advance; /* NULL: the tracker's own */
    void *advance_data;
    LfChunkTick tick;
    void *tick_data;
} LfChunkTask;

bool lf_chunk_cast(const LfChunkTask *task, LfChunkOutput *output, GError **error);

#endif
