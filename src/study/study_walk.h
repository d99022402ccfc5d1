/* One walk inside this folder: what the user said about it, what its files hold, and its row. */
#ifndef LF_STUDY_WALK_H
#define LF_STUDY_WALK_H

#include "study/study_file.h"

typedef struct {
    int64_t id; /* 0: not in the study yet */
    int64_t revision;
    char *name, *participant, *group;
    char *time, *x, *y, *valid; /* how the gaze file is read; NULL: the default */
    double clock_shift_ms;
    LfClock clock; /* AUTO only until the gaze is read */

    StudyFile video, gaze, camera; /* camera.path NULL: none */

    LfVideoInfo info;
    int64_t frames, first_us, end_us;
    bool cut_off;
    LfLens lens;

    int time_decimals;
    int64_t n_samples, n_lost, n_outside;
    int64_t interval_us;

    /* Only after the video was read. */
    LfChunkSpan *chunks;
    int64_t *chunk_frames;
    gsize n_chunks;
    GBytes *frame_times; /* packed (study_frames.h) */
    /* Only after the gaze was read; n_samples of them. */
    LfGazeSample *samples;

    GPtrArray *notes; /* char *: sentences for the user */
} StudyWalk;

/* Copies what the user said. Free with study_walk_free. */
StudyWalk *study_walk_new(const LfWalkInput *input);
void study_walk_free(StudyWalk *walk);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(StudyWalk, study_walk_free)

/* --- reading files: no SQL, any thread (walk_read.c) --- */

/* Each needs what comes before it: video, then camera and gaze. */
bool walk_read_video(StudyWalk *walk, const char *path, GError **error);
/* path NULL: a plain lens of the frame's size. */
bool walk_read_camera(StudyWalk *walk, const char *path, GError **error);
bool walk_read_gaze(StudyWalk *walk, const char *path, GError **error);
/* All three, for a walk that is to be added. */
StudyWalk *walk_read_all(const LfWalkInput *input, GError **error);

/* --- rows (study_walk.c) --- */

/* Without chunks and samples; paths as recorded until the files are looked for. NULL and an error
 * where there is none. */
StudyWalk *study_walk_load(LfStudy *study, int64_t id, GError **error);
/* The gaze samples of a walk in time order; owned by the caller (g_free). */
bool study_walk_load_gaze(LfStudy *study, int64_t id, LfGazeSample **samples, gsize *n,
                          GError **error);
/* Adds a walk that was read whole, inside the caller's transaction. */
bool study_walk_insert(LfStudy *study, StudyWalk *walk, GError **error);
/* Writes row and files of a walk in the study again, with its chunks and samples where they have
 * been read anew, and forgets its results; inside the caller's transaction. */
bool study_walk_update(LfStudy *study, StudyWalk *walk, GError **error);
/* The rows of its files only; inside the caller's transaction. */
bool study_walk_write_files(LfStudy *study, StudyWalk *walk, GError **error);
/* Ids of the walks of these names (NULL: all), by name. LF_ERROR_INPUT where one does not exist. */
GArray *study_walk_ids(LfStudy *study, const char *const *names, GError **error);
/* LF_ERROR_INPUT where the name is not fit or taken. */
bool study_walk_check_name(LfStudy *study, const char *name, GError **error);
void study_walk_tell(const StudyWalk *walk, LfStudyNote note, void *data);

/* --- inputs that changed (study_refresh.c) --- */

typedef enum {
    STUDY_REFRESH_NOTHING,
    STUDY_REFRESH_FILES, /* same bytes at another place or time */
    STUDY_REFRESH_WALK,  /* other bytes: the walk's results are void */
} StudyRefresh;

/* Looks at the walk's files and reads what changed; the study is not written to. An error means
 * that this walk cannot be cast. */
bool study_refresh_read(LfStudy *study, StudyWalk *walk, StudyRefresh *refresh, GError **error);
/* Takes into the study what was read. */
bool study_refresh_write(LfStudy *study, StudyWalk *walk, StudyRefresh refresh, GError **error);

#endif
