/* The last seconds of a video: frames at working size with the poses found in them, so that a find
 * can be followed backwards and samples can be placed between frames. */
#ifndef LF_CAST_WINDOW_H
#define LF_CAST_WINDOW_H

#include "cast/pose.h"

/* Frames a cast holds. */
#define LF_WINDOW 40
/* Frames kept behind the one being settled, so that gaps can be bridged from both sides. */
#define LF_WINDOW_BEHIND 14

typedef struct {
    int64_t t_us;
    LfFramePyramid pyramid;
    LfPose *pose; /* one per photo */
    bool *has;    /* which of them hold */
} LfWindowFrame;

typedef struct {
    LfWindowFrame *ring; /* size of them */
    int size;
    int n_photos;
    int width, height; /* px of the frames */
    int64_t first;     /* number of the oldest frame held */
    int64_t end;       /* number of the newest + 1 */
} LfWindow;

/* size: frames held. NULL where memory is short. */
LfWindow *lf_window_new(int size, int n_photos, int width, int height);
void lf_window_free(LfWindow *window);
/* Drops all frames. */
void lf_window_reset(LfWindow *window);
/* Frame by number; NULL where it is not held. */
LfWindowFrame *lf_window_at(LfWindow *window, int64_t number);
/* Adds a frame, dropping the oldest where the window is full. */
LfWindowFrame *lf_window_push(LfWindow *window, int64_t t_us, const uint8_t *luma,
                              ptrdiff_t stride);
/* Gives the newest frame its colours. */
bool lf_window_colour(LfWindow *window, const LfChroma *chroma);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfWindow, lf_window_free)

#endif
