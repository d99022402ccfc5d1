/* The reason of a doubt: from evidence, by table; what of a photo has changed; and on rendered
 * films in which one thing at a time goes wrong. */
#include "cast/scene.h"

#include <string.h>

#include <lookfall/cast.h>

#include "cast/changed.h"
#include "cast/doubt.h"

/* --- from evidence -------------------------------------------------------------------------- */

static const LfEvidence DOUBT_FINE = {.sigma_deg = 0.02,
                                      .agreement = 0.95,
                                      .support = 1.5,
                                      .good_share = 1,
                                      .share_good = 0.95,
                                      .n_good = 120,
                                      .cover = 1,
                                      .rival = 0.2,
                                      .motion_deg = 0.1,
                                      .spread_deg = 0.01,
                                      .mismatch = 1};

typedef struct {
    const char *name;
    LfDoubt expected;
    bool blocked;
    LfDoubtSigns signs;
    /* what differs from fine evidence: NaN for nothing */
    double sigma, agreement, support, good_share, share_good, n_good, cover, rival, gap, motion,
        spread, mismatch, missing;
} DoubtCase;

#define KEEP (double)NAN

static const DoubtCase DOUBT_CASES[] = {
    {"the head turns fast and patches fail everywhere",
     LF_DOUBT_BLUR,
     false,
     {false, 0},
     0.2,
     0.5,
     1,
     0.4,
     0.35,
     45,
     0.7,
     KEEP,
     KEEP,
     2.5,
     0.05,
     3,
     0.4},
    {"a hand before a firm pose",
     LF_DOUBT_FRONT,
     false,
     {false, 0},
     KEEP,
     0.3,
     1,
     0.2,
     0.85,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     6,
     1},
    {"a hand while the head turns a little",
     LF_DOUBT_FRONT,
     false,
     {false, 0},
     KEEP,
     0.3,
     1,
     0.2,
     0.85,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     0.9,
     KEEP,
     6,
     1},
    {"blocked",
     LF_DOUBT_FRONT,
     true,
     {false, 0},
     KEEP,
     0.3,
     1,
     0.1,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     6,
     1},
    {"blocked all the time",
     LF_DOUBT_CHANGED,
     true,
     {true, 0},
     KEEP,
     0.3,
     1,
     0.1,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     6,
     1},
    {"blocked in a fast turn",
     LF_DOUBT_BLUR,
     true,
     {false, 0},
     KEEP,
     0.3,
     1,
     0.1,
     0.6,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     5,
     KEEP,
     6,
     1},
    {"another pack stands there",
     LF_DOUBT_CHANGED,
     false,
     {true, 0.1},
     KEEP,
     0.4,
     1,
     0.3,
     0.8,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     4,
     0.8},
    {"a look-alike explains it as well",
     LF_DOUBT_ALIKE,
     false,
     {false, 0},
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     1,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP},
    {"a look-alike, and some blur",
     LF_DOUBT_ALIKE,
     false,
     {false, 0},
     KEEP,
     0.8,
     KEEP,
     KEEP,
     0.8,
     KEEP,
     KEEP,
     0.98,
     KEEP,
     1.2,
     KEEP,
     KEEP,
     KEEP},
    {"a corner of the photo in view",
     LF_DOUBT_LITTLE,
     false,
     {false, 0},
     0.3,
     0.85,
     0.1,
     1,
     0.6,
     12,
     0.5,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP},
    {"it agrees with little of the photo",
     LF_DOUBT_LITTLE,
     false,
     {false, 0},
     0.1,
     0.8,
     0.3,
     0.9,
     0.2,
     25,
     0.3,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP},
    {"carried over eight frames",
     LF_DOUBT_GAP,
     false,
     {false, 0},
     0.8,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     8,
     KEEP,
     KEEP,
     KEEP,
     KEEP},
    {"carried from a frame of little",
     LF_DOUBT_GAP,
     false,
     {false, 0},
     0.8,
     KEEP,
     KEEP,
     KEEP,
     0.4,
     30,
     0.6,
     KEEP,
     5,
     KEEP,
     KEEP,
     KEEP,
     KEEP},
    {"residuals all over the place",
     LF_DOUBT_DEPTH,
     false,
     {false, 0.3},
     0.3,
     0.7,
     1,
     0.6,
     0.55,
     60,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     0.6,
     2,
     0.3},
    {"patches that fail are seen elsewhere",
     LF_DOUBT_DEPTH,
     false,
     {false, 0.7},
     0.1,
     0.6,
     1,
     0.4,
     0.55,
     60,
     KEEP,
     KEEP,
     KEEP,
     KEEP,
     0.06,
     2,
     0.3},
};

static void doubt_set(double *value, double to)
{
    if (!isnan(to))
        *value = to;
}

static void test_doubt_evidence(void **state)
{
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(DOUBT_CASES); i++) {
        const DoubtCase *c = &DOUBT_CASES[i];
        LfEvidence e = DOUBT_FINE;
        doubt_set(&e.sigma_deg, c->sigma);
        doubt_set(&e.agreement, c->agreement);
        doubt_set(&e.support, c->support);
        doubt_set(&e.good_share, c->good_share);
        doubt_set(&e.share_good, c->share_good);
        doubt_set(&e.n_good, c->n_good);
        doubt_set(&e.cover, c->cover);
        doubt_set(&e.rival, c->rival);
        doubt_set(&e.gap_frames, c->gap);
        doubt_set(&e.motion_deg, c->motion);
        doubt_set(&e.spread_deg, c->spread);
        doubt_set(&e.mismatch, c->mismatch);
        doubt_set(&e.missing, c->missing);
        LfDoubt doubt = lf_doubt(&e, &c->signs, 1, c->blocked);
        if (doubt != c->expected)
            fail_msg("%s: %s, expected %s", c->name, lf_doubt_name(doubt),
                     lf_doubt_name(c->expected));
    }
}

/* Each feature of the model has a cause: the costs of none are left out. */
static void test_doubt_features(void **state)
{
    (void)state;
    for (int i = 1; i < LF_CONFIDENCE_DEPTH; i++)
        if (!lf_doubt_knows(lf_confidence_feature_name(i)))
            fail_msg("doubt.c does not know the feature %s", lf_confidence_feature_name(i));
    assert_false(lf_doubt_knows("constant"));
}

static void test_doubt_displaced(void **state)
{
    (void)state;
    const LfLens lens = lf_lens_plain(820, 600); /* 10 px a degree */
    g_autofree LfPose *pose = g_new0(LfPose, 1);
    const LfPoint at = {400, 300};
    check_near(lf_doubt_displaced(pose, &lens, at), 0, 0);
    pose->n_points = 4;
    pose->points[0] = (LfPosePoint){.laid = at, .zncc = 0.95F, .good = true};
    check_near(lf_doubt_displaced(pose, &lens, at), 0, 0);
    pose->points[1] = (LfPosePoint){.laid = {410, 300}, .zncc = 0.9F};
    pose->points[2] = (LfPosePoint){.laid = {390, 300}, .zncc = -1};
    check_near(lf_doubt_displaced(pose, &lens, at), 0.5, 1e-9);
    pose->points[3] = (LfPosePoint){.laid = {800, 300}, .zncc = 0.9F}; /* 40 degrees away */
    check_near(lf_doubt_displaced(pose, &lens, at), 0.5, 1e-9);
}

/* --- what changed --------------------------------------------------------------------------- */

/* A pose over a photo of 1000 x 600 in which patches agree but for those of x from `from` to `to`.
 */
static void doubt_pose(LfPose *pose, double from, double to)
{
    *pose = (LfPose){.n_points = 0};
    for (int y = 10; y < 600; y += 45)
        for (int x = 10; x < 1000; x += 45) {
            LfPosePoint *q = &pose->points[pose->n_points++];
            const bool missing = x >= from && x < to;
            *q = (LfPosePoint){.photo = {x, y}, .zncc = missing ? -1 : 0.9F, .good = !missing};
            pose->n_good += q->good;
        }
    pose->share_good = (double)pose->n_good / pose->n_points;
}

static void test_doubt_changed(void **state)
{
    (void)state;
    g_autofree LfPose *pose = g_new0(LfPose, 1);
    static const struct {
        const char *name;
        int frames;
        double left, width, step; /* what is missing: x at first, and how it moves per frame */
        bool from_start;          /* else only in the second half of the frames */
        bool changed;             /* at x = 500 */
    } cases[] = {
        {"never there", 45, 400, 200, 0, true, true},
        {"elsewhere", 45, 100, 200, 0, true, false},
        {"not long enough to tell", 12, 400, 200, 0, true, false},
        {"somebody passes", 45, 0, 200, 22, true, false},
        {"somebody comes and stays", 90, 400, 200, 0, false, false},
        {"the pose is not firm", 45, 100, 700, 0, true, false},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(LfChanged) changed = lf_changed_new(1000, 600);
        assert_false(lf_changed_at(changed, (LfPoint){500, 300}));
        for (int frame = 0; frame < cases[i].frames; frame++) {
            const double left = cases[i].left + frame * cases[i].step;
            const bool there = cases[i].from_start || frame >= cases[i].frames / 2;
            doubt_pose(pose, there ? left : 0, there ? left + cases[i].width : 0);
            lf_changed_learn(changed, pose, frame * 33333);
        }
        if (lf_changed_at(changed, (LfPoint){500, 300}) != cases[i].changed)
            fail_msg("%s: wrong", cases[i].name);
        assert_false(lf_changed_at(changed, (LfPoint){-50, 300})); /* off the photo */
        assert_false(lf_changed_at(changed, (LfPoint){950, 300}));
    }
}

/* --- on films ------------------------------------------------------------------------------- */

#define WIDTH 640
#define HEIGHT 360
#define FRAME_US 33333
#define N_FRAMES 75

typedef struct {
    char *folder;
    LfPlane plane; /* the photo */
    LfPhoto *photo;
    LfLens lens;
} DoubtState;

static int doubt_setup(void **state)
{
    DoubtState *s = g_new0(DoubtState, 1);
    s->folder = scene_folder_new();
    s->plane = scene_photo(83, 900, 600);
    g_autofree char *path = scene_write_pgm(s->folder, "photo.pgm", &s->plane);
    s->photo = lf_photo_load(path, NULL, NULL);
    assert_non_null(s->photo);
    s->lens = lf_lens_plain(WIDTH, HEIGHT);
    *state = s;
    return 0;
}

static int doubt_teardown(void **state)
{
    DoubtState *s = *state;
    lf_photo_free(s->photo);
    lf_plane_clear(&s->plane);
    scene_folder_remove(s->folder);
    g_free(s);
    return 0;
}

/* What goes wrong in a film, and when. */
typedef enum { FILM_HAND, FILM_CHANGED, FILM_TURN, FILM_COVERED } FilmKind;

static void doubt_paste(LfPlane *frame, const LfPlane *from, int x0, int y0, int x1, int y1)
{
    for (int y = MAX(y0, 0); y < MIN(y1, frame->height); y++)
        for (int x = MAX(x0, 0); x < MIN(x1, frame->width); x++)
            frame->data[y * frame->width + x] = from->data[y * from->width + x];
}

/* Mean of views along the way of the camera while the shutter is open. */
static LfPlane doubt_smeared(const DoubtState *s, double yaw, double yaw_open)
{
    enum { COPIES = 8 };
    LfPlane frame = {0};
    g_autofree double *sum = g_new0(double, WIDTH *HEIGHT);
    for (int i = 0; i < COPIES; i++) {
        LfMat3 move = lf_mat3_translation((yaw + yaw_open * i / COPIES) * WIDTH / 82, 0);
        SceneView view = {6, 3, 1, 0.75};
        LfMat3 map = scene_view(&view, &s->plane, &s->lens);
        map = lf_mat3_mul(&move, &map);
        LfPlane one = scene_render(&s->plane, &map, &s->lens, 128);
        for (int p = 0; p < WIDTH * HEIGHT; p++)
            sum[p] += one.data[p] / (double)COPIES;
        if (i > 0)
            lf_plane_clear(&frame);
        frame = one;
        if (yaw_open == 0) {
            return frame;
        }
    }
    for (int p = 0; p < WIDTH * HEIGHT; p++)
        frame.data[p] = scene_pixel(sum[p]);
    return frame;
}

/* The turn: 8 degrees a frame away from frame 40 on and back from 44 to 48, the shutter open all
 * the time. */
static double doubt_yaw(FilmKind kind, int i, double *open)
{
    *open = 0;
    if (kind != FILM_TURN)
        return 2 * sin(0.05 * i);
    *open = i >= 40 && i < 44 ? 8 : i >= 44 && i < 48 ? -8 : 0;
    return i < 40 || i >= 48 ? 0 : i < 44 ? 8 * (i - 40) : 8 * (48 - i);
}

static char *doubt_film(const DoubtState *s, FilmKind kind)
{
    char *path = g_strdup_printf("%s/film%d.mp4", s->folder, kind);
    LfVideoWriterOptions options = {.width = WIDTH,
                                    .height = HEIGHT,
                                    .frame_rate = 30,
                                    .key_interval = 75,
                                    .quality = 18,
                                    .threads = 1};
    g_autoptr(LfVideoWriter) writer = lf_video_writer_new(path, &options, NULL);
    g_autofree uint8_t *rgb = g_malloc(WIDTH * HEIGHT * 3);
    LfPlane other = scene_photo(99, 900, 600);
    DoubtState shown = *s;
    LfPlane stock = {0};
    assert_non_null(writer);
    assert_true(lf_plane_init(&stock, 900, 600, 1, 1));
    memcpy(stock.data, s->plane.data, 900 * 600);
    if (kind == FILM_CHANGED) { /* another print where the gaze rests */
        doubt_paste(&stock, &other, 340, 200, 560, 400);
        shown.plane = stock;
    }
    for (int i = 0; i < N_FRAMES; i++) {
        double open;
        const double yaw = doubt_yaw(kind, i, &open);
        LfPlane frame = doubt_smeared(&shown, yaw, open);
        if (kind == FILM_HAND && i >= 40)
            doubt_paste(&frame, &other, 230, 110, 410, 250);
        if (kind == FILM_COVERED && i >= 40 && i < 48) /* nothing of the photo to be seen */
            doubt_paste(&frame, &other, 0, 0, WIDTH, HEIGHT);
        for (int p = 0; p < WIDTH * HEIGHT; p++)
            memset(rgb + 3 * p, frame.data[p], 3);
        lf_plane_clear(&frame);
        assert_true(lf_video_writer_add(writer, (int64_t)i * FRAME_US, rgb, WIDTH * 3, NULL));
    }
    assert_true(lf_video_writer_finish(writer, NULL));
    lf_plane_clear(&other);
    lf_plane_clear(&stock);
    return path;
}

typedef struct {
    int frame_from, frame_to;
    int n, doubted, by[LF_DOUBT_DEPTH + 1];
} DoubtCount;

static bool doubt_count(const LfChunkResult *r, void *data, GError **error)
{
    DoubtCount *count = data;
    (void)error;
    for (gsize i = 0; i < r->n_samples; i++) {
        const LfSampleCast *c = &r->samples[i];
        const int64_t t_us = r->walk->samples[c->sample].t_us;
        const bool may = c->state == LF_STATE_DOUBTFUL || c->state == LF_STATE_BLOCKED;
        assert_true((c->doubt != LF_DOUBT_NONE) == may);
        /* What has been taken away has nothing in front of it. */
        assert_false(c->state == LF_STATE_BLOCKED && c->doubt == LF_DOUBT_CHANGED);
        if (t_us < count->frame_from * FRAME_US || t_us >= count->frame_to * FRAME_US)
            continue;
        count->n++;
        count->doubted += may;
        count->by[c->doubt]++;
    }
    return true;
}

static void test_doubt_films(void **state)
{
    const DoubtState *s = *state;
    static const struct {
        const char *name;
        FilmKind kind;
        int from, to; /* frames looked at */
        LfDoubt expected;
        double least_doubted; /* share of samples that must be in doubt at all */
    } films[] = {
        {"a hand comes in", FILM_HAND, 42, 70, LF_DOUBT_FRONT, 0.9},
        {"another pack", FILM_CHANGED, 5, 70, LF_DOUBT_CHANGED, 0.9},
        {"a fast turn", FILM_TURN, 41, 47, LF_DOUBT_BLUR, 0.3},
        {"all covered for a moment", FILM_COVERED, 42, 46, LF_DOUBT_GAP, 0.9},
    };
    LfGazeSample samples[N_FRAMES * 3];
    for (int i = 0; i < N_FRAMES * 3; i++)
        samples[i] = (LfGazeSample){.t_us = i * (FRAME_US / 3), .x = 320, .y = 180};
    for (gsize i = 0; i < G_N_ELEMENTS(films); i++) {
        g_autofree char *path = doubt_film(s, films[i].kind);
        const LfChunkSpan chunk = {0, INT64_MIN, INT64_MAX};
        const LfCastWalk walk = {.video_path = path,
                                 .lens = s->lens,
                                 .samples = samples,
                                 .n_samples = N_FRAMES * 3,
                                 .chunks = &chunk,
                                 .n_chunks = 1};
        const LfCastSettings settings = lf_cast_settings_default();
        DoubtCount count = {films[i].from, films[i].to, 0, 0, {0}};
        assert_true(lf_cast_run(&s->photo, 1, &walk, 1, &settings, 1, doubt_count, NULL, &count,
                                NULL, NULL, NULL));
        print_message("%s: %d of %d samples in doubt:", films[i].name, count.doubted, count.n);
        for (LfDoubt d = LF_DOUBT_BLUR; d <= LF_DOUBT_DEPTH; d++)
            print_message(" %s %d", lf_doubt_name(d), count.by[d]);
        print_message("\n");
        if (!(count.doubted >= films[i].least_doubted * count.n))
            fail_msg("%s: only %d of %d in doubt", films[i].name, count.doubted, count.n);
        if (!(count.by[films[i].expected] >= 0.8 * count.doubted))
            fail_msg("%s: %s for %d of %d", films[i].name, lf_doubt_name(films[i].expected),
                     count.by[films[i].expected], count.doubted);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_doubt_evidence),  cmocka_unit_test(test_doubt_features),
        cmocka_unit_test(test_doubt_displaced), cmocka_unit_test(test_doubt_changed),
        cmocka_unit_test(test_doubt_films),
    };
    return cmocka_run_group_tests(tests, doubt_setup, doubt_teardown);
}
