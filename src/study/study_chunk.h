/* A cast of a study under way: shared by what plans it and what writes its chunks. */
#ifndef LF_STUDY_CHUNK_H
#define LF_STUDY_CHUNK_H

#include "study/study_walk.h"

/* A walk with something to do. The second half is there only while its batch runs. */
typedef struct {
    StudyWalk *walk;
    int64_t recipe;
    gsize n_chunks, n_due, n_cast;
    bool failed;

    LfChunkSpan *chunks;
    bool *done;
    LfGazeSample *samples;
    gsize n_samples;
} CastTask;

typedef struct {
    LfStudy *study;
    const LfStudyCastOptions *options;
    LfStudyCastReport *report;
    LfCastSettings settings;
    int64_t revision; /* of the study, when its settings and photos were read */
    int64_t run;      /* entry in the log */
    GPtrArray *photos;
    GArray *photo_ids;
    GPtrArray *tasks; /* CastTask */
    LfStudyProgress progress;
    int64_t frames_before; /* progress.frames when the running batch began */

    sqlite3_stmt *check, *drop_samples, *drop_poses, *add_sample, *add_pose, *close_chunk,
        *drop_rivals, *add_rival;
} CastRun;

/* Length of video between two times; the outer chunks reach beyond it. */
int64_t study_chunk_span_us(const StudyWalk *walk, int64_t from_us, int64_t to_us);
/* Prepares the statements a chunk is written with. */
bool study_chunk_prepare(CastRun *run, GError **error);
void study_chunk_clear(CastRun *run);
/* LfChunkSink; data is the CastRun. One transaction. */
bool study_chunk_sink(const LfChunkResult *result, void *data, GError **error);

#endif
