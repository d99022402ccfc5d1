/* Measures out of the study. Each worker reads walks through a connection of its own and computes
 * their rows; the caller's thread hands the rows on in the order of walks. No more than a few walks
 * are in memory at a time, whatever their number. Nothing is written. */
#include "study/study_db.h"

#include <string.h>

#include <lookfall/measure.h>

#include "look/measure_walk.h"
#include "look/sequence.h"

/* Walks that may wait to be handed on, for each worker. */
#define STUDY_MEASURE_AHEAD 4

/* Makes the rows of one span of one walk. */
typedef GArray *(*StudyMeasureMake)(const LookWalk *walk, const LookSpan *span,
                                    const LfMeasureHead *head);
/* Hands one row on. */
typedef bool (*StudyMeasureGive)(gconstpointer row, gpointer sink, void *data, GError **error);

typedef struct {
    GPtrArray *rows; /* GArray of each span */
    bool undone;     /* no up to date fixations, or not wholly cast */
    bool fixated;
    GError *error;
    bool done;
} MeasureSlot;

typedef struct {
    LfStudy *study;
    const LfMeasureOptions *options;
    StudyMeasureMake make;
    GPtrArray *walks; /* LfStudyWalk */
    GPtrArray *marks; /* of each walk: GPtrArray of borrowed LfMark */
    GPtrArray *all_marks;
    GPtrArray *areas;
    GPtrArray *rules;
    LookPlan *plan;

    GMutex lock;
    GCond moved;
    MeasureSlot *slots; /* below: guarded by lock */
    guint next, given;
    bool stop;
} MeasureRun;

/* --- one walk -----------------------------------------------------------------------------------
 */

static bool study_measure_sample(const LfStudySample *sample, void *data,
                                 G_GNUC_UNUSED GError **error)
{
    look_time_add(data, sample->t_us,
                  sample->cast ? look_time_kind(sample->result.state) : LOOK_TIME_UNCAST);
    return true;
}

/* A walk of which nothing is cast gives no samples; its time is unknown as such. */
static LookTime *study_measure_time(LfStudy *study, const LfStudyWalk *walk, GPtrArray *partly,
                                    GError **error)
{
    const char *const names[] = {walk->name, NULL};
    bool none = walk->chunks_cast == 0;
    g_autoptr(LookTime) time = look_time_new(none ? walk->end_us : walk->interval_us);
    if (none) {
        look_time_add(time, 0, LOOK_TIME_UNCAST);
    } else if (!lf_study_export_samples(study, names, study_measure_sample, time, partly, error)) {
        return NULL;
    }
    look_time_close(time);
    return g_steal_pointer(&time);
}

static bool study_measure_fixations(const LfStudyFixations *walk, void *data,
                                    G_GNUC_UNUSED GError **error)
{
    g_array_append_vals(data, walk->fixations, (guint)walk->n);
    return true;
}

/* False without an error where there are none that are up to date. */
static bool study_measure_fixated(LfStudy *study, const LfStudyWalk *walk, GArray *fixations,
                                  GError **error)
{
    const char *const names[] = {walk->name, NULL};
    g_autoptr(GPtrArray) none = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GError) why = NULL;
    if (lf_study_fixations(study, names, study_measure_fixations, fixations, none, &why))
        return none->len == 0;
    if (none->len == 0)
        g_propagate_error(error, g_steal_pointer(&why));
    return false;
}

static void study_measure_spans(const MeasureRun *run, guint i, const LookWalk *walk,
                                MeasureSlot *slot)
{
    const LfStudyWalk *info = run->walks->pdata[i];
    int64_t to_us = run->options->to_us > 0 ? run->options->to_us : INT64_MAX;
    g_autoptr(GArray) spans = look_spans(run->rules, run->marks->pdata[i], run->options->from_us,
                                         MIN(to_us, info->end_us));
    for (guint s = 0; s < spans->len; s++) {
        const LookSpan *span = &g_array_index(spans, LookSpan, s);
        LfMeasureHead head = {
            .walk = info->name,
            .participant = info->participant,
            .group = info->group,
            .span = span->rule->name,
            .span_number = span->number,
            .from_us = span->from_us,
            .to_us = span->to_us,
            .time = look_time_between(walk->time, span->from_us, span->to_us),
        };
        g_ptr_array_add(slot->rows, run->make(walk, span, &head));
    }
}

static void study_measure_walk(const MeasureRun *run, LfStudy *study, guint i, MeasureSlot *slot)
{
    const LfStudyWalk *info = run->walks->pdata[i];
    g_autoptr(GArray) fixations = g_array_new(FALSE, FALSE, sizeof(LfFixation));
    g_autoptr(GPtrArray) partly = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(LookHits) hits = NULL;
    g_autoptr(LookTime) time = study_measure_time(study, info, partly, &slot->error);
    if (!time)
        return;
    slot->fixated = study_measure_fixated(study, info, fixations, &slot->error);
    if (slot->error)
        return;
    if (slot->fixated)
        hits = look_hits_new(run->plan, (const LfFixation *)(gpointer)fixations->data,
                             fixations->len, run->options->settings.radii);
    slot->undone = !slot->fixated || partly->len > 0 || info->chunks_cast < info->chunks;
    LookWalk walk = {run->plan, time, hits, run->options->settings};
    study_measure_spans(run, i, &walk, slot);
}

/* --- workers ------------------------------------------------------------------------------------
 */

/* The next walk to compute, once it is not too far ahead; false where there is none. */
static bool study_measure_next(MeasureRun *run, guint *i)
{
    guint ahead = STUDY_MEASURE_AHEAD * (guint)MAX(run->options->jobs, 1);
    g_mutex_lock(&run->lock);
    *i = run->next < run->walks->len ? run->next++ : run->walks->len;
    while (!run->stop && *i < run->walks->len && *i >= run->given + ahead)
        g_cond_wait(&run->moved, &run->lock);
    bool go = !run->stop && *i < run->walks->len;
    g_mutex_unlock(&run->lock);
    return go;
}

static gpointer study_measure_work(gpointer data)
{
    MeasureRun *run = data;
    GError *error = NULL;
    guint i;
    g_autoptr(LfStudy) study = lf_study_open(run->study->path, LF_STUDY_READ, &error);
    while (study_measure_next(run, &i)) {
        MeasureSlot slot = {.rows = g_ptr_array_new_with_free_func((GDestroyNotify)g_array_unref)};
        if (study)
            study_measure_walk(run, study, i, &slot);
        else
            slot.error = g_error_copy(error);
        slot.done = true;
        g_mutex_lock(&run->lock);
        run->slots[i] = slot;
        g_cond_broadcast(&run->moved);
        g_mutex_unlock(&run->lock);
    }
    g_clear_error(&error);
    return NULL;
}

static bool study_measure_give_walk(const MeasureSlot *slot, gsize size, StudyMeasureGive give,
                                    gpointer sink, void *data, GError **error)
{
    for (guint s = 0; s < slot->rows->len; s++) {
        const GArray *rows = slot->rows->pdata[s];
        for (guint r = 0; r < rows->len; r++)
            if (!give(rows->data + r * size, sink, data, error))
                return false;
    }
    return true;
}

static void study_measure_slot_clear(MeasureSlot *slot)
{
    g_clear_pointer(&slot->rows, g_ptr_array_unref);
    g_clear_error(&slot->error);
}

/* Waits for each walk in turn and hands its rows on. */
static bool study_measure_collect(MeasureRun *run, gsize size, StudyMeasureGive give, gpointer sink,
                                  void *data, GPtrArray *undone, GError **error)
{
    bool ok = true;
    for (guint i = 0; i < run->walks->len && ok; i++) {
        g_mutex_lock(&run->lock);
        while (!run->slots[i].done)
            g_cond_wait(&run->moved, &run->lock);
        MeasureSlot slot = run->slots[i];
        run->slots[i].rows = NULL;
        run->slots[i].error = NULL;
        g_mutex_unlock(&run->lock);
        if (slot.error) {
            g_propagate_error(error, g_steal_pointer(&slot.error));
            ok = false;
        }
        if (ok && slot.undone && undone)
            g_ptr_array_add(undone, g_strdup(((const LfStudyWalk *)run->walks->pdata[i])->name));
        ok = ok && study_measure_give_walk(&slot, size, give, sink, data, error);
        study_measure_slot_clear(&slot);
        g_mutex_lock(&run->lock);
        run->given = i + 1;
        run->stop = !ok;
        g_cond_broadcast(&run->moved);
        g_mutex_unlock(&run->lock);
    }
    return ok;
}

static bool study_measure_run(MeasureRun *run, gsize size, StudyMeasureGive give, gpointer sink,
                              void *data, GPtrArray *undone, GError **error)
{
    int jobs = CLAMP(run->options->jobs, 1, (int)MAX(run->walks->len, 1));
    g_autofree GThread **workers = g_new0(GThread *, (gsize)jobs);
    run->slots = g_new0(MeasureSlot, MAX(run->walks->len, 1));
    g_mutex_init(&run->lock);
    g_cond_init(&run->moved);
    for (int i = 0; i < jobs; i++)
        workers[i] = g_thread_new("measure", study_measure_work, run);
    bool ok = study_measure_collect(run, size, give, sink, data, undone, error);
    for (int i = 0; i < jobs; i++)
        g_thread_join(workers[i]);
    for (guint i = 0; i < run->walks->len; i++)
        study_measure_slot_clear(&run->slots[i]);
    g_free(run->slots);
    g_mutex_clear(&run->lock);
    g_cond_clear(&run->moved);
    return ok;
}

/* --- what is asked for ------------------------------------------------------------------------ */

static bool study_measure_check_mark(const GPtrArray *names, const char *mark, GError **error)
{
    for (guint i = 0; mark && i < names->len; i++)
        if (strcmp(((const LfMarkName *)names->pdata[i])->name, mark) == 0)
            return true;
    if (mark)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "no mark in the study is called \"%s\"; \"lookfall mark export\" lists them",
                    mark);
    return !mark;
}

/* The rules asked for, or the whole walk; their marks must have been made at least once. */
static bool study_measure_rules(MeasureRun *run, GError **error)
{
    g_autoptr(GPtrArray) names = lf_study_mark_names(run->study, error);
    if (!names)
        return false;
    run->rules = g_ptr_array_new();
    for (guint i = 0; run->options->spans && i < run->options->spans->len; i++) {
        LfSpanRule *rule = run->options->spans->pdata[i];
        if (!study_measure_check_mark(names, rule->mark, error) ||
            !study_measure_check_mark(names, rule->other, error))
            return false;
        g_ptr_array_add(run->rules, rule);
    }
    return true;
}

static bool study_measure_load(MeasureRun *run, GError **error)
{
    LfStudy *study = run->study;
    const char *const *names = run->options->walks;
    g_autoptr(GPtrArray) photos = NULL;
    if (!(run->areas = lf_study_areas(study, NULL, error)) ||
        !(run->walks = lf_study_walks(study, names, error)) ||
        !(run->all_marks = lf_study_marks(study, names, error)) ||
        !(photos = lf_study_photos(study, error)))
        return false;
    run->marks = g_ptr_array_new_with_free_func((GDestroyNotify)g_ptr_array_unref);
    for (guint i = 0, m = 0; i < run->walks->len; i++) {
        GPtrArray *marks = g_ptr_array_new();
        const char *walk = ((const LfStudyWalk *)run->walks->pdata[i])->name;
        /* Both lists go by the names of walks. */
        for (; m < run->all_marks->len; m++) {
            LfMark *mark = run->all_marks->pdata[m];
            if (strcmp(mark->walk, walk) != 0)
                break;
            g_ptr_array_add(marks, mark);
        }
        g_ptr_array_add(run->marks, marks);
    }
    g_autofree int64_t *ids = g_new0(int64_t, MAX(run->areas->len, 1));
    for (guint i = 0; i < run->areas->len; i++)
        for (guint p = 0; p < photos->len; p++)
            if (strcmp(((const LfArea *)run->areas->pdata[i])->photo,
                       ((const LfStudyPhoto *)photos->pdata[p])->name) == 0)
                ids[i] = ((const LfStudyPhoto *)photos->pdata[p])->id;
    run->plan = look_plan_new(run->areas, ids);
    return true;
}

static bool study_measure_refuse(const MeasureRun *run, GError **error)
{
    const char *why = NULL;
    if (run->walks->len == 0)
        why = "there is no walk in this study yet; add one with \"lookfall walk add\"";
    else if (run->areas->len == 0)
        why = "there is no area in this study yet; \"lookfall aoi import\" reads them from a file, "
              "\"lookfall desk\" lets you draw them";
    if (why)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: %s", run->study->name, why);
    return !why;
}

/* Asked first, so that a study without fixations gives no row at all. */
static bool study_measure_any(const MeasureRun *run, GError **error)
{
    for (guint i = 0; i < run->walks->len; i++) {
        g_autoptr(GArray) fixations = g_array_new(FALSE, FALSE, sizeof(LfFixation));
        g_autoptr(GError) why = NULL;
        if (study_measure_fixated(run->study, run->walks->pdata[i], fixations, &why))
            return true;
        if (why) {
            g_propagate_error(error, g_steal_pointer(&why));
            return false;
        }
    }
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "%s: there are no fixations of what is cast today. Run \"lookfall cast\", then "
                "\"lookfall fixate\"",
                run->study->name);
    return false;
}

static void study_measure_clear(MeasureRun *run)
{
    g_clear_pointer(&run->plan, look_plan_free);
    g_clear_pointer(&run->areas, g_ptr_array_unref);
    g_clear_pointer(&run->walks, g_ptr_array_unref);
    g_clear_pointer(&run->marks, g_ptr_array_unref);
    g_clear_pointer(&run->all_marks, g_ptr_array_unref);
    g_clear_pointer(&run->rules, g_ptr_array_unref);
}

static bool study_measure(LfStudy *study, const LfMeasureOptions *options, StudyMeasureMake make,
                          gsize size, StudyMeasureGive give, gpointer sink, void *data,
                          GPtrArray *undone, GError **error)
{
    MeasureRun run = {.study = study, .options = options, .make = make};
    LfSpanRule whole = {.kind = LF_SPAN_WALK, .name = (char *)(gpointer) "walk"};
    bool ok = lf_measure_settings_check(&options->settings, error) &&
              study_measure_rules(&run, error) && study_measure_load(&run, error) &&
              study_measure_refuse(&run, error) && study_measure_any(&run, error);
    if (ok && run.rules->len == 0)
        g_ptr_array_add(run.rules, &whole);
    ok = ok && study_measure_run(&run, size, give, sink, data, undone, error);
    study_measure_clear(&run);
    return ok;
}

/* --- public -------------------------------------------------------------------------------------
 */

/* A function of the public type behind one that all kinds of rows share. */
#define STUDY_MEASURE_PUBLIC(name, Row, Sink, make)                                                \
    static bool study_##name##_give(gconstpointer row, gpointer sink, void *data, GError **error)  \
    {                                                                                              \
        return (*(Sink *)sink)(row, data, error);                                                  \
    }                                                                                              \
    bool lf_study_##name(LfStudy *study, const LfMeasureOptions *options, Sink sink, void *data,   \
                         GPtrArray *undone, GError **error)                                        \
    {                                                                                              \
        return study_measure(study, options, make, sizeof(Row), study_##name##_give, &sink, data,  \
                             undone, error);                                                       \
    }

STUDY_MEASURE_PUBLIC(measures, LfMeasureRow, LfMeasureSink, look_measures)
STUDY_MEASURE_PUBLIC(visits, LfVisitRow, LfVisitSink, look_visits)
STUDY_MEASURE_PUBLIC(sequences, LfSequenceRow, LfSequenceSink, look_sequences)
STUDY_MEASURE_PUBLIC(transitions, LfTransitionRow, LfTransitionSink, look_transitions)
STUDY_MEASURE_PUBLIC(entropies, LfEntropyRow, LfEntropySink, look_entropies)
