/* Rivals: kept in order, each place once; and on a shelf of look-alike packs the right place is
 * among them when the pose is wrong by a facing. */
#include "cast/scene.h"

#include <string.h>

#include "cast/locate.h"
#include "cast/rivals.h"

#define TILE 100

typedef struct {
    char *folder;
    LfPlane plane; /* rows of look-alike packs, each row of a print of its own */
    LfPhoto *photo;
    LfFollower *follower;
    LfLens lens;
} RivalsState;

static int rivals_setup(void **state)
{
    RivalsState *s = g_new0(RivalsState, 1);
    s->folder = scene_folder_new();
    s->plane = scene_tiles(71, 1000, 700, TILE);
    for (int row = 1; row < 7; row++) {
        LfPlane other = scene_tiles(71 + (guint32)row, 1000, TILE, TILE);
        memcpy(s->plane.data + row * TILE * 1000, other.data, TILE * 1000);
        lf_plane_clear(&other);
    }
    g_autofree char *path = scene_write_pgm(s->folder, "photo.pgm", &s->plane);
    s->photo = lf_photo_load(path, NULL, NULL);
    s->follower = lf_follower_new();
    s->lens = lf_lens_plain(1280, 720);
    assert_non_null(s->photo);
    *state = s;
    return 0;
}

static int rivals_teardown(void **state)
{
    RivalsState *s = *state;
    lf_follower_free(s->follower);
    lf_photo_free(s->photo);
    lf_plane_clear(&s->plane);
    scene_folder_remove(s->folder);
    g_free(s);
    return 0;
}

/* A pose that puts the frame (dx, dy) photo px further than the identity. */
static LfPose rivals_pose(double dx, double dy)
{
    return (LfPose){.photo_from_frame = lf_mat3_translation(dx, dy),
                    .frame_from_photo = lf_mat3_translation(-dx, -dy)};
}

typedef struct {
    const char *name;
    struct {
        double dx, dy, score;
    } seen[6];
    double own;
    double rival;
    LfRival expected[LF_RIVALS_MAX];
    int n_expected;
} RivalsCase;

/* On a photo of 1000 px places count as one within 12.5 px. */
static const RivalsCase RIVALS_CASES[] = {
    {"none", {{0, 0, 0}}, 50, 0, {{0, 0, 0}}, 0},
    {"itself is no rival", {{0, 0, 50}, {8, -8, 45}}, 50, 0, {{0, 0, 0}}, 0},
    {"strongest first",
     {{100, 0, 20}, {-100, 0, 40}, {0, 50, 30}},
     50,
     0.8,
     {{-100, 0, 0.8}, {0, 50, 0.6}, {100, 0, 0.4}},
     3},
    {"only three",
     {{100, 0, 20}, {-100, 0, 40}, {0, 50, 30}, {200, 0, 15}, {0, 90, 45}},
     50,
     0.9,
     {{0, 90, 0.9}, {-100, 0, 0.8}, {0, 50, 0.6}},
     3},
    {"one place once, at its best",
     {{100, 0, 20}, {104, 3, 35}, {96, 0, 30}, {-100, 0, 25}},
     50,
     0.7,
     {{104, 3, 0.7}, {-100, 0, 0.5}},
     2},
    {"the better find of a place moves it up",
     {{100, 0, 20}, {-100, 0, 25}, {0, 50, 30}, {103, 0, 45}},
     50,
     0.9,
     {{103, 0, 0.9}, {0, 50, 0.6}, {-100, 0, 0.5}},
     3},
    {"chance is left out", {{100, 0, 9.9}, {0, 50, 10.1}}, 50, 0.202, {{0, 50, 0.202}}, 1},
    {"better than the pose itself", {{100, 0, 60}}, 50, 1, {{100, 0, 1}}, 1},
    {"a pose worth nothing has none", {{100, 0, 60}}, 0, 1, {{0, 0, 0}}, 0},
};

static void test_rivals_order(void **state)
{
    const RivalsState *s = *state;
    for (gsize i = 0; i < G_N_ELEMENTS(RIVALS_CASES); i++) {
        const RivalsCase *c = &RIVALS_CASES[i];
        LfRivalList list = {.n = 0};
        LfPose pose = rivals_pose(0, 0);
        for (gsize k = 0; k < G_N_ELEMENTS(c->seen) && c->seen[k].score > 0; k++) {
            LfPose seen = rivals_pose(c->seen[k].dx, c->seen[k].dy);
            lf_rivals_add(&list, &seen, c->seen[k].score);
        }
        lf_rivals_take(&pose, s->photo, &list, c->own);
        if (pose.n_rivals != c->n_expected)
            fail_msg("%s: %d rivals, expected %d", c->name, pose.n_rivals, c->n_expected);
        for (int k = 0; k < pose.n_rivals; k++) {
            const LfRival *got = &pose.rivals[k], *expected = &c->expected[k];
            if (hypot(got->dx - expected->dx, got->dy - expected->dy) > 1e-9 ||
                fabs(got->strength - expected->strength) > 1e-9)
                fail_msg("%s: rival %d is (%g, %g) of %g", c->name, k, got->dx, got->dy,
                         got->strength);
        }
        check_near(pose.rival, c->rival, 1e-9);
        LfPose next = rivals_pose(5, 5);
        next.n_rivals = 3;
        lf_rivals_keep(&next, &pose);
        assert_int_equal(next.n_rivals, pose.n_rivals);
        assert_memory_equal(next.rivals, pose.rivals, sizeof pose.rivals);
    }
}

/* More places than the list holds: the weak ones give way. */
static void test_rivals_many(void **state)
{
    const RivalsState *s = *state;
    LfRivalList list = {.n = 0};
    LfPose pose = rivals_pose(0, 0);
    for (int i = 0; i < 3 * LF_RIVALS_SEEN; i++) {
        /* 1..96 in an order that is neither rising nor falling */
        int worth = i * 37 % (3 * LF_RIVALS_SEEN) + 1;
        LfPose seen = rivals_pose(20 * worth, 0);
        lf_rivals_add(&list, &seen, worth);
    }
    assert_int_equal(list.n, LF_RIVALS_SEEN);
    lf_rivals_take(&pose, s->photo, &list, 100);
    assert_int_equal(pose.n_rivals, 3);
    for (int k = 0; k < 3; k++) {
        check_near(pose.rivals[k].dx, 20 * (96 - k), 1e-9);
        check_near(pose.rivals[k].strength, 0.01 * (96 - k), 1e-9);
    }
}

/* All packs of a row alike: a pose wrong by one facing or two has the right place among its
 * rivals. */
static void test_rivals_facing(void **state)
{
    RivalsState *s = *state;
    static const struct {
        double dx, dy; /* the error forced on the pose, packs */
    } cases[] = {{1, 0}, {-1, 0}, {2, 0}};
    SceneView view = {10, 5, 2, 0.35};
    LfMat3 truth = scene_view(&view, &s->plane, &s->lens);
    LfPlane frame = scene_render(&s->plane, &truth, &s->lens, 128);
    LfFramePyramid pyramid = scene_pyramid(&frame);
    g_autofree LfPose *pose = g_new0(LfPose, 1);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        const double dx = cases[i].dx * TILE, dy = cases[i].dy * TILE;
        LfMat3 move = lf_mat3_translation(dx, dy);
        LfFollowTask task = {.photo = s->photo, .lens = &s->lens, .frame = &pyramid};
        task.predicted = lf_mat3_mul(&truth, &move);
        assert_true(lf_follow(s->follower, &task, true, pose));
        /* a point of the frame lies at (-dx, -dy) of its true place */
        LfMat3 back;
        LfPoint middle = {640, 360}, wrong, right;
        assert_true(lf_mat3_invert(&truth, &back));
        assert_true(lf_mat3_apply(&pose->photo_from_frame, middle, &wrong));
        assert_true(lf_mat3_apply(&back, middle, &right));
        check_near(wrong.x, right.x - dx, 2);
        check_near(wrong.y, right.y - dy, 2);

        lf_locate_against_repeats(s->follower, &task, pose);
        /* it may also have been set right by the check itself: then the wrong place is the rival */
        assert_true(lf_mat3_apply(&pose->photo_from_frame, middle, &wrong));
        const bool set_right = hypot(wrong.x - right.x, wrong.y - right.y) < 5;
        const double want_x = set_right ? -dx : right.x - wrong.x;
        const double want_y = set_right ? -dy : right.y - wrong.y;
        double nearest = 1e9;
        assert_in_range(pose->n_rivals, 1, LF_RIVALS_MAX);
        for (int k = 0; k < pose->n_rivals; k++) {
            nearest = MIN(nearest, hypot(pose->rivals[k].dx - want_x, pose->rivals[k].dy - want_y));
            assert_true(pose->rivals[k].strength > 0.5 && pose->rivals[k].strength <= 1);
            assert_true(k == 0 || pose->rivals[k].strength <= pose->rivals[k - 1].strength);
        }
        if (!(nearest < 5))
            fail_msg("wrong by (%g, %g): nearest rival %.1f px from the right place", dx, dy,
                     nearest);
    }
    lf_frame_pyramid_clear(&pyramid);
    lf_plane_clear(&frame);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rivals_order),
        cmocka_unit_test(test_rivals_many),
        cmocka_unit_test(test_rivals_facing),
    };
    return cmocka_run_group_tests(tests, rivals_setup, rivals_teardown);
}
