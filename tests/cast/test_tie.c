/* Following from ties: a film of a shelf of look-alike packs, somebody passing in front, whose
 * engine poses are wrong by a facing or missing. What a person ties must settle the stretch. */
#include "cast/scene.h"

#include <string.h>

#include <lookfall/tie.h>

#include "cast/tie_fix.h"

#define WIDTH 640
#define HEIGHT 360
#define FRAME_US 40000
#define N_FRAMES 130
#define SAMPLE_US 7000
#define FROM_US 1000000
#define TO_US 4000000
#define TILE 90
/* lf_lens_plain: one degree is width / 82 */
#define DEGREE_PX (WIDTH / 82.0)

typedef struct {
    char *folder;
    LfPlane plane;
    LfPhoto *photo;
    char *video;
    LfLens lens;
    LfGazeSample *samples;
    gsize n_samples;
    LfChunkSpan *chunks;
    gsize n_chunks;
} TieState;

/* A look along the shelf and back, with some sway. */
static LfMat3 tie_view(const TieState *s, double t_s)
{
    SceneView view = {14 * sin(0.9 * t_s), 5 * cos(0.7 * t_s), 3 * sin(0.6 * t_s),
                      0.42 + 0.03 * sin(1.3 * t_s)};
    return scene_view(&view, &s->plane, &s->lens);
}

/* Packs of one print in each row; so near that neither end of a row is in view. */
static LfPlane tie_shelf(void)
{
    LfPlane shelf = scene_tiles(91, 1260, 6 * TILE, TILE);
    for (int row = 1; row < 6; row++) {
        LfPlane other = scene_tiles(91 + (guint32)row, shelf.width, TILE, TILE);
        memcpy(shelf.data + row * TILE * shelf.width, other.data, (gsize)(TILE * shelf.width));
        lf_plane_clear(&other);
    }
    return shelf;
}

static void tie_film(TieState *s)
{
    LfVideoWriterOptions options = {.width = WIDTH,
                                    .height = HEIGHT,
                                    .frame_rate = 1e6 / FRAME_US,
                                    .key_interval = 25,
                                    .quality = 20,
                                    .threads = 1};
    g_autoptr(GError) error = NULL;
    g_autoptr(LfVideoWriter) writer = lf_video_writer_new(s->video, &options, &error);
    g_autofree uint8_t *rgb = g_malloc(WIDTH * HEIGHT * 3);
    LfPlane coat = scene_photo(78, WIDTH, HEIGHT);
    assert_non_null(writer);
    for (int i = 0; i < N_FRAMES; i++) {
        LfMat3 truth = tie_view(s, i * (FRAME_US / 1e6));
        LfPlane frame = scene_render(&s->plane, &truth, &s->lens, 128);
        /* a passer-by, a third of the picture wide, from the left to the right within 2 s */
        const int left = -220 + (i - 45) * 18;
        for (int y = 40; y < HEIGHT; y++)
            for (int x = MAX(left, 0); x < MIN(left + 200, WIDTH); x++)
                frame.data[y * WIDTH + x] = coat.data[y * WIDTH + x - left];
        for (int p = 0; p < WIDTH * HEIGHT; p++)
            memset(rgb + 3 * p, frame.data[p], 3);
        lf_plane_clear(&frame);
        assert_true(lf_video_writer_add(writer, (int64_t)i * FRAME_US, rgb, WIDTH * 3, &error));
    }
    lf_plane_clear(&coat);
    assert_true(lf_video_writer_finish(writer, &error));
}

static int tie_setup(void **state)
{
    TieState *s = g_new0(TieState, 1);
    s->folder = scene_folder_new();
    s->plane = tie_shelf();
    g_autofree char *path = scene_write_pgm(s->folder, "photo.pgm", &s->plane);
    s->photo = lf_photo_load(path, NULL, NULL);
    assert_non_null(s->photo);
    s->video = g_build_filename(s->folder, "walk.mp4", NULL);
    s->lens = lf_lens_plain(WIDTH, HEIGHT);
    tie_film(s);
    s->n_samples = (gsize)N_FRAMES * FRAME_US / SAMPLE_US;
    s->samples = g_new(LfGazeSample, s->n_samples);
    for (gsize i = 0; i < s->n_samples; i++)
        s->samples[i] = (LfGazeSample){.t_us = (int64_t)i * SAMPLE_US,
                                       .x = 320 + 200 * sin((double)i * 0.11),
                                       .y = 180 + 100 * cos((double)i * 0.07),
                                       .lost = i % 11 == 3};
    g_autoptr(LfVideoIndex) index = lf_video_index_new(s->video, NULL);
    assert_non_null(index);
    s->chunks = lf_chunks_plan(index, G_USEC_PER_SEC, &s->n_chunks);
    assert_int_equal(s->n_chunks, 5);
    *state = s;
    return 0;
}

static int tie_teardown(void **state)
{
    TieState *s = *state;
    lf_photo_free(s->photo);
    lf_plane_clear(&s->plane);
    scene_folder_remove(s->folder);
    g_free(s->video);
    g_free(s->samples);
    g_free(s->chunks);
    g_free(s);
    return 0;
}

/* A tie of a point of the frame that is shown at t_us, where it truly is, but for the hand. */
static LfTie tie_true(const TieState *s, int64_t t_us, double x, double y, double off_px)
{
    LfMat3 truth = tie_view(s, (double)(t_us / FRAME_US * FRAME_US) / 1e6), back;
    LfTie tie = {.t_us = t_us, .frame = {x, y}};
    assert_true(lf_mat3_invert(&truth, &back) && lf_mat3_apply(&back, tie.frame, &tie.photo));
    tie.frame.x += off_px;
    tie.frame.y -= off_px;
    return tie;
}

/* What the engine is said to have found: a pose off by `facings` in each frame, but for those from
 * lost_from_us to lost_to_us. */
static GArray *tie_priors(const TieState *s, double facings, int64_t lost_from_us,
                          int64_t lost_to_us)
{
    GArray *priors = g_array_new(FALSE, FALSE, sizeof(LfPoseCast));
    for (int64_t i = 0; i < N_FRAMES; i++) {
        LfPoseCast pose = {.t_us = i * FRAME_US, .photo = 2};
        if (pose.t_us >= lost_from_us && pose.t_us < lost_to_us)
            continue;
        LfMat3 truth = tie_view(s, (double)pose.t_us / 1e6), back;
        LfMat3 move = lf_mat3_translation(facings * TILE, 0);
        assert_true(lf_mat3_invert(&truth, &back));
        pose.photo_from_frame = lf_mat3_mul(&move, &back);
        g_array_append_val(priors, pose);
    }
    return priors;
}

static LfCastWalk tie_walk(const TieState *s)
{
    return (LfCastWalk){.video_path = s->video,
                        .lens = s->lens,
                        .samples = s->samples,
                        .n_samples = s->n_samples,
                        .chunks = s->chunks,
                        .n_chunks = s->n_chunks};
}

typedef struct {
    int seen, right, sure, sure_wrong; /* of samples with gaze on the photo */
} TieScore;

/* Every sample of the stretch is there once, in order, and well formed; how many are within a
 * degree of the truth. */
static TieScore tie_score(const TieState *s, const LfTied *tied, int64_t from_us, int64_t to_us)
{
    TieScore score = {0};
    gsize next = lf_gaze_first_at(s->samples, s->n_samples, from_us);
    for (gsize i = 0; i < tied->n_samples; i++, next++) {
        const LfSampleCast *r = &tied->samples[i];
        const LfGazeSample *g = &s->samples[next];
        assert_int_equal(r->sample, next);
        assert_true((r->state == LF_STATE_LOST) == g->lost);
        assert_true(r->photo == (isfinite(r->x) ? 2 : -1));
        LfMat3 truth = tie_view(s, (double)g->t_us / 1e6), back;
        LfPoint p;
        assert_true(lf_mat3_invert(&truth, &back));
        if (g->lost || !lf_mat3_apply(&back, (LfPoint){g->x, g->y}, &p) || p.x < 0 || p.y < 0 ||
            p.x > s->plane.width - 1 || p.y > s->plane.height - 1)
            continue;
        LfPoint shown = {NAN, NAN};
        bool right = isfinite(r->x) && lf_mat3_apply(&truth, (LfPoint){r->x, r->y}, &shown) &&
                     hypot(shown.x - g->x, shown.y - g->y) <= DEGREE_PX;
        score.seen++;
        score.right += right;
        score.sure += r->state == LF_STATE_SURE;
        score.sure_wrong += r->state == LF_STATE_SURE && !right;
    }
    assert_int_equal(next, lf_gaze_first_at(s->samples, s->n_samples, to_us));
    int64_t last_us = INT64_MIN;
    for (gsize i = 0; i < tied->n_poses; i++) {
        const LfPoseCast *pose = &tied->poses[i];
        assert_true(pose->t_us > last_us && pose->t_us >= from_us && pose->t_us < to_us);
        assert_int_equal(pose->photo, 2);
        last_us = pose->t_us;
    }
    return score;
}

typedef struct {
    const char *name;
    double facings;                   /* by which the engine's poses are wrong */
    int64_t lost_from_us, lost_to_us; /* where it has none */
    struct {
        int64_t t_us;
        double x, y; /* frame px */
    } ties[5];
    int n_ties, n_frames;
} TieCase;

static const TieCase TIE_CASES[] = {
    {"one tie in the middle, wrong by a facing", 1, 0, 0, {{2510000, 300, 150}}, 1, 1},
    {"one tie at the start, wrong by two facings", -2, 0, 0, {{1000000, 420, 200}}, 1, 1},
    {"one tie at the end, wrong by a facing", -1, 0, 0, {{3990000, 220, 230}}, 1, 1},
    {"one tie, lost", 0, FROM_US, TO_US, {{3300000, 400, 150}}, 1, 1},
    {"two ties, lost", 0, 0, 6000000, {{1500000, 150, 90}, {1500000, 520, 280}}, 2, 1},
    {"two ties, wrong by a facing",
     1,
     0,
     0,
     {{2000000, 450, 90}, {2010000, 560, 280}}, /* both while one frame is shown */
     2,
     1},
    {"two tied frames", 1, 0, 0, {{1400000, 320, 180}, {3500000, 250, 120}}, 2, 2},
    {"three ties, lost",
     0,
     0,
     6000000,
     {{3500000, 120, 80}, {3500000, 380, 90}, {3500000, 200, 300}},
     3,
     1},
    {"four ties, lost",
     0,
     0,
     6000000,
     {{1200000, 100, 60}, {1200000, 560, 80}, {1200000, 540, 300}, {1200000, 80, 310}},
     4,
     1},
};

static LfTieTask tie_task(const TieState *s, const LfCastWalk *walk, const LfCastSettings *settings,
                          const LfTie *ties, int n_ties, const GArray *priors)
{
    return (LfTieTask){.photo = s->photo,
                       .photo_index = 2,
                       .walk = walk,
                       .settings = settings,
                       .from_us = FROM_US,
                       .to_us = TO_US,
                       .ties = ties,
                       .n_ties = (gsize)n_ties,
                       .priors = (const LfPoseCast *)(const void *)priors->data,
                       .n_priors = priors->len,
                       .threads = 1};
}

/* At least 97 in 100 samples within a degree, where the engine's own poses have none. */
static void test_tie_settles(void **state)
{
    const TieState *s = *state;
    const LfCastWalk walk = tie_walk(s);
    const LfCastSettings settings = lf_cast_settings_default();
    for (gsize i = 0; i < G_N_ELEMENTS(TIE_CASES); i++) {
        const TieCase *c = &TIE_CASES[i];
        LfTie ties[5];
        LfTied tied;
        g_autoptr(GError) error = NULL;
        g_autoptr(GArray) priors = tie_priors(s, c->facings, c->lost_from_us, c->lost_to_us);
        for (int k = 0; k < c->n_ties; k++)
            ties[k] = tie_true(s, c->ties[k].t_us, c->ties[k].x, c->ties[k].y, k % 2 ? 1 : -1);
        const LfTieTask task = tie_task(s, &walk, &settings, ties, c->n_ties, priors);
        if (!lf_cast_tied(&task, &tied, &error))
            fail_msg("%s: %s", c->name, error->message);
        const TieScore score = tie_score(s, &tied, FROM_US, TO_US);
        print_message("%s: %d of %d right, %d sure, %d of them wrong\n", c->name, score.right,
                      score.seen, score.sure, score.sure_wrong);
        if (!(score.seen > 350 && score.right >= 0.97 * score.seen))
            fail_msg("%s: only %d of %d right", c->name, score.right, score.seen);
        if (!(score.sure >= 0.8 * score.seen && score.sure_wrong == 0))
            fail_msg("%s: %d of %d sure, %d of them wrong", c->name, score.sure, score.seen,
                     score.sure_wrong);
        assert_int_equal(tied.n_frames, c->n_frames);
        for (gsize k = 0; k < tied.n_frames; k++) {
            assert_true(tied.frames[k].refined && tied.frames[k].miss_deg < 0.5);
            assert_true(tied.frames[k].t_us % FRAME_US == 0);
        }
        lf_tied_clear(&tied);
    }
}

/* The same bytes for any number of decoder threads, and for ties in another order. */
static void test_tie_same(void **state)
{
    const TieState *s = *state;
    const LfCastWalk walk = tie_walk(s);
    const LfCastSettings settings = lf_cast_settings_default();
    g_autoptr(GArray) priors = tie_priors(s, 1, 0, 0);
    LfTie ties[] = {tie_true(s, 1700000, 200, 90, 1), tie_true(s, 3100000, 420, 250, -1)};
    LfTied first, second;
    LfTieTask task = tie_task(s, &walk, &settings, ties, 2, priors);
    assert_true(lf_cast_tied(&task, &first, NULL));
    const LfTie swap = ties[0];
    ties[0] = ties[1];
    ties[1] = swap;
    task.threads = 3;
    assert_true(lf_cast_tied(&task, &second, NULL));
    assert_int_equal(first.n_samples, second.n_samples);
    assert_int_equal(first.n_poses, second.n_poses);
    for (gsize i = 0; i < first.n_samples; i++) {
        const LfSampleCast *a = &first.samples[i], *b = &second.samples[i];
        assert_true(a->state == b->state && a->doubt == b->doubt);
        assert_memory_equal(&a->x, &b->x, sizeof a->x);
        assert_memory_equal(&a->y, &b->y, sizeof a->y);
        assert_memory_equal(&a->confidence, &b->confidence, sizeof a->confidence);
        assert_memory_equal(&a->cov, &b->cov, sizeof a->cov);
    }
    for (gsize i = 0; i < first.n_poses; i++)
        assert_memory_equal(&first.poses[i].photo_from_frame, &second.poses[i].photo_from_frame,
                            sizeof(LfMat3));
    lf_tied_clear(&first);
    lf_tied_clear(&second);
}

/* A frame in which the picture says nothing against the ties nor for them: they stand as they are.
 */
static void test_tie_bare(void **state)
{
    const TieState *s = *state;
    const LfCastWalk walk = tie_walk(s);
    const LfCastSettings settings = lf_cast_settings_default();
    g_autoptr(GArray) priors = tie_priors(s, 0, 0, 6000000);
    /* ties that stretch the photo to twice its height: no picture agrees */
    LfTie ties[4];
    for (int i = 0; i < 4; i++) {
        ties[i] = tie_true(s, 2000000, i % 2 ? 540 : 100, i / 2 ? 300 : 60, 0);
        ties[i].photo.y = 270 + (ties[i].photo.y - 270) * 0.5;
    }
    const LfTieTask task = tie_task(s, &walk, &settings, ties, 4, priors);
    LfTied tied;
    assert_true(lf_cast_tied(&task, &tied, NULL));
    assert_int_equal(tied.n_frames, 1);
    assert_false(tied.frames[0].refined);
    assert_true(tied.frames[0].miss_deg < 0.2);
    const TieScore score = tie_score(s, &tied, FROM_US, TO_US);
    /* between the tied frame and its neighbours the ties have their say */
    assert_in_range(score.sure_wrong, 0, FRAME_US / SAMPLE_US);
    /* right at the tied frame the samples are where the ties put them, and none is sure */
    for (gsize i = 0; i < tied.n_samples; i++) {
        const LfSampleCast *r = &tied.samples[i];
        const LfGazeSample *g = &s->samples[r->sample];
        LfPoint p;
        if (llabs(g->t_us - 2000000) > SAMPLE_US / 2 || g->lost)
            continue;
        assert_true(lf_mat3_apply(&tied.frames[0].photo_from_frame, (LfPoint){g->x, g->y}, &p));
        check_near(r->x, p.x, 12);
        check_near(r->y, p.y, 12);
        assert_true(r->state == LF_STATE_DOUBTFUL && r->radius_px > 2);
    }
    lf_tied_clear(&tied);
}

typedef struct {
    const char *name;
    LfTie ties[5];
    int n;
    const char *message; /* part of it */
} TieFault;

static const TieFault TIE_FAULTS[] = {
    {"no ties", {{0, {0, 0}, {0, 0}}}, 0, "There is no tie"},
    {"before the stretch", {{900000, {9, 9}, {9, 9}}}, 1, "tie at 0.900 s"},
    {"at its end", {{TO_US, {9, 9}, {9, 9}}}, 1, "outside of the stretch"},
    {"off the frame", {{2000000, {640, 9}, {9, 9}}}, 1, "outside of the frame"},
    {"not a number", {{2000000, {(double)NAN, 9}, {9, 9}}}, 1, "outside of the frame"},
    {"off the photo", {{2000000, {9, 9}, {9, 540}}}, 1, "outside of the photo"},
    {"twice in the frame",
     {{2000000, {100, 90}, {90, 90}}, {2000000, {101, 90}, {300, 90}}},
     2,
     "same point of the frame"},
    {"twice on the photo",
     {{2000000, {100, 90}, {90, 90}}, {2000000, {300, 90}, {91, 89}}},
     2,
     "same point of the photo"},
    {"three on a line",
     {{2000000, {100, 90}, {90, 90}},
      {2000000, {200, 91}, {190, 91}},
      {2000000, {400, 90}, {390, 90}}},
     3,
     "lie on one line"},
    {"three of four on a line",
     {{2000000, {100, 90}, {90, 90}},
      {2000000, {200, 91}, {190, 91}},
      {2000000, {400, 90}, {390, 90}},
      {2000000, {300, 300}, {290, 290}}},
     4,
     "or all but one"},
    {"mirrored",
     {{2000000, {100, 90}, {500, 90}},
      {2000000, {500, 90}, {100, 90}},
      {2000000, {500, 300}, {100, 300}},
      {2000000, {100, 300}, {500, 300}}},
     4,
     "contradict each other"},
};

static void test_tie_faults(void **state)
{
    const TieState *s = *state;
    const LfCastWalk walk = tie_walk(s);
    const LfCastSettings settings = lf_cast_settings_default();
    g_autoptr(GArray) priors = tie_priors(s, 1, 0, 0);
    for (gsize i = 0; i < G_N_ELEMENTS(TIE_FAULTS); i++) {
        const TieFault *c = &TIE_FAULTS[i];
        const LfTieTask task = tie_task(s, &walk, &settings, c->ties, c->n, priors);
        g_autoptr(GError) error = NULL;
        LfTied tied;
        if (lf_cast_tied(&task, &tied, &error))
            fail_msg("%s: taken", c->name);
        if (!g_error_matches(error, LF_ERROR, LF_ERROR_INPUT) ||
            !strstr(error->message, c->message))
            fail_msg("%s: says \"%s\"", c->name, error->message);
        assert_true(tied.n_samples == 0 && !tied.samples && !tied.poses && !tied.frames);
    }
}

static void tie_count(int64_t done, int64_t total, void *data)
{
    int64_t *last = data;
    assert_true(done >= *last && done <= total);
    *last = done;
}

static void test_tie_stops(void **state)
{
    const TieState *s = *state;
    const LfCastSettings settings = lf_cast_settings_default();
    g_autoptr(GArray) priors = tie_priors(s, 1, 0, 0);
    const LfTie tie = tie_true(s, 2000000, 300, 150, 0);
    LfCastWalk walk = tie_walk(s);
    LfTieTask task = tie_task(s, &walk, &settings, &tie, 1, priors);
    g_autoptr(GError) error = NULL;
    LfTied tied;
    int64_t last = 0;
    task.progress = tie_count;
    task.data = &last;
    assert_true(lf_cast_tied(&task, &tied, &error));
    assert_in_range(last, 95, 105); /* 75 frames forwards, 25 backwards */
    lf_tied_clear(&tied);

    const int cancel = 1;
    task.cancel = &cancel;
    assert_false(lf_cast_tied(&task, &tied, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_PART));
    g_clear_error(&error);
    task.cancel = NULL;

    walk.video_path = "/nowhere/walk.mp4";
    assert_false(lf_cast_tied(&task, &tied, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
    g_clear_error(&error);
    walk.video_path = s->video;
    walk.lens = lf_lens_plain(320, 180);
    assert_false(lf_cast_tied(&task, &tied, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
}

/* The mapping meets its ties, and changes what was known no more than it must. */
static void test_tie_fix(void **state)
{
    (void)state;
    SceneView view = {25, -10, 5, 0.8};
    LfLens lens = lf_lens_plain(WIDTH, HEIGHT);
    LfPlane size = {.width = 900, .height = 600};
    const LfMat3 truth = scene_view(&view, &size, &lens);
    const LfPoint photo[] = {{200, 150}, {700, 180}, {650, 480}, {260, 430}, {450, 300}};
    for (int n = 1; n <= 5; n++)
        for (int way = LF_TIE_ON_PHOTO; way <= LF_TIE_IN_FRAME; way++) {
            LfTiePoint ties[5];
            for (int i = 0; i < n; i++) {
                ties[i].photo = photo[i];
                assert_true(lf_mat3_apply(&truth, photo[i], &ties[i].frame));
            }
            /* wrong by a shift along the photo */
            const LfMat3 move = lf_mat3_translation(90, -40);
            const LfMat3 wrong = lf_mat3_mul(&truth, &move);
            LfMat3 fixed;
            assert_null(lf_tie_fault(ties, n));
            assert_true(lf_tie_fix(ties, n, &wrong, (LfTieWay)way, &fixed));
            assert_true(lf_tie_miss_px(ties, n, &fixed) < 1e-6);
            if (n < 4 && way == LF_TIE_IN_FRAME)
                continue;
            for (int i = 0; i < 5; i++) {
                LfPoint a, b;
                assert_true(lf_mat3_apply(&truth, photo[i], &a) &&
                            lf_mat3_apply(&fixed, photo[i], &b));
                check_near(b.x, a.x, 1e-6);
                check_near(b.y, a.y, 1e-6);
            }
        }
    /* without a prior: two ties are met by the photo as seen from the front, one by nothing */
    LfTiePoint two[] = {{{100, 100}, {200, 150}}, {{300, 100}, {600, 150}}};
    LfMat3 fixed;
    LfPoint p;
    assert_false(lf_tie_fix(two, 1, NULL, LF_TIE_IN_FRAME, &fixed));
    assert_true(lf_tie_fix(two, 2, NULL, LF_TIE_IN_FRAME, &fixed));
    assert_true(lf_mat3_apply(&fixed, (LfPoint){400, 250}, &p));
    check_near(p.x, 200, 1e-9);
    check_near(p.y, 150, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_tie_fix),    cmocka_unit_test(test_tie_settles),
        cmocka_unit_test(test_tie_same),   cmocka_unit_test(test_tie_bare),
        cmocka_unit_test(test_tie_faults), cmocka_unit_test(test_tie_stops),
    };
    return cmocka_run_group_tests(tests, tie_setup, tie_teardown);
}
