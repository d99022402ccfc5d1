/* Whole casts of small films: the same for any number of workers, complete, stoppable. */
#include "cast/scene.h"

#include <string.h>

#include <lookfall/cast.h>

#define WIDTH 640
#define HEIGHT 360
#define N_FRAMES 120
#define FRAME_US 100000
#define N_SAMPLES 600
#define N_WALKS 2

typedef struct {
    char *folder;
    LfPlane plane;
    LfPhoto *photo;
    char *video;
    LfLens lens;
    LfGazeSample samples[N_SAMPLES];
    LfPoint truth[N_SAMPLES]; /* photo px; NaN where lost or outside the film */
    LfChunkSpan *chunks;
    gsize n_chunks;
} RunState;

/* The look at time t: a slow sway. */
static SceneView run_view(double t_s)
{
    return (SceneView){15 * sin(0.5 * t_s), 6 * cos(0.4 * t_s), 3 * sin(0.3 * t_s),
                       0.7 + 0.05 * sin(t_s)};
}

static void run_film(RunState *s)
{
    LfVideoWriterOptions options = {.width = WIDTH,
                                    .height = HEIGHT,
                                    .frame_rate = 1e6 / FRAME_US,
                                    .key_interval = 10,
                                    .quality = 20,
                                    .threads = 1};
    g_autoptr(GError) error = NULL;
    g_autoptr(LfVideoWriter) writer = lf_video_writer_new(s->video, &options, &error);
    g_autofree uint8_t *rgb = g_malloc(WIDTH * HEIGHT * 3);
    assert_non_null(writer);
    for (int i = 0; i < N_FRAMES; i++) {
        SceneView view = run_view(i * (FRAME_US / 1e6));
        LfMat3 truth = scene_view(&view, &s->plane, &s->lens);
        LfPlane frame = scene_render(&s->plane, &truth, &s->lens, 128);
        for (int p = 0; p < WIDTH * HEIGHT; p++)
            memset(rgb + 3 * p, frame.data[p], 3);
        lf_plane_clear(&frame);
        assert_true(lf_video_writer_add(writer, (int64_t)i * FRAME_US, rgb, WIDTH * 3, &error));
    }
    assert_true(lf_video_writer_finish(writer, &error));
}

/* Samples each 23 ms from before the film's start to after its end, each seventh lost. */
static void run_gaze(RunState *s)
{
    for (int i = 0; i < N_SAMPLES; i++) {
        LfGazeSample *g = &s->samples[i];
        *g = (LfGazeSample){.t_us = -600000 + (int64_t)i * 23000,
                            .x = 320 + 200 * sin(i * 0.11),
                            .y = 180 + 100 * cos(i * 0.07),
                            .lost = i % 7 == 3};
        s->truth[i] = (LfPoint){NAN, NAN};
        SceneView view = run_view((double)g->t_us / 1e6);
        LfMat3 truth = scene_view(&view, &s->plane, &s->lens), back;
        assert_true(lf_mat3_invert(&truth, &back));
        if (g->lost)
            g->x = g->y = NAN;
        else if (g->t_us >= 0 && g->t_us < (N_FRAMES - 1) * (int64_t)FRAME_US)
            assert_true(lf_mat3_apply(&back, (LfPoint){g->x, g->y}, &s->truth[i]));
    }
}

static int run_setup(void **state)
{
    RunState *s = g_new0(RunState, 1);
    s->folder = scene_folder_new();
    s->plane = scene_photo(81, 900, 600);
    g_autofree char *path = scene_write_pgm(s->folder, "photo.pgm", &s->plane);
    s->photo = lf_photo_load(path, NULL, NULL);
    assert_non_null(s->photo);
    s->video = g_build_filename(s->folder, "walk.mp4", NULL);
    s->lens = lf_lens_plain(WIDTH, HEIGHT);
    run_film(s);
    run_gaze(s);
    g_autoptr(LfVideoIndex) index = lf_video_index_new(s->video, NULL);
    assert_non_null(index);
    assert_int_equal(index->n_frames, N_FRAMES);
    s->chunks = lf_chunks_plan(index, 2 * G_USEC_PER_SEC, &s->n_chunks);
    assert_int_equal(s->n_chunks, 6); /* 12 s, a key frame each second, 2 s at least */
    *state = s;
    return 0;
}

static int run_teardown(void **state)
{
    RunState *s = *state;
    lf_photo_free(s->photo);
    lf_plane_clear(&s->plane);
    scene_folder_remove(s->folder);
    g_free(s->video);
    g_free(s->chunks);
    g_free(s);
    return 0;
}

/* What came out, by walk and chunk. */
typedef struct {
    GArray *samples; /* LfSampleCast */
    GArray *poses;   /* LfPoseCast */
    int64_t frames, damaged, end_us;
    int delivered;
} RunChunk;

typedef struct {
    gsize n_chunks;
    RunChunk *chunk; /* walk * n_chunks + chunk */
    int delivered;
    int fail_after; /* deliveries, 0 for never */
    int *cancel;
    int64_t progress_frames;
    gint inside; /* callbacks running now */
} RunSink;

static RunSink run_sink_new(gsize n_chunks)
{
    return (RunSink){.n_chunks = n_chunks, .chunk = g_new0(RunChunk, N_WALKS * n_chunks)};
}

static void run_sink_clear(RunSink *sink)
{
    for (gsize i = 0; i < N_WALKS * sink->n_chunks; i++) {
        g_clear_pointer(&sink->chunk[i].samples, g_array_unref);
        g_clear_pointer(&sink->chunk[i].poses, g_array_unref);
    }
    g_free(sink->chunk);
}

static bool run_sink(const LfChunkResult *r, void *data, GError **error)
{
    RunSink *sink = data;
    /* one at a time: the counter is 0 again at the end of each call */
    assert_true(g_atomic_int_add(&sink->inside, 1) == 0);
    RunChunk *c = &sink->chunk[r->walk_index * sink->n_chunks + r->chunk];
    c->delivered++;
    c->samples = g_array_new(FALSE, FALSE, sizeof(LfSampleCast));
    c->poses = g_array_new(FALSE, FALSE, sizeof(LfPoseCast));
    g_array_append_vals(c->samples, r->samples, (guint)r->n_samples);
    g_array_append_vals(c->poses, r->poses, (guint)r->n_poses);
    c->frames = r->frames;
    c->damaged = r->damaged;
    c->end_us = r->end_us;
    sink->delivered++;
    bool good = sink->fail_after == 0 || sink->delivered < sink->fail_after;
    if (!good)
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "The disk is full.");
    if (sink->cancel)
        g_atomic_int_set(sink->cancel, 1);
    g_atomic_int_add(&sink->inside, -1);
    return good;
}

static void run_progress(int64_t frames, int64_t video_us, void *data)
{
    RunSink *sink = data;
    (void)video_us;
    assert_true(g_atomic_int_add(&sink->inside, 1) == 0);
    assert_true(frames >= sink->progress_frames);
    sink->progress_frames = frames;
    g_atomic_int_add(&sink->inside, -1);
}

static LfCastWalk run_walk(const RunState *s)
{
    return (LfCastWalk){.video_path = s->video,
                        .lens = s->lens,
                        .samples = s->samples,
                        .n_samples = N_SAMPLES,
                        .chunks = s->chunks,
                        .n_chunks = s->n_chunks};
}

static bool run_cast(const RunState *s, const LfCastWalk *walks, gsize n, int jobs, RunSink *sink,
                     const int *cancel, GPtrArray *failed, GError **error)
{
    LfCastSettings settings = lf_cast_settings_default();
    return lf_cast_run(&s->photo, 1, walks, n, &settings, jobs, run_sink, run_progress, sink,
                       cancel, failed, error);
}

/* Bit by bit: NaN equals NaN, and padding does not count. */
static bool run_same_double(double a, double b)
{
    return memcmp(&a, &b, sizeof a) == 0;
}

static bool run_same_sample(const LfSampleCast *a, const LfSampleCast *b)
{
    return a->sample == b->sample && a->photo == b->photo && a->state == b->state &&
           run_same_double(a->x, b->x) && run_same_double(a->y, b->y) &&
           run_same_double(a->confidence, b->confidence) &&
           run_same_double(a->radius_px, b->radius_px) && run_same_double(a->cov.xx, b->cov.xx) &&
           run_same_double(a->cov.xy, b->cov.xy) && run_same_double(a->cov.yy, b->cov.yy) &&
           a->doubt == b->doubt;
}

static bool run_same_pose(const LfPoseCast *a, const LfPoseCast *b)
{
    return a->t_us == b->t_us && a->photo == b->photo &&
           memcmp(&a->photo_from_frame, &b->photo_from_frame, sizeof a->photo_from_frame) == 0 &&
           run_same_double(a->confidence, b->confidence) && a->n_rivals == b->n_rivals &&
           memcmp(a->rivals, b->rivals, sizeof a->rivals[0] * (gsize)a->n_rivals) == 0;
}

static void run_same(const RunSink *a, const RunSink *b, int jobs)
{
    for (gsize i = 0; i < N_WALKS * a->n_chunks; i++) {
        const RunChunk *p = &a->chunk[i], *q = &b->chunk[i];
        assert_int_equal(p->delivered, q->delivered);
        if (!p->delivered)
            continue;
        assert_int_equal(p->samples->len, q->samples->len);
        assert_int_equal(p->poses->len, q->poses->len);
        assert_true(p->frames == q->frames && p->damaged == q->damaged && p->end_us == q->end_us);
        for (guint k = 0; k < p->samples->len; k++)
            if (!run_same_sample(&g_array_index(p->samples, LfSampleCast, k),
                                 &g_array_index(q->samples, LfSampleCast, k)))
                fail_msg("%d workers: sample %u of chunk %zu differs", jobs, k, i);
        for (guint k = 0; k < p->poses->len; k++)
            if (!run_same_pose(&g_array_index(p->poses, LfPoseCast, k),
                               &g_array_index(q->poses, LfPoseCast, k)))
                fail_msg("%d workers: pose %u of chunk %zu differs", jobs, k, i);
    }
}

static void test_run_jobs(void **state)
{
    const RunState *s = *state;
    static const int jobs[] = {1, 2, 5};
    LfCastWalk walks[N_WALKS] = {run_walk(s), run_walk(s)};
    RunSink first = run_sink_new(s->n_chunks);
    for (gsize i = 0; i < G_N_ELEMENTS(jobs); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(GPtrArray) failed = g_ptr_array_new_with_free_func(g_free);
        RunSink sink = run_sink_new(s->n_chunks);
        RunSink *into = i == 0 ? &first : &sink;
        assert_true(run_cast(s, walks, N_WALKS, jobs[i], into, NULL, failed, &error));
        assert_int_equal(failed->len, 0);
        assert_true(into->progress_frames == N_WALKS * N_FRAMES);
        if (i > 0)
            run_same(&first, &sink, jobs[i]);
        run_sink_clear(&sink);
    }
    /* both walks are the same film: so are their results */
    for (gsize c = 0; c < s->n_chunks; c++) {
        const GArray *a = first.chunk[c].samples, *b = first.chunk[s->n_chunks + c].samples;
        assert_int_equal(a->len, b->len);
        for (guint k = 0; k < a->len; k++)
            assert_true(run_same_sample(&g_array_index(a, LfSampleCast, k),
                                        &g_array_index(b, LfSampleCast, k)));
    }
    run_sink_clear(&first);
}

/* Every sample exactly once, in the chunk of its time, in order; and where it belongs. */
static void test_run_complete(void **state)
{
    const RunState *s = *state;
    LfCastWalk walk = run_walk(s);
    RunSink sink = run_sink_new(s->n_chunks);
    assert_true(run_cast(s, &walk, 1, 2, &sink, NULL, NULL, NULL));
    gsize next = 0;
    int64_t frames = 0;
    int sure = 0, inside = 0;
    for (gsize c = 0; c < s->n_chunks; c++) {
        const RunChunk *chunk = &sink.chunk[c];
        assert_int_equal(chunk->delivered, 1);
        assert_true(chunk->end_us == LF_NO_TIME && chunk->damaged == 0);
        frames += chunk->frames;
        int64_t last_us = INT64_MIN;
        for (guint k = 0; k < chunk->poses->len; k++) {
            const LfPoseCast *pose = &g_array_index(chunk->poses, LfPoseCast, k);
            assert_true(pose->t_us > last_us && pose->t_us >= s->chunks[c].from_us &&
                        pose->t_us < s->chunks[c].to_us && pose->photo == 0);
            assert_true(pose->confidence >= 0 && pose->confidence <= 1);
            last_us = pose->t_us;
        }
        assert_int_equal(chunk->poses->len, chunk->frames); /* the photo is in every frame */
        for (guint k = 0; k < chunk->samples->len; k++, next++) {
            const LfSampleCast *r = &g_array_index(chunk->samples, LfSampleCast, k);
            const LfGazeSample *g = &s->samples[next];
            const LfPoint *truth = &s->truth[next];
            assert_int_equal(r->sample, next);
            assert_true(g->t_us >= s->chunks[c].from_us && g->t_us < s->chunks[c].to_us);
            assert_true((r->state == LF_STATE_LOST) == g->lost);
            assert_true((r->photo >= 0) == isfinite(r->x) && isfinite(r->x) == isfinite(r->y) &&
                        isfinite(r->x) == isfinite(r->confidence));
            if (r->photo >= 0) { /* an ellipse whose mean radius is radius_px */
                assert_true(r->cov.xx > 0 && r->cov.xx * r->cov.yy > r->cov.xy * r->cov.xy);
                check_near(r->radius_px, sqrt((r->cov.xx + r->cov.yy) / 2), 1e-9 * r->radius_px);
            } else {
                assert_true(isnan(r->cov.xx) && isnan(r->cov.xy) && isnan(r->cov.yy));
            }
            assert_true(r->doubt == LF_DOUBT_NONE || r->state == LF_STATE_DOUBTFUL ||
                        r->state == LF_STATE_BLOCKED);
            if (!isfinite(truth->x))
                continue;
            inside++;
            sure += r->state == LF_STATE_SURE;
            if (r->state == LF_STATE_SURE && !(hypot(r->x - truth->x, r->y - truth->y) < 3))
                fail_msg("sample %zu: sure at %.1f, %.1f, is at %.1f, %.1f", next, r->x, r->y,
                         truth->x, truth->y);
        }
    }
    assert_int_equal(next, N_SAMPLES);
    assert_true(frames == N_FRAMES);
    print_message("%d of %d samples sure\n", sure, inside);
    assert_true(sure > 0.95 * inside);
    run_sink_clear(&sink);
}

static void test_run_done_left_out(void **state)
{
    const RunState *s = *state;
    LfCastWalk walk = run_walk(s);
    RunSink all = run_sink_new(s->n_chunks), rest = run_sink_new(s->n_chunks);
    const bool done[] = {true, false, true, true, false, true};
    assert_true(run_cast(s, &walk, 1, 2, &all, NULL, NULL, NULL));
    walk.done = done;
    assert_true(run_cast(s, &walk, 1, 2, &rest, NULL, NULL, NULL));
    for (gsize c = 0; c < s->n_chunks; c++) {
        assert_int_equal(rest.chunk[c].delivered, !done[c]);
        all.chunk[c].delivered = !done[c]; /* compare only what was cast again */
    }
    run_same(&all, &rest, 2);
    run_sink_clear(&all);
    run_sink_clear(&rest);

    /* nothing to do is done at once */
    const bool all_done[] = {true, true, true, true, true, true};
    RunSink none = run_sink_new(s->n_chunks);
    walk.done = all_done;
    assert_true(run_cast(s, &walk, 1, 2, &none, NULL, NULL, NULL));
    assert_int_equal(none.delivered, 0);
    run_sink_clear(&none);
}

static void test_run_cancel(void **state)
{
    const RunState *s = *state;
    LfCastWalk walk = run_walk(s);
    int cancel = 1;
    RunSink sink = run_sink_new(s->n_chunks);
    assert_true(run_cast(s, &walk, 1, 2, &sink, &cancel, NULL, NULL));
    assert_int_equal(sink.delivered, 0);
    /* from within: at the first delivery; the other worker may be just delivering too */
    cancel = 0;
    sink.cancel = &cancel;
    assert_true(run_cast(s, &walk, 1, 2, &sink, &cancel, NULL, NULL));
    assert_in_range(sink.delivered, 1, 2);
    run_sink_clear(&sink);
}

static void test_run_sink_error(void **state)
{
    const RunState *s = *state;
    LfCastWalk walk = run_walk(s);
    for (int jobs = 1; jobs <= 3; jobs++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(GPtrArray) failed = g_ptr_array_new_with_free_func(g_free);
        RunSink sink = run_sink_new(s->n_chunks);
        sink.fail_after = 2;
        assert_false(run_cast(s, &walk, 1, jobs, &sink, NULL, failed, &error));
        assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_MACHINE));
        assert_string_equal(error->message, "The disk is full.");
        assert_int_equal(sink.delivered, 2); /* never called again */
        assert_int_equal(failed->len, 0);    /* no fault of the walk */
        run_sink_clear(&sink);
    }
}

static void test_run_missing_video(void **state)
{
    const RunState *s = *state;
    g_autofree char *gone = g_build_filename(s->folder, "gone.mp4", NULL);
    LfCastWalk walks[N_WALKS] = {run_walk(s), run_walk(s)};
    walks[0].video_path = gone;
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) failed = g_ptr_array_new_with_free_func(g_free);
    RunSink sink = run_sink_new(s->n_chunks);
    assert_true(run_cast(s, walks, N_WALKS, 2, &sink, NULL, failed, &error));
    assert_int_equal(failed->len, 1);
    const char *sentence = g_ptr_array_index(failed, 0);
    assert_true(g_str_has_prefix(sentence, "0\t"));
    assert_non_null(strstr(sentence, "gone.mp4"));
    for (gsize c = 0; c < s->n_chunks; c++) {
        assert_int_equal(sink.chunk[c].delivered, 0);
        assert_int_equal(sink.chunk[s->n_chunks + c].delivered, 1);
    }
    run_sink_clear(&sink);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_run_jobs),          cmocka_unit_test(test_run_complete),
        cmocka_unit_test(test_run_done_left_out), cmocka_unit_test(test_run_cancel),
        cmocka_unit_test(test_run_sink_error),    cmocka_unit_test(test_run_missing_video),
    };
    return cmocka_run_group_tests(tests, run_setup, run_teardown);
}
