/* One chunk into the study, in one transaction.
 *
 * lf_cast_run calls the sink from its workers, one at a time, while the thread that owns the study
 * waits in it; so the connection is handed over, never shared. */
#include "study/study_chunk.h"

static gsize study_chunk_sample_at(const CastTask *task, int64_t t_us)
{
    gsize low = 0, high = task->n_samples;
    while (low < high) {
        gsize middle = low + (high - low) / 2;
        if (task->samples[middle].t_us < t_us)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* A chunk answers for each of its samples, once and in order; anything else is a fault of the
 * engine that must not reach the study. */
static bool study_chunk_check_result(const CastTask *task, const LfChunkResult *result,
                                     GError **error)
{
    const LfChunkSpan *span = &task->chunks[result->chunk];
    gsize first = study_chunk_sample_at(task, span->from_us);
    gsize end = study_chunk_sample_at(task, span->to_us);
    bool good = result->n_samples == end - first;
    for (gsize i = 0; i < result->n_samples && good; i++)
        good = result->samples[i].sample == first + i;
    if (!good)
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "walk %s: chunk %" G_GSIZE_FORMAT " came back with other samples than it was "
                    "given; this is a fault of the program",
                    task->walk->name, result->chunk);
    return good;
}

/* Nobody changed the study's photos, settings or this walk since they were read. */
static bool study_chunk_check_revision(CastRun *run, const CastTask *task, GError **error)
{
    bool row = false;
    study_db_bind(run->check, "iii", run->revision, task->walk->id, task->walk->revision);
    bool ok = study_db_step(run->study, run->check, &row, error);
    sqlite3_reset(run->check);
    if (ok && !row)
        g_set_error(error, LF_ERROR, LF_ERROR_PART,
                    "the study was changed by another program during the cast; what was cast "
                    "before is kept. Run \"lookfall cast\" again to go on");
    return ok && row;
}

static int64_t study_chunk_photo_id(const CastRun *run, int photo)
{
    return photo < 0 ? 0 : g_array_index(run->photo_ids, int64_t, photo);
}

static bool study_chunk_add_samples(CastRun *run, const CastTask *task, const LfChunkResult *result,
                                    int64_t states[], GError **error)
{
    for (gsize i = 0; i < result->n_samples; i++) {
        const LfSampleCast *sample = &result->samples[i];
        study_db_bind(run->add_sample, "iiiiddddiddd", task->walk->id,
                      task->samples[sample->sample].t_us, study_chunk_photo_id(run, sample->photo),
                      (int64_t)sample->state, sample->x, sample->y, sample->confidence,
                      sample->radius_px, (int64_t)sample->doubt, sample->cov.xx, sample->cov.xy,
                      sample->cov.yy);
        if (sample->photo < 0)
            sqlite3_bind_null(run->add_sample, 3);
        if (!study_db_finish(run->study, run->add_sample, error))
            return false;
        states[sample->state]++;
    }
    return true;
}

static bool study_chunk_add_rivals(CastRun *run, const CastTask *task, const LfPoseCast *pose,
                                   GError **error)
{
    for (int i = 0; i < pose->n_rivals; i++) {
        const LfRival *rival = &pose->rivals[i];
        study_db_bind(run->add_rival, "iiiiddd", task->walk->id, pose->t_us,
                      study_chunk_photo_id(run, pose->photo), (int64_t)i, rival->dx, rival->dy,
                      rival->strength);
        if (!study_db_finish(run->study, run->add_rival, error))
            return false;
    }
    return true;
}

static bool study_chunk_add_poses(CastRun *run, const CastTask *task, const LfChunkResult *result,
                                  GError **error)
{
    for (gsize i = 0; i < result->n_poses; i++) {
        const LfPoseCast *pose = &result->poses[i];
        const double *m = pose->photo_from_frame.m;
        study_db_bind(run->add_pose, "iiidddddddddd", task->walk->id, pose->t_us,
                      study_chunk_photo_id(run, pose->photo), pose->confidence, m[0], m[1], m[2],
                      m[3], m[4], m[5], m[6], m[7], m[8]);
        if (!study_db_finish(run->study, run->add_pose, error) ||
            !study_chunk_add_rivals(run, task, pose, error))
            return false;
    }
    return true;
}

static bool study_chunk_write(CastRun *run, const CastTask *task, const LfChunkResult *result,
                              GError **error)
{
    const LfChunkSpan *span = &task->chunks[result->chunk];
    int64_t states[LF_STATE_PLACED + 1] = {0};

    if (!study_chunk_check_revision(run, task, error))
        return false;
    study_db_bind(run->drop_samples, "iii", task->walk->id, span->from_us, span->to_us);
    study_db_bind(run->drop_poses, "iii", task->walk->id, span->from_us, span->to_us);
    study_db_bind(run->drop_rivals, "iii", task->walk->id, span->from_us, span->to_us);
    if (!study_db_finish(run->study, run->drop_samples, error) ||
        !study_db_finish(run->study, run->drop_poses, error) ||
        !study_db_finish(run->study, run->drop_rivals, error) ||
        !study_chunk_add_samples(run, task, result, states, error) ||
        !study_chunk_add_poses(run, task, result, error))
        return false;
    study_db_bind(run->close_chunk, "iiiiiiiiiiii", task->recipe, run->run, result->frames,
                  result->damaged, result->end_us, states[LF_STATE_LOST], states[LF_STATE_AWAY],
                  states[LF_STATE_BLOCKED], states[LF_STATE_DOUBTFUL], states[LF_STATE_SURE],
                  task->walk->id, (int64_t)result->chunk);
    if (result->end_us == LF_NO_TIME)
        sqlite3_bind_null(run->close_chunk, 5);
    return study_db_finish(run->study, run->close_chunk, error);
}

int64_t study_chunk_span_us(const StudyWalk *walk, int64_t from_us, int64_t to_us)
{
    int64_t from = MAX(from_us, walk->first_us), to = MIN(to_us, walk->end_us);
    return MAX(to - from, 0);
}

bool study_chunk_sink(const LfChunkResult *result, void *data, GError **error)
{
    CastRun *run = data;
    CastTask *task = result->walk->user;

    if (!study_chunk_check_result(task, result, error) || !study_db_begin(run->study, error))
        return false;
    bool ok = study_chunk_write(run, task, result, error);
    if (!study_db_end(run->study, ok, error))
        return false;
    task->n_cast++;
    run->report->chunks++;
    const LfChunkSpan *span = &task->chunks[result->chunk];
    run->report->video_us += study_chunk_span_us(task->walk, span->from_us, span->to_us);
    run->report->frames += result->frames;
    run->report->damaged += result->damaged;
    return true;
}

bool study_chunk_prepare(CastRun *run, GError **error)
{
    LfStudy *study = run->study;
    return (run->check = study_db_prepare(study, error,
                                          "SELECT 1 FROM study, walk WHERE study.revision = ?"
                                          " AND walk.id = ? AND walk.revision = ?")) &&
           (run->drop_samples = study_db_prepare(
                study, error,
                "DELETE FROM cast_sample WHERE walk = ? AND t_us >= ? AND t_us < ?")) &&
           (run->drop_poses = study_db_prepare(
                study, error, "DELETE FROM pose WHERE walk = ? AND t_us >= ? AND t_us < ?")) &&
           (run->add_sample = study_db_prepare(
                study, error,
                "INSERT INTO cast_sample(walk, t_us, photo, state, x_px, y_px, confidence,"
                " radius_px, doubt, cov_xx, cov_xy, cov_yy)"
                " VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)")) &&
           (run->drop_rivals = study_db_prepare(
                study, error,
                "DELETE FROM pose_rival WHERE walk = ? AND t_us >= ? AND t_us < ?")) &&
           (run->add_rival = study_db_prepare(
                study, error, "INSERT INTO pose_rival VALUES(?, ?, ?, ?, ?, ?, ?)")) &&
           (run->add_pose = study_db_prepare(
                study, error, "INSERT INTO pose VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)")) &&
           (run->close_chunk = study_db_prepare(
                study, error,
                "UPDATE chunk SET recipe = ?, run = ?, frames = ?, damaged = ?, broken_us = ?,"
                " lost = ?, away = ?, blocked = ?, doubtful = ?, sure = ?"
                " WHERE walk = ? AND number = ?"));
}

void study_chunk_clear(CastRun *run)
{
    sqlite3_stmt *const statements[] = {run->check,      run->drop_samples, run->drop_poses,
                                        run->add_sample, run->add_pose,     run->close_chunk,
                                        run->add_rival,  run->drop_rivals};
    for (gsize i = 0; i < G_N_ELEMENTS(statements); i++)
        sqlite3_finalize(statements[i]);
}
