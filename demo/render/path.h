/* How a walker's head moves: smooth moves between places and directions, with sway on top. */
#ifndef LOOKFALL_DEMO_PATH_H
#define LOOKFALL_DEMO_PATH_H

#include <glib.h>

#include "rng.h"
#include "vec.h"

/* What a walk is like; a scene's habits. */
typedef struct {
    double start_z;              /* where the walk begins, mm (negative) */
    double near_z, far_z;        /* range while browsing, mm (both negative, near_z > far_z) */
    double reach_from, reach_to; /* walks within this span of x, mm */
    double aim_from, aim_to;     /* looks at this span of x, mm */
    double along_rate;           /* share of events that look along the shelf */
    double away_rate;            /* share of events that turn away */
    double step_rate;            /* share of events that take a step */
    double oblique;    /* share of steps that go far to the side, beyond the shelf's end */
    double roll_deg;   /* spread of the head's roll */
    double turn_deg_s; /* highest speed of quick turns */
} LrHabit;

enum { LR_MOVE_X, LR_MOVE_Y, LR_MOVE_Z, LR_MOVE_YAW, LR_MOVE_PITCH, LR_MOVE_ROLL, LR_MOVES };

typedef struct LrPath LrPath;

typedef enum { LR_DO_BROWSE, LR_DO_STEP, LR_DO_ALONG, LR_DO_AWAY } LrDeed;

/* A stretch of the walk with one purpose; the head has arrived at `arrive_s`. */
typedef struct {
    LrDeed deed;
    double start_s, arrive_s, end_s;
    LrVec aim; /* what the head turned to, mm */
} LrEpisode;

LrPath *lr_path_new(uint64_t seed, const LrHabit *habit, double seconds);
void lr_path_free(LrPath *path);
LrPose lr_path_pose(const LrPath *path, double t_s);
const LrEpisode *lr_path_episodes(const LrPath *path, gsize *n);
/* Largest angle, in radians, between the rays to world points at distance `far_mm` ahead that two
 * poses of one walk put in the same place of the frame. */
double lr_pose_shift(const LrPose *a, const LrPose *b, double far_mm);

#endif
