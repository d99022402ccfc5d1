/* Many walks at once, all or none.
 *
 * Workers read the files of the inputs; the calling thread alone speaks to the study and inserts
 * the walks in the order of the inputs, inside one transaction that is rolled back when any of them
 * has a fault. Workers run at most a few walks ahead, so that memory does not grow with the number
 * of walks. */
#include "study/study_walk.h"

#include <string.h>

#define LF_IMPORT_AHEAD 2 /* walks read ahead for each worker */

typedef struct {
    const LfWalkInput *inputs;
    gsize n;
    gsize ahead;
    /* Under the lock. */
    GMutex lock;
    GCond changed;
    gsize next;        /* input the next free worker takes */
    gsize taken;       /* inputs the calling thread is done with */
    StudyWalk **walks; /* read, or NULL */
    GError **faults;   /* or why not */
} ImportDesk;

static gpointer import_worker(gpointer data)
{
    ImportDesk *desk = data;
    g_mutex_lock(&desk->lock);
    for (;;) {
        while (desk->next < desk->n && desk->next >= desk->taken + desk->ahead)
            g_cond_wait(&desk->changed, &desk->lock);
        if (desk->next >= desk->n)
            break;
        gsize i = desk->next++;
        g_mutex_unlock(&desk->lock);
        GError *fault = NULL;
        StudyWalk *walk = walk_read_all(&desk->inputs[i], &fault);
        g_mutex_lock(&desk->lock);
        desk->walks[i] = walk;
        desk->faults[i] = fault;
        g_cond_broadcast(&desk->changed);
    }
    g_mutex_unlock(&desk->lock);
    return NULL;
}

static void import_wait(ImportDesk *desk, gsize i, StudyWalk **walk, GError **fault)
{
    g_mutex_lock(&desk->lock);
    while (!desk->walks[i] && !desk->faults[i])
        g_cond_wait(&desk->changed, &desk->lock);
    *walk = g_steal_pointer(&desk->walks[i]);
    *fault = g_steal_pointer(&desk->faults[i]);
    desk->taken = i + 1;
    g_cond_broadcast(&desk->changed);
    g_mutex_unlock(&desk->lock);
}

static void import_fault_free(gpointer data)
{
    LfWalkFault *fault = data;
    g_free(fault->sentence);
    g_free(fault);
}

GPtrArray *lf_walk_faults_new(void)
{
    return g_ptr_array_new_with_free_func(import_fault_free);
}

static void import_add_fault(GPtrArray *faults, gsize index, const char *sentence)
{
    LfWalkFault *fault = g_new0(LfWalkFault, 1);
    fault->index = index;
    fault->sentence = g_strdup(sentence);
    g_ptr_array_add(faults, fault);
}

/* Takes the walks as they are ready. False only where the study itself fails. */
static bool import_insert_all(LfStudy *study, ImportDesk *desk, LfWalkImportProgress progress,
                              void *data, GPtrArray *notes, GPtrArray *faults, GError **error)
{
    for (gsize i = 0; i < desk->n; i++) {
        g_autoptr(StudyWalk) walk = NULL;
        g_autoptr(GError) fault = NULL;
        import_wait(desk, i, &walk, &fault);
        if (walk)
            study_walk_insert(study, walk, &fault);
        if (fault && !g_error_matches(fault, LF_ERROR, LF_ERROR_INPUT) && walk) {
            g_propagate_error(error, g_steal_pointer(&fault));
            return false;
        }
        if (fault)
            import_add_fault(faults, i, fault->message);
        for (guint k = 0; walk && !fault && k < walk->notes->len; k++)
            g_ptr_array_add(
                notes, g_strdup_printf("walk %s: %s", walk->name, (char *)walk->notes->pdata[k]));
        if (progress)
            progress(i + 1, desk->n, data);
    }
    return true;
}

static void import_stop(ImportDesk *desk, GThread **workers, int jobs)
{
    g_mutex_lock(&desk->lock);
    desk->next = desk->n;
    g_cond_broadcast(&desk->changed);
    g_mutex_unlock(&desk->lock);
    for (int i = 0; i < jobs; i++)
        g_thread_join(workers[i]);
    for (gsize i = 0; i < desk->n; i++) {
        study_walk_free(desk->walks[i]);
        g_clear_error(&desk->faults[i]);
    }
    g_free(desk->walks);
    g_free(desk->faults);
    g_mutex_clear(&desk->lock);
    g_cond_clear(&desk->changed);
}

bool lf_study_walk_import(LfStudy *study, const LfWalkInput *inputs, gsize n, int jobs,
                          bool check_only, LfStudyNote note, LfWalkImportProgress progress,
                          void *data, GPtrArray *faults, GError **error)
{
    ImportDesk desk = {.inputs = inputs, .n = n, .ahead = (gsize)jobs * LF_IMPORT_AHEAD};
    g_autofree GThread **workers = g_new0(GThread *, (gsize)jobs);
    g_autoptr(GPtrArray) notes = g_ptr_array_new_with_free_func(g_free);

    if (!study_db_begin(study, error))
        return false;
    g_mutex_init(&desk.lock);
    g_cond_init(&desk.changed);
    desk.walks = g_new0(StudyWalk *, n);
    desk.faults = g_new0(GError *, n);
    for (int i = 0; i < jobs; i++)
        workers[i] = g_thread_new("import", import_worker, &desk);
    bool ok = import_insert_all(study, &desk, progress, data, notes, faults, error);
    import_stop(&desk, workers, jobs);
    if (ok && faults->len > 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%u of %" G_GSIZE_FORMAT " walks have a fault; none was added", faults->len, n);
        ok = false;
    }
    if (ok && check_only)
        return !study_db_end(study, false, error); /* false is the answer to a rollback */
    if (!study_db_end(study, ok, error))
        return false;
    for (guint i = 0; note && i < notes->len; i++)
        note(notes->pdata[i], data);
    return true;
}
