/* From the study to what the engine needs to follow a photo from tied points. */
#include "study/study_review.h"

/* Gaze and poses this far around the stretch are taken along: the pose next to a tied frame may lie
 * outside of it. */
#define TIE_AROUND_US 2000000

struct LfStudyTie {
    char *photo;           /* path */
    GBytes *bank, *relief; /* relief: NULL where none is kept */
    int64_t photo_id;
    LfCastWalk walk;
    char *video;
    LfGazeSample *samples;
    LfChunkSpan *chunks;
    LfCastSettings settings;
    int64_t from_us, to_us;
    LfTie *ties;
    gsize n_ties;
    LfPoseCast *priors;
    gsize n_priors;
};

void lf_study_tie_free(LfStudyTie *tie)
{
    if (!tie)
        return;
    g_free(tie->photo);
    g_clear_pointer(&tie->bank, g_bytes_unref);
    g_clear_pointer(&tie->relief, g_bytes_unref);
    g_free(tie->video);
    g_free(tie->samples);
    g_free(tie->chunks);
    g_free(tie->ties);
    g_free(tie->priors);
    g_free(tie);
}

static bool study_tie_refuse(GError **error, const char *what, StudyFileState state)
{
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                state == STUDY_FILE_MISSING
                    ? "%s is missing, so nothing can be followed in it. Put it back at its place."
                    : "%s has changed since it was last read; run \"lookfall cast\" first.",
                what);
    return false;
}

static bool study_tie_photo(LfStudy *study, LfStudyTie *tie, GError **error)
{
    g_autoptr(sqlite3_stmt) rows =
        study_db_prepare(study, error,
                         "SELECT image, bank, relief FROM photo"
                         " LEFT JOIN photo_relief ON photo_relief.photo = photo.id WHERE id = ?");
    StudyFile file = {0};
    StudyFileState state;
    bool row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "i", tie->photo_id);
    if (!study_db_step(study, rows, &row, error))
        return false;
    if (!row) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "There is no such photo in the study.");
        return false;
    }
    if (!study_file_look(study, sqlite3_column_int64(rows, 0), &file, &state, error))
        return false;
    bool there = state != STUDY_FILE_MISSING && state != STUDY_FILE_CHANGED;
    tie->photo = g_strdup(file.path);
    study_file_clear(&file);
    tie->bank = g_bytes_new(sqlite3_column_blob(rows, 1), (gsize)sqlite3_column_bytes(rows, 1));
    if (sqlite3_column_type(rows, 2) != SQLITE_NULL)
        tie->relief =
            g_bytes_new(sqlite3_column_blob(rows, 2), (gsize)sqlite3_column_bytes(rows, 2));
    return there || study_tie_refuse(error, "The photo's picture", state);
}

static bool study_tie_chunks(LfStudy *study, int64_t walk, LfStudyTie *tie, GError **error)
{
    g_autoptr(GArray) chunks = g_array_new(FALSE, FALSE, sizeof(LfChunkSpan));
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error, "SELECT key_us, from_us, to_us FROM chunk WHERE walk = ? ORDER BY number");
    bool ok = false, row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "i", walk);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        const LfChunkSpan span = {sqlite3_column_int64(rows, 0), sqlite3_column_int64(rows, 1),
                                  sqlite3_column_int64(rows, 2)};
        g_array_append_val(chunks, span);
    }
    tie->walk.n_chunks = chunks->len;
    tie->chunks = (LfChunkSpan *)(void *)g_array_free(g_steal_pointer(&chunks), FALSE);
    return ok;
}

static void study_tie_take(LfStudyTie *tie, const LfSpan *span)
{
    tie->samples = g_new0(LfGazeSample, span->samples->len + 1);
    for (guint i = 0; i < span->samples->len; i++) {
        const LfSpanSample *sample = &g_array_index(span->samples, LfSpanSample, i);
        tie->samples[i] =
            (LfGazeSample){sample->t_us, sample->gaze_px.x, sample->gaze_px.y, sample->lost};
    }
    tie->walk.n_samples = span->samples->len;
    tie->priors = g_new0(LfPoseCast, span->poses->len + 1);
    for (guint i = 0; i < span->poses->len; i++) {
        const LfSpanPose *pose = &g_array_index(span->poses, LfSpanPose, i);
        if (pose->photo != tie->photo_id)
            continue;
        tie->priors[tie->n_priors] = pose->pose;
        tie->priors[tie->n_priors++].photo = 0;
    }
}

static bool study_tie_read(LfStudy *study, const LfStretch *stretch, LfStudyTie *tie,
                           GError **error)
{
    g_autoptr(StudyWalk) walk = study_walk_load(study, stretch->walk, error);
    StudyFile video = {0};
    StudyFileState state;
    if (!walk || !study_file_look(study, walk->video.id, &video, &state, error))
        return false;
    study_file_clear(&video);
    if (state == STUDY_FILE_MISSING || state == STUDY_FILE_CHANGED)
        return study_tie_refuse(error, "The walk's video", state);
    tie->video = g_strdup(walk->video.path);
    tie->walk.lens = walk->lens;
    g_autoptr(LfSpan) span =
        study_span_load(study, NULL, stretch->walk, stretch->from_us - TIE_AROUND_US,
                        stretch->to_us + TIE_AROUND_US, error);
    if (!span || !study_tie_chunks(study, stretch->walk, tie, error) ||
        !lf_study_settings(study, &tie->settings, error) || !study_tie_photo(study, tie, error))
        return false;
    study_tie_take(tie, span);
    return true;
}

LfStudyTie *lf_study_tie_new(LfStudy *study, const LfStretch *stretch, int64_t photo,
                             const LfTie *ties, gsize n, GError **error)
{
    g_autoptr(LfStudyTie) tie = g_new0(LfStudyTie, 1);
    tie->photo_id = photo;
    tie->from_us = stretch->from_us;
    tie->to_us = stretch->to_us;
    tie->ties = g_new0(LfTie, n + 1);
    for (gsize i = 0; i < n; i++)
        tie->ties[i] = ties[i];
    tie->n_ties = n;
    if (!study_db_begin_read(study, error) ||
        !study_db_end(study, study_tie_read(study, stretch, tie, error), error))
        return NULL;
    tie->walk.video_path = tie->video;
    tie->walk.samples = tie->samples;
    tie->walk.chunks = tie->chunks;
    return g_steal_pointer(&tie);
}

bool lf_study_tie_run(LfStudyTie *tie, int threads, LfTieProgress progress, void *data,
                      const int *cancel, LfTied *out, GError **error)
{
    g_autoptr(LfPhoto) photo = lf_photo_load(tie->photo, tie->bank, error);
    const LfTieTask task = {
        .photo = photo,
        .photo_index = 0,
        .walk = &tie->walk,
        .settings = &tie->settings,
        .from_us = tie->from_us,
        .to_us = tie->to_us,
        .ties = tie->ties,
        .n_ties = tie->n_ties,
        .priors = tie->priors,
        .n_priors = tie->n_priors,
        .threads = threads,
        .progress = progress,
        .data = data,
        .cancel = cancel,
    };
    return photo && (!tie->relief || lf_photo_set_relief(photo, tie->relief, error)) &&
           lf_cast_tied(&task, out, error);
}

LfTiedPlace lf_study_tie_place(const LfStudyTie *tie, const LfSampleCast *sample)
{
    return (LfTiedPlace){
        .t_us = tie->samples[sample->sample].t_us,
        .place = {.state = sample->state,
                  .photo = sample->photo < 0 ? 0 : tie->photo_id,
                  .x = sample->x,
                  .y = sample->y,
                  .radius_px = sample->radius_px},
    };
}
