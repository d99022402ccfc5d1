/* Following the photos through the first frames of chunks, and keeping some of these. */
#include "cast/survey_views.h"

#include <string.h>

#include "cast/tracker.h"

/* Chunks looked through at the most; frames of all of them together, and of one at the least and at
 * the most. */
#define VIEWS_CHUNKS 16
#define VIEWS_FRAMES 240
#define VIEWS_FRAMES_MIN 16
#define VIEWS_FRAMES_MAX 100
/* Time between views that are kept: a head hardly moves meanwhile. */
#define VIEWS_EVERY_US 300000
/* Frames in which nothing was found, after which the chunk is given up. */
#define VIEWS_PATIENCE 30
/* Frames held while following: a find is filled in so far back. */
#define VIEWS_WINDOW 8

typedef struct {
    LfSurveyViews *views;
    gsize next, to;
    GMutex lock; /* guards the above and views->views */
    GError *error;
} ViewsRun;

/* What one thread works with. */
typedef struct {
    ViewsRun *run;
    LfTracker *tracker;
    LfWindow *window;
    int threads; /* for decoding */
} ViewsWorker;

static void views_view_free(gpointer data)
{
    LfSurveyView *view = data;
    if (!view)
        return;
    lf_frame_pyramid_clear(&view->pyramid);
    g_free(view->frame_from_photo);
    g_free(view->share_good);
    g_free(view->camera);
    for (int p = 0; p < view->n_photos; p++) {
        g_free(view->unlike[p]);
        g_free(view->behind[p]);
    }
    g_free(view->unlike);
    g_free(view->behind);
    g_free(view);
}

LfSurveyViews *lf_survey_views_new(LfPhoto *const *photos, int n_photos, const LfCastWalk *walks,
                                   gsize n_walks, const int *cancel)
{
    LfSurveyViews *views = g_new(LfSurveyViews, 1);
    *views = (LfSurveyViews){.photos = photos,
                             .n_photos = n_photos,
                             .walks = walks,
                             .views = g_ptr_array_new_with_free_func(views_view_free),
                             .cancel = cancel};
    for (gsize w = 0; w < n_walks; w++)
        views->n_chunks += walks[w].n_chunks;
    views->n_looks = MIN(views->n_chunks, VIEWS_CHUNKS);
    views->frames_each =
        CLAMP(VIEWS_FRAMES / (int)MAX(views->n_looks, 1), VIEWS_FRAMES_MIN, VIEWS_FRAMES_MAX);
    return views;
}

void lf_survey_views_free(LfSurveyViews *views)
{
    if (!views)
        return;
    g_ptr_array_unref(views->views);
    g_free(views);
}

bool lf_survey_views_cancelled(const LfSurveyViews *views)
{
    return views->cancel && g_atomic_int_get(views->cancel);
}

static bool views_no_memory(GError **error)
{
    g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory for video frames.");
    return false;
}

static bool views_any_found(const LfWindowFrame *frame, int n_photos)
{
    for (int p = 0; p < n_photos; p++)
        if (frame->has[p])
            return true;
    return false;
}

static bool views_copy_pyramid(LfSurveyView *view, const LfFramePyramid *from, const LfWindow *size)
{
    if (!lf_frame_pyramid_init(&view->pyramid, size->width, size->height, LF_FRAME_WORK_WIDTH))
        return false;
    for (int i = 0; i < LF_FRAME_LEVELS; i++)
        memcpy(view->pyramid.level[i].data, from->level[i].data,
               (gsize)from->level[i].width * (gsize)from->level[i].height);
    return true;
}

/* Keeps the worker's newest frame. */
static bool views_keep(ViewsWorker *worker, gsize chunk, const LfLens *lens, GError **error)
{
    ViewsRun *run = worker->run;
    const int n = run->views->n_photos;
    const LfWindowFrame *frame = lf_window_at(worker->window, worker->window->end - 1);
    LfSurveyView *view = g_new(LfSurveyView, 1);
    *view = (LfSurveyView){.chunk = chunk,
                           .t_us = frame->t_us,
                           .lens = lens,
                           .frame_from_photo = g_new0(LfMat3, n),
                           .share_good = g_new0(double, n),
                           .camera = g_new0(LfCameraSums, n),
                           .unlike = g_new0(uint8_t *, n),
                           .behind = g_new0(uint8_t *, n),
                           .n_photos = n};
    for (int p = 0; p < n; p++)
        if (frame->has[p]) {
            view->frame_from_photo[p] = frame->pose[p].frame_from_photo;
            view->share_good[p] = frame->pose[p].share_good;
        }
    if (!views_copy_pyramid(view, &frame->pyramid, worker->window)) {
        views_view_free(view);
        return views_no_memory(error);
    }
    g_mutex_lock(&run->lock);
    g_ptr_array_add(run->views->views, view);
    g_mutex_unlock(&run->lock);
    return true;
}

/* Follows the photos through the first frames of a chunk in which one of them is to be seen. */
static bool views_follow(ViewsWorker *worker, gsize chunk, LfVideo *video, const LfLens *lens,
                         const LfChunkSpan *span, GError **error)
{
    const LfSurveyViews *views = worker->run->views;
    int64_t keep_us = INT64_MIN;
    int seen = 0, idle = 0;
    while (seen < views->frames_each && idle < VIEWS_PATIENCE &&
           !lf_survey_views_cancelled(views)) {
        LfFrame frame;
        bool got;
        if (!lf_video_next(video, &frame, &got, error))
            return false;
        if (!got || frame.t_us >= span->to_us)
            return true;
        const LfWindowFrame *newest =
            lf_window_push(worker->window, frame.t_us, frame.luma, frame.stride);
        if (!newest)
            return views_no_memory(error);
        lf_tracker_advance(worker->tracker, worker->window);
        idle++;
        if (!views_any_found(newest, views->n_photos))
            continue;
        idle = 0;
        seen++;
        if (frame.t_us < keep_us)
            continue;
        if (!views_keep(worker, chunk, lens, error))
            return false;
        keep_us = frame.t_us + VIEWS_EVERY_US;
    }
    return true;
}

static bool views_open_window(ViewsWorker *worker, const LfVideoInfo *info, GError **error)
{
    if (!worker->window || worker->window->width != info->width ||
        worker->window->height != info->height) {
        lf_window_free(worker->window);
        worker->window =
            lf_window_new(VIEWS_WINDOW, worker->run->views->n_photos, info->width, info->height);
    }
    if (!worker->window)
        return views_no_memory(error);
    lf_window_reset(worker->window);
    return true;
}

/* Chunk number i of those to be looked through, which are spread evenly over all walks. */
static bool views_chunk(ViewsWorker *worker, gsize i, GError **error)
{
    const LfSurveyViews *views = worker->run->views;
    gsize chunk = (2 * i + 1) * views->n_chunks / (2 * views->n_looks);
    const LfCastWalk *walk = views->walks;
    for (; chunk >= walk->n_chunks; walk++)
        chunk -= walk->n_chunks;
    const LfChunkSpan *span = &walk->chunks[chunk];
    g_autoptr(GError) unfit = NULL;
    g_autoptr(LfVideo) video = lf_video_open(walk->video_path, worker->threads, &unfit);
    bool ok = video && views_open_window(worker, lf_video_info(video), &unfit);
    if (ok) {
        lf_tracker_start(worker->tracker, &walk->lens, NULL, 0);
        lf_video_set_sparse(video, true);
        ok = lf_video_seek(video, span->key_us, MAX(span->from_us, span->key_us), &unfit) &&
             views_follow(worker, i, video, &walk->lens, span, &unfit);
    }
    if (ok || !g_error_matches(unfit, LF_ERROR, LF_ERROR_MACHINE))
        return true;
    g_propagate_error(error, g_steal_pointer(&unfit));
    return false;
}

static bool views_take(ViewsRun *run, gsize *i)
{
    g_mutex_lock(&run->lock);
    const bool more = run->next < run->to && !run->error && !lf_survey_views_cancelled(run->views);
    *i = run->next++;
    g_mutex_unlock(&run->lock);
    return more;
}

static gpointer views_worker(gpointer data)
{
    ViewsWorker *worker = data;
    ViewsRun *run = worker->run;
    gsize i;
    while (views_take(run, &i)) {
        GError *error = NULL;
        if (views_chunk(worker, i, &error))
            continue;
        g_mutex_lock(&run->lock);
        if (run->error)
            g_error_free(error);
        else
            run->error = error;
        g_mutex_unlock(&run->lock);
    }
    return NULL;
}

static gint views_order(gconstpointer a, gconstpointer b)
{
    const LfSurveyView *x = *(const LfSurveyView *const *)a, *y = *(const LfSurveyView *const *)b;
    return x->chunk != y->chunk ? (x->chunk > y->chunk) - (x->chunk < y->chunk)
                                : (x->t_us > y->t_us) - (x->t_us < y->t_us);
}

bool lf_survey_views_add(LfSurveyViews *views, gsize from, gsize to, int jobs, GError **error)
{
    ViewsRun run = {.views = views, .next = from, .to = to};
    const int n = CLAMP(jobs, 1, (int)MAX(to - from, 1));
    g_autofree ViewsWorker *workers = g_new0(ViewsWorker, n);
    g_autofree GThread **threads = g_new0(GThread *, n);
    g_mutex_init(&run.lock);
    for (int i = 0; i < n; i++) {
        workers[i] = (ViewsWorker){.run = &run,
                                   .tracker = lf_tracker_new(views->photos, views->n_photos),
                                   .threads = MAX(jobs / n, 1)};
        threads[i] = g_thread_new("survey", views_worker, &workers[i]);
    }
    for (int i = 0; i < n; i++) {
        g_thread_join(threads[i]);
        lf_window_free(workers[i].window);
        lf_tracker_free(workers[i].tracker);
    }
    g_mutex_clear(&run.lock);
    g_ptr_array_sort(views->views, views_order);
    if (!run.error)
        return true;
    g_propagate_error(error, run.error);
    return false;
}
