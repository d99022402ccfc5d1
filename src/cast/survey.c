/* The survey: what many views of a photo tell of its relief, before any of them is cast.
 *
 * A chunk that starts beside a deep shelf cannot be placed well until it has seen the packs shift
 * against the edge, so all chunks start with the relief that the walks together have shown. It
 * takes two rounds over the first frames of chunks spread over all walks. In the first, a few
 * chunks are followed one after the other, each with what those before it have found, until a photo
 * turns out flat: early poses rest on a plane alone and are off. In the second, all are followed
 * with that relief, and what they show replaces it. Where all photos look flat there is no second.
 */
#include <lookfall/cast.h>

#include "cast/relief.h"
#include "cast/sweep.h"
#include "cast/tracker.h"

/* Chunks of the two rounds; frames of a chunk in the first one, and in the second of all together
 * and of one at the least and at the most. */
#define SURVEY_FIRST 3
#define SURVEY_SECOND 16
#define SURVEY_FRAMES_FIRST 80
#define SURVEY_FRAMES 480
#define SURVEY_FRAMES_MIN 24
#define SURVEY_FRAMES_MAX 160
/* Frames between those that are swept, and how firm their pose must be in each round. */
#define SURVEY_STEP 8
#define SURVEY_FIRM_FIRST 0.5
#define SURVEY_FIRM_SECOND 0.6
/* Of the cells, along and across, every so-manieth is swept in the first round, and to find out
 * where the photo was taken from. */
#define SURVEY_STRIDE_FIRST 2
#define SURVEY_STRIDE_PROBE 5
/* Frames in which nothing was found, after which the chunk is given up. */
#define SURVEY_PATIENCE 40

/* Distances the photo may have been taken from, in its longer sides: fields of view of 80 to 22
 * degrees. */
static const double SURVEY_CAMERA[] = {0.6, 0.8, 1.05, 1.4, 1.9, 2.6};
#define SURVEY_CAMERAS ((int)G_N_ELEMENTS(SURVEY_CAMERA))

typedef struct {
    LfPhoto *const *photos;
    int n_photos;
    const LfCastWalk *walks;
    gsize n_walks, n_chunks; /* of all walks */
    int frames_each;
    double firm;
    LfSweep **sweep; /* one per photo, of the round */
    LfSweep **probe; /* SURVEY_CAMERAS per photo, of the first round */
    bool probing;
    const int *cancel;

    GMutex lock;
    /* Guarded by lock: */
    gsize next, n; /* chunks of the second round */
    GError *error;
} Survey;

/* What one thread works with. */
typedef struct {
    Survey *survey;
    LfTracker *tracker;
    LfWindow *window;
    int threads; /* for decoding */
} SurveyWorker;

static bool survey_cancelled(const Survey *survey)
{
    return survey->cancel && g_atomic_int_get(survey->cancel);
}

static void survey_sweep_photo(Survey *survey, int p, const LfWindowFrame *frame,
                               const LfLens *lens)
{
    LfSweep *sweeps[1 + SURVEY_CAMERAS] = {survey->sweep[p]};
    int n = 1;
    for (int c = 0; survey->probing && c < SURVEY_CAMERAS; c++)
        sweeps[n++] = survey->probe[p * SURVEY_CAMERAS + c];
    lf_sweep_add(sweeps, n, &frame->pose[p], lens, &frame->pyramid);
}

/* Adds the worker's newest frame to the sweeps of the photos that are firmly found in it. */
static void survey_sweep(SurveyWorker *worker, const LfLens *lens)
{
    Survey *survey = worker->survey;
    const LfWindowFrame *frame = lf_window_at(worker->window, worker->window->end - 1);
    for (int p = 0; p < survey->n_photos; p++)
        if (frame->has[p] && frame->pose[p].share_good >= survey->firm)
            survey_sweep_photo(survey, p, frame, lens);
}

static bool survey_any_found(const SurveyWorker *worker)
{
    const LfWindowFrame *frame = lf_window_at(worker->window, worker->window->end - 1);
    for (int p = 0; p < worker->survey->n_photos; p++)
        if (frame->has[p])
            return true;
    return false;
}

/* Follows the photos through the first frames of a chunk in which one of them is to be seen. */
static bool survey_frames(SurveyWorker *worker, LfVideo *video, const LfLens *lens,
                          const LfChunkSpan *span, GError **error)
{
    int seen = 0, idle = 0;
    while (seen < worker->survey->frames_each && idle < SURVEY_PATIENCE &&
           !survey_cancelled(worker->survey)) {
        LfFrame frame;
        bool got;
        if (!lf_video_next(video, &frame, &got, error))
            return false;
        if (!got || frame.t_us >= span->to_us)
            return true;
        if (!lf_window_push(worker->window, frame.t_us, frame.luma, frame.stride)) {
            g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory for video frames.");
            return false;
        }
        lf_tracker_advance(worker->tracker, worker->window);
        idle++;
        if (!survey_any_found(worker))
            continue;
        idle = 0;
        seen++;
        if (seen % SURVEY_STEP == 0)
            survey_sweep(worker, lens);
    }
    return true;
}

static bool survey_open_window(SurveyWorker *worker, const LfVideoInfo *info, GError **error)
{
    if (!worker->window || worker->window->width != info->width ||
        worker->window->height != info->height) {
        lf_window_free(worker->window);
        worker->window =
            lf_window_new(LF_WINDOW, worker->survey->n_photos, info->width, info->height);
    }
    if (!worker->window) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory for video frames.");
        return false;
    }
    lf_window_reset(worker->window);
    return true;
}

/* Number `i` of `n` chunks spread evenly over all walks. A video that cannot be decoded is passed
 * over: it fails when it is cast, with its walk named. */
static bool survey_chunk(SurveyWorker *worker, gsize i, gsize n, GError **error)
{
    const Survey *survey = worker->survey;
    gsize chunk = (2 * i + 1) * survey->n_chunks / (2 * n);
    const LfCastWalk *walk = survey->walks;
    for (; chunk >= walk->n_chunks; walk++)
        chunk -= walk->n_chunks;
    const LfChunkSpan *span = &walk->chunks[chunk];
    g_autoptr(GError) unfit = NULL;
    g_autoptr(LfVideo) video = lf_video_open(walk->video_path, worker->threads, &unfit);
    bool ok = video && survey_open_window(worker, lf_video_info(video), &unfit);
    if (ok) {
        lf_tracker_start(worker->tracker, &walk->lens, NULL, 0);
        ok = lf_video_seek(video, span->key_us, MAX(span->from_us, span->key_us), &unfit) &&
             survey_frames(worker, video, &walk->lens, span, &unfit);
    }
    if (ok || !g_error_matches(unfit, LF_ERROR, LF_ERROR_MACHINE))
        return true;
    g_propagate_error(error, g_steal_pointer(&unfit));
    return false;
}

static void survey_worker_clear(SurveyWorker *worker)
{
    lf_window_free(worker->window);
    lf_tracker_free(worker->tracker);
}

static void survey_new_round(Survey *survey, int frames_each, double firm, int stride)
{
    survey->firm = firm;
    survey->frames_each = frames_each;
    for (int p = 0; p < survey->n_photos; p++) {
        lf_sweep_free(survey->sweep[p]);
        survey->sweep[p] =
            lf_sweep_new(survey->photos[p], *lf_relief_camera(survey->photos[p]->relief), stride);
    }
}

static void survey_teach(Survey *survey)
{
    for (int p = 0; p < survey->n_photos; p++)
        lf_sweep_teach(survey->sweep[p], survey->photos[p]->relief);
}

static LfReliefCamera survey_camera(const LfPhoto *photo, int c)
{
    LfReliefCamera camera = *lf_relief_camera(photo->relief);
    camera.distance = SURVEY_CAMERA[c] * MAX(photo->report.width, photo->report.height);
    return camera;
}

/* Where the photos were taken from: what agrees best with the frames of the first round. */
static void survey_choose_cameras(Survey *survey)
{
    for (int p = 0; p < survey->n_photos; p++) {
        double best = 0;
        for (int c = 0; c < SURVEY_CAMERAS; c++) {
            LfSweep **probe = &survey->probe[p * SURVEY_CAMERAS + c];
            const double agreement = lf_sweep_agreement(*probe);
            if (agreement > best)
                lf_relief_set_camera(survey->photos[p]->relief,
                                     survey_camera(survey->photos[p], c));
            best = MAX(best, agreement);
            g_clear_pointer(probe, lf_sweep_free);
        }
    }
}

/* Nothing more to learn: every photo was seen and looks flat. */
static bool survey_flat(const Survey *survey)
{
    for (int p = 0; p < survey->n_photos; p++)
        if (!lf_relief_flat(survey->photos[p]->relief))
            return false;
    return true;
}

static bool survey_first_round(Survey *survey, int threads, GError **error)
{
    SurveyWorker worker = {.survey = survey,
                           .tracker = lf_tracker_new(survey->photos, survey->n_photos),
                           .threads = threads};
    const gsize n = MIN(survey->n_chunks, SURVEY_FIRST);
    bool ok = true;
    survey_new_round(survey, SURVEY_FRAMES_FIRST, SURVEY_FIRM_FIRST, SURVEY_STRIDE_FIRST);
    for (int p = 0; p < survey->n_photos; p++)
        for (int c = 0; c < SURVEY_CAMERAS; c++)
            survey->probe[p * SURVEY_CAMERAS + c] = lf_sweep_new(
                survey->photos[p], survey_camera(survey->photos[p], c), SURVEY_STRIDE_PROBE);
    survey->probing = true;
    for (gsize i = 0; i < n && ok && !survey_flat(survey) && !survey_cancelled(survey); i++) {
        ok = survey_chunk(&worker, i, n, error);
        survey_teach(survey);
    }
    survey->probing = false;
    survey_choose_cameras(survey);
    survey_worker_clear(&worker);
    return ok;
}

static gpointer survey_second_worker(gpointer data)
{
    Survey *survey = data;
    SurveyWorker worker = {.survey = survey,
                           .tracker = lf_tracker_new(survey->photos, survey->n_photos),
                           .threads = 1};
    for (;;) {
        GError *error = NULL;
        g_mutex_lock(&survey->lock);
        const bool more = survey->next < survey->n && !survey->error;
        const gsize i = survey->next++;
        g_mutex_unlock(&survey->lock);
        if (!more || survey_cancelled(survey))
            break;
        if (survey_chunk(&worker, i, survey->n, &error))
            continue;
        g_mutex_lock(&survey->lock);
        if (survey->error)
            g_error_free(error);
        else
            survey->error = error;
        g_mutex_unlock(&survey->lock);
    }
    survey_worker_clear(&worker);
    return NULL;
}

/* Sweeps add up whole numbers, so the order in which workers finish does not matter. */
static bool survey_second_round(Survey *survey, int jobs, GError **error)
{
    survey->next = 0;
    survey->n = MIN(survey->n_chunks, SURVEY_SECOND);
    survey_new_round(survey,
                     CLAMP(SURVEY_FRAMES / (int)survey->n, SURVEY_FRAMES_MIN, SURVEY_FRAMES_MAX),
                     SURVEY_FIRM_SECOND, 1);
    jobs = CLAMP(jobs, 1, (int)survey->n);
    g_autofree GThread **threads = g_new0(GThread *, jobs);
    for (int i = 0; i < jobs; i++)
        threads[i] = g_thread_new("survey", survey_second_worker, survey);
    for (int i = 0; i < jobs; i++)
        g_thread_join(threads[i]);
    survey_teach(survey);
    if (survey->error) {
        g_propagate_error(error, g_steal_pointer(&survey->error));
        return false;
    }
    return true;
}

/* What is kept is rounded; what is used now must be the same. */
static void survey_round(LfPhoto *photo)
{
    g_autoptr(GBytes) bytes = lf_photo_relief(photo);
    lf_photo_set_relief(photo, bytes, NULL);
}

bool lf_cast_survey(LfPhoto *const *photos, gsize n_photos, const LfCastWalk *walks, gsize n_walks,
                    int jobs, const int *cancel, GError **error)
{
    Survey survey = {.photos = photos,
                     .n_photos = (int)n_photos,
                     .walks = walks,
                     .n_walks = n_walks,
                     .cancel = cancel};
    for (gsize w = 0; w < n_walks; w++)
        survey.n_chunks += walks[w].n_chunks;
    if (survey.n_chunks == 0)
        return true;
    survey.sweep = g_new0(LfSweep *, n_photos + 1);
    survey.probe = g_new0(LfSweep *, n_photos * SURVEY_CAMERAS + 1);
    g_mutex_init(&survey.lock);
    bool ok = survey_first_round(&survey, jobs, error) &&
              (survey_flat(&survey) || survey_cancelled(&survey) ||
               survey_second_round(&survey, jobs, error));
    for (gsize p = 0; p < n_photos; p++)
        lf_sweep_free(survey.sweep[p]);
    for (gsize p = 0; p < n_photos; p++)
        survey_round(photos[p]);
    g_free(survey.sweep);
    g_free(survey.probe);
    g_mutex_clear(&survey.lock);
    return ok;
}
