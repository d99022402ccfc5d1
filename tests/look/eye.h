/* An eye with a known mind: directions of gaze whose fixations are given, for the tests. */
#ifndef LOOKFALL_TESTS_LOOK_EYE_H
#define LOOKFALL_TESTS_LOOK_EYE_H

#include <lookfall/fixation.h>

typedef struct {
    double from_s, to_s; /* at rest; a saccade leads to the next one's from_s */
    double x_deg, y_deg;
} EyeRest;

typedef struct {
    double rate_hz;
    double jitter;    /* of the times, as a share of the interval */
    double noise_deg; /* standard deviation of each sample, one axis */
    double ring_deg;  /* how far the eye overshoots after a saccade, swinging at 50 Hz */
    guint32 seed;
} EyeTracker;

/* n rests of 150 to 500 ms, 2 to 8 degrees apart; the saccades between last as long as the main
 * sequence says. GArray of EyeRest. */
GArray *eye_plan(guint n, guint32 seed);
/* From the first rest's start to the last one's end. GArray of LfDirection. */
GArray *eye_record(const GArray *rests, const EyeTracker *tracker);
/* Loses the samples from_s <= t < to_s. */
void eye_lose(GArray *directions, double from_s, double to_s);

#endif
