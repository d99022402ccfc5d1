/* Colours of photo and frame: the truth is a map that the frame was made by. */
#include "cast/tint.h"

#include <stdlib.h>

#include "cast/scene.h"

#define WIDTH 320
#define HEIGHT 240
#define PAIRS 150

/* Another camera under other lamps: blue and red difference by those of the photo, its luma and a
 * constant, all less 128. */
static const double MAP[LF_TINT_CHANNELS][LF_TINT_TERMS] = {{0.7, 0.1, 0.05, 6},
                                                            {-0.08, 0.85, -0.04, -9}};

typedef struct {
    SceneWaves waves[3];
    LfPhoto photo;
    LfFramePyramid frame;
    LfTintPair pairs[PAIRS];
} Bed;

static uint8_t *bed_plane(const SceneWaves *waves)
{
    uint8_t *plane = malloc((size_t)WIDTH * HEIGHT);
    assert_non_null(plane);
    for (int i = 0; i < WIDTH * HEIGHT; i++)
        plane[i] = scene_pixel(128 + scene_waves_at(waves, i % WIDTH, i / WIDTH));
    return plane;
}

/* Photo and frame in the same place; of the frame's colours as MAP has them, all neutral where
 * `grey`. */
static Bed *bed_open(bool grey)
{
    Bed *bed = g_new0(Bed, 1);
    uint8_t *planes[3], half[2][HEIGHT / 2][WIDTH / 2];
    for (guint32 i = 0; i < 3; i++) {
        bed->waves[i] = scene_waves(20 + i, 60, 200);
        planes[i] = bed_plane(&bed->waves[i]);
    }
    assert_true(lf_frame_pyramid_init(&bed->frame, WIDTH, HEIGHT, WIDTH));
    assert_true(lf_frame_pyramid_fill(&bed->frame, planes[0], WIDTH, WIDTH, HEIGHT));
    for (int c = 0; c < 2; c++)
        for (int i = 0; i < WIDTH / 2 * (HEIGHT / 2); i++) {
            const int column = i % (WIDTH / 2), row = i / (WIDTH / 2);
            const double x = 2 * column + 0.5, y = 2 * row + 0.5;
            double sum = MAP[c][3];
            for (int t = 0; t < 3; t++)
                sum += MAP[c][t] * scene_waves_at(&bed->waves[(t + 1) % 3], x, y);
            half[c][row][column] = grey ? 128 : scene_pixel(128 + sum);
        }
    const LfChroma chroma = {
        WIDTH / 2, HEIGHT / 2, {&half[0][0][0], &half[1][0][0]}, {WIDTH / 2, WIDTH / 2}};
    assert_true(lf_frame_pyramid_fill_tint(&bed->frame, &chroma));
    assert_true(lf_photo_pyramid_init(&bed->photo, planes, WIDTH, HEIGHT, NULL));
    g_autoptr(GRand) rand = g_rand_new_with_seed(6);
    for (int i = 0; i < PAIRS; i++) {
        const LfPoint at = {g_rand_double_range(rand, 10, WIDTH - 10),
                            g_rand_double_range(rand, 10, HEIGHT - 10)};
        bed->pairs[i] = (LfTintPair){at, at, 2};
    }
    return bed;
}

static void bed_close(Bed *bed)
{
    lf_frame_pyramid_clear(&bed->frame);
    for (int i = 0; i < LF_PHOTO_LEVELS; i++) {
        lf_plane_clear(&bed->photo.level[i]);
        for (int c = 0; c < 2; c++)
            lf_plane_clear(&bed->photo.tint[i][c]);
    }
    g_free(bed);
}

static void check_map(const LfTintMap *map, double tolerance)
{
    assert_true(map->known);
    for (int c = 0; c < LF_TINT_CHANNELS; c++) {
        for (int t = 0; t < 3; t++)
            check_near(map->from_photo[c][t], MAP[c][t], tolerance);
        check_near(map->from_photo[c][3], MAP[c][3], 50 * tolerance);
        assert_true(map->spread[c] < 2);
    }
}

static void test_tint_map(void **state)
{
    (void)state;
    Bed *bed = bed_open(false);
    LfTintMap map;
    lf_tint_fit(&map, bed->pairs, PAIRS, &bed->photo, &bed->frame);
    check_map(&map, 0.02);
    /* A third of the places show something else. */
    for (int i = 0; i < PAIRS; i += 3)
        bed->pairs[i].frame.x = WIDTH - bed->pairs[i].frame.x;
    lf_tint_fit(&map, bed->pairs, PAIRS, &bed->photo, &bed->frame);
    check_map(&map, 0.1);
    bed_close(bed);
}

/* The colour that the photo has there is told from another. */
static void test_tint_tells(void **state)
{
    (void)state;
    Bed *bed = bed_open(false);
    LfTintMap map;
    int other = 0;
    lf_tint_fit(&map, bed->pairs, PAIRS, &bed->photo, &bed->frame);
    for (int i = 0; i < PAIRS; i++) {
        double expected[LF_TINT_CHANNELS], seen[LF_TINT_CHANNELS];
        const LfPoint at = bed->pairs[i].frame, beside = bed->pairs[(i + 1) % PAIRS].frame;
        assert_true(lf_tint_expected(&map, &bed->photo, at, 2, expected));
        assert_true(lf_tint_seen(&bed->frame, at, seen));
        assert_true(lf_tint_off2(&map, seen, expected) < 1);
        assert_true(lf_tint_seen(&bed->frame, beside, seen));
        other += lf_tint_off2(&map, seen, expected) > 9;
    }
    assert_true(other > PAIRS * 0.8);
    bed_close(bed);
}

/* A video without colours says nothing against any point. */
static void test_tint_grey(void **state)
{
    (void)state;
    Bed *bed = bed_open(true);
    LfTintMap map;
    lf_tint_fit(&map, bed->pairs, PAIRS, &bed->photo, &bed->frame);
    assert_true(map.known);
    for (int i = 0; i < PAIRS; i++) {
        double expected[LF_TINT_CHANNELS], seen[LF_TINT_CHANNELS];
        assert_true(lf_tint_expected(&map, &bed->photo, bed->pairs[i].photo, 2, expected));
        assert_true(lf_tint_seen(&bed->frame, bed->pairs[(i + 1) % PAIRS].frame, seen));
        assert_true(lf_tint_off2(&map, seen, expected) < 1);
    }
    bed_close(bed);
}

static void test_tint_unknown(void **state)
{
    (void)state;
    Bed *bed = bed_open(false);
    LfTintMap map;
    double out[LF_TINT_CHANNELS];
    lf_tint_fit(&map, bed->pairs, 5, &bed->photo, &bed->frame); /* too few places */
    assert_false(map.known);
    assert_false(lf_tint_seen(&bed->frame, (LfPoint){-5, 10}, out));
    assert_true(lf_frame_pyramid_fill(&bed->frame, bed->photo.level[0].data, WIDTH, WIDTH, HEIGHT));
    assert_false(lf_tint_seen(&bed->frame, bed->pairs[0].frame, out)); /* of the frame before */
    lf_tint_fit(&map, bed->pairs, PAIRS, &bed->photo, &bed->frame);
    assert_false(map.known);
    bed_close(bed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_tint_map),
        cmocka_unit_test(test_tint_tells),
        cmocka_unit_test(test_tint_grey),
        cmocka_unit_test(test_tint_unknown),
    };
    return cmocka_run_group_tests_name("cast/tint", tests, NULL, NULL);
}
