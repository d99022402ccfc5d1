/* Gaze files from memory, for tests and the fuzzer. Internal to src/gaze. */
#ifndef LOOKFALL_GAZE_GAZE_READ_H
#define LOOKFALL_GAZE_GAZE_READ_H

#include <lookfall/gaze.h>

/* As lf_gaze_read; data is borrowed, name stands for the path in messages. */
LfGaze *lf_gaze_read_memory(const void *data, gsize n, const char *name, const LfGazeFormat *format,
                            int frame_width, int frame_height, GError **error);

#endif
