/* Frames on demand: one thread decodes what is asked for, then what will be asked for next.
 *
 * A frame is found by the time it is shown at, from the list of all frames: never by a player's own
 * seeking. Decoding begins at the key frame before it, or goes on from where the video's reader
 * stands. Decoded frames are kept up to a fixed amount of memory. */
#ifndef LF_DESK_VIDEO_H
#define LF_DESK_VIDEO_H

#include <stdbool.h>

#include <lookfall/jpeg.h>

/* A walk's video; never changes, shared between threads. */
typedef struct {
    int64_t walk;
    char *path;
    LfVideoIndex *index; /* info.width and height are those of the frame as shown */
} DeskVideo;

/* Takes over index. */
DeskVideo *desk_video_new(int64_t walk, const char *path, LfVideoIndex *index);
DeskVideo *desk_video_ref(DeskVideo *video);
void desk_video_unref(DeskVideo *video);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DeskVideo, desk_video_unref)
/* The frame shown at t_us: the last one that begins at or before it, or the first. */
gsize desk_video_frame_at(const DeskVideo *video, int64_t t_us);

typedef struct {
    int x, y, width, height; /* part of the frame, px */
    int out_width, out_height;
    int quality;
} DeskCut;

typedef struct DeskFrames DeskFrames;

/* In the main context that desk_frames_get was called from, once; jpeg NULL: error says why. */
typedef void (*DeskFrameDone)(GBytes *jpeg, const GError *error, gpointer data);

DeskFrames *desk_frames_new(void);
/* Waits for the frame in work; what waits is dropped without a call. */
void desk_frames_free(DeskFrames *frames);

/* The frame of that number. *cancelled, kept by the caller until done is called, may be set to
 * non-zero to spare the work. */
void desk_frames_get(DeskFrames *frames, DeskVideo *video, gsize frame, const DeskCut *cut,
                     int *cancelled, DeskFrameDone done, gpointer data);
/* `count` frames from this one on are likely to be asked for. Of the likely ones the latest comes
 * first; then, where nothing else is to be done, the others (soon false). Wishes that grow old are
 * dropped. */
void desk_frames_ahead(DeskFrames *frames, DeskVideo *video, gsize frame, gsize count, bool soon);

#endif
