/* Samples being collected from rows, each checked against the one before. Internal to src/gaze. */
#ifndef LOOKFALL_GAZE_GAZE_SAMPLES_H
#define LOOKFALL_GAZE_GAZE_SAMPLES_H

#include <lookfall/gaze.h>

#include "gaze/gaze_columns.h"

/* 30 years, far from where microseconds overflow. */
#define LF_GAZE_MAX_SHIFT_MS 1e12

typedef struct LfGazeSamples LfGazeSamples;

/* file is for messages and borrowed. */
LfGazeSamples *lf_gaze_samples_new(const char *file, bool comma_ok);
void lf_gaze_samples_free(LfGazeSamples *samples);
/* field: the row's texts by role, empty where the row has none. */
bool lf_gaze_samples_add(LfGazeSamples *samples, const LfGazeColumns *columns,
                         const GString *const field[LF_GAZE_ROLES], int64_t line, GError **error);
/* Takes the collected samples out: frame units to px, clock shift, checks of the whole. */
LfGaze *lf_gaze_samples_finish(LfGazeSamples *samples, const LfGazeColumns *columns,
                               int frame_width, int frame_height, double clock_shift_ms,
                               GError **error);

#endif
