/* What the gaze tests share. */
#ifndef LOOKFALL_TESTS_GAZE_CHECK_H
#define LOOKFALL_TESTS_GAZE_CHECK_H

#include <lookfall/gaze.h>

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "gaze/gaze_read.h"

#define CHECK_WIDTH 1920
#define CHECK_HEIGHT 1080

static inline LfGaze *check_read(const char *text, const LfGazeFormat *format, GError **error)
{
    return lf_gaze_read_memory(text, strlen(text), "walk.csv", format, CHECK_WIDTH, CHECK_HEIGHT,
                               error);
}

#endif
