/* Workers over chunks.
 *
 * A shared counter hands out chunks in order of walks; each worker computes its chunk alone and
 * delivers it under a lock. Nothing a worker computes depends on the others, so neither do results.
 */
#include <lookfall/cast.h>

#include "cast/chunk.h"

typedef struct {
    gsize walk, chunk;
} RunItem;

typedef struct {
    LfPhoto *const *photos;
    int n_photos;
    const LfCastWalk *walks;
    const LfCastSettings *settings;
    int jobs;
    LfChunkSink sink;
    LfCastProgress progress;
    void *data;
    const int *cancel;
    const RunItem *items;
    gsize n_items;

    GMutex lock;
    /* Guarded by lock: */
    gsize next;
    int64_t frames;
    bool stopped;
    bool *walk_failed;
    GPtrArray *failed;
    GError *error; /* the first that stops the run */
} Run;

typedef struct {
    Run *run;
    LfWindow *window;    /* for its chunks, one after the other */
    int64_t last_frames; /* of the chunk in work, already reported */
    int64_t last_us;
} RunWorker;

static bool run_stopped(Run *run)
{
    g_mutex_lock(&run->lock);
    bool stopped = run->stopped || (run->cancel && g_atomic_int_get(run->cancel));
    g_mutex_unlock(&run->lock);
    return stopped;
}

static bool run_tick(int64_t frames, int64_t t_us, void *data)
{
    RunWorker *worker = data;
    Run *run = worker->run;
    if (run_stopped(run))
        return false;
    if (frames - worker->last_frames < 10)
        return true;
    g_mutex_lock(&run->lock);
    run->frames += frames - worker->last_frames;
    if (run->progress)
        run->progress(run->frames, t_us, run->data);
    g_mutex_unlock(&run->lock);
    worker->last_frames = frames;
    return true;
}

static void run_fail_walk(Run *run, gsize walk, const GError *error)
{
    g_mutex_lock(&run->lock);
    if (!run->walk_failed[walk] && run->failed)
        g_ptr_array_add(run->failed,
                        g_strdup_printf("%" G_GSIZE_FORMAT "\t%s", walk, error->message));
    run->walk_failed[walk] = true;
    g_mutex_unlock(&run->lock);
}

static void run_stop(Run *run, GError *error)
{
    g_mutex_lock(&run->lock);
    run->stopped = true;
    if (!run->error)
        run->error = error;
    else
        g_error_free(error);
    g_mutex_unlock(&run->lock);
}

/* The next chunk to do; threads: how many decoder threads it may use. Towards the end there are
 * fewer chunks than workers; the free cores then help decoding. */
static bool run_take(Run *run, RunItem *item, int *threads)
{
    bool got = false;
    g_mutex_lock(&run->lock);
    while (!got && run->next < run->n_items && !run->stopped) {
        gsize left = run->n_items - run->next;
        *item = run->items[run->next++];
        got = !run->walk_failed[item->walk];
        *threads = left >= (gsize)run->jobs ? 1 : run->jobs / (int)left;
    }
    g_mutex_unlock(&run->lock);
    return got;
}

static bool run_deliver(RunWorker *worker, const RunItem *item, const LfChunkOutput *output)
{
    Run *run = worker->run;
    g_autofree LfSampleCast *samples = g_new(LfSampleCast, output->placed->len);
    for (guint i = 0; i < output->placed->len; i++)
        samples[i] = g_array_index(output->placed, LfPlaced, i).cast;
    LfChunkResult result = {.walk = &run->walks[item->walk],
                            .walk_index = item->walk,
                            .chunk = item->chunk,
                            .samples = samples,
                            .n_samples = output->placed->len,
                            .poses = (const LfPoseCast *)(const void *)output->poses->data,
                            .n_poses = output->poses->len,
                            .frames = output->frames,
                            .damaged = output->damaged,
                            .end_us = output->end_us};
    GError *error = NULL;
    g_mutex_lock(&run->lock);
    bool good = run->stopped || run->sink(&result, run->data, &error);
    run->frames += output->frames - worker->last_frames;
    if (run->progress && good)
        run->progress(run->frames, 0, run->data);
    g_mutex_unlock(&run->lock);
    if (!good)
        run_stop(run, error);
    return good;
}

/* One chunk. False stops the worker. */
static bool run_chunk(RunWorker *worker, LfTracker *tracker, const RunItem *item, int threads)
{
    Run *run = worker->run;
    const LfCastWalk *walk = &run->walks[item->walk];
    g_autoptr(GError) error = NULL;
    g_autoptr(LfVideo) video = lf_video_open(walk->video_path, threads, &error);
    LfChunkOutput output;
    lf_chunk_output_init(&output);
    worker->last_frames = 0;
    LfChunkTask task = {.photos = run->photos,
                        .n_photos = run->n_photos,
                        .tracker = tracker,
                        .window = &worker->window,
                        .video = video,
                        .walk = walk,
                        .span = &walk->chunks[item->chunk],
                        .settings = run->settings,
                        .tick = run_tick,
                        .tick_data = worker};
    bool go_on = true;
    if (video && lf_chunk_cast(&task, &output, &error))
        go_on = run_deliver(worker, item, &output);
    else if (!error)
        go_on = false; /* cancelled */
    else if (g_error_matches(error, LF_ERROR, LF_ERROR_MACHINE)) {
        run_stop(run, g_steal_pointer(&error));
        go_on = false;
    } else
        run_fail_walk(run, item->walk, error);
    lf_chunk_output_clear(&output);
    return go_on;
}

static gpointer run_worker(gpointer data)
{
    RunWorker worker = {.run = data};
    g_autoptr(LfTracker) tracker = lf_tracker_new(worker.run->photos, worker.run->n_photos);
    RunItem item;
    int threads;
    while (!run_stopped(worker.run) && run_take(worker.run, &item, &threads) &&
           run_chunk(&worker, tracker, &item, threads))
        ;
    lf_window_free(worker.window);
    return NULL;
}

static GArray *run_list(const LfCastWalk *walks, gsize n_walks)
{
    GArray *items = g_array_new(FALSE, FALSE, sizeof(RunItem));
    for (gsize w = 0; w < n_walks; w++)
        for (gsize c = 0; c < walks[w].n_chunks; c++)
            if (!walks[w].done || !walks[w].done[c]) {
                RunItem item = {w, c};
                g_array_append_val(items, item);
            }
    return items;
}

bool lf_cast_run(LfPhoto *const *photos, gsize n_photos, const LfCastWalk *walks, gsize n_walks,
                 const LfCastSettings *settings, int jobs, LfChunkSink sink,
                 LfCastProgress progress, void *data, const int *cancel, GPtrArray *failed,
                 GError **error)
{
    g_autoptr(GArray) items = run_list(walks, n_walks);
    jobs = CLAMP(jobs, 1, (int)MAX(items->len, 1));
    g_autofree bool *walk_failed = g_new0(bool, n_walks + 1);
    Run run = {.photos = photos,
               .n_photos = (int)n_photos,
               .walks = walks,
               .settings = settings,
               .jobs = jobs,
               .sink = sink,
               .progress = progress,
               .data = data,
               .cancel = cancel,
               .items = (const RunItem *)(const void *)items->data,
               .n_items = items->len,
               .walk_failed = walk_failed,
               .failed = failed};
    g_autofree GThread **threads = g_new0(GThread *, jobs);
    g_mutex_init(&run.lock);
    for (int i = 0; i < jobs; i++)
        threads[i] = g_thread_new("cast", run_worker, &run);
    for (int i = 0; i < jobs; i++)
        g_thread_join(threads[i]);
    g_mutex_clear(&run.lock);
    if (run.error) {
        g_propagate_error(error, run.error);
        return false;
    }
    return true;
}
