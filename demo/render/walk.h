/* One walk: its video, gaze, truth, and the files they go to. */
#ifndef LOOKFALL_DEMO_WALK_H
#define LOOKFALL_DEMO_WALK_H

#include "scene.h"

typedef struct {
    const LrScene *scene;
    const char *out_dir;
    int number; /* from 1 */
    int width, height;
    double fps, seconds, gaze_hz;
    int gazes; /* how many people look, each with a gaze of their own, through the same head */
    int jobs;
} LrWalkJob;

/* Every third walk has uneven frame times, every third begins at a timestamp that is not zero. */
bool lr_walk_uneven(int number);
int64_t lr_walk_start_us(int number);

/* Camera, path and passers-by of a walk; borrowed from nothing but the scene. */
typedef struct {
    LrLens lens;
    LrPath *path;
    LrOccluders *occluders;
    uint64_t seed;
} LrWalkWorld;

LrWalkWorld *lr_walk_world_new(const LrWalkJob *job);
void lr_walk_world_free(LrWalkWorld *walk);
/* Times of the frames, the middle of their exposures; GArray of int64_t, microseconds. */
GArray *lr_walk_frame_times(const LrWalkJob *job);

/* Writes wNN_gaze.csv, wNN_truth.csv, wNN_truth_fixations.csv and wNN_truth_poses.csv; for the
 * second and further gazes wNNb_gaze.csv and wNNb_truth.csv, wNNc_... */
bool lr_walk_write_tables(const LrWalkJob *job, const LrWalkWorld *walk, GError **error);
/* Writes wNN.mp4. *shots, *frames: counted up for the report of speed. */
bool lr_walk_write_video(const LrWalkJob *job, const LrWalkWorld *walk, int64_t *frames,
                         GError **error);

#endif
