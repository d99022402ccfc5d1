/* The photo's relief from views of a made-up shelf: the left half of the photo in its plane, the
 * right half behind it. What stands behind is seen through a homography of its own, which follows
 * from the plane's by the geometry of relief.h. */
#include "cast/survey_constancy.h"
#include "cast/sweep.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cast/relief_cells.h"
#include "cast/scene.h"
#include "cast/survey_camera.h"
#include "cast/sweep_cells.h"

/* 1 px of depth of the photo's 800 is 1/800 of its width; the right half stands DEEP px back. */
enum { PHOTO_WIDTH = 800, PHOTO_HEIGHT = 600, DEEP = 120 };
#define CAMERA_SIDES 1.4

static const SceneView VIEWS[] = {
    {-38, 4, 2, 0.8}, {-15, -6, 0, 0.9}, {6, 5, -3, 0.8}, {24, -3, 1, 1.0}, {40, 2, 0, 0.9}};

typedef struct {
    char *folder;
    LfPlane picture;
    LfPhoto *photo;
    LfLens lens;
} Bed;

static Bed bed_open(LfPlane picture)
{
    Bed bed = {.folder = scene_folder_new(), .picture = picture, .lens = lf_lens_plain(1000, 700)};
    g_autofree char *path = scene_write_pgm(bed.folder, "photo.pgm", &picture);
    bed.photo = lf_photo_load(path, NULL, NULL);
    assert_non_null(bed.photo);
    return bed;
}

static void bed_close(Bed *bed)
{
    lf_photo_free(bed->photo);
    lf_plane_clear(&bed->picture);
    scene_folder_remove(bed->folder);
}

static LfReliefCamera bed_camera(const Bed *bed, double sides)
{
    LfReliefCamera camera = *lf_relief_camera(bed->photo->relief);
    camera.distance = sides * PHOTO_WIDTH;
    return camera;
}

/* frame_from_photo for what stands z behind the plane, along the rays of the photo's camera. */
static LfMat3 bed_behind(const Bed *bed, const LfMat3 *frame_from_photo, double z)
{
    const LfReliefCamera camera = bed_camera(bed, CAMERA_SIDES);
    LfReliefView view;
    assert_true(lf_relief_view(&view, frame_from_photo, &bed->lens));
    const double along = z / camera.distance;
    const LfMat3 ray = {
        {1 + along, 0, -along * camera.middle.x, 0, 1 + along, -along * camera.middle.y, 0, 0, 1}};
    LfMat3 out = lf_mat3_mul(frame_from_photo, &ray);
    for (int row = 0; row < 3; row++)
        out.m[3 * row + 2] += z * view.h3[row];
    return out;
}

/* The frame: the deep half through its own homography, the rest through the plane's. */
static LfPlane bed_frame(const Bed *bed, const LfMat3 *h, double z)
{
    LfPlane mask = scene_photo(1, PHOTO_WIDTH, PHOTO_HEIGHT);
    for (int i = 0; i < PHOTO_WIDTH * PHOTO_HEIGHT; i++)
        mask.data[i] = i % PHOTO_WIDTH >= PHOTO_WIDTH / 2 ? 255 : 0;
    const LfMat3 behind = bed_behind(bed, h, z);
    LfPlane frame = scene_render(&bed->picture, h, &bed->lens, 90);
    LfPlane deep = scene_render(&bed->picture, &behind, &bed->lens, 90);
    LfPlane where = scene_render(&mask, &behind, &bed->lens, 0);
    for (int i = 0; i < frame.width * frame.height; i++)
        if (where.data[i] > 127)
            frame.data[i] = deep.data[i];
    lf_plane_clear(&mask);
    lf_plane_clear(&deep);
    lf_plane_clear(&where);
    return frame;
}

static void bed_look(const Bed *bed, LfSweep *sweep, int view, double z)
{
    const LfMat3 seen = scene_view(&VIEWS[view], &bed->picture, &bed->lens);
    LfPlane frame = bed_frame(bed, &seen, z);
    LfFramePyramid pyramid = scene_pyramid(&frame);
    lf_sweep_add(&sweep, 1, &seen, &bed->lens, &pyramid);
    lf_frame_pyramid_clear(&pyramid);
    lf_plane_clear(&frame);
}

/* Cells that tell in each half, and how many of these tell `z` (left: 0) within `within`. */
static void bed_count(const Bed *bed, double within, int told[2], int right[2])
{
    const LfReliefGrid grid = lf_relief_grid(bed->photo->relief);
    memset(told, 0, 2 * sizeof *told);
    memset(right, 0, 2 * sizeof *right);
    for (int i = 0; i < grid.columns * grid.rows; i++) {
        double z, sigma;
        const double x = (i % grid.columns + 0.5) * grid.cell_px;
        const int half = x >= PHOTO_WIDTH / 2;
        /* At the seam a patch shows both. */
        if (fabs(x - PHOTO_WIDTH / 2.0) < 30 ||
            !lf_relief_cell_told(bed->photo->relief, i, &z, &sigma))
            continue;
        told[half]++;
        right[half] += fabs(z - (half ? DEEP : 0)) <= within;
    }
}

static void test_sweep_depth(void **state)
{
    Bed bed = bed_open(scene_photo(11, PHOTO_WIDTH, PHOTO_HEIGHT));
    g_autoptr(LfSweep) sweep = lf_sweep_new(bed.photo, bed_camera(&bed, CAMERA_SIDES), 1);
    int told[2], right[2];
    (void)state;
    for (int i = 0; i < (int)G_N_ELEMENTS(VIEWS); i++)
        bed_look(&bed, sweep, i, DEEP);
    lf_sweep_teach(sweep, bed.photo->relief);
    assert_true(lf_relief_known(bed.photo->relief));
    bed_count(&bed, 5, told, right);
    for (int half = 0; half < 2; half++) {
        assert_true(told[half] > 200);
        assert_true(right[half] > 0.97 * told[half]);
    }
    bed_close(&bed);
}

static void test_sweep_flat(void **state)
{
    Bed bed = bed_open(scene_photo(12, PHOTO_WIDTH, PHOTO_HEIGHT));
    g_autoptr(LfSweep) sweep = lf_sweep_new(bed.photo, bed_camera(&bed, CAMERA_SIDES), 1);
    (void)state;
    for (int i = 0; i < (int)G_N_ELEMENTS(VIEWS); i++)
        bed_look(&bed, sweep, i, 0);
    lf_sweep_teach(sweep, bed.photo->relief);
    assert_false(lf_relief_known(bed.photo->relief));
    assert_true(lf_relief_flat(bed.photo->relief));
    bed_close(&bed);
}

/* Look-alike packs agree at several depths in one view, of which now and then a wrong one is taken;
 * in several views one depth is left. */
static void test_sweep_alike(void **state)
{
    Bed bed = bed_open(scene_tiles(13, PHOTO_WIDTH, PHOTO_HEIGHT, 40));
    const LfReliefCamera camera = bed_camera(&bed, CAMERA_SIDES);
    LfSweep *one = lf_sweep_new(bed.photo, camera, 1);
    int told[2], right[2];
    (void)state;
    for (int i = 0; i < 3; i++)
        bed_look(&bed, one, 0, DEEP);
    lf_sweep_teach(one, bed.photo->relief);
    bed_count(&bed, 5, told, right);
    const int told_by_one = told[1];
    assert_true(right[1] >= 0.9 * told[1]);
    lf_sweep_free(one);

    g_autoptr(LfSweep) all = lf_sweep_new(bed.photo, camera, 1);
    for (int i = 0; i < (int)G_N_ELEMENTS(VIEWS); i++)
        bed_look(&bed, all, i, DEEP);
    lf_sweep_teach(all, bed.photo->relief);
    bed_count(&bed, 5, told, right);
    assert_true(told[1] >= told_by_one);
    assert_true(right[1] > 0.99 * told[1]);
    bed_close(&bed);
}

/* What is not tried on after some views changes nothing that all views tell. */
static void test_sweep_narrow(void **state)
{
    Bed bed = bed_open(scene_photo(16, PHOTO_WIDTH, PHOTO_HEIGHT));
    const LfReliefGrid grid = lf_relief_grid(bed.photo->relief);
    const int n = grid.columns * grid.rows;
    g_autofree double *whole = g_new0(double, n);
    int told = 0, same = 0, out = 0;
    (void)state;
    for (int narrow = 0; narrow < 2; narrow++) {
        g_autoptr(LfSweep) sweep = lf_sweep_new(bed.photo, bed_camera(&bed, CAMERA_SIDES), 1);
        for (int i = 0; i < (int)G_N_ELEMENTS(VIEWS); i++) {
            if (narrow && i == (int)G_N_ELEMENTS(VIEWS) - 1)
                lf_sweep_narrow(sweep);
            bed_look(&bed, sweep, i, DEEP);
        }
        for (int i = 0; i < sweep->n_cells; i++)
            for (int b = 0; b < LF_SWEEP_BINS; b++)
                out += sweep->cells[i].out[b];
        assert_true(narrow ? out > LF_SWEEP_BINS / 2 * sweep->n_cells : out == 0);
        lf_sweep_teach(sweep, bed.photo->relief);
        for (int i = 0; i < n; i++) {
            double z, sigma;
            if (!lf_relief_cell_told(bed.photo->relief, i, &z, &sigma))
                z = NAN;
            if (!narrow)
                whole[i] = z;
            told += narrow && isfinite(whole[i]);
            same += narrow && isfinite(whole[i]) && fabs(z - whole[i]) < 1;
        }
    }
    assert_true(told > 1000);
    assert_true(same > 0.99 * told);
    bed_close(&bed);
}

/* A pose as if found with patches exactly where a camera somewhere else than the relief's shows
 * what stands DEEP behind the plane. */
static void bed_camera_pose(const Bed *bed, const LfMat3 *seen, LfReliefCamera camera, LfPose *pose)
{
    LfReliefView view;
    memset(pose, 0, sizeof *pose);
    pose->frame_from_photo = *seen;
    assert_true(lf_relief_view(&view, seen, &bed->lens));
    for (int i = 0; i < 200; i++) {
        LfPosePoint *q = &pose->points[pose->n_points];
        LfReliefSeen at;
        q->photo = (LfPoint){PHOTO_WIDTH / 2.0 + 40 + i % 20 * 17, 30 + i / 20 * 55};
        if (!lf_relief_project(&camera, &view, q->photo, (LfReliefPlace){0, 0, DEEP}, &at, NULL))
            continue;
        q->residual_px = at.shift;
        q->good = true;
        pose->n_points++;
    }
}

static void test_sweep_camera_solved(void **state)
{
    Bed bed = bed_open(scene_photo(17, PHOTO_WIDTH, PHOTO_HEIGHT));
    LfRelief *relief = bed.photo->relief;
    const LfReliefGrid grid = lf_relief_grid(relief);
    g_autofree LfPose *pose = g_new(LfPose, 1);
    LfReliefCamera truth = bed_camera(&bed, CAMERA_SIDES);
    (void)state;
    truth.middle.x += 25;
    truth.middle.y -= 15;
    lf_relief_set_camera(relief, bed_camera(&bed, 1.9));
    for (int i = 0; i < grid.columns * grid.rows; i++)
        lf_relief_tell(relief, i, DEEP, 1);
    lf_relief_told(relief, false);
    for (int turn = 0; turn < 8; turn++) {
        LfCameraSums sums = {0};
        for (int i = 0; i < (int)G_N_ELEMENTS(VIEWS); i++) {
            const LfMat3 seen = scene_view(&VIEWS[i], &bed.picture, &bed.lens);
            bed_camera_pose(&bed, &seen, truth, pose);
            lf_camera_sums_add(&sums, relief, pose, &bed.lens);
        }
        lf_relief_set_camera(relief,
                             lf_camera_sums_solve(&sums, *lf_relief_camera(relief), PHOTO_WIDTH));
    }
    const LfReliefCamera *camera = lf_relief_camera(relief);
    assert_true(fabs(camera->distance / truth.distance - 1) < 0.03);
    assert_true(fabs(camera->middle.x - truth.middle.x) < 8);
    assert_true(fabs(camera->middle.y - truth.middle.y) < 8);

    /* Nothing seen, nothing changed. */
    const LfCameraSums none = {0};
    const LfReliefCamera same = lf_camera_sums_solve(&none, truth, PHOTO_WIDTH);
    assert_memory_equal(&same, &truth, sizeof same);
    bed_close(&bed);
}

static void test_sweep_camera(void **state)
{
    static const double SIDES[] = {0.6, CAMERA_SIDES, 2.6};
    double agreement[G_N_ELEMENTS(SIDES)];
    Bed bed = bed_open(scene_photo(14, PHOTO_WIDTH, PHOTO_HEIGHT));
    (void)state;
    for (gsize c = 0; c < G_N_ELEMENTS(SIDES); c++) {
        g_autoptr(LfSweep) sweep = lf_sweep_new(bed.photo, bed_camera(&bed, SIDES[c]), 3);
        for (int i = 0; i < (int)G_N_ELEMENTS(VIEWS); i++)
            bed_look(&bed, sweep, i, DEEP);
        agreement[c] = lf_sweep_agreement(sweep);
    }
    assert_true(agreement[1] > agreement[0] + 0.01);
    assert_true(agreement[1] > agreement[2] + 0.01);
    bed_close(&bed);
}

/* What is kept brings back the same relief; what is cut short is refused. */
static void test_sweep_kept(void **state)
{
    Bed bed = bed_open(scene_photo(15, PHOTO_WIDTH, PHOTO_HEIGHT));
    g_autoptr(LfSweep) sweep = lf_sweep_new(bed.photo, bed_camera(&bed, CAMERA_SIDES), 1);
    g_autoptr(GError) error = NULL;
    (void)state;
    for (int i = 0; i < (int)G_N_ELEMENTS(VIEWS); i++)
        bed_look(&bed, sweep, i, DEEP);
    lf_sweep_teach(sweep, bed.photo->relief);
    const LfReliefCamera camera = {{123, 456}, 1.7 * PHOTO_WIDTH}, other = {{1, 2}, PHOTO_WIDTH};
    lf_relief_set_camera(bed.photo->relief, camera);
    lf_relief_vouch(bed.photo->relief, 7, 0.25);
    const LfNeighbour beside = {.by = 77, .m = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 1}, .views = 12};
    bed.photo->neighbours[0] = beside;
    bed.photo->n_neighbours = 1;
    g_autoptr(GBytes) kept = lf_photo_relief(bed.photo);
    bed.photo->n_neighbours = 0;
    memset(bed.photo->neighbours, 0, sizeof bed.photo->neighbours);
    lf_relief_reset(bed.photo->relief);
    lf_relief_set_camera(bed.photo->relief, other);
    assert_true(lf_photo_set_relief(bed.photo, kept, NULL));
    g_autoptr(GBytes) again = lf_photo_relief(bed.photo);
    assert_true(g_bytes_equal(kept, again));
    assert_true(lf_relief_known(bed.photo->relief));
    assert_memory_equal(lf_relief_camera(bed.photo->relief), &camera, sizeof camera);
    assert_float_equal(lf_relief_vouched(bed.photo->relief, 7), 0.25, 0.004);
    assert_true(lf_relief_vouched(bed.photo->relief, 8) == 0);
    assert_int_equal(bed.photo->n_neighbours, 1);
    assert_memory_equal(bed.photo->neighbours, &beside, sizeof beside);

    g_autoptr(GBytes) cut = g_bytes_new_from_bytes(kept, 0, g_bytes_get_size(kept) - 5);
    assert_false(lf_photo_set_relief(bed.photo, cut, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_INPUT));
    bed_close(&bed);
}

/* Mean trust of the cells of one half that lie in a band of rows. */
static double bed_trust(const Bed *bed, bool deep, int from_row, int to_row)
{
    const LfReliefGrid grid = lf_relief_grid(bed->photo->relief);
    double sum = 0, n = 0;
    for (int i = from_row * grid.columns; i < to_row * grid.columns; i++) {
        const double x = (i % grid.columns + 0.5) * grid.cell_px;
        const double trust = lf_relief_vouched(bed->photo->relief, i);
        if (fabs(x - PHOTO_WIDTH / 2.0) < 30 || (x >= PHOTO_WIDTH / 2.0) != deep || trust == 0)
            continue;
        sum += trust;
        n++;
    }
    assert_true(n > 20);
    return sum / n;
}

/* Of the cells of one half in a band of rows, the share taken to stand DEEP. */
static double bed_share_deep(const Bed *bed, bool deep, int from_row, int to_row)
{
    const LfReliefGrid grid = lf_relief_grid(bed->photo->relief);
    double found = 0, n = 0;
    for (int i = from_row * grid.columns; i < to_row * grid.columns; i++) {
        const double x = (i % grid.columns + 0.5) * grid.cell_px;
        if (fabs(x - PHOTO_WIDTH / 2.0) < 30 || (x >= PHOTO_WIDTH / 2.0) != deep)
            continue;
        found += fabs(bed->photo->relief->cells[i].near_z - DEEP) < 5;
        n++;
    }
    return found / n;
}

/* Cells of the deep half that were told the depth of the other one look different in every view,
 * and when all are asked whether they stand deep it is these that do. */
static void test_sweep_constancy(void **state)
{
    enum { N = G_N_ELEMENTS(VIEWS) };
    Bed bed = bed_open(scene_photo(16, PHOTO_WIDTH, PHOTO_HEIGHT));
    LfRelief *relief = bed.photo->relief;
    const LfReliefGrid grid = lf_relief_grid(relief);
    const int n = grid.columns * grid.rows, third = grid.rows / 3;
    uint8_t *rows[N] = {NULL}, *behind[N] = {NULL};
    g_autofree double *z = g_new(double, n);
    (void)state;
    lf_relief_set_camera(relief, bed_camera(&bed, CAMERA_SIDES));
    for (int i = 0; i < n; i++) {
        const bool deep = (i % grid.columns + 0.5) * grid.cell_px >= PHOTO_WIDTH / 2.0;
        lf_relief_tell(relief, i, deep && i / grid.columns >= third ? DEEP : 0, 2);
        z[i] = deep && i / grid.columns >= third ? NAN : DEEP;
    }
    lf_relief_told(relief, false);
    for (int v = 0; v < N; v++) {
        const LfMat3 seen = scene_view(&VIEWS[v], &bed.picture, &bed.lens);
        LfPlane frame = bed_frame(&bed, &seen, DEEP);
        LfFramePyramid pyramid = scene_pyramid(&frame);
        const LfConstancyView view = {&bed.lens, &pyramid, &seen};
        LfConstancyLight light = {0};
        rows[v] = lf_constancy_look(bed.photo, &view, &light);
        assert_non_null(rows[v]);
        behind[v] = lf_constancy_look_behind(bed.photo, &view, &light, z);
        assert_int_equal(behind[v][n - 1], LF_CONSTANCY_UNSEEN); /* not asked */
        lf_constancy_light_clear(&light);
        lf_frame_pyramid_clear(&pyramid);
        lf_plane_clear(&frame);
    }
    g_autofree double *unlike = lf_constancy_vouch(bed.photo, rows, N);
    const double wrong = bed_trust(&bed, true, 2, third - 2);
    const double right = bed_trust(&bed, true, third + 2, grid.rows - 2);
    const double plane = bed_trust(&bed, false, 2, grid.rows - 2);
    if (!(wrong < 0.7 * right && wrong < 0.7 * plane && right > 0.7 && plane > 0.7))
        fail_msg("trust %.2f where told wrong, %.2f and %.2f where right", wrong, right, plane);

    g_autofree bool *moved = g_new0(bool, n);
    lf_constancy_compare(bed.photo, z, unlike, behind, N, moved);
    for (int i = 0; i < n; i++) /* what was not asked stays */
        assert_false(moved[i] && !isfinite(z[i]));
    assert_non_null(memchr(moved, true, (gsize)n));
    const double mended = bed_share_deep(&bed, true, 2, third - 2);
    const double spoilt = bed_share_deep(&bed, false, 2, grid.rows - 2);
    if (!(mended > 0.6 && spoilt < 0.05))
        fail_msg("%.2f of what stood deep was taken for it, %.2f of what did not", mended, spoilt);
    for (int v = 0; v < N; v++) {
        g_free(rows[v]);
        g_free(behind[v]);
    }
    bed_close(&bed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sweep_depth),         cmocka_unit_test(test_sweep_flat),
        cmocka_unit_test(test_sweep_alike),         cmocka_unit_test(test_sweep_camera),
        cmocka_unit_test(test_sweep_kept),          cmocka_unit_test(test_sweep_narrow),
        cmocka_unit_test(test_sweep_camera_solved), cmocka_unit_test(test_sweep_constancy),
    };
    return cmocka_run_group_tests_name("cast/sweep", tests, NULL, NULL);
}
