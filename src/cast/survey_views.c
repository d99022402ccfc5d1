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
/* And between frames whose pairs of photos are noted. */
#define VIEWS_PAIRS_US 100000
/* Frames in which nothing was found, after which the chunk is given up. */
#define VIEWS_PATIENCE 30
/* Frames held while following: a find is filled in so far back. */
#define VIEWS_WINDOW 8

/* A chunk stays open until it is done with: what comes later goes on from there. */
struct LfSurveyLook {
    const LfCastWalk *walk;
    const LfChunkSpan *span;
    LfVideo *video; /* NULL while it is not open, and from when it is done */
    LfTracker *tracker;
    LfWindow *window;
    int frames;      /* in which a photo was seen */
    int64_t keep_us; /* the next view is kept from then on */
    int64_t pair_us; /* the next pairs are noted from then on */
    bool done;
};

typedef struct {
    LfSurveyViews *views;
    int frames;  /* wanted of each chunk */
    int threads; /* for decoding each */
    gsize next, n;
    GMutex lock; /* guards `next`, `error` and views->views and pairs */
    GError *error;
} ViewsRun;

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
        lf_constancy_light_clear(&view->light[p]);
        g_free(view->unlike[p]);
        g_free(view->behind[p]);
    }
    g_free(view->light);
    g_free(view->unlike);
    g_free(view->behind);
    g_free(view);
}

/* Those looked through are spread evenly over all walks. */
static void views_choose(LfSurveyViews *views)
{
    for (gsize i = 0; i < views->n_looks; i++) {
        gsize chunk = (2 * i + 1) * views->n_chunks / (2 * views->n_looks);
        const LfCastWalk *walk = views->walks;
        for (; chunk >= walk->n_chunks; walk++)
            chunk -= walk->n_chunks;
        views->looks[i] = (LfSurveyLook){
            .walk = walk, .span = &walk->chunks[chunk], .keep_us = INT64_MIN, .pair_us = INT64_MIN};
    }
}

LfSurveyViews *lf_survey_views_new(LfPhoto *const *photos, int n_photos, const LfCastWalk *walks,
                                   gsize n_walks, const int *cancel)
{
    LfSurveyViews *views = g_new(LfSurveyViews, 1);
    *views = (LfSurveyViews){.photos = photos,
                             .n_photos = n_photos,
                             .walks = walks,
                             .views = g_ptr_array_new_with_free_func(views_view_free),
                             .pairs = g_array_new(FALSE, FALSE, sizeof(LfSurveyPair)),
                             .cancel = cancel};
    for (gsize w = 0; w < n_walks; w++)
        views->n_chunks += walks[w].n_chunks;
    views->n_looks = MIN(views->n_chunks, VIEWS_CHUNKS);
    views->frames_each =
        CLAMP(VIEWS_FRAMES / (int)MAX(views->n_looks, 1), VIEWS_FRAMES_MIN, VIEWS_FRAMES_MAX);
    views->looks = g_new(LfSurveyLook, views->n_looks + 1);
    views_choose(views);
    return views;
}

static void views_close(LfSurveyLook *look)
{
    g_clear_pointer(&look->video, lf_video_close);
    g_clear_pointer(&look->tracker, lf_tracker_free);
    g_clear_pointer(&look->window, lf_window_free);
}

void lf_survey_views_free(LfSurveyViews *views)
{
    if (!views)
        return;
    for (gsize i = 0; i < views->n_looks; i++)
        views_close(&views->looks[i]);
    g_free(views->looks);
    g_ptr_array_unref(views->views);
    g_array_unref(views->pairs);
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

/* Keeps the newest frame. */
static bool views_keep(ViewsRun *run, const LfSurveyLook *look, GError **error)
{
    const int n = run->views->n_photos;
    const LfWindowFrame *frame = lf_window_at(look->window, look->window->end - 1);
    LfSurveyView *view = g_new(LfSurveyView, 1);
    *view = (LfSurveyView){.chunk = (gsize)(look - run->views->looks),
                           .t_us = frame->t_us,
                           .lens = &look->walk->lens,
                           .frame_from_photo = g_new0(LfMat3, n),
                           .share_good = g_new0(double, n),
                           .camera = g_new0(LfCameraSums, n),
                           .light = g_new0(LfConstancyLight, n),
                           .unlike = g_new0(uint8_t *, n),
                           .behind = g_new0(uint8_t *, n),
                           .n_photos = n};
    for (int p = 0; p < n; p++)
        if (frame->has[p]) {
            view->frame_from_photo[p] = frame->pose[p].frame_from_photo;
            view->share_good[p] = frame->pose[p].share_good;
        }
    if (!views_copy_pyramid(view, &frame->pyramid, look->window)) {
        views_view_free(view);
        return views_no_memory(error);
    }
    g_mutex_lock(&run->lock);
    g_ptr_array_add(run->views->views, view);
    g_mutex_unlock(&run->lock);
    return true;
}

static void views_note_pairs(ViewsRun *run, const LfSurveyLook *look, const LfWindowFrame *frame)
{
    for (int p = 0; p < run->views->n_photos; p++)
        for (int q = p + 1; q < run->views->n_photos; q++) {
            if (!frame->has[p] || !frame->has[q])
                continue;
            const LfPose *a = &frame->pose[p], *b = &frame->pose[q];
            const LfSurveyPair pair = {
                .chunk = (gsize)(look - run->views->looks),
                .t_us = frame->t_us,
                .photo = {p, q},
                .frame_from_photo = {a->frame_from_photo, b->frame_from_photo},
                .share_good = {a->share_good, b->share_good},
                .lens = &look->walk->lens};
            g_mutex_lock(&run->lock);
            g_array_append_val(run->views->pairs, pair);
            g_mutex_unlock(&run->lock);
        }
}

/* Follows the photos on through frames of a chunk in which one of them is to be seen. */
static bool views_follow(ViewsRun *run, LfSurveyLook *look, GError **error)
{
    int idle = 0;
    while (look->frames < run->frames && !lf_survey_views_cancelled(run->views)) {
        LfFrame frame;
        bool got;
        if (!lf_video_next(look->video, &frame, &got, error))
            return false;
        look->done = !got || frame.t_us >= look->span->to_us || idle >= VIEWS_PATIENCE;
        if (look->done)
            return true;
        const LfWindowFrame *newest =
            lf_window_push(look->window, frame.t_us, frame.luma, frame.stride);
        if (!newest)
            return views_no_memory(error);
        lf_tracker_advance(look->tracker, look->window);
        idle++;
        if (!views_any_found(newest, run->views->n_photos))
            continue;
        idle = 0;
        look->frames++;
        if (frame.t_us < look->keep_us && frame.t_us < look->pair_us)
            continue;
        look->pair_us = frame.t_us + VIEWS_PAIRS_US;
        if (frame.t_us < look->keep_us) {
            views_note_pairs(run, look, newest);
            continue;
        }
        if (!views_keep(run, look, error))
            return false;
        look->keep_us = frame.t_us + VIEWS_EVERY_US;
    }
    return true;
}

static bool views_open(const ViewsRun *run, LfSurveyLook *look, GError **error)
{
    const LfSurveyViews *views = run->views;
    const LfChunkSpan *span = look->span;
    look->video = lf_video_open(look->walk->video_path, run->threads, error);
    if (!look->video)
        return false;
    const LfVideoInfo *info = lf_video_info(look->video);
    look->window = lf_window_new(VIEWS_WINDOW, views->n_photos, info->width, info->height);
    if (!look->window)
        return views_no_memory(error);
    look->tracker = lf_tracker_new(views->photos, views->n_photos);
    lf_tracker_start(look->tracker, &look->walk->lens, NULL, 0);
    lf_tracker_search_often(look->tracker);
    lf_video_set_sparse(look->video, true);
    return lf_video_seek(look->video, span->key_us, MAX(span->from_us, span->key_us), error);
}

static bool views_look(ViewsRun *run, LfSurveyLook *look, GError **error)
{
    g_autoptr(GError) unfit = NULL;
    const bool ok =
        (look->video || views_open(run, look, &unfit)) && views_follow(run, look, &unfit);
    look->done = look->done || !ok || look->frames >= run->views->frames_each;
    if (look->done)
        views_close(look);
    if (ok || !g_error_matches(unfit, LF_ERROR, LF_ERROR_MACHINE))
        return true;
    g_propagate_error(error, g_steal_pointer(&unfit));
    return false;
}

static bool views_take(ViewsRun *run, gsize *i)
{
    g_mutex_lock(&run->lock);
    const bool more = run->next < run->n && !run->error && !lf_survey_views_cancelled(run->views);
    *i = run->next++;
    g_mutex_unlock(&run->lock);
    return more;
}

static gpointer views_worker(gpointer data)
{
    ViewsRun *run = data;
    gsize i;
    while (views_take(run, &i)) {
        LfSurveyLook *look = &run->views->looks[i];
        GError *error = NULL;
        if (look->done || views_look(run, look, &error))
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

static gint views_order_pairs(gconstpointer a, gconstpointer b)
{
    const LfSurveyPair *x = a, *y = b;
    if (x->chunk != y->chunk)
        return (x->chunk > y->chunk) - (x->chunk < y->chunk);
    if (x->t_us != y->t_us)
        return (x->t_us > y->t_us) - (x->t_us < y->t_us);
    return x->photo[0] != y->photo[0] ? x->photo[0] - y->photo[0] : x->photo[1] - y->photo[1];
}

bool lf_survey_views_add(LfSurveyViews *views, gsize n, int frames, int jobs, GError **error)
{
    const int n_threads = CLAMP(jobs, 1, (int)MAX(n, 1));
    ViewsRun run = {.views = views,
                    .frames = MIN(frames, views->frames_each),
                    .threads = MAX(jobs / n_threads, 1),
                    .n = n};
    g_autofree GThread **threads = g_new0(GThread *, n_threads);
    g_mutex_init(&run.lock);
    for (int i = 0; i < n_threads; i++)
        threads[i] = g_thread_new("survey", views_worker, &run);
    for (int i = 0; i < n_threads; i++)
        g_thread_join(threads[i]);
    g_mutex_clear(&run.lock);
    g_ptr_array_sort(views->views, views_order);
    g_array_sort(views->pairs, views_order_pairs);
    if (!run.error)
        return true;
    g_propagate_error(error, run.error);
    return false;
}
