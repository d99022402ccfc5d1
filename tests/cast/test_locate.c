/* Locating without a prior: views of a photo from all sides, and pictures that do not hold it. */
#include "cast/scene.h"

#include <string.h>

#include "cast/locate.h"

#define FRAME_FEATURES 2500

typedef struct {
    char *folder;
    LfPlane plane;
    LfPhoto *photo;
    LfFollower *follower;
    LfLens lens;
} LocateState;

static int locate_setup(void **state)
{
    LocateState *s = g_new0(LocateState, 1);
    s->folder = scene_folder_new();
    s->plane = scene_photo(61, 1000, 700);
    g_autofree char *path = scene_write_pgm(s->folder, "photo.pgm", &s->plane);
    s->photo = lf_photo_load(path, NULL, NULL);
    s->follower = lf_follower_new();
    s->lens = lf_lens_plain(1280, 720);
    assert_non_null(s->photo);
    *state = s;
    return 0;
}

static int locate_teardown(void **state)
{
    LocateState *s = *state;
    lf_follower_free(s->follower);
    lf_photo_free(s->photo);
    lf_plane_clear(&s->plane);
    scene_folder_remove(s->folder);
    g_free(s);
    return 0;
}

static bool locate_run(LocateState *s, const LfPlane *frame, LfPose *pose)
{
    LfFramePyramid pyramid = scene_pyramid(frame);
    LfFrameFeatures features = {0};
    LfFollowTask task = {.photo = s->photo, .lens = &s->lens, .frame = &pyramid};
    assert_true(
        lf_frame_features_find(&features, &pyramid, NULL, &s->lens, LF_SHIM_ORB, FRAME_FEATURES));
    bool found = lf_locate(s->follower, &task, &s->photo->features, &features, pose);
    lf_frame_features_clear(&features);
    lf_frame_pyramid_clear(&pyramid);
    return found;
}

/* Median distance, frame px, of places of the photo that are in the frame. */
static double locate_error(const LocateState *s, const LfMat3 *truth, const LfMat3 *found)
{
    double distance[63];
    int n = 0;
    for (int i = 0; i < 63; i++) {
        LfPoint p = {50 + 112.0 * (i % 9), 50 + 100.0 * (i / 9)}, a, b;
        if (!lf_mat3_apply(truth, p, &a) || a.x < 0 || a.y < 0 || a.x > s->lens.width - 1 ||
            a.y > s->lens.height - 1)
            continue;
        distance[n++] = lf_mat3_apply(found, p, &b) ? hypot(a.x - b.x, a.y - b.y) : 1e9;
    }
    assert_true(n >= 5);
    for (int i = 1; i < n; i++)
        for (int k = i; k > 0 && distance[k] < distance[k - 1]; k--) {
            double swap = distance[k];
            distance[k] = distance[k - 1];
            distance[k - 1] = swap;
        }
    return distance[n / 2];
}

typedef struct {
    const char *name;
    double yaw_deg, pitch_deg, roll_deg; /* up to so much to either side */
    double nearest, furthest;            /* photo widths */
    int trials, least_found;
} LocateCase;

/* Found shares are what a fieldworker needs: the photo is found in every plain view, and in most
 * looks along the shelf or from far. */
static const LocateCase LOCATE_CASES[] = {
    {"from the front", 20, 10, 5, 0.5, 1.3, 12, 12},
    {"from aside", 50, 15, 10, 0.6, 1.3, 12, 11},
    {"along the shelf", 65, 10, 5, 0.7, 1.2, 12, 9},
    {"rolled", 25, 10, 30, 0.6, 1.3, 10, 9},
    {"near", 25, 10, 5, 0.3, 0.45, 8, 7},
    {"far", 25, 10, 5, 1.5, 2.2, 8, 6},
};

static void test_locate_views(void **state)
{
    LocateState *s = *state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(17);
    g_autofree LfPose *pose = g_new0(LfPose, 1);
    for (gsize c = 0; c < G_N_ELEMENTS(LOCATE_CASES); c++) {
        const LocateCase *l = &LOCATE_CASES[c];
        int found = 0;
        double worst = 0;
        for (int i = 0; i < l->trials; i++) {
            SceneView view = {g_rand_double_range(rand, -l->yaw_deg, l->yaw_deg),
                              g_rand_double_range(rand, -l->pitch_deg, l->pitch_deg),
                              g_rand_double_range(rand, -l->roll_deg, l->roll_deg),
                              g_rand_double_range(rand, l->nearest, l->furthest)};
            LfMat3 truth = scene_view(&view, &s->plane, &s->lens);
            LfPlane frame = scene_render(&s->plane, &truth, &s->lens, 128);
            for (int p = 0; p < frame.width * frame.height; p++)
                frame.data[p] = scene_pixel(0.7 * frame.data[p] + 20 + 3 * scene_gauss(rand));
            if (locate_run(s, &frame, pose)) {
                double error = locate_error(s, &truth, &pose->frame_from_photo);
                worst = MAX(worst, error);
                found++;
                assert_int_equal(pose->since_locate, 0);
                assert_true(pose->rival >= 0 && pose->rival <= 1);
            }
            lf_plane_clear(&frame);
        }
        print_message("%s: %d of %d found, worst %.2f frame px\n", l->name, found, l->trials,
                      worst);
        if (found < l->least_found || !(worst < 1))
            fail_msg("%s: %d of %d found, worst %.2f frame px", l->name, found, l->trials, worst);
    }
}

/* Pictures without the photo: other photos, repeated packs, noise, nothing. */
static void test_locate_absent(void **state)
{
    LocateState *s = *state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(18);
    g_autofree LfPose *pose = g_new0(LfPose, 1);
    for (int i = 0; i < 12; i++) {
        LfPlane frame = {0};
        if (i < 6)
            frame = scene_photo(200 + (guint32)i, 1280, 720);
        else if (i < 9)
            frame = scene_tiles(300 + (guint32)i, 1280, 720, 60 + 20 * i);
        else {
            assert_true(lf_plane_init(&frame, 1280, 720, 1, 1));
            for (int p = 0; p < 1280 * 720; p++)
                frame.data[p] = i == 9    ? 128
                                : i == 10 ? scene_pixel(128 + 40 * scene_gauss(rand))
                                          : (uint8_t)(p % 1280 / 8 * 37);
        }
        if (locate_run(s, &frame, pose))
            fail_msg("picture %d: found with %d of %d points", i, pose->n_good, pose->n_points);
        lf_plane_clear(&frame);
    }
}

/* Repeated packs with nothing to tell them apart: whatever is found, a rival is as good. */
static void test_locate_repeats(void **state)
{
    LocateState *s = *state;
    LocateState tiled = *s;
    LfPlane tiles = scene_tiles(71, 1000, 700, 100);
    g_autofree char *path = scene_write_pgm(s->folder, "tiles.pgm", &tiles);
    g_autoptr(LfPhoto) photo = lf_photo_load(path, NULL, NULL);
    g_autofree LfPose *pose = g_new0(LfPose, 1);
    assert_non_null(photo);
    tiled.photo = photo;
    /* so near that neither end of the row is in the picture */
    SceneView view = {10, 5, 0, 0.35};
    LfMat3 truth = scene_view(&view, &tiles, &s->lens);
    LfPlane frame = scene_render(&tiles, &truth, &s->lens, 128);
    if (locate_run(&tiled, &frame, pose) && !(pose->rival > 0.8))
        fail_msg("found with a rival of only %.2f", pose->rival);
    lf_plane_clear(&frame);
    lf_plane_clear(&tiles);
}

/* The way of the command line: two picture files. */
static void test_locate_file(void **state)
{
    LocateState *s = *state;
    SceneView view = {30, 5, 3, 0.9};
    LfMat3 truth = scene_view(&view, &s->plane, &s->lens);
    LfPlane frame = scene_render(&s->plane, &truth, &s->lens, 128);
    g_autofree char *image = scene_write_pgm(s->folder, "image.pgm", &frame);
    g_autofree char *photo = g_build_filename(s->folder, "photo.pgm", NULL);
    LfLocated located;
    g_autoptr(GError) error = NULL;
    assert_true(lf_locate_file(photo, image, &located, &error));
    assert_true(located.found && located.confidence > 0.5 && located.confidence <= 1);
    assert_true(locate_error(s, &truth, &located.photo_to_image) < 1);
    lf_plane_clear(&frame);

    frame = scene_photo(250, 900, 600);
    g_autofree char *other = scene_write_pgm(s->folder, "other.pgm", &frame);
    lf_plane_clear(&frame);
    assert_true(lf_locate_file(photo, other, &located, &error));
    assert_false(located.found);

    g_autofree char *missing = g_build_filename(s->folder, "missing.pgm", NULL);
    assert_false(lf_locate_file(photo, missing, &located, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
    assert_non_null(strstr(error->message, "missing.pgm"));
    g_clear_error(&error);
    assert_false(lf_locate_file(missing, image, &located, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_locate_views),
        cmocka_unit_test(test_locate_absent),
        cmocka_unit_test(test_locate_repeats),
        cmocka_unit_test(test_locate_file),
    };
    return cmocka_run_group_tests(tests, locate_setup, locate_teardown);
}
