/* Where a look meets a relief: told depths, their edges, and places nobody knows. The truth is the
 * geometry of a plane and of what stands behind it, written down here once more. */
#include "cast/pose_relief.h"
#include "cast/survey_back.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#define SIDE 2000
/* The photo's camera stands this far before its middle, and so does the lens in px: one photo px is
 * one unit of space. */
#define CAMERA 3000.0
#define NEAR_PX 20.0

typedef struct {
    LfRelief *relief;
    LfReliefView view;
    LfLens lens;
    double eye_x; /* of the walker, photo px to the right of the middle */
} Bed;

/* Depth by column of the photo; NAN where nothing is told. */
typedef double (*BedDepth)(double x);

/* A walker at (eye_x, middle), as far away as the photo's camera, looking straight ahead. */
static Bed bed_open(double eye_x, BedDepth depth)
{
    Bed bed = {.relief = lf_relief_new(SIDE, SIDE), .eye_x = eye_x};
    const LfReliefGrid grid = lf_relief_grid(bed.relief);
    LfReliefCamera camera = *lf_relief_camera(bed.relief);
    camera.distance = CAMERA;
    lf_relief_set_camera(bed.relief, camera);
    for (int i = 0; i < grid.columns * grid.rows; i++) {
        const double z = depth((i % grid.columns + 0.5) * grid.cell_px);
        if (isfinite(z))
            lf_relief_tell(bed.relief, i, z, 3);
    }
    lf_relief_told(bed.relief, false);
    bed.lens = lf_lens_plain(1920, 1080);
    const double f = bed.lens.fx, mid = (SIDE - 1) / 2.0;
    /* x = f (X - eye) / CAMERA + cx, X measured from the photo's middle. */
    const LfMat3 h = {{f / CAMERA, 0, bed.lens.cx - f / CAMERA * (mid + eye_x), 0, f / CAMERA,
                       bed.lens.cy - f / CAMERA * mid, 0, 0, 1}};
    assert_true(lf_relief_view(&bed.view, &h, &bed.lens));
    return bed;
}

/* Where the walker sees what the photo shows at x when it stands z behind the plane. */
static LfPoint bed_sees(const Bed *bed, double x, double z)
{
    const double mid = (SIDE - 1) / 2.0, far = (CAMERA + z) / CAMERA;
    const double space_x = (x - mid) * far - bed->eye_x;
    return (LfPoint){bed->lens.cx + bed->lens.fx * space_x / (CAMERA + z), bed->lens.cy};
}

static LfReliefMeet bed_look(const Bed *bed, double x, double z)
{
    LfReliefEnd ends[LF_RELIEF_ENDS];
    const int n = lf_relief_ray(bed->relief, &bed->view, bed_sees(bed, x, z), ends);
    double sum = 0;
    assert_true(n > 0);
    for (int i = 0; i < n; i++)
        sum += ends[i].weight;
    assert_true(sum > 0.8 && sum < 1.001);
    return lf_relief_meet(ends, n, NEAR_PX);
}

/* Packs left of the middle, 50 behind the edge; the back of the shelf right of it. */
static double depth_step(double x)
{
    return x < SIDE / 2.0 ? 50 : 300;
}

static double depth_gap(double x)
{
    return fabs(x - SIDE / 2.0) < 150 ? NAN : 50;
}

static void test_relief_told(void **state)
{
    static const double EYES[] = {-1500, -400, 0, 400, 1500};
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(EYES); i++) {
        Bed bed = bed_open(EYES[i], depth_step);
        const LfReliefMeet pack = bed_look(&bed, 600, 50);
        const LfReliefMeet back = bed_look(&bed, 1500, 300);
        assert_float_equal(pack.photo.x, 600, 4);
        assert_float_equal(back.photo.x, 1500, 4);
        assert_true(pack.elsewhere < 0.12);
        assert_true(back.elsewhere < 0.12);
        lf_relief_free(bed.relief);
    }
}

/* Beyond the edge of the packs, seen from the right: the plane's or the packs' depth would put the
 * point on the packs. */
static void test_relief_edge(void **state)
{
    Bed bed = bed_open(1200, depth_step);
    (void)state;
    const LfReliefMeet back = bed_look(&bed, 1060, 300);
    assert_float_equal(back.photo.x, 1060, 6);
    lf_relief_free(bed.relief);
    /* From the left the packs stand before it. */
    bed = bed_open(-1200, depth_step);
    const LfReliefMeet hidden = bed_look(&bed, 1060, 300);
    assert_true(hidden.photo.x < 1010);
    lf_relief_free(bed.relief);
}

/* A gap that nobody knows the depth of: seen from aside the look may end anywhere, seen from where
 * the photo was taken all depths are the same place. */
static void test_relief_unknown(void **state)
{
    Bed aside = bed_open(1500, depth_gap), ahead = bed_open(0, depth_gap);
    (void)state;
    const LfReliefMeet unknown = bed_look(&aside, SIDE / 2.0, 300);
    assert_true(unknown.elsewhere > 0.4);
    const LfReliefMeet same = bed_look(&ahead, SIDE / 2.0, 300);
    assert_true(same.elsewhere < 0.01);
    assert_float_equal(same.photo.x, SIDE / 2.0, 2);
    lf_relief_free(aside.relief);
    lf_relief_free(ahead.relief);
}

/* Packs whose cells are not to be trusted: the look may go on behind them. */
static void test_relief_vouched(void **state)
{
    Bed bed = bed_open(1500, depth_step);
    (void)state;
    const double before = bed_look(&bed, 600, 50).elsewhere;
    const LfReliefGrid grid = lf_relief_grid(bed.relief);
    for (int i = 0; i < grid.columns * grid.rows; i++)
        lf_relief_vouch(bed.relief, i, 0.3);
    lf_relief_told(bed.relief, false);
    const double after = bed_look(&bed, 600, 50).elsewhere;
    if (!(after > before + 0.2))
        fail_msg("elsewhere %.2f, %.2f before", after, before);
    lf_relief_free(bed.relief);
}

/* A tilted back of which every hundredth cell tells, behind a front: found where it is; not where
 * hardly any tell. */
static void test_relief_back(void **state)
{
    (void)state;
    for (int sparse = 0; sparse <= 1; sparse++) {
        LfRelief *relief = lf_relief_new(SIDE, SIDE);
        const LfReliefGrid grid = lf_relief_grid(relief);
        LfReliefBack back;
        for (int i = 0; i < grid.columns * grid.rows; i++) {
            const int column = i % grid.columns, row = i / grid.columns;
            const bool deep = row % (sparse ? 20 : 10) == 0 && column % (sparse ? 120 : 10) == 0;
            if (row % 10 == 5 || deep)
                lf_relief_tell(relief, i, deep ? 250 + 0.1 * column - 0.05 * row : 0, 2);
            lf_relief_vouch(relief, i, 0.9);
        }
        lf_relief_told(relief, false);
        assert_true(lf_survey_back(relief, &back) == !sparse);
        for (int i = 0; !sparse && i < grid.columns * grid.rows; i += 997)
            assert_true(fabs(lf_survey_back_at(relief, &back, i) - 250 - 0.1 * (i % grid.columns) +
                             0.05 * (i / grid.columns)) < 3);
        lf_relief_free(relief);
    }
}

/* A look from straight ahead at a shelf shows no parallax: that must not make it flat. */
static void test_relief_stays(void **state)
{
    Bed bed = bed_open(0, depth_step);
    (void)state;
    for (int frame = 0; frame < 50; frame++) {
        for (int i = 0; i < 100; i++)
            lf_relief_learn(bed.relief, &bed.view, (LfPoint){100 + 15.0 * i, 900},
                            (LfPoint){0.05, 0}, 0.1);
        lf_relief_settle(bed.relief);
    }
    assert_true(lf_relief_known(bed.relief));
    assert_false(lf_relief_flat(bed.relief));
    lf_relief_free(bed.relief);
}

static double depth_deep(double x)
{
    (void)x;
    return 150;
}

/* Shifts seen exactly leave what was told as it is: they must not be read as if the point stood on
 * the plane, where the same shift means another depth. */
static void test_relief_learn(void **state)
{
    Bed bed = bed_open(900, depth_deep);
    const LfPoint photo = {700, (SIDE - 1) / 2.0};
    const LfPoint on_plane = bed_sees(&bed, photo.x, 0), seen = bed_sees(&bed, photo.x, 150);
    const LfPoint shift = {seen.x - on_plane.x, seen.y - on_plane.y};
    (void)state;
    assert_true(fabs(shift.x) > 10);
    for (int frame = 0; frame < 200; frame++) {
        lf_relief_learn(bed.relief, &bed.view, photo, shift, 0.3);
        lf_relief_settle(bed.relief);
    }
    const LfReliefShift told = lf_relief_shift(bed.relief, &bed.view, photo);
    assert_float_equal(told.px.x, shift.x, 0.05);
    assert_float_equal(told.px.y, shift.y, 0.05);
    assert_float_equal(lf_relief_glance(bed.relief, photo), 150, 2);
    lf_relief_free(bed.relief);
}

/* What stands behind looks smaller from nearby than the photo's camera saw it. */
static void test_relief_scale(void **state)
{
    Bed bed = bed_open(0, depth_deep);
    const double near = 1200, f = bed.lens.fx, mid = (SIDE - 1) / 2.0;
    const LfMat3 h = {{f / near, 0, bed.lens.cx - f / near * mid, 0, f / near,
                       bed.lens.cy - f / near * mid, 0, 0, 1}};
    LfReliefView view;
    (void)state;
    assert_true(lf_relief_view(&view, &h, &bed.lens));
    const LfReliefShift shift = lf_relief_shift(bed.relief, &view, (LfPoint){900, 800});
    const double expected = (CAMERA + 150) / CAMERA * near / (near + 150);
    assert_float_equal(shift.scale, expected, 0.001);
    lf_relief_free(bed.relief);
}

/* A surface seen by one walker is seen by another, who stands elsewhere, at the same place of the
 * photo. */
static void test_relief_surface(void **state)
{
    Bed here = bed_open(900, depth_deep), there = bed_open(-700, depth_deep);
    (void)state;
    for (double z = -100; z <= 400; z += 50) {
        const LfPoint photo = {700, (SIDE - 1) / 2.0};
        const LfPoint at = bed_sees(&here, photo.x, z), again = bed_sees(&there, photo.x, z);
        LfPose pose = {.frame_from_photo = here.view.h}, other = {.frame_from_photo = there.view.h};
        const LfPoseView view = {.lens = &here.lens, .relief = here.relief};
        LfPoint found;
        assert_true(lf_mat3_invert(&there.view.h, &other.photo_from_frame));
        assert_true(lf_relief_at_depth(here.relief, &here.view, at, z, &found));
        assert_float_equal(found.x, photo.x, 1e-6);
        assert_float_equal(found.y, photo.y, 1e-6);
        /* Seen 2 px aside of where it should be in one frame, it is in the next too. */
        const LfPoseSurface surface =
            lf_pose_surface(&pose, &view, (LfPoint){at.x + 2, at.y}, photo, z);
        assert_true(
            lf_pose_on_surface(&other, &view, (LfPoint){again.x + 2, again.y}, &surface, &found));
        assert_float_equal(found.x, photo.x, 1e-6);
        assert_float_equal(found.y, photo.y, 1e-6);
    }
    lf_relief_free(here.relief);
    lf_relief_free(there.relief);
}

/* Without a survey there is nothing to look through. */
static void test_relief_untold(void **state)
{
    Bed bed = bed_open(0, depth_step);
    LfReliefEnd ends[LF_RELIEF_ENDS];
    (void)state;
    lf_relief_reset(bed.relief);
    assert_int_equal(lf_relief_ray(bed.relief, &bed.view, bed_sees(&bed, 900, 0), ends), 0);
    lf_relief_free(bed.relief);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_relief_told),    cmocka_unit_test(test_relief_edge),
        cmocka_unit_test(test_relief_unknown), cmocka_unit_test(test_relief_stays),
        cmocka_unit_test(test_relief_untold),  cmocka_unit_test(test_relief_learn),
        cmocka_unit_test(test_relief_scale),   cmocka_unit_test(test_relief_surface),
        cmocka_unit_test(test_relief_vouched), cmocka_unit_test(test_relief_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
