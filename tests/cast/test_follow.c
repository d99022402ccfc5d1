/* Following against rendered frames whose pose is known exactly. */
#include "cast/scene.h"

#include <string.h>

#include "cast/confidence.h"
#include "cast/follow.h"
#include "cast/look.h"

typedef struct {
    char *folder;
    LfPlane plane; /* the photo */
    LfPhoto *photo;
    LfFollower *follower;
} FollowState;

static int follow_setup(void **state)
{
    FollowState *s = g_new0(FollowState, 1);
    s->folder = scene_folder_new();
    s->plane = scene_photo(51, 1200, 800);
    g_autofree char *path = scene_write_pgm(s->folder, "photo.pgm", &s->plane);
    s->photo = lf_photo_load(path, NULL, NULL);
    s->follower = lf_follower_new();
    assert_non_null(s->photo);
    *state = s;
    return 0;
}

static int follow_teardown(void **state)
{
    FollowState *s = *state;
    lf_follower_free(s->follower);
    lf_photo_free(s->photo);
    lf_plane_clear(&s->plane);
    scene_folder_remove(s->folder);
    g_free(s);
    return 0;
}

static LfLens follow_lens(double k1, double k2, double p1)
{
    LfLens lens = lf_lens_plain(1280, 720);
    lens.fx = lens.fy = 900;
    lens.cx = 650;
    lens.cy = 352;
    lens.k[0] = k1;
    lens.k[1] = k2;
    lens.k[2] = p1;
    lens.n_k = 4;
    lens.calibrated = true;
    return lens;
}

/* Follows in `frame` from a prediction off by (dx, dy) px. */
static bool follow_run(FollowState *s, const LfPlane *frame, const LfLens *lens,
                       const LfMat3 *truth, double dx, double dy, const LfPoint *focus,
                       LfPose *pose)
{
    LfFramePyramid pyramid = scene_pyramid(frame);
    LfMat3 off = lf_mat3_translation(dx, dy);
    LfFollowTask task = {.photo = s->photo, .photo_index = 3, .lens = lens, .frame = &pyramid};
    task.predicted = lf_mat3_mul(&off, truth);
    if (focus)
        task.focus[task.n_focus++] = *focus;
    bool good = lf_follow(s->follower, &task, true, pose);
    lf_frame_pyramid_clear(&pyramid);
    return good;
}

static void follow_noise(LfPlane *frame, GRand *rand, double sigma)
{
    for (int i = 0; i < frame->width * frame->height; i++)
        frame->data[i] = scene_pixel(frame->data[i] + sigma * scene_gauss(rand));
}

typedef struct {
    const char *name;
    SceneView view;
    double k1, k2, p1;
    double dx, dy; /* error of the prediction, px */
} FollowCase;

static const FollowCase FOLLOW_CASES[] = {
    {"straight", {0, 0, 0, 0.9}, 0, 0, 0, 4, -3},
    {"near", {0, 0, 0, 0.4}, 0, 0, 0, 5, 4},
    {"far", {5, 0, 2, 2.2}, 0, 0, 0, -3, 2},
    {"from aside", {40, 5, -3, 1}, 0, 0, 0, 6, 3},
    {"along the shelf", {-60, 0, 4, 1}, 0, 0, 0, -4, 4},
    {"from below", {10, -35, 0, 1}, 0, 0, 0, 2, 8},
    {"rolled", {10, 5, 30, 0.9}, 0, 0, 0, 6, -6},
    {"barrel", {10, 0, 3, 0.7}, -0.25, 0.06, 0.001, 4, -3},
    {"barrel from aside", {-35, 8, -5, 0.9}, -0.25, 0.06, 0.001, -5, 2},
    {"pincushion", {0, 10, 0, 0.9}, 0.1, 0.01, -0.001, 4, 4},
};

static void test_follow_pose(void **state)
{
    FollowState *s = *state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(8);
    g_autofree LfPose *pose = g_new0(LfPose, 1);
    for (gsize i = 0; i < G_N_ELEMENTS(FOLLOW_CASES); i++) {
        const FollowCase *c = &FOLLOW_CASES[i];
        LfLens lens = follow_lens(c->k1, c->k2, c->p1);
        LfMat3 truth = scene_view(&c->view, &s->plane, &lens);
        LfPlane frame = scene_render(&s->plane, &truth, &lens, 128);
        follow_noise(&frame, rand, 3);
        LfPoint middle = {640, 360};
        if (!follow_run(s, &frame, &lens, &truth, c->dx, c->dy, &middle, pose))
            fail_msg("%s: not followed", c->name);
        lf_plane_clear(&frame);
        assert_int_equal(pose->photo, 3);
        assert_int_equal(pose->since_locate, 0);
        /* 9 x 9 places of the frame: where they fall on the photo, against the truth */
        LfMat3 back;
        double worst = 0;
        assert_true(lf_mat3_invert(&truth, &back));
        for (int g = 0; g < 81; g++) {
            LfPoint at = {160 + 120 * (g % 9), 60 + 75 * (g / 9)}, u, on_photo;
            LfPoseLocal local;
            if (!lf_lens_undistort(&lens, at, &u) || !lf_mat3_apply(&back, u, &on_photo) ||
                on_photo.x < 0 || on_photo.y < 0 || on_photo.x > 1199 || on_photo.y > 799)
                continue;
            assert_true(
                lf_pose_local(pose, &(LfPoseView){.lens = &lens, .tolerance_deg = 1}, u, &local));
            double j[4];
            assert_true(lf_mat3_jacobian(&back, u, j));
            double scale = sqrt(fabs(j[0] * j[3] - j[1] * j[2])); /* photo px per frame px */
            double miss = hypot(local.photo.x - on_photo.x, local.photo.y - on_photo.y) / scale;
            worst = MAX(worst, miss);
            check_near(local.px_per_degree, scale * lf_pose_degree_px(&lens, u),
                       0.02 * local.px_per_degree);
        }
        print_message("%s: %d of %d points, worst %.2f frame px\n", c->name, pose->n_good,
                      pose->n_points, worst);
        if (!(worst < 0.6 && pose->share_good > 0.7))
            fail_msg("%s: %.2f frame px off, %.2f good", c->name, worst, pose->share_good);
    }
}

/* e' C^-1 e / 2: 1 on average where C is exact. */
static double follow_normalised(LfCov2 c, LfPoint told, LfPoint truth)
{
    double dx = told.x - truth.x, dy = told.y - truth.y, det = c.xx * c.yy - c.xy * c.xy;
    assert_true(c.xx > 0 && det > 0);
    return (c.yy * dx * dx - 2 * c.xy * dx * dy + c.xx * dy * dy) / det / 2;
}

/* The covariance told is the error made, over noisy frames: never too sure (normalised square under
 * 4, a factor of two in the standard error). It may be more careful than that: the engine reckons
 * with 0.15 px at least for interpolation and compression, which these frames do not have, and at a
 * place of the frame with an allowance for depth, which a flat photo does not need. Where noise is
 * strong, the fit's own must still lie within a factor of four. */
static void test_follow_covariance(void **state)
{
    FollowState *s = *state;
    g_autoptr(GRand) rand = g_rand_new_with_seed(9);
    g_autofree LfPose *pose = g_new0(LfPose, 1);
    LfLens lens = follow_lens(-0.2, 0.04, 0);
    static const struct {
        double noise, least; /* grey levels; bound for the fit */
    } cases[] = {{4, 0}, {30, 1 / 16.0}};
    for (gsize k = 0; k < G_N_ELEMENTS(cases); k++) {
        double fit = 0, local_sum = 0;
        int n = 0;
        for (int trial = 0; trial < 10; trial++) {
            SceneView view = {g_rand_double_range(rand, -40, 40),
                              g_rand_double_range(rand, -15, 15), g_rand_double_range(rand, -8, 8),
                              g_rand_double_range(rand, 0.6, 1.2)};
            LfMat3 truth = scene_view(&view, &s->plane, &lens), back;
            LfPlane frame = scene_render(&s->plane, &truth, &lens, 128);
            follow_noise(&frame, rand, cases[k].noise);
            assert_true(follow_run(s, &frame, &lens, &truth, 2, -2, NULL, pose));
            assert_true(lf_mat3_invert(&truth, &back));
            lf_plane_clear(&frame);
            for (int g = 0; g < 9; g++, n++) {
                LfPoint at = {440 + 200 * (g % 3), 260 + 100 * (g / 3)}, u, on_photo, told;
                LfPoseLocal local;
                LfCov2 cov;
                assert_true(lf_lens_undistort(&lens, at, &u) && lf_mat3_apply(&back, u, &on_photo));
                assert_true(lf_pose_local(pose, &(LfPoseView){.lens = &lens, .tolerance_deg = 1}, u,
                                          &local));
                local_sum += follow_normalised(local.cov, local.photo, on_photo);
                /* the fit alone, in the frame */
                assert_true(lf_mat3_apply(&pose->frame_from_photo, on_photo, &told));
                assert_true(
                    lf_homography_point_cov(&pose->frame_from_photo, pose->cov, on_photo, &cov));
                fit += follow_normalised(cov, told, u);
            }
        }
        print_message("noise of %.0f grey levels: normalised square %.2f of the fit, %.2f local\n",
                      cases[k].noise, fit / n, local_sum / n);
        if (!(fit / n > cases[k].least && fit / n < 4 && local_sum / n < 4))
            fail_msg("noise of %.0f grey levels: %.2f of the fit, %.2f local", cases[k].noise,
                     fit / n, local_sum / n);
    }
}

static LfEvidence follow_evidence(const FollowState *s, const LfPose *pose, const LfPlane *frame,
                                  const LfLens *lens, LfPoint at)
{
    LfPoseLocal local;
    LfPoint u;
    assert_true(lf_lens_undistort(lens, at, &u));
    assert_true(lf_pose_local(pose, &(LfPoseView){.lens = lens, .tolerance_deg = 1}, u, &local));
    LfFramePyramid pyramid = scene_pyramid(frame);
    LfGlimpse glimpse;
    lf_glimpse(&glimpse, pose, &pyramid, lens, at, u);
    LfLook look = lf_look(&glimpse, s->photo, local.photo, local.larger);
    lf_frame_pyramid_clear(&pyramid);
    return (LfEvidence){.sigma_deg = sqrt(local.cov.xx) / local.px_per_degree,
                        .agreement = local.agreement,
                        .support = local.support,
                        .good_share = local.good_share,
                        .share_good = pose->share_good,
                        .n_good = pose->n_good,
                        .cover = pose->cover,
                        .rival = pose->rival,
                        .mismatch = look.mismatch,
                        .missing = look.missing};
}

static void test_follow_blocked(void **state)
{
    FollowState *s = *state;
    g_autofree LfPose *pose = g_new0(LfPose, 1);
    LfLens lens = follow_lens(-0.2, 0.04, 0);
    SceneView view = {15, 0, 2, 0.7};
    LfMat3 truth = scene_view(&view, &s->plane, &lens);
    LfPlane frame = scene_render(&s->plane, &truth, &lens, 128);
    /* somebody in a patterned coat stands over the left third of the picture */
    LfPlane coat = scene_photo(77, frame.width, frame.height);
    const int edge = 460;
    for (int y = 0; y < frame.height; y++)
        memcpy(frame.data + y * frame.width, coat.data + y * frame.width, (gsize)edge);
    const LfPoint behind = {250, 360}, open = {850, 360};
    const LfPoint *focus[] = {&behind, &open};
    for (int i = 0; i < 2; i++) {
        assert_true(follow_run(s, &frame, &lens, &truth, 2, 2, focus[i], pose));
        int covered = 0, covered_good = 0, seen = 0, seen_good = 0;
        for (int p = 0; p < pose->n_points; p++) {
            double x = lf_lens_distort(&lens, pose->points[p].laid).x;
            covered += x < edge - 20;
            covered_good += x < edge - 20 && pose->points[p].good;
            seen += x > edge + 20;
            seen_good += x > edge + 20 && pose->points[p].good;
        }
        assert_true(covered >= 20 && seen >= 40);
        assert_true(covered_good <= 0.05 * covered);
        assert_true(seen_good >= 0.8 * seen);
        LfEvidence evidence = follow_evidence(s, pose, &frame, &lens, *focus[i]);
        assert_true(lf_confidence_blocked(&evidence) == (i == 0));
    }
    lf_plane_clear(&coat);
    lf_plane_clear(&frame);
}

static void test_follow_refuses(void **state)
{
    FollowState *s = *state;
    g_autofree LfPose *pose = g_new0(LfPose, 1);
    LfLens lens = follow_lens(0, 0, 0);
    SceneView view = {0, 0, 0, 0.8};
    LfMat3 truth = scene_view(&view, &s->plane, &lens);
    LfPlane own = scene_render(&s->plane, &truth, &lens, 128);
    LfPlane other_photo = scene_photo(99, 1200, 800);
    LfPlane other = scene_render(&other_photo, &truth, &lens, 128);
    LfPlane grey = {0};
    assert_true(lf_plane_init(&grey, 1280, 720, 1, 1));
    memset(grey.data, 128, 1280 * 720);
    LfMat3 folded = {{1, 0, 0, 0, 1, 0, 0, 0, -1}}, tiny = lf_mat3_scaling(1e-4, 1e-4);
    const struct {
        const char *name;
        const LfPlane *frame;
        const LfMat3 *predicted;
        double dx;
    } cases[] = {
        {"another photo", &other, &truth, 0},
        {"a grey wall", &grey, &truth, 0},
        {"prediction far off", &own, &truth, 500},
        {"prediction out of the frame", &own, &truth, 5000},
        {"prediction behind the horizon", &own, &folded, 0},
        {"prediction of a dot", &own, &tiny, 0},
    };
    assert_true(follow_run(s, &own, &lens, &truth, 0, 0, NULL, pose));
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        if (follow_run(s, cases[i].frame, &lens, cases[i].predicted, cases[i].dx, 0, NULL, pose))
            fail_msg("%s: followed with %d of %d points", cases[i].name, pose->n_good,
                     pose->n_points);
    lf_plane_clear(&own);
    lf_plane_clear(&other);
    lf_plane_clear(&other_photo);
    lf_plane_clear(&grey);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_follow_pose),
        cmocka_unit_test(test_follow_covariance),
        cmocka_unit_test(test_follow_blocked),
        cmocka_unit_test(test_follow_refuses),
    };
    return cmocka_run_group_tests(tests, follow_setup, follow_teardown);
}
