/* libFuzzer target for the gaze parser, plain and gzip.
 *
 * The first byte picks one of a few formats, so that numbered columns, units and the valid column
 * are reached; the rest is the file. What is read must keep the promises of gaze.h. */
#include <lookfall/gaze.h>

#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "gaze/gaze_read.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

static const LfGazeFormat fuzz_gaze_formats[] = {
    {0},
    {.time = "1:ns", .x = "2:norm", .y = "3:norm"},
    {.time = "1", .x = "2", .y = "3", .valid = "4:1", .clock_shift_ms = -1234.5678},
    {.time = "t:ms", .x = "a:b:px", .y = "y:norm", .valid = "v:ok"},
};

static void fuzz_gaze_demand(bool holds)
{
    if (!holds) {
        __builtin_trap();
    }
}

static void fuzz_gaze_check(const LfGaze *gaze)
{
    gsize n_lost = 0;
    fuzz_gaze_demand(gaze->n_samples > 0);
    fuzz_gaze_demand(gaze->time_decimals >= 4 && gaze->time_decimals <= 6);
    for (gsize i = 0; i < gaze->n_samples; i++) {
        const LfGazeSample *s = &gaze->samples[i];
        fuzz_gaze_demand(i == 0 || s->t_us > gaze->samples[i - 1].t_us);
        fuzz_gaze_demand(s->lost ? isnan(s->x) && isnan(s->y) : isfinite(s->x) && isfinite(s->y));
        n_lost += s->lost;
    }
    fuzz_gaze_demand(n_lost == gaze->n_lost && n_lost < gaze->n_samples);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    if (n == 0) {
        return 0;
    }
    const LfGazeFormat *format = &fuzz_gaze_formats[data[0] % G_N_ELEMENTS(fuzz_gaze_formats)];
    g_autoptr(GError) error = NULL;
    g_autoptr(LfGaze) gaze =
        lf_gaze_read_memory(data + 1, n - 1, "fuzz", format, 1920, 1080, &error);
    fuzz_gaze_demand(!gaze == !!error);
    if (gaze) {
        fuzz_gaze_check(gaze);
    } else {
        fuzz_gaze_demand(error->domain == LF_ERROR && error->code == LF_ERROR_INPUT);
        fuzz_gaze_demand(g_utf8_validate(error->message, -1, NULL));
        fuzz_gaze_demand(!strchr(error->message, '\n'));
    }
    return 0;
}
