/* A walk as it is told in words. */
#include "walk_options.h"

#include <math.h>
#include <string.h>

void walk_options_clear(WalkOptions *options)
{
    char *const strings[] = {options->name,   options->video,       options->gaze,
                             options->time,   options->x,           options->y,
                             options->valid,  options->clock_shift, options->clock,
                             options->camera, options->participant, options->group};
    for (gsize i = 0; i < G_N_ELEMENTS(strings); i++)
        g_free(strings[i]);
    *options = (WalkOptions){0};
}

static bool walk_options_clock(const char *text, LfClock *clock, GError **error)
{
    static const char *const names[] = {
        [LF_CLOCK_AUTO] = "auto", [LF_CLOCK_START] = "start", [LF_CLOCK_STAMP] = "stamp"};
    *clock = LF_CLOCK_AUTO;
    if (!text)
        return true;
    for (gsize i = 0; i < G_N_ELEMENTS(names); i++)
        if (strcmp(text, names[i]) == 0) {
            *clock = (LfClock)i;
            return true;
        }
    g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "clock is start, stamp or auto, not \"%s\"", text);
    return false;
}

static bool walk_options_shift(const char *text, double *shift_ms, GError **error)
{
    char *end;
    *shift_ms = 0;
    if (!text)
        return true;
    *shift_ms = g_ascii_strtod(text, &end);
    if (end != text && !*end && isfinite(*shift_ms))
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                "clock-shift is a number of milliseconds (with a decimal point), not \"%s\"", text);
    return false;
}

bool walk_options_input(const WalkOptions *options, LfWalkInput *input, GError **error)
{
    *input = (LfWalkInput){
        .name = options->name,
        .participant = options->participant,
        .group = options->group,
        .video = options->video,
        .gaze = options->gaze,
        .camera = options->camera,
        .format = {.time = options->time,
                   .x = options->x,
                   .y = options->y,
                   .valid = options->valid},
    };
    return walk_options_clock(options->clock, &input->clock, error) &&
           walk_options_shift(options->clock_shift, &input->format.clock_shift_ms, error);
}
