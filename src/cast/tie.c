/* Casting a stretch from ties.
 *
 * First the tied frames get their poses. Then the photo is followed backwards from each of them,
 * and only the mappings are kept. Last the stretch is gone through forwards like a chunk of a walk:
 * each frame is followed from the one before or refined from the mapping found backwards, whichever
 * starts from the nearer tie, and its samples are placed. */
#include <math.h>
#include <stdlib.h>

#include "cast/chunk.h"
#include "cast/tie_back.h"
#include "cast/tie_follow.h"
#include "cast/tie_pose.h"

/* Frames held while going backwards. */
#define TIE_WINDOW 128
/* So long before the stretch the photo is followed too: its first samples lie between frames. */
#define TIE_LEAD_US 120000

typedef struct {
    const LfTieTask *task;
    LfTie *ties; /* by time */
    LfTiePoint *points;
    GArray *anchors; /* LfTieAnchor, by time */
    GArray *maps;    /* LfTieMap, by time */
    LfTieBack back;
    LfTieCarry carry; /* of the way forwards */
    int64_t done, total;
} TieRun;

static double tie_s(int64_t t_us)
{
    return (double)t_us / 1e6;
}

static int tie_order(const void *a, const void *b)
{
    const LfTie *p = a, *q = b;
    return (p->t_us > q->t_us) - (p->t_us < q->t_us);
}

static int tie_map_order(const void *a, const void *b)
{
    const LfTieMap *p = a, *q = b;
    return (p->t_us > q->t_us) - (p->t_us < q->t_us);
}

static bool tie_in_picture(LfPoint p, int width, int height)
{
    return p.x >= -0.5 && p.y >= -0.5 && p.x <= width - 0.5 && p.y <= height - 0.5;
}

static bool tie_check_one(const LfTieTask *task, const LfTie *tie, LfTiePoint *point,
                          GError **error)
{
    const LfLens *lens = &task->walk->lens;
    const LfPhotoReport photo = lf_photo_report(task->photo);
    const char *fault = NULL;
    if (tie->t_us < task->from_us || tie->t_us >= task->to_us)
        fault = "lies outside of the stretch";
    else if (!tie_in_picture(tie->photo, photo.width, photo.height))
        fault = "ends outside of the photo";
    else if (!tie_in_picture(tie->frame, lens->width, lens->height))
        fault = "starts outside of the frame";
    else if (!lf_lens_undistort(lens, tie->frame, &point->frame))
        fault = "starts where the camera file says nothing of the lens";
    point->photo = tie->photo;
    if (fault)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "The tie at %.3f s from (%.1f, %.1f) to (%.1f, %.1f) %s.", tie_s(tie->t_us),
                    tie->frame.x, tie->frame.y, tie->photo.x, tie->photo.y, fault);
    return !fault;
}

static bool tie_check(TieRun *run, GError **error)
{
    const LfTieTask *task = run->task;
    if (task->n_ties == 0 || task->to_us <= task->from_us || task->walk->n_chunks == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    task->n_ties == 0 ? "There is no tie to start from; tie a point of a frame to "
                                        "its place on the photo."
                                      : "The stretch from %.3f s to %.3f s is empty.",
                    tie_s(task->from_us), tie_s(task->to_us));
        return false;
    }
    run->ties = g_memdup2(task->ties, sizeof *task->ties * task->n_ties);
    run->points = g_new(LfTiePoint, task->n_ties);
    qsort(run->ties, task->n_ties, sizeof *run->ties, tie_order);
    for (gsize i = 0; i < task->n_ties; i++)
        if (!tie_check_one(task, &run->ties[i], &run->points[i], error))
            return false;
    return true;
}

/* The engine's pose nearest in time, as frame_from_photo. */
static bool tie_prior(const LfTieTask *task, int64_t t_us, LfMat3 *prior, bool *same_frame)
{
    int64_t nearest_us = INT64_MAX;
    for (gsize i = 0; i < task->n_priors; i++) {
        const LfPoseCast *pose = &task->priors[i];
        const int64_t away_us = llabs(pose->t_us - t_us);
        LfMat3 inverse;
        if (pose->photo != task->photo_index || away_us >= nearest_us ||
            !lf_mat3_invert(&pose->photo_from_frame, &inverse))
            continue;
        nearest_us = away_us;
        *prior = lf_mat3_normalize(&inverse);
    }
    *same_frame = nearest_us == 0;
    return nearest_us != INT64_MAX;
}

static bool tie_anchor_pose(TieRun *run, LfTieAnchor *anchor, LfWindowFrame *frame, GError **error)
{
    const LfTiePoint *points = &run->points[anchor->first];
    const char *fault = lf_tie_fault(points, anchor->n);
    LfMat3 prior;
    bool same_frame;
    if (fault) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "At %.3f s %s.", tie_s(anchor->t_us), fault);
        return false;
    }
    const bool has = tie_prior(run->task, anchor->t_us, &prior, &same_frame);
    if (!lf_tie_pose(run->back.tracker, frame, points, anchor->n, has ? &prior : NULL, same_frame,
                     &anchor->refined, &anchor->miss_deg)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    anchor->n == 1
                        ? "One tie does not tell how large the photo is at %.3f s, and the picture "
                          "does not show it; tie two points or more."
                        : "The ties at %.3f s contradict each other; check which point of the "
                          "frame belongs to which of the photo.",
                    tie_s(anchor->t_us));
        return false;
    }
    anchor->pose = frame->pose[0];
    anchor->trust =
        anchor->refined && !lf_tie_contradicted(run->back.tracker, frame, &anchor->pose);
    return true;
}

/* Poses of the tied frames. Ties at different times of one frame belong together. */
static bool tie_anchors(TieRun *run, GError **error)
{
    const int n = (int)run->task->n_ties;
    for (int i = 0; i < n;) {
        const int64_t t_us = run->ties[i].t_us;
        int next = i;
        while (next < n && run->ties[next].t_us == t_us)
            next++;
        /* A frame that starts at t_us itself is decoded from its own key frame. */
        if (!lf_tie_load(&run->back, lf_tie_key(run->task->walk, t_us + 1), t_us, error))
            return false;
        LfWindowFrame *frame = lf_window_at(run->back.window, run->back.window->end - 1);
        if (!frame) {
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "The video shows no frame at %.3f s.",
                        tie_s(t_us));
            return false;
        }
        LfTieAnchor *last = run->anchors->len > 0
                                ? &g_array_index(run->anchors, LfTieAnchor, run->anchors->len - 1)
                                : NULL;
        if (!last || last->t_us != frame->t_us) {
            g_array_set_size(run->anchors, run->anchors->len + 1);
            last = &g_array_index(run->anchors, LfTieAnchor, run->anchors->len - 1);
            *last = (LfTieAnchor){.t_us = frame->t_us, .first = i};
        }
        last->n = next - last->first;
        i = next;
        if (!tie_anchor_pose(run, last, frame, error))
            return false;
    }
    return true;
}

/* How long before the stretch the way forwards begins. */
static int64_t tie_lead_us(const TieRun *run)
{
    const int64_t from_us = run->task->from_us;
    if (from_us < INT64_MIN + TIE_LEAD_US)
        return 0;
    return MAX(TIE_LEAD_US, from_us - g_array_index(run->anchors, LfTieAnchor, 0).t_us);
}

static bool tie_backwards(TieRun *run, GError **error)
{
    for (guint i = 0; i < run->anchors->len; i++) {
        const LfTieAnchor *anchor = &g_array_index(run->anchors, LfTieAnchor, i);
        const int64_t stop_us = i > 0 ? g_array_index(run->anchors, LfTieAnchor, i - 1).t_us
                                      : run->task->from_us - tie_lead_us(run);
        if (!lf_tie_back(&run->back, anchor, stop_us, run->maps, error))
            return false;
    }
    g_array_sort(run->maps, tie_map_order);
    return true;
}

static const LfTieMap *tie_map_at(const TieRun *run, int64_t t_us)
{
    const LfTieMap key = {.t_us = t_us};
    return bsearch(&key, run->maps->data, run->maps->len, sizeof key, tie_map_order);
}

/* The tied frame itself, or NULL; *backwards: the way back from the next one is shorter than the
 * way on from the last. */
static const LfTieAnchor *tie_anchor_at(const TieRun *run, int64_t t_us, bool *backwards)
{
    int64_t since_us = INT64_MAX, until_us = INT64_MAX;
    for (guint i = 0; i < run->anchors->len; i++) {
        const LfTieAnchor *anchor = &g_array_index(run->anchors, LfTieAnchor, i);
        if (anchor->t_us == t_us)
            return anchor;
        if (anchor->t_us < t_us)
            since_us = MIN(since_us, t_us - anchor->t_us);
        else
            until_us = MIN(until_us, anchor->t_us - t_us);
    }
    *backwards = until_us < since_us;
    return NULL;
}

static bool tie_from_map(TieRun *run, LfWindowFrame *frame, const LfWindowFrame *last)
{
    const LfTieMap *map = tie_map_at(run, frame->t_us);
    frame->has[0] = map && lf_tracker_refine(run->back.tracker, frame, 0, &map->frame_from_photo,
                                             last && last->has[0] ? &last->pose[0] : NULL);
    if (frame->has[0])
        lf_tie_settled(&run->carry, frame->t_us);
    return frame->has[0];
}

static bool tie_from_last(TieRun *run, LfWindow *window, int64_t number)
{
    LfWindowFrame *last = lf_window_at(window, number - 1);
    return last && lf_tie_follow(run->back.tracker, &run->carry, window, number, 1, true);
}

/* Frames before a find in which the photo was not found going forwards. */
static void tie_fill_back(TieRun *run, LfWindow *window, int64_t number)
{
    for (int64_t k = number - 1; k >= window->first && !lf_window_at(window, k)->has[0]; k--) {
        LfWindowFrame *frame = lf_window_at(window, k);
        frame->has[0] = lf_tracker_step(run->back.tracker, frame, lf_window_at(window, k + 1),
                                        lf_window_at(window, k + 2), 0);
        if (!frame->has[0])
            return;
    }
}

static void tie_advance(LfWindow *window, void *data)
{
    TieRun *run = data;
    const int64_t number = window->end - 1;
    LfWindowFrame *frame = lf_window_at(window, number);
    LfWindowFrame *last = lf_window_at(window, number - 1);
    bool backwards = false;
    const LfTieAnchor *anchor = tie_anchor_at(run, frame->t_us, &backwards);
    if (anchor) {
        frame->pose[0] = anchor->pose;
        frame->has[0] = true;
        run->carry.trust = anchor->trust;
        lf_tie_settled(&run->carry, frame->t_us);
    } else if (backwards) {
        if (!tie_from_map(run, frame, last))
            tie_from_last(run, window, number);
    } else if (!tie_from_last(run, window, number)) {
        tie_from_map(run, frame, last);
    }
    if (!frame->has[0])
        return;
    if (last && !last->has[0])
        tie_fill_back(run, window, number);
}

static bool tie_tick(int done, void *data)
{
    TieRun *run = data;
    run->done = MIN(run->done + done, run->total);
    if (done > 0 && run->task->progress)
        run->task->progress(run->done, run->total, run->task->data);
    return !(run->task->cancel && g_atomic_int_get(run->task->cancel));
}

static bool tie_chunk_tick(int64_t frames, int64_t t_us, void *data)
{
    const TieRun *run = data;
    (void)frames;
    return tie_tick(t_us >= run->task->from_us, data);
}

/* Frames of the stretch, each counted once for the way forwards and once where it is also gone
 * through backwards. */
static int64_t tie_total(const TieRun *run)
{
    const LfTieTask *task = run->task;
    const double rate = lf_video_info(run->back.video)->frame_rate;
    const int64_t last_us = g_array_index(run->anchors, LfTieAnchor, run->anchors->len - 1).t_us;
    const double forwards_s = tie_s(task->to_us) - tie_s(task->from_us);
    const double backwards_s = MAX(tie_s(last_us) - tie_s(task->from_us), 0);
    return 1 + (int64_t)CLAMP(rate * (forwards_s + backwards_s), 0, 1e9);
}

static void tie_hand_out(TieRun *run, LfChunkOutput *output, LfTied *out)
{
    const int photo = run->task->photo_index;
    out->n_samples = output->placed->len;
    out->samples = g_new(LfSampleCast, out->n_samples + 1);
    for (gsize i = 0; i < out->n_samples; i++) {
        out->samples[i] = g_array_index(output->placed, LfPlaced, i).cast;
        if (out->samples[i].photo >= 0)
            out->samples[i].photo = photo;
    }
    out->n_poses = output->poses->len;
    out->poses = g_memdup2(output->poses->data, sizeof *out->poses * out->n_poses);
    for (gsize i = 0; i < out->n_poses; i++)
        out->poses[i].photo = photo;
    out->n_frames = run->anchors->len;
    out->frames = g_new(LfTiedFrame, out->n_frames);
    for (guint i = 0; i < run->anchors->len; i++) {
        const LfTieAnchor *anchor = &g_array_index(run->anchors, LfTieAnchor, i);
        out->frames[i] = (LfTiedFrame){.t_us = anchor->t_us,
                                       .photo_from_frame = anchor->pose.photo_from_frame,
                                       .refined = anchor->refined,
                                       .miss_deg = anchor->miss_deg};
    }
}

static bool tie_forwards(TieRun *run, LfTied *out, GError **error)
{
    const LfTieTask *task = run->task;
    LfPhoto *const photos[] = {task->photo};
    LfWindow *window = NULL;
    const int64_t lead_us = tie_lead_us(run);
    const LfChunkSpan span = {lf_tie_key(task->walk, task->from_us - lead_us), task->from_us,
                              task->to_us};
    LfChunkOutput output;
    lf_chunk_output_init(&output);
    LfChunkTask chunk = {.photos = photos,
                         .n_photos = 1,
                         .tracker = run->back.tracker,
                         .window = &window,
                         .video = run->back.video,
                         .walk = task->walk,
                         .span = &span,
                         .settings = task->settings,
                         .lead_us = lead_us,
                         .advance = tie_advance,
                         .advance_data = run,
                         .tick = tie_chunk_tick,
                         .tick_data = run};
    run->carry = (LfTieCarry){.trust = false};
    const bool good = lf_chunk_cast(&chunk, &output, error);
    if (good)
        tie_hand_out(run, &output, out);
    lf_chunk_output_clear(&output);
    lf_window_free(window);
    return good;
}

static bool tie_run(TieRun *run, LfTied *out, GError **error)
{
    const LfTieTask *task = run->task;
    LfPhoto *const photos[] = {task->photo};
    const LfVideoInfo *info = lf_video_info(run->back.video);
    if (info->width != task->walk->lens.width || info->height != task->walk->lens.height) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "'%s' has frames of %d x %d px and not of %d x %d px any more.",
                    task->walk->video_path, info->width, info->height, task->walk->lens.width,
                    task->walk->lens.height);
        return false;
    }
    run->back.window = lf_window_new(TIE_WINDOW, 1, info->width, info->height);
    if (!run->back.window) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory for video frames.");
        return false;
    }
    g_autoptr(LfTracker) tracker = lf_tracker_new(photos, 1);
    run->back.tracker = tracker;
    lf_tracker_start(tracker, &task->walk->lens, task->walk->samples, task->walk->n_samples);
    if (!tie_anchors(run, error))
        return false;
    run->total = tie_total(run);
    if (!tie_backwards(run, error))
        return false;
    g_clear_pointer(&run->back.window, lf_window_free);
    return tie_forwards(run, out, error);
}

bool lf_cast_tied(const LfTieTask *task, LfTied *out, GError **error)
{
    TieRun run = {.task = task,
                  .anchors = g_array_new(FALSE, FALSE, sizeof(LfTieAnchor)),
                  .maps = g_array_new(FALSE, FALSE, sizeof(LfTieMap))};
    g_autoptr(GError) fault = NULL;
    *out = (LfTied){0};
    run.back = (LfTieBack){.task = task, .tick = tie_tick, .tick_data = &run};
    bool good = tie_check(&run, &fault) &&
                (run.back.video = lf_video_open(task->walk->video_path, task->threads, &fault)) &&
                tie_run(&run, out, &fault);
    if (!good && !fault)
        g_set_error(&fault, LF_ERROR, LF_ERROR_PART, "Stopped before the stretch was done.");
    if (fault)
        g_propagate_error(error, g_steal_pointer(&fault));
    lf_window_free(run.back.window);
    lf_video_close(run.back.video);
    g_array_unref(run.anchors);
    g_array_unref(run.maps);
    g_free(run.ties);
    g_free(run.points);
    return good;
}

void lf_tied_clear(LfTied *tied)
{
    g_free(tied->samples);
    g_free(tied->poses);
    g_free(tied->frames);
    *tied = (LfTied){0};
}
