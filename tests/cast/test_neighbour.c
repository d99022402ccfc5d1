/* Where one photo must be, told by another beside it. The truth is a pinhole camera before two
 * planes in space, written down here: X = R (P - C), x = K X. */
#include "cast/neighbour.h"

#include "cast/scene.h"

#define WIDTH 1000
#define HEIGHT 700
#define BY_SIDE 1200.0
#define N_VIEWS 14
/* A facing, photo px. */
#define FACING 70

/* The photo's plane in the space of the other photo: where its px (0, 0) is, and what one px along
 * and one px down are there. */
typedef struct {
    double o[3], u[3], v[3];
} Plane;

/* A sign that stands before the shelf, turned by 10 degrees; and a shelf beside the other one, its
 * photo a little turned and larger. */
static const Plane SIGN = {{1500, 120, -300}, {0.59, 0.01, -0.104}, {-0.01, 0.6, 0}};
static const Plane SHELF = {{1215, -8, 0}, {1.02, 0.015, 0}, {-0.015, 1.02, 0}};
static const Plane OTHER = {{0, 0, 0}, {1, 0, 0}, {0, 1, 0}};

/* Undistorted frame from a plane's px, for a camera at `at` before the other photo, turned so. */
static LfMat3 seen(const LfLens *lens, const Plane *plane, const double at[3], double yaw,
                   double pitch)
{
    const double cy = cos(yaw * G_PI / 180), sy = sin(yaw * G_PI / 180);
    const double cp = cos(pitch * G_PI / 180), sp = sin(pitch * G_PI / 180);
    const double r[3][3] = {{cy, 0, -sy}, {sp * sy, cp, sp * cy}, {cp * sy, -sp, cp * cy}};
    const double *column[3] = {plane->u, plane->v, plane->o};
    LfMat3 h;
    for (int c = 0; c < 3; c++) {
        double x[3] = {0, 0, 0};
        for (int i = 0; i < 3; i++)
            for (int k = 0; k < 3; k++)
                x[i] += r[i][k] * (column[c][k] - (c == 2 ? at[k] : 0));
        h.m[c] = lens->fx * x[0] + lens->cx * x[2];
        h.m[3 + c] = lens->fy * x[1] + lens->cy * x[2];
        h.m[6 + c] = x[2];
    }
    return lf_mat3_normalize(&h);
}

static LfLens bed_lens(void)
{
    LfLens lens = lf_lens_plain(1920, 1080);
    lens.calibrated = true;
    return lens;
}

/* View number i of somebody who walks past and looks about. */
static LfNeighbourView bed_view(const LfLens *lens, const Plane *plane, int i)
{
    const double at[3] = {500 + 90.0 * i, 350 + 20.0 * (i % 3), -1500 + 40.0 * (i % 5)};
    const double yaw = 25 - 2.5 * i + 4 * (i % 2), pitch = 3.0 * (i % 4) - 4;
    return (LfNeighbourView){.by = seen(lens, &OTHER, at, yaw, pitch),
                             .frame_from_photo = seen(lens, plane, at, yaw, pitch),
                             .lens = lens,
                             .worth = 0.8};
}

/* Largest distance between where a neighbour has the photo in a view and where it is, frame px. */
static double bed_error(const LfNeighbour *neighbour, const LfNeighbourView *view)
{
    LfMat3 h;
    double worst = 0;
    assert_true(lf_neighbour_place(neighbour, &view->by, view->lens, &h));
    for (int i = 0; i < 9; i++) {
        const LfPoint p = {WIDTH / 2.0 * (i % 3), HEIGHT / 2.0 * (double)(i / 3)};
        LfPoint is, told;
        assert_true(lf_mat3_apply(&view->frame_from_photo, p, &is));
        assert_true(lf_mat3_apply(&h, p, &told));
        worst = MAX(worst, hypot(is.x - told.x, is.y - told.y));
    }
    return worst;
}

/* From 14 views; in every third the photo was taken for the next facing. */
static void test_neighbour_fit(void **state)
{
    const Plane *planes[] = {&SIGN, &SHELF};
    const LfLens lens = bed_lens();
    (void)state;
    for (gsize p = 0; p < G_N_ELEMENTS(planes); p++) {
        LfNeighbourView views[N_VIEWS];
        LfNeighbour neighbour;
        for (int i = 0; i < N_VIEWS; i++) {
            const LfMat3 slip = lf_mat3_translation(i % 3 == 1 ? FACING : 0, 0);
            views[i] = bed_view(&lens, planes[p], i);
            views[i].frame_from_photo = lf_mat3_mul(&views[i].frame_from_photo, &slip);
        }
        assert_true(lf_neighbour_fit(views, N_VIEWS, WIDTH, HEIGHT, BY_SIDE, &neighbour));
        assert_int_equal(neighbour.views, N_VIEWS - 5);
        for (int i = N_VIEWS; i < N_VIEWS + 4; i++) {
            const LfNeighbourView fresh = bed_view(&lens, planes[p], i);
            check_near(bed_error(&neighbour, &fresh), 0, 2.5);
        }
    }
}

/* Two views of one plane are enough to go on with. */
static void test_neighbour_few(void **state)
{
    const LfLens lens = bed_lens();
    const LfNeighbourView views[] = {bed_view(&lens, &SHELF, 3), bed_view(&lens, &SHELF, 5)};
    const LfNeighbourView fresh = bed_view(&lens, &SHELF, 4);
    LfNeighbour neighbour;
    (void)state;
    assert_true(lf_neighbour_fit(views, 2, WIDTH, HEIGHT, BY_SIDE, &neighbour));
    assert_int_equal(neighbour.views, 2);
    check_near(bed_error(&neighbour, &fresh), 0, 3);
    assert_false(lf_neighbour_fit(views, 1, WIDTH, HEIGHT, BY_SIDE, &neighbour));
}

/* Views of which no two agree tell nothing. */
static void test_neighbour_contradiction(void **state)
{
    const LfLens lens = bed_lens();
    LfNeighbourView views[6];
    LfNeighbour neighbour;
    (void)state;
    for (int i = 0; i < 6; i++) {
        const LfMat3 slip = lf_mat3_translation(FACING * (i - 2), 150.0 * (i % 2));
        views[i] = bed_view(&lens, &SHELF, i);
        views[i].frame_from_photo = lf_mat3_mul(&views[i].frame_from_photo, &slip);
    }
    assert_false(lf_neighbour_fit(views, 6, WIDTH, HEIGHT, BY_SIDE, &neighbour));
}

static void test_neighbour_foretell(void **state)
{
    const LfLens lens = bed_lens();
    const LfNeighbourView view = bed_view(&lens, &SHELF, 4);
    const LfNeighbour known[] = {{.by = 7, .m = {1, 0, 5, 0, 1, 0, 0, 0, 0, 0, 0, 1}},
                                 {.by = 8, .m = {1, 0, 9, 0, 1, 0, 0, 0, 0, 0, 0, 1}}};
    LfNeighbourSeen photos[] = {{7, &view.by, 10}, {8, &view.by, 20}, {9, &view.by, 30}};
    LfMat3 expected;
    LfForetold told;
    (void)state;
    assert_true(lf_neighbour_foretell(known, 2, photos, 3, &lens, &told));
    assert_ptr_equal(told.neighbour, &known[1]);
    assert_int_equal(told.by, 1);
    expected = lf_mat3_translation(9, 0);
    expected = lf_mat3_mul(&view.by, &expected);
    expected = lf_mat3_normalize(&expected);
    for (int i = 0; i < 9; i++)
        check_near(told.frame_from_photo.m[i], expected.m[i], 1e-9 * MAX(fabs(expected.m[i]), 1));
    photos[1].frame_from_photo = NULL;
    assert_true(lf_neighbour_foretell(known, 2, photos, 3, &lens, &told));
    assert_ptr_equal(told.neighbour, &known[0]);
    assert_false(lf_neighbour_foretell(known, 2, photos + 2, 1, &lens, &told));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_neighbour_fit), cmocka_unit_test(test_neighbour_few),
        cmocka_unit_test(test_neighbour_contradiction), cmocka_unit_test(test_neighbour_foretell)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
