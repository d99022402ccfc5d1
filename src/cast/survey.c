/* The survey: what many views of a photo tell of its relief, before any of them is cast.
 *
 * A chunk that starts beside a deep shelf cannot be placed well until it has seen the packs shift
 * against the edge. So some chunks, spread over all walks, are followed one after the other, each
 * going on from what those before it have learnt; every chunk then starts with the whole. One after
 * the other, since what is learnt is relative to the plane that was fitted, and the first chunk
 * decides which plane that is. A photo that looks flat is known as such after a few seconds. */
#include <lookfall/cast.h>

#include "cast/relief.h"
#include "cast/sweep.h"
#include "cast/tracker.h"

/* Chunks looked at, and frames of each: 4 s of 30 per second. */
#define SURVEY_CHUNKS 12
#define SURVEY_FRAMES 120
/* Frames between those that are swept, and how firm their pose must be. */
#define SURVEY_STEP 15
#define SURVEY_FIRM 0.5

typedef struct {
    LfPhoto *const *photos;
    int n_photos;
    LfTracker *tracker;
    LfWindow *window;
    LfSweep **sweep; /* one per photo */
    int64_t frames;
    LfCastProgress progress;
    void *data;
    const int *cancel;
} Survey;

static bool survey_cancelled(const Survey *survey)
{
    return survey->cancel && g_atomic_int_get(survey->cancel);
}

/* Adds the newest frame to the sweeps of the photos that are firmly found in it. */
static void survey_sweep(Survey *survey, const LfLens *lens)
{
    const LfWindowFrame *frame = lf_window_at(survey->window, survey->window->end - 1);
    for (int p = 0; p < survey->n_photos; p++)
        if (frame->has[p] && frame->pose[p].share_good >= SURVEY_FIRM)
            lf_sweep_add(survey->sweep[p], &frame->pose[p], lens, &frame->pyramid);
}

/* Follows the photos through the first frames of a chunk. */
static bool survey_frames(Survey *survey, LfVideo *video, const LfLens *lens,
                          const LfChunkSpan *span, GError **error)
{
    for (int i = 0; i < SURVEY_FRAMES && !survey_cancelled(survey); i++) {
        LfFrame frame;
        bool got;
        if (!lf_video_next(video, &frame, &got, error))
            return false;
        if (!got || frame.t_us >= span->to_us)
            return true;
        if (!lf_window_push(survey->window, frame.t_us, frame.luma, frame.stride)) {
            g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory for video frames.");
            return false;
        }
        lf_tracker_advance(survey->tracker, survey->window);
        if (i % SURVEY_STEP == SURVEY_STEP - 1)
            survey_sweep(survey, lens);
        survey->frames++;
        if (survey->progress && survey->frames % 10 == 0)
            survey->progress(survey->frames, frame.t_us, survey->data);
    }
    return true;
}

static bool survey_chunk(Survey *survey, const LfCastWalk *walk, const LfChunkSpan *span,
                         int threads, GError **error)
{
    g_autoptr(LfVideo) video = lf_video_open(walk->video_path, threads, error);
    if (!video)
        return false;
    const LfVideoInfo *info = lf_video_info(video);
    if (!survey->window || survey->window->width != info->width ||
        survey->window->height != info->height) {
        lf_window_free(survey->window);
        survey->window = lf_window_new(survey->n_photos, info->width, info->height);
    }
    if (!survey->window) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory for video frames.");
        return false;
    }
    lf_window_reset(survey->window);
    lf_tracker_start(survey->tracker, &walk->lens, walk->samples, walk->n_samples);
    if (!lf_video_seek(video, span->key_us, MAX(span->from_us, span->key_us), error) ||
        !survey_frames(survey, video, &walk->lens, span, error))
        return false;
    for (int p = 0; p < survey->n_photos; p++)
        if (lf_relief_flat(lf_tracker_relief(survey->tracker, p)))
            lf_relief_copy(survey->photos[p]->relief, lf_tracker_relief(survey->tracker, p));
        else
            lf_sweep_teach(survey->sweep[p], survey->photos[p]->relief);
    return true;
}

/* Nothing more to learn: every photo was seen enough and looks flat. */
static bool survey_flat(const Survey *survey)
{
    for (int p = 0; p < survey->n_photos; p++)
        if (!lf_relief_flat(survey->photos[p]->relief))
            return false;
    return true;
}

bool lf_cast_survey(LfPhoto *const *photos, gsize n_photos, const LfCastWalk *walks, gsize n_walks,
                    int threads, LfCastProgress progress, void *data, const int *cancel,
                    GError **error)
{
    Survey survey = {.photos = photos,
                     .n_photos = (int)n_photos,
                     .progress = progress,
                     .data = data,
                     .cancel = cancel};
    gsize n_chunks = 0;
    for (gsize w = 0; w < n_walks; w++)
        n_chunks += walks[w].n_chunks;
    const gsize n = MIN(n_chunks, SURVEY_CHUNKS);
    bool ok = true;
    survey.tracker = lf_tracker_new(photos, (int)n_photos);
    survey.sweep = g_new0(LfSweep *, n_photos + 1);
    for (gsize p = 0; p < n_photos; p++)
        survey.sweep[p] = lf_sweep_new(photos[p]);
    for (gsize i = 0; i < n && ok && !survey_cancelled(&survey) && !survey_flat(&survey); i++) {
        gsize chunk = (2 * i + 1) * n_chunks / (2 * n), walk = 0;
        for (; chunk >= walks[walk].n_chunks; walk++)
            chunk -= walks[walk].n_chunks;
        g_autoptr(GError) unfit = NULL;
        if (survey_chunk(&survey, &walks[walk], &walks[walk].chunks[chunk], threads, &unfit))
            continue;
        /* A video that cannot be decoded fails when it is cast, with its walk named. */
        ok = !g_error_matches(unfit, LF_ERROR, LF_ERROR_MACHINE);
        if (!ok)
            g_propagate_error(error, g_steal_pointer(&unfit));
    }
    for (gsize p = 0; p < n_photos; p++)
        lf_sweep_free(survey.sweep[p]);
    g_free(survey.sweep);
    lf_window_free(survey.window);
    lf_tracker_free(survey.tracker);
    return ok;
}
