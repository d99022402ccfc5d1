/* Two photos side by side on one wall, in frames that show one of them whole: the other is where
 * the first one has it. Frames are rendered from the whole wall. */
#include "cast/tracker.h"

#include <string.h>

#include "cast/scene.h"

enum { WIDTH = 700, HEIGHT = 600, TILE = 100 };

typedef struct {
    char *folder;
    LfPlane wall;
    LfPhoto *photos[2]; /* left: no part like another; right: one drawing over and over */
    LfLens lens;
    LfTracker *tracker;
    LfWindow *window;
    int64_t t_us;
} Bed;

static LfPlane bed_half(const LfPlane *wall, int half)
{
    LfPlane out = scene_photo(1, WIDTH, HEIGHT);
    for (int y = 0; y < HEIGHT; y++)
        memcpy(out.data + y * WIDTH, wall->data + y * wall->width + half * WIDTH, WIDTH);
    return out;
}

/* alike: the right photo is one drawing over and over. */
static void bed_open(Bed *bed, bool alike)
{
    *bed = (Bed){.folder = scene_folder_new(),
                 .wall = scene_photo(3, 2 * WIDTH, HEIGHT),
                 .lens = lf_lens_plain(1280, 720)};
    LfPlane tiles = scene_tiles(4, WIDTH, HEIGHT, TILE);
    for (int y = 0; y < HEIGHT && alike; y++)
        memcpy(bed->wall.data + y * 2 * WIDTH + WIDTH, tiles.data + y * WIDTH, WIDTH);
    lf_plane_clear(&tiles);
    for (int half = 0; half < 2; half++) {
        LfPlane picture = bed_half(&bed->wall, half);
        g_autofree char *path =
            scene_write_pgm(bed->folder, half ? "right.pgm" : "left.pgm", &picture);
        bed->photos[half] = lf_photo_load(path, NULL, NULL);
        assert_non_null(bed->photos[half]);
        lf_plane_clear(&picture);
    }
    bed->tracker = lf_tracker_new(bed->photos, 2);
    bed->window = lf_window_new(8, 2, bed->lens.width, bed->lens.height);
    assert_non_null(bed->window);
}

static void bed_close(Bed *bed)
{
    lf_tracker_free(bed->tracker);
    lf_window_free(bed->window);
    lf_photo_free(bed->photos[0]);
    lf_photo_free(bed->photos[1]);
    lf_plane_clear(&bed->wall);
    scene_folder_remove(bed->folder);
}

/* Each photo's place by the other one's, `off` px too far apart. */
static void bed_introduce(Bed *bed, double off)
{
    for (int half = 0; half < 2; half++) {
        bed->photos[half]->n_neighbours = 1;
        bed->photos[half]->neighbours[0] =
            (LfNeighbour){.by = bed->photos[!half]->mark,
                          .m = {1, 0, half ? WIDTH + off : -WIDTH - off, 0, 1, 0, 0, 0, 0, 0, 0, 1},
                          .sigma_px = 1,
                          .views = 20};
    }
}

/* frame_from_photo when the frame shows `width` px of the wall from `left` on. */
static LfMat3 bed_truth(const Bed *bed, int half, double left, double width)
{
    const double scale = bed->lens.width / width;
    const LfMat3 h = {{scale, 0, scale * (half * WIDTH - left), 0, scale, 30, 0, 0, 1}};
    return h;
}

static LfWindowFrame *bed_look(Bed *bed, double left, double width)
{
    const LfMat3 h = bed_truth(bed, 0, left, width);
    LfPlane frame = scene_render(&bed->wall, &h, &bed->lens, 120);
    LfWindowFrame *newest = lf_window_push(bed->window, bed->t_us, frame.data, frame.width);
    assert_non_null(newest);
    bed->t_us += 40000;
    lf_tracker_advance(bed->tracker, bed->window);
    lf_plane_clear(&frame);
    return newest;
}

/* How far from its place a photo was found, in the middle of what is in view; frame px. */
static double bed_error(const Bed *bed, const LfWindowFrame *frame, int half, double left,
                        double width, double at)
{
    const LfMat3 truth = bed_truth(bed, half, left, width);
    const LfPoint p = {at, HEIGHT / 2.0};
    LfPoint is, found;
    assert_true(frame->has[half]);
    assert_true(lf_mat3_apply(&truth, p, &is));
    assert_true(lf_mat3_apply(&frame->pose[half].frame_from_photo, p, &found));
    return hypot(is.x - found.x, is.y - found.y);
}

/* A strip of look-alikes says nothing by itself of which ones they are. */
static void test_tracker_strip(void **state)
{
    const double left = 60, width = 900, middle = 130;
    (void)state;
    for (int introduced = 0; introduced < 2; introduced++) {
        Bed bed;
        bed_open(&bed, true);
        if (introduced)
            bed_introduce(&bed, 0);
        lf_tracker_start(bed.tracker, &bed.lens, NULL, 0);
        const LfWindowFrame *frame = bed_look(&bed, left, width);
        check_near(bed_error(&bed, frame, 0, left, width, WIDTH / 2.0), 0, 0.5);
        if (introduced)
            check_near(bed_error(&bed, frame, 1, left, width, middle), 0, 0.5);
        else
            assert_true(!frame->has[1] ||
                        bed_error(&bed, frame, 1, left, width, middle) > TILE / 2.0);
        bed_close(&bed);
    }
}

/* Followed a facing off: that cannot be seen where the tiles fill the picture, but beside the other
 * photo it is put right, and so are the frames before. */
static void test_tracker_slipped(void **state)
{
    Bed bed;
    const double width = 900;
    (void)state;
    bed_open(&bed, true);
    bed_introduce(&bed, 0);
    lf_tracker_start(bed.tracker, &bed.lens, NULL, 0);
    LfWindowFrame *frame = bed_look(&bed, 250, width);
    assert_true(frame->has[1]);
    const LfMat3 slip = lf_mat3_translation(TILE, 0);
    frame->pose[1].frame_from_photo = lf_mat3_mul(&frame->pose[1].frame_from_photo, &slip);
    assert_true(lf_mat3_invert(&frame->pose[1].frame_from_photo, &frame->pose[1].photo_from_frame));
    for (double left = 248; left >= 238; left -= 2)
        frame = bed_look(&bed, left, width);
    check_near(bed_error(&bed, frame, 0, 238, width, WIDTH / 2.0), 0, 0.5);
    check_near(bed_error(&bed, frame, 1, 238, width, 200), 0, 0.5);
    for (int k = 1; k <= 3; k++)
        check_near(bed_error(&bed, lf_window_at(bed.window, bed.window->end - 1 - k), 1,
                             238 + 2 * k, width, 200),
                   0, 0.5);
    bed_close(&bed);
}

/* Something else hangs in its place now: it is not found there. */
static void test_tracker_gone(void **state)
{
    Bed bed;
    LfPlane other = scene_photo(9, WIDTH, HEIGHT);
    (void)state;
    bed_open(&bed, false);
    bed_introduce(&bed, 0);
    for (int y = 0; y < HEIGHT; y++)
        memcpy(bed.wall.data + y * 2 * WIDTH + WIDTH, other.data + y * WIDTH, WIDTH);
    lf_plane_clear(&other);
    lf_tracker_start(bed.tracker, &bed.lens, NULL, 0);
    for (int i = 0; i < 8; i++) {
        const LfWindowFrame *frame = bed_look(&bed, 60 + i, 900);
        assert_true(frame->has[0]);
        assert_false(frame->has[1]);
    }
    bed_close(&bed);
}

/* They were moved apart: what the picture shows clearly stays. */
static void test_tracker_moved(void **state)
{
    Bed bed;
    const double width = 1100;
    (void)state;
    bed_open(&bed, false);
    bed_introduce(&bed, 80);
    lf_tracker_start(bed.tracker, &bed.lens, NULL, 0);
    for (double left = 100; left < 116; left += 2) {
        const LfWindowFrame *frame = bed_look(&bed, left, width);
        check_near(bed_error(&bed, frame, 0, left, width, WIDTH / 2.0), 0, 0.5);
        check_near(bed_error(&bed, frame, 1, left, width, WIDTH / 3.0), 0, 0.5);
    }
    bed_close(&bed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_tracker_strip), cmocka_unit_test(test_tracker_slipped),
        cmocka_unit_test(test_tracker_gone), cmocka_unit_test(test_tracker_moved)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
