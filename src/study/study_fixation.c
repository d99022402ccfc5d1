/* Finding the fixations of a study's walks and writing them down.
 *
 * Walks are read and computed by workers, each with a connection of its own, and written by the
 * calling thread, each in one transaction with what it was computed from. So a run that ends in any
 * way leaves whole walks, and a reader can tell whether they are still those of today's samples. */
#include "study/study_fixation.h"

#include <string.h>

typedef struct {
    LfStudy *study;
    const LfStudyFixateOptions *options;
    LfStudyFixateReport *report;
    char *settings;
    int64_t run;       /* entry in the log */
    GPtrArray *tasks;  /* StudyFixationTask */
    gint next;         /* atomic: the first task nobody has taken */
    gint stop;         /* atomic */
    GAsyncQueue *done; /* StudyFixationTask, and the run itself once for each worker that ends */
    GError *worker_error;
    GMutex lock; /* of worker_error */
} FixateRun;

/* --- what fixations depend on ----------------------------------------------------------------- */

static bool study_fixation_chunks(LfStudy *study, int64_t walk, int64_t recipe, GString *text,
                                  gsize *cast, gsize *chunks, GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error, "SELECT number, recipe IS ? FROM chunk WHERE walk = ? ORDER BY number");
    bool ok = false, row = false;
    *cast = *chunks = 0;
    if (!rows)
        return false;
    study_db_bind(rows, "ii", recipe, walk);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        ++*chunks;
        if (sqlite3_column_int(rows, 1))
            ++*cast;
        else
            g_string_append_printf(text, "not cast %d\n", sqlite3_column_int(rows, 0));
    }
    return ok;
}

static bool study_fixation_placements(LfStudy *study, int64_t walk, GString *text, GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        "SELECT id, at FROM placement WHERE walk = ? AND blind = 0 AND lifted = 0 ORDER BY id");
    bool ok = false, row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "i", walk);
    while ((ok = study_db_step(study, rows, &row, error)) && row)
        g_string_append_printf(text, "placement %" G_GINT64_FORMAT " %s\n",
                               (gint64)sqlite3_column_int64(rows, 0), sqlite3_column_text(rows, 1));
    return ok;
}

bool study_fixation_source(LfStudy *study, const char *head, const StudyWalk *walk, char **source,
                           gsize *cast, gsize *chunks, GError **error)
{
    g_autoptr(GString) text = g_string_new(NULL);
    g_autoptr(sqlite3_stmt) row =
        study_db_prepare(study, error, "SELECT sha256 FROM recipe WHERE id = ?");
    int64_t recipe;
    bool there = false;
    if (!row || !study_recipe_find(study, head, walk, &recipe, error))
        return false;
    study_db_bind(row, "i", recipe);
    if (!study_db_step(study, row, &there, error))
        return false;
    g_string_append_printf(text, "fixations %d\nrecipe %s\n", LF_FIXATION_VERSION,
                           there ? (const char *)sqlite3_column_text(row, 0) : "none");
    if (!study_fixation_chunks(study, walk->id, recipe, text, cast, chunks, error) ||
        !study_fixation_placements(study, walk->id, text, error))
        return false;
    *source = g_compute_checksum_for_string(G_CHECKSUM_SHA256, text->str, -1);
    return true;
}

/* --- planning --------------------------------------------------------------------------------- */

static void study_fixation_fail(FixateRun *run, const char *walk, const char *why)
{
    g_ptr_array_add(run->report->failed, g_strdup_printf("walk %s: %s", walk, why));
}

static bool study_fixation_plan_walk(FixateRun *run, const char *head, int64_t id, GError **error)
{
    gsize cast, chunks;
    int64_t kept; /* fixations that are up to date, or -1 */
    g_autofree char *source = NULL;
    g_autoptr(StudyWalk) walk = study_walk_load(run->study, id, error);
    if (!walk || !study_fixation_source(run->study, head, walk, &source, &cast, &chunks, error))
        return false;
    if (cast == 0) {
        g_ptr_array_add(run->report->uncast, g_strdup(walk->name));
        return true;
    }
    if (cast < chunks)
        g_ptr_array_add(run->report->partly, g_strdup(walk->name));
    if (!study_db_get(
            run->study, error, -1, &kept,
            "SELECT (SELECT count(*) FROM fixation WHERE fixation.walk = fixation_run.walk)"
            " FROM fixation_run WHERE walk = ? AND settings = ? AND source = ?",
            "iss", id, run->settings, source))
        return false;
    if (kept >= 0) {
        run->report->walks_done++;
        run->report->fixations += kept;
        return true;
    }
    StudyFixationTask *task = g_new0(StudyFixationTask, 1);
    task->walk = id;
    task->name = g_strdup(walk->name);
    task->source = g_steal_pointer(&source);
    g_ptr_array_add(run->tasks, task);
    return true;
}

static bool study_fixation_plan(FixateRun *run, GError **error)
{
    g_autofree char *head = study_recipe_head(run->study, error);
    g_autoptr(GArray) ids = head ? study_walk_ids(run->study, run->options->walks, error) : NULL;
    if (!ids)
        return false;
    if (ids->len == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: there is no walk in this study yet; add one with \"lookfall walk add\"",
                    run->study->name);
        return false;
    }
    run->report->walks = ids->len;
    for (guint i = 0; i < ids->len; i++)
        if (!study_fixation_plan_walk(run, head, g_array_index(ids, int64_t, i), error))
            return false;
    return true;
}

/* --- workers ---------------------------------------------------------------------------------- */

static bool study_fixation_stopped(FixateRun *run)
{
    return g_atomic_int_get(&run->stop) ||
           (run->options->cancel && g_atomic_int_get(run->options->cancel));
}

static gpointer study_fixation_work(gpointer data)
{
    FixateRun *run = data;
    GError *error = NULL;
    g_autoptr(LfStudy) study = lf_study_open(run->study->path, LF_STUDY_READ, &error);
    while (study && !study_fixation_stopped(run)) {
        guint i = (guint)g_atomic_int_add(&run->next, 1);
        if (i >= run->tasks->len)
            break;
        study_fixation_task_run(study, run->tasks->pdata[i], &run->options->settings);
        g_async_queue_push(run->done, run->tasks->pdata[i]);
    }
    if (error) {
        g_mutex_lock(&run->lock);
        if (!run->worker_error)
            run->worker_error = g_steal_pointer(&error);
        g_mutex_unlock(&run->lock);
        g_clear_error(&error);
    }
    g_async_queue_push(run->done, run);
    return NULL;
}

/* --- writing ---------------------------------------------------------------------------------- */

/* Ids of the task's photos in their order; NULL where one is gone. */
static int64_t *study_fixation_photo_ids(LfStudy *study, const GPtrArray *photos, GError **error)
{
    g_autofree int64_t *ids = g_new0(int64_t, MAX(photos->len, 1));
    for (guint i = 0; i < photos->len; i++)
        if (!study_db_get(study, error, 0, &ids[i], "SELECT id FROM photo WHERE name = ?", "s",
                          photos->pdata[i]))
            return NULL;
    return g_steal_pointer(&ids);
}

static bool study_fixation_write_rows(FixateRun *run, const StudyFixationTask *task, GError **error)
{
    g_autofree int64_t *photos = study_fixation_photo_ids(run->study, task->photos, error);
    g_autoptr(sqlite3_stmt) add = study_db_prepare(
        run->study, error,
        "INSERT INTO fixation(walk, from_us, to_us, x_px, y_px, radius_px, state, samples, photo)"
        " VALUES(?, ?, ?, ?, ?, ?, ?, ?, nullif(?, 0))");
    if (!photos || !add ||
        !study_db_run(run->study, error, "DELETE FROM fixation WHERE walk = ?", "i", task->walk) ||
        !study_db_run(run->study, error,
                      "INSERT OR REPLACE INTO fixation_run(walk, settings, used, source, run)"
                      " VALUES(?, ?, ?, ?, ?)",
                      "isssi", task->walk, run->settings, task->used, task->source, run->run))
        return false;
    for (gsize i = 0; i < task->n; i++) {
        const LfFixation *f = &task->fixations[i];
        study_db_bind(add, "iiidddiii", task->walk, f->from_us, f->to_us, f->x_px, f->y_px,
                      f->radius_px, (int64_t)f->state, (int64_t)f->samples,
                      f->photo_id > 0 ? photos[f->photo_id - 1] : (int64_t)0);
        if (!study_db_finish(run->study, add, error))
            return false;
    }
    return true;
}

/* *same: the walk is still what the fixations were found in. */
static bool study_fixation_write_if_same(FixateRun *run, const StudyFixationTask *task, bool *same,
                                         GError **error)
{
    gsize cast, chunks;
    int64_t there;
    g_autofree char *source = NULL;
    *same = false;
    if (!study_db_get(run->study, error, 0, &there, "SELECT 1 FROM walk WHERE id = ?", "i",
                      task->walk))
        return false;
    if (!there)
        return true;
    g_autofree char *head = study_recipe_head(run->study, error);
    g_autoptr(StudyWalk) walk = head ? study_walk_load(run->study, task->walk, error) : NULL;
    if (!walk || !study_fixation_source(run->study, head, walk, &source, &cast, &chunks, error))
        return false;
    *same = strcmp(source, task->source) == 0;
    return !*same || study_fixation_write_rows(run, task, error);
}

static bool study_fixation_write(FixateRun *run, StudyFixationTask *task, GError **error)
{
    bool same;
    /* What one walk holds may be bad; a machine that fails, fails for all. */
    if (task->error && task->error->code == LF_ERROR_MACHINE) {
        g_propagate_error(error, g_steal_pointer(&task->error));
        return false;
    }
    if (task->error) {
        study_fixation_fail(run, task->name, task->error->message);
        return true;
    }
    if (!study_db_begin(run->study, error))
        return false;
    if (!study_db_end(run->study, study_fixation_write_if_same(run, task, &same, error), error))
        return false;
    if (!same) {
        study_fixation_fail(run, task->name, "somebody changed it in the meantime; run this again");
        return true;
    }
    run->report->walks_done++;
    run->report->walks_new++;
    run->report->fixations += (int64_t)task->n;
    return true;
}

static bool study_fixation_collect(FixateRun *run, int workers, GError **error)
{
    bool ok = true;
    gsize n = 0;
    while (workers > 0) {
        gpointer got = g_async_queue_pop(run->done);
        if (got == run) {
            workers--;
            continue;
        }
        StudyFixationTask *task = got;
        if (ok && !study_fixation_write(run, task, error)) {
            ok = false;
            g_atomic_int_set(&run->stop, 1);
        }
        g_clear_pointer(&task->fixations, g_free);
        if (ok && run->options->progress)
            run->options->progress(++n, run->tasks->len, run->options->data);
    }
    return ok;
}

static bool study_fixation_run(FixateRun *run, GError **error)
{
    int jobs = CLAMP(run->options->jobs, 1, (int)MAX(run->tasks->len, 1));
    g_autofree GThread **workers = g_new0(GThread *, (gsize)jobs);
    if (run->tasks->len == 0)
        return true;
    if (!study_db_begin(run->study, error) ||
        !study_db_end(run->study,
                      study_db_log(run->study, "fixate", run->settings, &run->run, error), error))
        return false;
    for (int i = 0; i < jobs; i++)
        workers[i] = g_thread_new("fixate", study_fixation_work, run);
    bool ok = study_fixation_collect(run, jobs, error);
    for (int i = 0; i < jobs; i++)
        g_thread_join(workers[i]);
    if (ok && run->worker_error) {
        g_propagate_error(error, g_steal_pointer(&run->worker_error));
        ok = false;
    }
    g_clear_error(&run->worker_error);
    run->report->interrupted = ok && (guint)g_atomic_int_get(&run->next) < run->tasks->len;
    return ok;
}

static bool study_fixation_otherwise(FixateRun *run, GError **error)
{
    int64_t n;
    if (!study_db_get(run->study, error, 0, &n,
                      "SELECT count(*) FROM fixation_run WHERE settings <> ?", "s", run->settings))
        return false;
    run->report->otherwise = (gsize)n;
    return true;
}

static void study_fixation_task_drop(gpointer task)
{
    study_fixation_task_free(task);
}

bool lf_study_fixate(LfStudy *study, const LfStudyFixateOptions *options,
                     LfStudyFixateReport *report, GError **error)
{
    *report = (LfStudyFixateReport){.uncast = g_ptr_array_new_with_free_func(g_free),
                                    .partly = g_ptr_array_new_with_free_func(g_free),
                                    .failed = g_ptr_array_new_with_free_func(g_free)};
    if (!lf_fixation_settings_check(&options->settings, error))
        return false;
    g_autofree char *settings = lf_fixation_settings_text(&options->settings);
    g_autoptr(GPtrArray) tasks = g_ptr_array_new_with_free_func(study_fixation_task_drop);
    FixateRun run = {.study = study,
                     .options = options,
                     .report = report,
                     .settings = settings,
                     .tasks = tasks,
                     .done = g_async_queue_new()};
    g_mutex_init(&run.lock);
    bool ok = study_db_begin_read(study, error) &&
              study_db_end(study, study_fixation_plan(&run, error), error) &&
              study_fixation_run(&run, error) && study_fixation_otherwise(&run, error);
    g_mutex_clear(&run.lock);
    g_async_queue_unref(run.done);
    return ok;
}

void lf_study_fixate_report_clear(LfStudyFixateReport *report)
{
    g_clear_pointer(&report->uncast, g_ptr_array_unref);
    g_clear_pointer(&report->partly, g_ptr_array_unref);
    g_clear_pointer(&report->failed, g_ptr_array_unref);
}
