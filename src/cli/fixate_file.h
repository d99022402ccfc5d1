/* Fixations of a bare gaze file, without a study. */
#ifndef LF_CLI_FIXATE_FILE_H
#define LF_CLI_FIXATE_FILE_H

#include <stdbool.h>

#include <lookfall/lookfall.h>

typedef struct {
    const char *gaze;
    LfGazeFormat format;
    double px_per_degree_x, px_per_degree_y;
    const char *events;    /* where to; NULL: stdout */
    const char *fixations; /* where to; NULL: nowhere */
    bool force;
} FixateFile;

bool fixate_file(const FixateFile *file, const LfFixationSettings *settings, GError **error);

#endif
