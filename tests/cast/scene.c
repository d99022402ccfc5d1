#include "cast/scene.h"

#include <glib/gstdio.h>
#include <string.h>

SceneWaves scene_waves(guint32 seed, double min_px, double max_px)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(seed);
    SceneWaves waves;
    for (int i = 0; i < SCENE_WAVES; i++) {
        /* directions spread evenly, wavelengths at random */
        double angle = G_PI * (i + 0.5 * g_rand_double(rand)) / SCENE_WAVES;
        double frequency = 2 * G_PI / g_rand_double_range(rand, min_px, max_px);
        waves.fx[i] = frequency * cos(angle);
        waves.fy[i] = frequency * sin(angle);
        waves.phase[i] = g_rand_double_range(rand, 0, 2 * G_PI);
        waves.amplitude[i] = g_rand_double_range(rand, 6, 12);
    }
    return waves;
}

double scene_waves_at(const SceneWaves *waves, double x, double y)
{
    double sum = 0;
    for (int i = 0; i < SCENE_WAVES; i++)
        sum += waves->amplitude[i] * sin(waves->fx[i] * x + waves->fy[i] * y + waves->phase[i]);
    return sum;
}

double scene_waves_smeared(const SceneWaves *waves, double x, double y, LfPoint blur)
{
    double sum = 0;
    for (int i = 0; i < SCENE_WAVES; i++) {
        /* mean of sin(a + b u) over u in -1/2 .. 1/2 is sin(a) sin(b/2) / (b/2) */
        double half = (waves->fx[i] * blur.x + waves->fy[i] * blur.y) / 2;
        double sinc = fabs(half) > 1e-9 ? sin(half) / half : 1;
        sum +=
            waves->amplitude[i] * sinc * sin(waves->fx[i] * x + waves->fy[i] * y + waves->phase[i]);
    }
    return sum;
}

uint8_t scene_pixel(double grey)
{
    return (uint8_t)CLAMP(floor(grey + 0.5), 0, 255);
}

double scene_gauss(GRand *rand)
{
    /* Box and Muller; 1 - u is never 0 */
    double u = 1 - g_rand_double(rand), v = g_rand_double(rand);
    return sqrt(-2 * log(u)) * cos(2 * G_PI * v);
}

static void scene_rectangle(LfPlane *plane, int x0, int y0, int x1, int y1, int grey)
{
    for (int y = MAX(y0, 0); y < MIN(y1, plane->height); y++)
        for (int x = MAX(x0, 0); x < MIN(x1, plane->width); x++)
            plane->data[y * plane->width + x] = (uint8_t)grey;
}

static void scene_disc(LfPlane *plane, int cx, int cy, int radius, int grey)
{
    for (int y = MAX(cy - radius, 0); y < MIN(cy + radius + 1, plane->height); y++)
        for (int x = MAX(cx - radius, 0); x < MIN(cx + radius + 1, plane->width); x++)
            if ((x - cx) * (x - cx) + (y - cy) * (y - cy) <= radius * radius)
                plane->data[y * plane->width + x] = (uint8_t)grey;
}

LfPlane scene_photo(guint32 seed, int width, int height)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(seed);
    LfPlane plane = {0};
    assert_true(lf_plane_init(&plane, width, height, 1, 1));
    memset(plane.data, 128, (gsize)width * (gsize)height);
    int unit = MIN(width, height);
    int count = (int)(width * (gint64)height / 900);
    /* large shapes first, ever smaller ones on top */
    for (int i = 0; i < count; i++) {
        double share = 0.25 * pow(1 - (double)i / count, 3) + 0.012;
        int w = MAX(3, (int)(unit * share * g_rand_double_range(rand, 0.4, 1)));
        int h = MAX(3, (int)(unit * share * g_rand_double_range(rand, 0.4, 1)));
        int x = g_rand_int_range(rand, -w / 2, width), y = g_rand_int_range(rand, -h / 2, height);
        int grey = g_rand_int_range(rand, 20, 236);
        if (i % 3 == 0)
            scene_disc(&plane, x, y, MIN(w, h) / 2, grey);
        else
            scene_rectangle(&plane, x, y, x + w, y + h, grey);
    }
    return plane;
}

LfPlane scene_tiles(guint32 seed, int width, int height, int tile)
{
    LfPlane one = scene_photo(seed, tile, tile);
    LfPlane plane = {0};
    assert_true(lf_plane_init(&plane, width, height, 1, 1));
    for (int y = 0; y < height; y++)
        for (int x = 0; x < width; x++)
            plane.data[y * width + x] = one.data[(y % tile) * tile + x % tile];
    lf_plane_clear(&one);
    return plane;
}

static LfMat3 scene_turn(int axis, double degrees)
{
    double c = cos(degrees * G_PI / 180), s = sin(degrees * G_PI / 180);
    if (axis == 0)
        return (LfMat3){{1, 0, 0, 0, c, -s, 0, s, c}};
    if (axis == 1)
        return (LfMat3){{c, 0, s, 0, 1, 0, -s, 0, c}};
    return (LfMat3){{c, -s, 0, s, c, 0, 0, 0, 1}};
}

LfMat3 scene_view(const SceneView *view, const LfPlane *photo, const LfLens *lens)
{
    /* Plane points (X, Y, 0), photo widths, the middle at the origin; camera = R X + (0, 0, d). */
    double w = photo->width;
    LfMat3 plane = {
        {1 / w, 0, -(w - 1) / 2 / w, 0, 1 / w, -(photo->height - 1) / 2.0 / w, 0, 0, 1}};
    LfMat3 yaw = scene_turn(1, view->yaw), pitch = scene_turn(0, view->pitch);
    LfMat3 roll = scene_turn(2, view->roll);
    LfMat3 turn = lf_mat3_mul(&pitch, &yaw);
    turn = lf_mat3_mul(&roll, &turn);
    LfMat3 camera = {
        {turn.m[0], turn.m[1], 0, turn.m[3], turn.m[4], 0, turn.m[6], turn.m[7], view->distance}};
    LfMat3 k = {
        {lens->fx, 0, (lens->width - 1) / 2.0, 0, lens->fy, (lens->height - 1) / 2.0, 0, 0, 1}};
    LfMat3 out = lf_mat3_mul(&camera, &plane);
    out = lf_mat3_mul(&k, &out);
    return lf_mat3_normalize(&out);
}

LfMat3 scene_view_aslant(const LfPlane *photo, const LfLens *lens, double tilt, double direction,
                         double roll, double distance)
{
    const SceneView view = {tilt, 0, roll - direction, distance};
    const double c = cos(direction * G_PI / 180), s = sin(direction * G_PI / 180);
    const LfPoint m = {(photo->width - 1) / 2.0, (photo->height - 1) / 2.0};
    const LfMat3 turn = {{c, -s, m.x - c * m.x + s * m.y, s, c, m.y - s * m.x - c * m.y, 0, 0, 1}};
    const LfMat3 frame = scene_view(&view, photo, lens);
    const LfMat3 out = lf_mat3_mul(&frame, &turn);
    return lf_mat3_normalize(&out);
}

static double scene_sample(const LfPlane *plane, LfPoint p, double fill)
{
    if (!(p.x >= 0 && p.y >= 0 && p.x <= plane->width - 1 && p.y <= plane->height - 1))
        return fill;
    int x = MIN((int)p.x, plane->width - 2), y = MIN((int)p.y, plane->height - 2);
    double fx = p.x - x, fy = p.y - y;
    const uint8_t *a = plane->data + y * plane->width + x, *b = a + plane->width;
    return (1 - fy) * ((1 - fx) * a[0] + fx * a[1]) + fy * ((1 - fx) * b[0] + fx * b[1]);
}

/* Undistorted place of every px, NaN where there is none; the last lens's is kept, since undoing a
 * lens takes longer than all the rest. */
static const LfPoint *scene_undistorted(const LfLens *lens)
{
    static LfLens last;
    static LfPoint *grid;
    if (grid && memcmp(&last, lens, sizeof last) == 0)
        return grid;
    g_free(grid);
    grid = g_new(LfPoint, lens->width * lens->height);
    memcpy(&last, lens, sizeof last);
    for (int y = 0; y < lens->height; y++)
        for (int x = 0; x < lens->width; x++) {
            LfPoint *u = &grid[y * lens->width + x];
            if (!lf_lens_undistort(lens, (LfPoint){x, y}, u))
                *u = (LfPoint){NAN, NAN};
        }
    return grid;
}

LfPlane scene_render(const LfPlane *photo, const LfMat3 *frame_from_photo, const LfLens *lens,
                     uint8_t fill)
{
    LfPlane frame = {0}, soft = {0};
    LfMat3 photo_from_frame, identity = lf_mat3_identity();
    LfPoint middle = {(lens->width - 1) / 2.0, (lens->height - 1) / 2.0};
    double j[4];
    assert_true(lf_plane_init(&frame, lens->width, lens->height, 1, 1));
    assert_true(lf_plane_init(&soft, photo->width, photo->height, 1, 1));
    assert_true(lf_mat3_invert(frame_from_photo, &photo_from_frame));
    assert_true(lf_mat3_jacobian(&photo_from_frame, middle, j));
    /* Half of the photo px that one frame px covers, along each axis of the photo. */
    double sx = 0.45 * hypot(j[0], j[1]), sy = 0.45 * hypot(j[2], j[3]);
    LfShimImage view = lf_plane_view(photo);
    assert_int_equal(lf_shim_warp(&view, identity.m, sx > 0.5 ? sx : 0, sy > 0.5 ? sy : 0,
                                  soft.data, soft.width, soft.height, 0, NULL),
                     LF_SHIM_OK);
    const LfPoint *undistorted = scene_undistorted(lens);
    for (int y = 0; y < frame.height; y++)
        for (int x = 0; x < frame.width; x++) {
            double sum = 0;
            for (int i = 0; i < 4; i++) {
                /* offsets that cancel: the lens stretches them a little, evenly around the px */
                LfPoint u = undistorted[y * frame.width + x], p;
                u.x += i % 2 ? 0.25 : -0.25;
                u.y += i / 2 ? 0.25 : -0.25;
                sum +=
                    lf_mat3_apply(&photo_from_frame, u, &p) ? scene_sample(&soft, p, fill) : fill;
            }
            frame.data[y * frame.width + x] = scene_pixel(sum / 4);
        }
    lf_plane_clear(&soft);
    return frame;
}

LfFramePyramid scene_pyramid(const LfPlane *frame)
{
    LfFramePyramid pyramid = {0};
    assert_true(lf_frame_pyramid_init(&pyramid, frame->width, frame->height, LF_FRAME_WORK_WIDTH));
    assert_true(
        lf_frame_pyramid_fill(&pyramid, frame->data, frame->width, frame->width, frame->height));
    return pyramid;
}

char *scene_write_pgm(const char *folder, const char *name, const LfPlane *plane)
{
    char *path = g_build_filename(folder, name, NULL);
    g_autoptr(GString) bytes = g_string_new(NULL);
    g_string_printf(bytes, "P5\n%d %d\n255\n", plane->width, plane->height);
    g_string_append_len(bytes, (const char *)plane->data,
                        (gssize)plane->width * (gssize)plane->height);
    assert_true(g_file_set_contents(path, bytes->str, (gssize)bytes->len, NULL));
    return path;
}

char *scene_folder_new(void)
{
    char *folder = g_dir_make_tmp("lookfall-cast-XXXXXX", NULL);
    assert_non_null(folder);
    return folder;
}

void scene_folder_remove(char *folder)
{
    g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
    const char *name;
    while (dir && (name = g_dir_read_name(dir))) {
        g_autofree char *path = g_build_filename(folder, name, NULL);
        g_remove(path);
    }
    g_rmdir(folder);
    g_free(folder);
}
