/* Finding samples by time. */
#include <lookfall/gaze.h>

gsize lf_gaze_first_at(const LfGazeSample *samples, gsize n_samples, int64_t t_us)
{
    gsize low = 0, high = n_samples;
    while (low < high) {
        gsize middle = low + (high - low) / 2;
        if (samples[middle].t_us < t_us)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}
