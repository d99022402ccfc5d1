/* What the parts of fixation detection share. Internal to src/look.
 *
 * A track holds the samples with gaze alone, one after the other. A step leads from one to the
 * next; it is broken where more time lies between them than a gap may last that is bridged. */
#ifndef LF_LOOK_FIXATION_PARTS_H
#define LF_LOOK_FIXATION_PARTS_H

#include <lookfall/fixation.h>

typedef struct {
    gsize sample; /* index into the directions */
    int64_t t_us;
    double x_deg, y_deg;
    bool moving;
} TrackPoint;

typedef enum {
    TRACK_SLOW,
    TRACK_SACCADE,
    TRACK_RINGING,
    TRACK_BROKEN,
} TrackStep;

typedef struct {
    gsize n; /* points; n - 1 steps */
    TrackPoint *points;
    LfEvent *events; /* of the points */
    bool *cuts;      /* n: no fixation holds both point i and i + 1 */
    int64_t interval_us;
    int64_t bridge_us; /* most time between two points of one fixation */
} LfTrack;

/* Runs of points, first <= i < end. */
typedef struct {
    gsize first, end;
} TrackRun;

/* fixation_speed.c: speed of each step, deg/s (n - 1, g_free); 0 where it is broken. */
double *lf_track_speeds(const LfTrack *track, double smooth_ms);
/* Standard deviation of one axis of the velocity that fixations show, among steps with or without
 * the head's motion; speeds over factor times it are no fixation's. NaN where there are too few. */
double lf_track_speed_noise(const LfTrack *track, const double *speeds, double factor, bool moving);
/* The same of direction, from sample to sample. NaN where there are not 3 samples in a row. */
double lf_track_noise_deg(const LfTrack *track);
/* Whether the step from point i to the next has the head's motion in it. */
bool lf_track_moving(const LfTrack *track, gsize i);
bool lf_track_broken(const LfTrack *track, gsize i);

/* The methods: fill events and cuts. */
void lf_track_by_velocity(LfTrack *track, const LfFixationSettings *settings, LfFixations *out);
void lf_track_by_dispersion(LfTrack *track, const LfFixationSettings *settings, LfFixations *out);

#endif
