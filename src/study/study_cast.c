/* Casting a study: which chunks are due, and the run.
 *
 * The engine gets walks in batches: its input holds the samples of every walk it is given, and a
 * study of hundreds of walks would not fit. Within a batch the workers share all chunks. */
#include "study/study_chunk.h"
#include "study/study_depth.h"
#include "study/study_photo.h"
#include "study/study_recipe.h"
#include "study/study_review.h"

#include <stdlib.h>
#include <string.h>

#define LF_STUDY_BATCH_SAMPLES 500000 /* 32 bytes each: 16 MB beside the workers' own memory */

static void study_cast_task_unload(CastTask *task)
{
    g_clear_pointer(&task->chunks, g_free);
    g_clear_pointer(&task->done, g_free);
    g_clear_pointer(&task->samples, g_free);
}

static void study_cast_task_free(gpointer data)
{
    CastTask *task = data;
    study_cast_task_unload(task);
    study_walk_free(task->walk);
    g_free(task);
}

static void study_cast_run_clear(CastRun *run)
{
    study_chunk_clear(run);
    g_clear_pointer(&run->photos, g_ptr_array_unref);
    g_clear_pointer(&run->photo_ids, g_array_unref);
    g_clear_pointer(&run->tasks, g_ptr_array_unref);
}

static bool study_cast_cancelled(const CastRun *run)
{
    return run->options->cancel && g_atomic_int_get(run->options->cancel);
}

/* The engine counts frames; how much video that is follows from the share of frames done. */
static void study_cast_progress(int64_t frames, G_GNUC_UNUSED int64_t video_us, void *data)
{
    CastRun *run = data;
    LfStudyProgress *progress = &run->progress;
    progress->frames = run->frames_before + frames;
    if (progress->frames_total > 0)
        progress->video_us =
            (int64_t)((double)progress->video_total_us *
                      MIN((double)progress->frames / (double)progress->frames_total, 1.0));
    if (run->options->progress)
        run->options->progress(progress, run->options->data);
}

/* --- what is due ------------------------------------------------------------------------------ */

static void study_cast_fail(CastRun *run, const char *walk, const char *sentence)
{
    g_ptr_array_add(run->report->failed, g_strdup_printf("walk %s: %s", walk, sentence));
}

static bool study_cast_count_due(CastRun *run, CastTask *task, GError **error)
{
    g_autoptr(sqlite3_stmt) chunks = study_db_prepare(
        run->study, error,
        "SELECT recipe IS ?, from_us, to_us, frames_due FROM chunk WHERE walk = ?");
    bool ok = false, row = false;
    if (!chunks)
        return false;
    study_db_bind(chunks, "ii", task->recipe, task->walk->id);
    while ((ok = study_db_step(run->study, chunks, &row, error)) && row) {
        task->n_chunks++;
        if (sqlite3_column_int(chunks, 0))
            continue;
        task->n_due++;
        run->progress.frames_total += sqlite3_column_int64(chunks, 3);
        run->progress.video_total_us += study_chunk_span_us(
            task->walk, sqlite3_column_int64(chunks, 1), sqlite3_column_int64(chunks, 2));
    }
    return ok;
}

/* Adds a task for the walk; one whose files are not fit is listed as failed. */
static bool study_cast_add_walk(CastRun *run, int64_t id, GError **error)
{
    g_autoptr(GError) unfit = NULL;
    StudyRefresh refresh;
    StudyWalk *walk = study_walk_load(run->study, id, error);
    if (!walk)
        return false;
    CastTask *task = g_new0(CastTask, 1);
    task->walk = walk;
    g_ptr_array_add(run->tasks, task);
    if (!study_refresh_read(run->study, walk, &refresh, &unfit)) {
        study_cast_fail(run, walk->name, unfit->message);
        task->failed = true;
        return true;
    }
    if (!study_refresh_write(run->study, walk, refresh, error))
        return false;
    study_walk_tell(walk, run->options->note, run->options->data);
    return true;
}

static bool study_cast_plan_walk(CastRun *run, const char *head, CastTask *task, GError **error)
{
    StudyWalk *walk = task->walk;
    if (!study_recipe_find(run->study, head, walk, &task->recipe, error))
        return false;
    if (!task->recipe && /* so that a run with nothing to do writes nothing */
        (!study_db_begin(run->study, error) ||
         !study_db_end(run->study, study_recipe_put(run->study, head, walk, &task->recipe, error),
                       error)))
        return false;
    if (!study_cast_count_due(run, task, error))
        return false;
    run->report->chunks_due += task->n_due;
    return true;
}

/* The walks of the study as far as their videos are there, to be surveyed. */
static GPtrArray *study_cast_all_walks(CastRun *run, GError **error)
{
    g_autoptr(GPtrArray) walks =
        g_ptr_array_new_with_free_func((GDestroyNotify)(void (*)(void))study_walk_free);
    g_autoptr(GArray) ids = study_walk_ids(run->study, NULL, error);
    for (guint i = 0; ids && i < ids->len; i++) {
        StudyFileState state;
        StudyWalk *walk = study_walk_load(run->study, g_array_index(ids, int64_t, i), error);
        if (!walk)
            return NULL;
        g_ptr_array_add(walks, walk);
        if (!study_file_look(run->study, walk->video.id, &walk->video, &state, error))
            return NULL;
        if (state == STUDY_FILE_MISSING)
            g_ptr_array_remove_index(walks, walks->len - 1);
    }
    return ids ? g_steal_pointer(&walks) : NULL;
}

/* What the study knows of the photos' depth, or finds out now. */
static bool study_cast_depth(CastRun *run, GError **error)
{
    bool whole;
    if (!study_depth_load(run->study, run->photos, run->photo_ids, &whole, error))
        return false;
    if (whole)
        return true;
    g_autoptr(GPtrArray) walks = study_cast_all_walks(run, error);
    if (!walks)
        return false;
    if (run->options->note)
        run->options->note("looking through the walks for how deep the photos are",
                           run->options->data);
    return study_depth_survey(run->study, run->photos, run->photo_ids, walks, run->options->jobs,
                              run->options->cancel, error);
}

static bool study_cast_plan(CastRun *run, GError **error)
{
    g_autoptr(GPtrArray) notes = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GArray) ids = study_walk_ids(run->study, run->options->walks, error);
    if (!ids || !study_photos_open(run->study, &run->photos, &run->photo_ids, notes, error))
        return false;
    for (guint i = 0; i < notes->len && run->options->note; i++)
        run->options->note(notes->pdata[i], run->options->data);
    if (run->photos->len == 0 || ids->len == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: there is no %s in this study yet; add one with \"lookfall %s add\"",
                    run->study->name, run->photos->len == 0 ? "photo" : "walk",
                    run->photos->len == 0 ? "photo" : "walk");
        return false;
    }
    run->report->walks = ids->len;
    for (guint i = 0; i < ids->len && !study_cast_cancelled(run); i++)
        if (!study_cast_add_walk(run, g_array_index(ids, int64_t, i), error))
            return false;
    if (study_cast_cancelled(run))
        return true;
    if (!study_cast_depth(run, error))
        return false;
    if (study_cast_cancelled(run))
        return true;
    if (!study_db_get(run->study, error, 0, &run->revision, "SELECT revision FROM study", "") ||
        !lf_study_settings(run->study, &run->settings, error))
        return false;
    g_autofree char *head = study_recipe_head(run->study, error);
    if (!head)
        return false;
    for (guint i = 0; i < run->tasks->len; i++) {
        CastTask *task = run->tasks->pdata[i];
        if (!task->failed && !study_cast_plan_walk(run, head, task, error))
            return false;
    }
    return true;
}

/* --- batches ---------------------------------------------------------------------------------- */

static bool study_cast_task_load(CastRun *run, CastTask *task, GError **error)
{
    g_autoptr(sqlite3_stmt) chunks = study_db_prepare(
        run->study, error,
        "SELECT recipe IS ?, key_us, from_us, to_us FROM chunk WHERE walk = ? ORDER BY number");
    bool ok = false, row = false;
    gsize n = 0;
    if (!chunks ||
        !study_walk_load_gaze(run->study, task->walk->id, &task->samples, &task->n_samples, error))
        return false;
    task->chunks = g_new0(LfChunkSpan, task->n_chunks);
    task->done = g_new0(bool, task->n_chunks);
    study_db_bind(chunks, "ii", task->recipe, task->walk->id);
    while ((ok = study_db_step(run->study, chunks, &row, error)) && row && n < task->n_chunks) {
        task->done[n] = sqlite3_column_int(chunks, 0) != 0;
        task->chunks[n] = (LfChunkSpan){.key_us = sqlite3_column_int64(chunks, 1),
                                        .from_us = sqlite3_column_int64(chunks, 2),
                                        .to_us = sqlite3_column_int64(chunks, 3)};
        n++;
    }
    return ok;
}

/* "index\tsentence" of the engine, to the walk it speaks of. */
static void study_cast_take_failures(CastRun *run, GPtrArray *batch, GPtrArray *failures)
{
    for (guint i = 0; i < failures->len; i++) {
        char *sentence = NULL;
        guint64 index = g_ascii_strtoull(failures->pdata[i], &sentence, 10);
        g_return_if_fail(index < batch->len && *sentence == '\t');
        CastTask *task = batch->pdata[index];
        task->failed = true;
        study_cast_fail(run, task->walk->name, sentence + 1);
    }
}

static bool study_cast_batch(CastRun *run, GPtrArray *batch, GError **error)
{
    g_autofree LfCastWalk *walks = g_new0(LfCastWalk, batch->len);
    g_autoptr(GPtrArray) failures = g_ptr_array_new_with_free_func(g_free);
    bool ok = true;

    for (guint i = 0; i < batch->len && ok; i++) {
        CastTask *task = batch->pdata[i];
        ok = study_cast_task_load(run, task, error);
        walks[i] = (LfCastWalk){
            .video_path = task->walk->video.path,
            .lens = task->walk->lens,
            .samples = task->samples,
            .n_samples = task->n_samples,
            .chunks = task->chunks,
            .done = task->done,
            .n_chunks = task->n_chunks,
            .user = task,
        };
    }
    run->frames_before = run->progress.frames;
    if (ok)
        ok = lf_cast_run((LfPhoto *const *)run->photos->pdata, run->photos->len, walks, batch->len,
                         &run->settings, run->options->jobs, study_chunk_sink, study_cast_progress,
                         run, run->options->cancel, failures, error);
    study_cast_take_failures(run, batch, failures);
    for (guint i = 0; i < batch->len; i++)
        study_cast_task_unload(batch->pdata[i]);
    return ok;
}

static bool study_cast_batches(CastRun *run, GError **error)
{
    g_autoptr(GPtrArray) batch = g_ptr_array_new(); /* borrowed tasks */
    int64_t samples = 0;

    for (guint i = 0; i < run->tasks->len && !study_cast_cancelled(run); i++) {
        CastTask *task = run->tasks->pdata[i];
        if (!task->failed && task->n_due > 0) {
            g_ptr_array_add(batch, task);
            samples += task->walk->n_samples;
        }
        if (batch->len == 0 || (samples < LF_STUDY_BATCH_SAMPLES && i + 1 < run->tasks->len))
            continue;
        if (!study_cast_batch(run, batch, error))
            return false;
        g_ptr_array_set_size(batch, 0);
        samples = 0;
    }
    return true;
}

static bool study_cast_log(CastRun *run, GError **error)
{
    g_autofree char *detail = g_strdup_printf("%" G_GSIZE_FORMAT " chunks due in %u walks",
                                              run->report->chunks_due, run->tasks->len);
    return study_db_begin(run->study, error) &&
           study_db_end(run->study, study_db_log(run->study, "cast", detail, &run->run, error),
                        error);
}

/* --- the whole -------------------------------------------------------------------------------- */

static bool study_cast_short_video(CastRun *run, const CastTask *task, GError **error)
{
    const StudyWalk *walk = task->walk;
    int64_t broken_us;
    if (!study_db_get(run->study, error, LF_NO_TIME, &broken_us,
                      "SELECT broken_us FROM chunk WHERE walk = ? AND recipe = ?"
                      " AND broken_us IS NOT NULL ORDER BY number LIMIT 1",
                      "ii", walk->id, task->recipe))
        return false;
    if (broken_us == LF_NO_TIME && walk->cut_off)
        broken_us = walk->end_us;
    if (broken_us != LF_NO_TIME)
        g_ptr_array_add(run->report->short_videos,
                        g_strdup_printf("walk %s: its video breaks off at %.2f s; samples after "
                                        "that count as away. Copy the video again if it should be "
                                        "longer: %s",
                                        walk->name, (double)broken_us / 1e6, walk->video.path));
    return true;
}

static bool study_cast_damaged(CastRun *run, const CastTask *task, GError **error)
{
    int64_t damaged;
    if (!study_db_get(run->study, error, 0, &damaged,
                      "SELECT sum(damaged) FROM chunk WHERE walk = ? AND recipe = ?", "ii",
                      task->walk->id, task->recipe))
        return false;
    if (damaged == 0 || !run->options->note)
        return true;
    g_autofree char *sentence = g_strdup_printf(
        "walk %s: damaged frames that could not be decoded: %" G_GINT64_FORMAT
        " of %" G_GINT64_FORMAT "; copy the video again if the original is whole: %s",
        task->walk->name, damaged, task->walk->frames, task->walk->video.path);
    run->options->note(sentence, run->options->data);
    return true;
}

static bool study_cast_sum_up(CastRun *run, GError **error)
{
    for (guint i = 0; i < run->tasks->len; i++) {
        const CastTask *task = run->tasks->pdata[i];
        if (task->failed || task->n_cast < task->n_due)
            continue;
        run->report->walks_done++;
        if (!study_cast_damaged(run, task, error) || !study_cast_short_video(run, task, error))
            return false;
    }
    return true;
}

bool lf_study_cast(LfStudy *study, const LfStudyCastOptions *options, LfStudyCastReport *report,
                   GError **error)
{
    CastRun run = {.study = study, .options = options, .report = report};
    int stretches_left;

    *report = (LfStudyCastReport){.failed = g_ptr_array_new_with_free_func(g_free),
                                  .short_videos = g_ptr_array_new_with_free_func(g_free)};
    run.tasks = g_ptr_array_new_with_free_func(study_cast_task_free);
    bool ok = study_cast_plan(&run, error);
    if (ok && report->chunks_due > 0 && !study_cast_cancelled(&run))
        ok = study_cast_log(&run, error) && study_chunk_prepare(&run, error) &&
             study_cast_batches(&run, error);
    report->interrupted = study_cast_cancelled(&run) &&
                          (report->chunks < report->chunks_due || run.tasks->len < report->walks);
    ok = ok && study_cast_sum_up(&run, error);
    /* So that the desk opens at once; what is not worked out here the desk does itself. */
    if (ok && !report->interrupted)
        ok = lf_study_stretches_refresh(study, 0, &stretches_left, error);
    study_cast_run_clear(&run);
    return ok;
}

void lf_study_cast_report_clear(LfStudyCastReport *report)
{
    g_clear_pointer(&report->failed, g_ptr_array_unref);
    g_clear_pointer(&report->short_videos, g_ptr_array_unref);
}
