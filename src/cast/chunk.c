/* Casting one chunk.
 *
 * Frames go through a window of about a second. The tracker finds photos in the newest frame and
 * may still fill in older ones; a frame's poses and the samples after it are final when it is about
 * to leave the window. Two frames beyond the chunk's end are read so that its last samples lie
 * between frames. */
#include "cast/chunk.h"

#include <math.h>

/* Frames beyond the end: the next one, and one more for the cubic. */
#define CHUNK_BEYOND 2

typedef struct {
    const LfChunkTask *task;
    LfChunkOutput *output;
    LfWindow *window;
    GPtrArray *changed; /* LfChanged, one per photo */
    LfPlaceScene scene;
    int64_t settled;   /* number of the first frame whose results are not out yet */
    gsize next_sample; /* first sample not out yet */
    gsize end_sample;
} ChunkWork;

void lf_chunk_output_init(LfChunkOutput *output)
{
    *output = (LfChunkOutput){.placed = g_array_new(FALSE, FALSE, sizeof(LfPlaced)),
                              .poses = g_array_new(FALSE, FALSE, sizeof(LfPoseCast)),
                              .end_us = LF_NO_TIME};
}

void lf_chunk_output_clear(LfChunkOutput *output)
{
    g_clear_pointer(&output->placed, g_array_unref);
    g_clear_pointer(&output->poses, g_array_unref);
}

/* Samples before `until_us` lie between frames number and number + 1. */
static void chunk_place(ChunkWork *work, int64_t number, int64_t until_us)
{
    const LfCastWalk *walk = work->task->walk;
    for (; work->next_sample < work->end_sample; work->next_sample++) {
        const LfGazeSample *sample = &walk->samples[work->next_sample];
        if (sample->t_us >= until_us)
            return;
        LfPlaced placed = lf_place_sample(&work->scene, number, sample, work->next_sample);
        g_array_append_val(work->output->placed, placed);
    }
}

/* Brings out everything up to frame `number` (not beyond). */
static void chunk_settle(ChunkWork *work, int64_t number)
{
    const LfChunkTask *task = work->task;
    for (; work->settled < number; work->settled++) {
        LfWindowFrame *frame = lf_window_at(work->window, work->settled);
        const LfWindowFrame *next = lf_window_at(work->window, work->settled + 1);
        if (work->settled == 0)
            chunk_place(work, -1, frame->t_us);
        if (frame->t_us >= task->span->to_us)
            continue;
        for (int p = 0; p < task->n_photos; p++)
            if (frame->has[p] && frame->t_us >= task->span->from_us) {
                LfPoseCast pose = lf_place_pose(&work->scene, &frame->pose[p], frame->t_us);
                g_array_append_val(work->output->poses, pose);
            }
        chunk_place(work, work->settled, next ? next->t_us : INT64_MAX);
    }
}

/* What the newest frame shows or misses of each photo. */
static void chunk_learn_changed(ChunkWork *work)
{
    const LfWindowFrame *frame = lf_window_at(work->window, work->window->end - 1);
    for (int p = 0; p < work->task->n_photos; p++)
        if (frame->has[p])
            lf_changed_learn(g_ptr_array_index(work->changed, (guint)p), &frame->pose[p],
                             frame->t_us);
}

/* Reads frames to the end of the chunk. */
static bool chunk_frames(ChunkWork *work, GError **error)
{
    const LfChunkTask *task = work->task;
    int beyond = 0;
    while (beyond < CHUNK_BEYOND) {
        LfFrame frame;
        bool got;
        g_autoptr(GError) broken = NULL;
        if (!lf_video_next(task->video, &frame, &got, &broken)) {
            if (!g_error_matches(broken, LF_ERROR, LF_ERROR_INPUT) || work->window->end == 0) {
                g_propagate_error(error, g_steal_pointer(&broken));
                return false;
            }
            /* What came before the break is good: keep it and say where it ends. */
            work->output->end_us = lf_window_at(work->window, work->window->end - 1)->t_us;
            return true;
        }
        if (!got)
            return true;
        if (frame.t_us >= task->span->to_us)
            beyond++;
        else
            work->output->frames++;
        /* Samples are placed with LF_WINDOW_BEHIND frames behind them still held. */
        if (work->window->end - work->window->first == work->window->size)
            chunk_settle(work, work->window->first + LF_WINDOW_BEHIND);
        LfChroma chroma;
        if (!lf_video_last_chroma(task->video, &chroma, error))
            return false;
        if (!lf_window_push(work->window, frame.t_us, frame.luma, frame.stride) ||
            !lf_window_colour(work->window, &chroma)) {
            g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory for video frames.");
            return false;
        }
        if (task->advance)
            task->advance(work->window, task->advance_data);
        else
            lf_tracker_advance(task->tracker, work->window);
        chunk_learn_changed(work);
        if (task->tick && !task->tick(work->output->frames, frame.t_us, task->tick_data))
            return false;
    }
    return true;
}

/* The caller's window, emptied; a new one where there is none or frames are of another size. It is
 * tens of MB in hundreds of pieces, too much to allocate anew for every chunk. */
static LfWindow *chunk_window(const LfChunkTask *task)
{
    const LfVideoInfo *info = lf_video_info(task->video);
    LfWindow *window = *task->window;
    if (window && window->n_photos == task->n_photos && window->width == info->width &&
        window->height == info->height) {
        lf_window_reset(window);
        return window;
    }
    lf_window_free(window);
    *task->window = lf_window_new(LF_WINDOW, task->n_photos, info->width, info->height);
    return *task->window;
}

bool lf_chunk_cast(const LfChunkTask *task, LfChunkOutput *output, GError **error)
{
    LfWindow *window = chunk_window(task);
    if (!window) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory for video frames.");
        return false;
    }
    g_autofree const LfRelief **reliefs = g_new(const LfRelief *, task->n_photos + 1);
    g_autoptr(GPtrArray) changed = g_ptr_array_new_with_free_func((GDestroyNotify)lf_changed_free);
    for (int p = 0; p < task->n_photos; p++) {
        const LfPhotoReport photo = lf_photo_report(task->photos[p]);
        reliefs[p] = lf_tracker_relief(task->tracker, p);
        g_ptr_array_add(changed, lf_changed_new(photo.width, photo.height));
    }
    ChunkWork work = {.task = task,
                      .output = output,
                      .window = window,
                      .changed = changed,
                      .scene = {.window = window,
                                .photos = task->photos,
                                .reliefs = reliefs,
                                .changed = (const LfChanged *const *)(const void *)changed->pdata,
                                .lens = &task->walk->lens,
                                .settings = task->settings}};
    work.next_sample =
        lf_gaze_first_at(task->walk->samples, task->walk->n_samples, task->span->from_us);
    work.end_sample =
        lf_gaze_first_at(task->walk->samples, task->walk->n_samples, task->span->to_us);
    int64_t damaged = lf_video_damaged(task->video);
    lf_tracker_start(task->tracker, &task->walk->lens, task->walk->samples, task->walk->n_samples);
    const int64_t first_us = task->span->from_us < INT64_MIN + task->lead_us
                                 ? INT64_MIN
                                 : task->span->from_us - task->lead_us;
    if (!lf_video_seek(task->video, task->span->key_us, MAX(first_us, task->span->key_us), error) ||
        !chunk_frames(&work, error))
        return false;
    chunk_settle(&work, window->end);
    chunk_place(&work, window->end, INT64_MAX); /* samples of a chunk without a frame */
    output->damaged = lf_video_damaged(task->video) - damaged;
    return true;
}
