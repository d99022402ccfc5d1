/* Patches held against a frame: the truth is the correlation coefficient, worked out in double from
 * pictures that are known at every real point. */
#include "cast/sweep_patch.h"

#include <string.h>

#include "cast/scene.h"

#define WIDTH 200
#define HEIGHT 160
#define PLACES 150

/* The photo turned a little, smaller, darker and flatter. */
static const double STEP[4] = {1.3, 0.2, -0.15, 1.25};
#define GAIN 0.6
#define LIGHT -20
/* Grey levels that are taken for noise. */
#define NOISE_PHOTO 1
#define NOISE_FRAME 2

typedef struct {
    SceneWaves waves;
    LfPlane photo, frame;
    LfPoint anchor; /* photo px seen at the frame's `at` */
    LfPoint at;
} Bed;

static Bed bed_open(void)
{
    Bed bed = {
        .waves = scene_waves(5, 9, 40), .anchor = {101.3, 77.6}, .at = {WIDTH / 2.0, HEIGHT / 2.0}};
    assert_true(lf_plane_init(&bed.photo, WIDTH, HEIGHT, 1, 1));
    assert_true(lf_plane_init(&bed.frame, WIDTH, HEIGHT, 1, 1));
    for (int y = 0; y < HEIGHT; y++)
        for (int x = 0; x < WIDTH; x++) {
            const double dx = x - bed.at.x, dy = y - bed.at.y;
            bed.photo.data[y * WIDTH + x] = scene_pixel(128 + scene_waves_at(&bed.waves, x, y));
            bed.frame.data[y * WIDTH + x] = scene_pixel(
                128 + LIGHT +
                GAIN * scene_waves_at(&bed.waves, bed.anchor.x + STEP[0] * dx + STEP[1] * dy,
                                      bed.anchor.y + STEP[2] * dx + STEP[3] * dy));
        }
    return bed;
}

static void bed_close(Bed *bed)
{
    lf_plane_clear(&bed->photo);
    lf_plane_clear(&bed->frame);
}

/* Grey level at half px (x, y): the mean of the px around. */
static double half_px(const LfPlane *plane, int x, int y)
{
    double sum = 0;
    for (int k = 0; k < 4; k++) {
        const int column = (x + (k & 1)) / 2, row = (y + (k >> 1)) / 2;
        sum += plane->data[row * WIDTH + column];
    }
    return sum / 4;
}

/* The definition, with the noise that is reckoned with. */
static double correlation(const Bed *bed, LfSweepPlace place)
{
    double p[LF_SWEEP_AREA], q[LF_SWEEP_AREA], mean_p = 0, mean_q = 0, pp = 0, qq = 0, pq = 0;
    for (int i = 0; i < LF_SWEEP_AREA; i++) {
        const int col = i % LF_SWEEP_SIDE, row = i / LF_SWEEP_SIDE;
        const double dx = col - (LF_SWEEP_SIDE - 1) / 2.0, dy = row - (LF_SWEEP_SIDE - 1) / 2.0;
        p[i] = scene_waves_at(&bed->waves, bed->anchor.x + STEP[0] * dx + STEP[1] * dy,
                              bed->anchor.y + STEP[2] * dx + STEP[3] * dy);
        q[i] = half_px(&bed->frame, place.x + 2 * col, place.y + 2 * row);
        mean_p += p[i] / LF_SWEEP_AREA;
        mean_q += q[i] / LF_SWEEP_AREA;
    }
    for (int i = 0; i < LF_SWEEP_AREA; i++) {
        pp += (p[i] - mean_p) * (p[i] - mean_p);
        qq += (q[i] - mean_q) * (q[i] - mean_q);
        pq += (p[i] - mean_p) * (q[i] - mean_q);
    }
    return pq / sqrt((pp + LF_SWEEP_AREA * NOISE_PHOTO * NOISE_PHOTO) *
                     (qq + LF_SWEEP_AREA * NOISE_FRAME * NOISE_FRAME));
}

static void test_sweep_patch_agreement(void **state)
{
    Bed bed = bed_open();
    LfSweepFrame frame;
    LfSweepPatch patch;
    LfSweepPlace place[PLACES];
    int agreement[PLACES], plain[PLACES], best = 0;
    (void)state;
    lf_sweep_frame_init(&frame, &bed.frame);
    assert_true(lf_sweep_patch_lay(&patch, &bed.photo, bed.anchor, STEP));
    /* Along and across, through where the patch is seen: more than are compared in one go. */
    for (int i = 0; i < PLACES; i++)
        place[i] = (LfSweepPlace){WIDTH - LF_SWEEP_SIDE + 1 + (i % 2 ? 0 : i - PLACES / 2),
                                  HEIGHT - LF_SWEEP_SIDE + 1 + (i % 2 ? i - PLACES / 2 : 0)};
    lf_sweep_patch_compare(&patch, &frame, place, PLACES, agreement);
    for (int i = 0; i < PLACES; i++) {
        check_near((double)agreement[i] / LF_SWEEP_WHOLE, correlation(&bed, place[i]), 0.03);
        if (agreement[i] > agreement[best])
            best = i;
    }
    assert_true(agreement[best] > 0.9 * LF_SWEEP_WHOLE);
    assert_true(abs(best - PLACES / 2) <= 1);

    frame.wide = false;
    lf_sweep_patch_compare(&patch, &frame, place, PLACES, plain);
    assert_memory_equal(plain, agreement, sizeof plain);
    lf_sweep_frame_clear(&frame);
    bed_close(&bed);
}

/* A blank agrees with nothing, nor does a blank patch with anything. */
static void test_sweep_patch_blank(void **state)
{
    Bed bed = bed_open();
    LfSweepFrame frame;
    LfSweepPatch patch;
    const LfSweepPlace middle = {WIDTH - LF_SWEEP_SIDE + 1, HEIGHT - LF_SWEEP_SIDE + 1};
    int agreement;
    (void)state;
    assert_true(lf_sweep_patch_lay(&patch, &bed.photo, bed.anchor, STEP));
    memset(bed.frame.data, 90, WIDTH * HEIGHT);
    lf_sweep_frame_init(&frame, &bed.frame);
    lf_sweep_patch_compare(&patch, &frame, &middle, 1, &agreement);
    assert_true(abs(agreement) < 0.05 * LF_SWEEP_WHOLE);
    lf_sweep_frame_clear(&frame);

    memset(bed.photo.data, 200, WIDTH * HEIGHT);
    lf_sweep_frame_init(&frame, &bed.photo);
    assert_true(lf_sweep_patch_lay(&patch, &bed.photo, bed.anchor, STEP));
    lf_sweep_patch_compare(&patch, &frame, &middle, 1, &agreement);
    assert_int_equal(agreement, 0);
    lf_sweep_frame_clear(&frame);
    bed_close(&bed);
}

static void test_sweep_patch_edge(void **state)
{
    Bed bed = bed_open();
    LfSweepPatch patch;
    (void)state;
    assert_false(lf_sweep_patch_lay(&patch, &bed.photo, (LfPoint){4, 80}, STEP));
    assert_false(lf_sweep_patch_lay(&patch, &bed.photo, (LfPoint){100, HEIGHT - 5}, STEP));
    assert_false(lf_sweep_patch_lay(&patch, &bed.photo, (LfPoint){NAN, 80}, STEP));
    bed_close(&bed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_sweep_patch_agreement),
                                       cmocka_unit_test(test_sweep_patch_blank),
                                       cmocka_unit_test(test_sweep_patch_edge)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
