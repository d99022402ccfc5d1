/* Truth against pictures: rectangles are painted with their own coordinates and rendered, so that
 * every pixel says in which millimetre of the shelf its ray ended. That path (single-precision
 * raster, textures, rays per pixel) shares no arithmetic with truth.c. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>

#include "raster.h"
#include "truth.h"
#include "walk.h"

/* Texels of the ramp: each far wider than a pixel, so that its coarser levels never show. */
#define RAMP 64
#define RAMP_STEP 4 /* grey levels from texel to texel */

typedef struct {
    LrScene *scene;
    LrWalkWorld *walk;
    LrWalkJob job;
    LrTexture *ramp;    /* red: x, green: y over the whole rectangle */
    GPtrArray *markers; /* blue pictures with the opacity of an occluder's */
} Fixture;

static LrTexture *fixture_ramp(void)
{
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_RGB24, RAMP, RAMP);
    uint8_t *data = cairo_image_surface_get_data(s);
    int stride = cairo_image_surface_get_stride(s);
    for (int y = 0; y < RAMP; y++)
        for (int x = 0; x < RAMP; x++)
            ((uint32_t *)(void *)(data + y * stride))[x] =
                (uint32_t)(x * RAMP_STEP) << 16 | (uint32_t)(y * RAMP_STEP) << 8;
    cairo_surface_mark_dirty(s);
    return lr_texture_take(s);
}

static LrTexture *fixture_marker(const LrTexture *of)
{
    const LrLevel *level = &of->level[0];
    cairo_surface_t *s =
        cairo_image_surface_create(CAIRO_FORMAT_ARGB32, level->width, level->height);
    uint8_t *data = cairo_image_surface_get_data(s);
    int stride = cairo_image_surface_get_stride(s);
    for (int y = 0; y < level->height; y++)
        for (int x = 0; x < level->width; x++) {
            uint32_t alpha = level->texels[y * level->stride + x] >> 24;
            ((uint32_t *)(void *)(data + y * stride))[x] = alpha << 24 | alpha;
        }
    cairo_surface_mark_dirty(s);
    return lr_texture_take(s);
}

static int set_up(void **state)
{
    Fixture *f = g_new0(Fixture, 1);
    f->scene = lr_scene_new(lr_scene_find("small"), 5, 1000);
    f->job = (LrWalkJob){
        .scene = f->scene, .number = 1, .width = 640, .height = 360, .fps = 25, .seconds = 12};
    f->walk = lr_walk_world_new(&f->job);
    f->ramp = fixture_ramp();
    f->markers = g_ptr_array_new_with_free_func((GDestroyNotify)lr_texture_free);
    *state = f;
    return 0;
}

static int tear_down(void **state)
{
    Fixture *f = *state;
    lr_walk_world_free(f->walk);
    lr_scene_free(f->scene);
    lr_texture_free(f->ramp);
    g_ptr_array_unref(f->markers);
    g_free(f);
    return 0;
}

/* Red, green, blue at a pixel, 0..255. */
static void picture_value(const LrRays *rays, const LrShot *shot, int x, int y, double rgb[3])
{
    float light[3][LR_TILE * LR_TILE];
    LrRasterRow row = {0};
    LrExposure exposure = {.calm = shot, .n_calm = 1};
    lr_raster_row_start(&row, rays, y / LR_TILE, &exposure);
    lr_raster_tile(rays, y / LR_TILE * rays->tiles_x + x / LR_TILE, &exposure, &row, light);
    lr_raster_row_clear(&row);
    int at = y % LR_TILE * LR_TILE + x % LR_TILE;
    for (int c = 0; c < 3; c++)
        rgb[c] = 255 * sqrt((double)light[(c + 1) % 3][at]); /* planes are b r g */
}

static void truth_agrees_with_pictures(void **state)
{
    Fixture *f = *state;
    const LrQuad *world = (const LrQuad *)(const void *)f->scene->world->quads->data;
    gsize n = f->scene->world->quads->len;
    g_autofree LrQuad *painted = g_memdup2(world, n * sizeof *world);
    const LrQuad *shelf = NULL;
    for (gsize i = 0; i < n; i++)
        if (world[i].part == LR_PART_FIXTURE) {
            painted[i].texture = f->ramp;
            shelf = &world[i];
        }
    assert_non_null(shelf);
    LrRays *rays = lr_rays_new(&f->walk->lens);
    LrShot shot = {0};
    LrRng rng = lr_rng_new(1, "test");
    int visible = 0, blocked = 0;
    for (int frame = 0; frame < 150; frame++) {
        double t = frame * 0.08;
        LrQuad movers[LR_OCCLUDERS_MAX];
        gsize n_movers = lr_occluders_at(f->walk->occluders, t, movers, NULL);
        guint first = f->markers->len;
        for (gsize i = 0; i < n_movers; i++) {
            g_ptr_array_add(f->markers, fixture_marker(movers[i].texture));
            movers[i].texture = f->markers->pdata[first + i];
        }
        LrPose pose = lr_path_pose(f->walk->path, t);
        const LrQuad *sets[2] = {painted, movers};
        gsize sizes[2] = {n, n_movers};
        lr_shot_prepare(&shot, &pose, sets, sizes, 2, 0, 0, 1);
        for (int i = 0; i < 40; i++) {
            int x = lr_rng_int(&rng, 0, 639), y = lr_rng_int(&rng, 0, 359);
            LrTruth truth =
                lr_truth_cast(f->scene, &f->walk->lens, f->walk->path, f->walk->occluders, t, x, y);
            if (truth.at.photo < 0)
                continue;
            double rgb[3], px, py;
            picture_value(rays, &shot, x, y, rgb);
            bool edge = rgb[2] > 1 && rgb[2] < 254; /* partly covered: takes no side */
            if (truth.state == LR_TRUTH_BLOCKED) {
                assert_true(edge || rgb[2] >= 254);
                blocked++;
                continue;
            }
            /* Truth also counts the neighbours that the photo's margin shows. */
            double u = (rgb[0] / RAMP_STEP + 0.5) / RAMP, v = (rgb[1] / RAMP_STEP + 0.5) / RAMP;
            if (edge || u < 0.02 || v < 0.02 || u > 0.98 || v > 0.98)
                continue;
            if (truth.at.y < 40 || truth.at.y > 1000 || truth.at.x < 30 || truth.at.x > 970)
                continue; /* floor and neighbours are not painted */
            LrVec point = lr_vec_along(shelf->corner, shelf->u, u * shelf->width);
            point = lr_vec_along(point, shelf->v, v * shelf->height);
            assert_true(lr_photo_project(&f->scene->photos[0], point, &px, &py));
            /* The ramp is read to 1/256 of a texel of 32 mm, rounded twice; a photo px is 2 mm. */
            assert_true(hypot(px - truth.at.x, py - truth.at.y) < 0.2);
            assert_true(rgb[2] <= 1);
            visible++;
        }
    }
    lr_shot_clear(&shot);
    lr_rays_free(rays);
    assert_true(visible > 1500);
    assert_true(blocked > 20);
}

/* The flat scene: the plane's homography must send every sample where its own ray goes. */
static void poses_agree_with_samples(void **state)
{
    Fixture *f = *state;
    const LrLens *lens = &f->walk->lens;
    LrRng rng = lr_rng_new(2, "test");
    int checked = 0;
    for (int i = 0; i < 600; i++) {
        double t = lr_rng_uniform(&rng, 0, 12), h[9], share, nx, ny;
        double x = lr_rng_uniform(&rng, 0, 639), y = lr_rng_uniform(&rng, 0, 359);
        LrTruth truth = lr_truth_cast(f->scene, lens, f->walk->path, f->walk->occluders, t, x, y);
        bool posed =
            lr_truth_pose(f->scene, 0, lens, f->walk->path, f->walk->occluders, t, h, &share);
        if (truth.state != LR_TRUTH_VISIBLE || truth.at.y < 30 || truth.at.y > 1000)
            continue; /* wall and floor in the photo's margin are not in the shelf's plane */
        assert_true(posed);
        assert_true(share > 0 && share <= 1);
        assert_true(lr_lens_ray(lens, x, y, &nx, &ny));
        double u = nx * lens->fx + lens->cx, v = ny * lens->fy + lens->cy;
        double w = h[6] * u + h[7] * v + h[8];
        assert_true(fabs((h[0] * u + h[1] * v + h[2]) / w - truth.at.x) < 1e-6);
        assert_true(fabs((h[3] * u + h[4] * v + h[5]) / w - truth.at.y) < 1e-6);
        checked++;
    }
    assert_true(checked > 200);
}

static LrVec ray_of(const LrLens *lens, double x, double y)
{
    double nx, ny;
    assert_true(lr_lens_ray(lens, x, y, &nx, &ny));
    return lr_vec_unit(lr_vec(nx, ny, 1));
}

/* Photo px per degree from casts of neighbouring pixels and the solid angle between their rays. */
static void scale_agrees_with_neighbours(void **state)
{
    Fixture *f = *state;
    const LrLens *lens = &f->walk->lens;
    LrRng rng = lr_rng_new(3, "test");
    int checked = 0;
    for (int i = 0; i < 300; i++) {
        double t = lr_rng_uniform(&rng, 0, 12);
        double x = lr_rng_uniform(&rng, 10, 620), y = lr_rng_uniform(&rng, 10, 340);
        LrTruth at[5];
        const double dx[5] = {0, 0.5, -0.5, 0, 0}, dy[5] = {0, 0, 0, 0.5, -0.5};
        bool all = true;
        for (int k = 0; k < 5; k++) {
            at[k] = lr_truth_cast(f->scene, lens, f->walk->path, f->walk->occluders, t, x + dx[k],
                                  y + dy[k]);
            all = all && at[k].state == LR_TRUTH_VISIBLE && at[k].at.y > 30 && at[k].at.y < 1000;
        }
        if (!all)
            continue;
        double area = fabs((at[1].at.x - at[2].at.x) * (at[3].at.y - at[4].at.y) -
                           (at[1].at.y - at[2].at.y) * (at[3].at.x - at[4].at.x));
        LrVec a = lr_vec_sub(ray_of(lens, x + 0.5, y), ray_of(lens, x - 0.5, y));
        LrVec b = lr_vec_sub(ray_of(lens, x, y + 0.5), ray_of(lens, x, y - 0.5));
        LrVec c = lr_vec_cross(a, b);
        double expected = sqrt(area / sqrt(lr_vec_dot(c, c))) * G_PI / 180;
        assert_true(fabs(at[0].at.px_per_degree / expected - 1) < 1e-3);
        checked++;
    }
    assert_true(checked > 100);
}

static void lost_gaze_is_lost(void **state)
{
    Fixture *f = *state;
    LrTruth truth =
        lr_truth_cast(f->scene, &f->walk->lens, f->walk->path, f->walk->occluders, 1, NAN, NAN);
    assert_int_equal(truth.state, LR_TRUTH_LOST);
    assert_int_equal(truth.at.photo, -1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(truth_agrees_with_pictures),
        cmocka_unit_test(poses_agree_with_samples),
        cmocka_unit_test(scale_agrees_with_neighbours),
        cmocka_unit_test(lost_gaze_is_lost),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
