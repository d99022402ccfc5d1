/* A walk as it is told in words, on the command line or in a row of a manifest. */
#ifndef LF_CLI_WALK_OPTIONS_H
#define LF_CLI_WALK_OPTIONS_H

#include <lookfall/study.h>

/* All owned; NULL where not told. */
typedef struct {
    char *name, *video, *gaze, *time, *x, *y, *valid, *clock_shift, *clock, *camera, *participant,
        *group;
} WalkOptions;

void walk_options_clear(WalkOptions *options);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(WalkOptions, walk_options_clear)
/* Borrows from options. LF_ERROR_USAGE where clock shift or clock make no sense. */
bool walk_options_input(const WalkOptions *options, LfWalkInput *input, GError **error);

#endif
