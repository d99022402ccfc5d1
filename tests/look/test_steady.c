/* Directions of gaze while the head moves, and what a fixation lies on. The scene is exact: a photo
 * on a wall 2 m away, a camera that turns, gaze held on points of the photo. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "look/steady.h"

#define WALL_MM 2000.0
#define PHOTO_PX_PER_MM 0.5
#define RATE_HZ 200
#define FRAME_HZ 25
#define SECONDS 4

/* A pinhole camera, and one that bends lines. */
static LfLens steady_lens(bool bent)
{
    LfLens lens = {.width = 1280, .height = 720, .fx = 800, .fy = 820, .cx = 650, .cy = 350};
    lens.calibrated = true;
    if (bent) {
        lens.n_k = 4;
        lens.k[0] = -0.2;
        lens.k[1] = 0.04;
    }
    return lens;
}

/* The head turns to and fro, up to 38 degrees a second. */
static double steady_turn(double t_s)
{
    return 10 * G_PI / 180 * sin(2 * G_PI * 0.6 * t_s);
}

/* photo_from_frame of a camera turned by `turn` around the vertical: a ray (x, y, 1) meets the wall
 * at WALL_MM tan(angle). */
static LfMat3 steady_pose(const LfLens *lens, double turn)
{
    double c = cos(turn), s = sin(turn), k = WALL_MM * PHOTO_PX_PER_MM;
    /* world = (c x + s, y, c - s x); photo = k (X / Z, Y / Z) + (1000, 600) */
    LfMat3 photo_from_ray = {
        {k * c - 1000 * s, 0, k * s + 1000 * c, -600 * s, k, 600 * c, -s, 0, c}};
    LfMat3 ray_from_frame = {
        {1 / lens->fx, 0, -lens->cx / lens->fx, 0, 1 / lens->fy, -lens->cy / lens->fy, 0, 0, 1}};
    return lf_mat3_mul(&photo_from_ray, &ray_from_frame);
}

/* Gaze on photo px (x, y) at time t_s, as the scene camera shows it. */
static LfPoint steady_gaze(const LfLens *lens, double t_s, LfPoint photo_px)
{
    LfMat3 pose = steady_pose(lens, steady_turn(t_s)), inverse;
    LfPoint undistorted;
    assert_true(lf_mat3_invert(&pose, &inverse));
    assert_true(lf_mat3_apply(&inverse, photo_px, &undistorted));
    return lf_lens_distort(lens, undistorted);
}

/* Where the gaze is on the photo: one rest for two seconds, another after that. */
static LfPoint steady_target(double t_s)
{
    return t_s < 2 ? (LfPoint){900, 560} : (LfPoint){1120, 640};
}

typedef struct {
    LfLens lens;
    GArray *samples, *poses;
} SteadyScene;

static SteadyScene steady_scene(bool bent)
{
    SteadyScene s = {steady_lens(bent), g_array_new(FALSE, FALSE, sizeof(LfSteadySample)),
                     g_array_new(FALSE, FALSE, sizeof(LfSteadyPose))};
    for (int i = 0; i < SECONDS * RATE_HZ; i++) {
        double t = (double)i / RATE_HZ;
        LfPoint at = steady_target(t);
        const LfSteadySample sample = {
            i * 1000000 / RATE_HZ, steady_gaze(&s.lens, t, at), 0, LF_STATE_SURE, at, 3};
        g_array_append_val(s.samples, sample);
    }
    for (int i = 0; i <= SECONDS * FRAME_HZ; i++) {
        double t = (double)i / FRAME_HZ;
        const LfSteadyPose pose = {i * 1000000 / FRAME_HZ, 0, steady_pose(&s.lens, steady_turn(t))};
        g_array_append_val(s.poses, pose);
    }
    return s;
}

static LfSteadySample *steady_sample(SteadyScene *s, guint i)
{
    return &g_array_index(s->samples, LfSteadySample, i);
}

static LfDirection *steady_run(const SteadyScene *s)
{
    return lf_steady_directions((const LfSteadySample *)(void *)s->samples->data, s->samples->len,
                                (const LfSteadyPose *)(void *)s->poses->data, s->poses->len, 1,
                                &s->lens);
}

static void steady_scene_clear(SteadyScene *s)
{
    g_array_unref(s->samples);
    g_array_unref(s->poses);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(SteadyScene, steady_scene_clear)

/* Largest step within a rest, and the step between both. */
static void steady_steps(const LfDirection *d, double *rest_deg, double *saccade_deg)
{
    *rest_deg = *saccade_deg = 0;
    for (int i = 0; i + 1 < SECONDS * RATE_HZ; i++) {
        double deg = hypot(d[i + 1].x_deg - d[i].x_deg, d[i + 1].y_deg - d[i].y_deg);
        if (i + 1 == 2 * RATE_HZ)
            *saccade_deg = deg;
        else
            *rest_deg = fmax(*rest_deg, deg);
    }
}

/* The true angle between both rests, from the eye's place. */
static double steady_truth_deg(void)
{
    LfPoint a = steady_target(0), b = steady_target(3);
    double k = WALL_MM * PHOTO_PX_PER_MM;
    double p[3] = {a.x - 1000, a.y - 600, k}, q[3] = {b.x - 1000, b.y - 600, k};
    double dot = p[0] * q[0] + p[1] * q[1] + p[2] * q[2];
    double n = sqrt((p[0] * p[0] + p[1] * p[1] + k * k) * (q[0] * q[0] + q[1] * q[1] + k * k));
    return acos(dot / n) * 180 / G_PI;
}

static void test_head_turns(void **state)
{
    (void)state;
    for (int bent = 0; bent < 2; bent++) {
        g_auto(SteadyScene) s = steady_scene(bent);
        g_autofree LfDirection *d = steady_run(&s);
        double rest, saccade;
        steady_steps(d, &rest, &saccade);
        assert_true(rest < 1e-9);
        /* The scale at its end stands for the whole of a step of 12 degrees. */
        double truth = steady_truth_deg();
        if (fabs(saccade / truth - 1) > 0.05)
            fail_msg("%.3f degrees, expected %.3f", saccade, truth);
        assert_false(d[10].moving);
    }
}

/* Without poses and places the head's motion stays in, exactly as the camera shows it. */
static void test_no_photo(void **state)
{
    (void)state;
    for (int bent = 0; bent < 2; bent++) {
        g_auto(SteadyScene) s = steady_scene(bent);
        for (guint i = 0; i < s.samples->len; i++) {
            steady_sample(&s, i)->photo = -1;
            steady_sample(&s, i)->state = LF_STATE_AWAY;
            steady_sample(&s, i)->at_px = (LfPoint){NAN, NAN};
        }
        g_array_set_size(s.poses, 0);
        g_autofree LfDirection *d = steady_run(&s);
        for (guint i = 0; i + 1 < 390; i++) {
            LfPoint a, b;
            assert_true(d[i].moving);
            assert_true(lf_lens_undistort(&s.lens, steady_sample(&s, i)->gaze_px, &a));
            assert_true(lf_lens_undistort(&s.lens, steady_sample(&s, i + 1)->gaze_px, &b));
            double step = hypot(d[i + 1].x_deg - d[i].x_deg, d[i + 1].y_deg - d[i].y_deg);
            assert_true(fabs(step - lf_lens_angle_deg(&s.lens, a, b)) < 1e-6);
        }
        /* A turn of the head is an angle of gaze. */
        double turned = (steady_turn(0.2) - steady_turn(0.1)) * 180 / G_PI;
        assert_true(fabs(fabs(d[40].x_deg - d[20].x_deg) / turned - 1) < 0.02);
    }
}

/* Gaze beside the photo and behind a hand has no place on it, but the poses have. */
static void test_by_pose(void **state)
{
    (void)state;
    g_auto(SteadyScene) s = steady_scene(true);
    for (guint i = 0; i < s.samples->len; i++) {
        steady_sample(&s, i)->photo = -1;
        steady_sample(&s, i)->state = i % 2 ? LF_STATE_AWAY : LF_STATE_BLOCKED;
        steady_sample(&s, i)->at_px = (LfPoint){NAN, NAN};
    }
    g_autofree LfDirection *d = steady_run(&s);
    double rest, saccade;
    steady_steps(d, &rest, &saccade);
    assert_false(d[10].moving);
    /* Poses are interpolated between frames in which the head turned by up to 1.5 degrees. */
    assert_true(rest < 0.02);
    assert_true(fabs(saccade / steady_truth_deg() - 1) < 0.05);
    /* Poses far apart are not. */
    for (guint i = s.poses->len; i-- > 0;)
        if (i % 5)
            g_array_remove_index(s.poses, i); /* 5 a second */
    g_autofree LfDirection *sparse = steady_run(&s);
    assert_true(sparse[10].moving);
}

/* A pose that trembles does not make saccades of doubtful samples. */
static void test_doubtful(void **state)
{
    (void)state;
    g_auto(SteadyScene) s = steady_scene(false);
    for (guint i = 0; i < s.samples->len; i++) {
        steady_sample(&s, i)->state = LF_STATE_DOUBTFUL;
        steady_sample(&s, i)->at_px.x += i % 2 ? 40 : -40; /* 4.6 degrees to and fro */
    }
    g_autofree LfDirection *d = steady_run(&s);
    double rest, saccade;
    steady_steps(d, &rest, &saccade);
    assert_true(rest < 0.25);
    assert_true(saccade > 8);
}

/* Lost samples stay lost, and do not break the steps around them. */
static void test_lost(void **state)
{
    (void)state;
    g_auto(SteadyScene) s = steady_scene(false);
    for (guint i = 100; i < 110; i++)
        steady_sample(&s, i)->gaze_px = (LfPoint){NAN, NAN};
    g_autofree LfDirection *d = steady_run(&s);
    for (guint i = 98; i < 112; i++)
        assert_int_equal(d[i].lost, i >= 100 && i < 110);
    assert_true(hypot(d[110].x_deg - d[99].x_deg, d[110].y_deg - d[99].y_deg) < 1e-9);
}

/* --- what a fixation lies on ------------------------------------------------------------------ */

#define S LF_STATE_SURE
#define P LF_STATE_PLACED
#define D LF_STATE_DOUBTFUL
#define B LF_STATE_BLOCKED
#define A LF_STATE_AWAY
#define L LF_STATE_LOST

typedef struct {
    struct {
        LfState state;
        int photo;
        double x;
    } samples[6];
    LfState state;
    int64_t photo; /* from 1 */
    double x;
} SteadyFixationCase;

static const SteadyFixationCase steady_fixation_cases[] = {
    {{{S, 0, 1}, {S, 0, 2}, {S, 0, 3}, {S, 0, 4}, {S, 0, 5}, {S, 0, 6}}, S, 1, 3.5},
    {{{S, 0, 1}, {S, 0, 3}, {D, 0, 90}, {A, -1, 0}, {B, 0, 90}, {L, -1, 0}}, S, 1, 2},
    {{{S, 0, 1}, {D, 0, 10}, {D, 0, 20}, {A, -1, 0}, {L, -1, 0}, {L, -1, 0}}, D, 1, 15},
    {{{A, -1, 0}, {A, -1, 0}, {S, 0, 1}, {L, -1, 0}, {L, -1, 0}, {L, -1, 0}}, A, 0, NAN},
    {{{B, -1, 0}, {B, -1, 0}, {S, 0, 1}, {B, 1, 8}, {L, -1, 0}, {L, -1, 0}}, B, 2, 8},
    {{{B, -1, 0}, {B, -1, 0}, {B, -1, 0}, {S, 0, 1}, {L, -1, 0}, {L, -1, 0}}, B, 0, NAN},
    /* placed and sure are one kind; the name is that of more of them */
    {{{P, 0, 1}, {P, 0, 2}, {S, 0, 3}, {D, 0, 90}, {D, 0, 90}, {L, -1, 0}}, P, 1, 2},
    {{{P, 0, 1}, {S, 0, 2}, {S, 0, 3}, {D, 0, 90}, {D, 0, 90}, {L, -1, 0}}, S, 1, 2},
    /* two photos: the one with more */
    {{{S, 0, 1}, {S, 1, 5}, {S, 1, 7}, {S, 0, 1}, {S, 1, 9}, {L, -1, 0}}, S, 2, 7},
    /* as many of each: the more useful kind */
    {{{A, -1, 0}, {D, 0, 4}, {S, 0, 2}, {L, -1, 0}, {L, -1, 0}, {L, -1, 0}}, S, 1, 2},
};

static void test_fixation_on(void **state)
{
    (void)state;
    for (gsize c = 0; c < G_N_ELEMENTS(steady_fixation_cases); c++) {
        const SteadyFixationCase *want = &steady_fixation_cases[c];
        LfSteadySample samples[8] = {0};
        LfFixationSpan span = {.first = 1, .end = 7, .from_us = 10, .to_us = 70, .samples = 6};
        for (int i = 0; i < 6; i++) {
            bool lost = want->samples[i].state == L;
            bool on = want->samples[i].photo >= 0;
            samples[i + 1] = (LfSteadySample){
                .t_us = 10 * (i + 1),
                .gaze_px = {lost ? NAN : 5, lost ? NAN : 5},
                .photo = want->samples[i].photo,
                .state = want->samples[i].state,
                .at_px = {on ? want->samples[i].x : NAN, on ? 2 * want->samples[i].x : NAN},
                .radius_px = on ? 3 : NAN};
        }
        /* Outside of the span, and not to be counted. */
        samples[0] = samples[7] = (LfSteadySample){
            .gaze_px = {5, 5}, .photo = 1, .state = S, .at_px = {900, 900}, .radius_px = 50};
        LfFixation got = lf_steady_fixation(samples, &span, 2);
        if (got.state != want->state || got.photo_id != want->photo || got.from_us != 10 ||
            got.to_us != 70 || got.samples != 6)
            fail_msg("case %zu: state %d, photo %d", c, (int)got.state, (int)got.photo_id);
        if (want->photo == 0) {
            assert_true(isnan(got.x_px) && isnan(got.y_px) && isnan(got.radius_px));
            continue;
        }
        if (fabs(got.x_px - want->x) > 1e-12 || fabs(got.y_px - 2 * want->x) > 1e-12 ||
            fabs(got.radius_px - 3) > 1e-12)
            fail_msg("case %zu: %.3f, %.3f, radius %.3f", c, got.x_px, got.y_px, got.radius_px);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_head_turns), cmocka_unit_test(test_no_photo),
        cmocka_unit_test(test_by_pose),    cmocka_unit_test(test_doubtful),
        cmocka_unit_test(test_lost),       cmocka_unit_test(test_fixation_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
