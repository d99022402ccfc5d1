/* Faces: found, followed, and made unrecognisable. The detectors are OpenCV's (Debian's
 * opencv-data); the face is drawn here and is nobody's. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include "film/face.h"
#include "film/film_blur.h"
#include "film/film_detect.h"
#include "film/film_faces.h"

enum { WIDTH = 640, HEIGHT = 400, FACE = 90, FRAMES = 60 };

static void ground(uint8_t *luma, int width, int height)
{
    for (int y = 0; y < height; y++)
        for (int x = 0; x < width; x++)
            luma[y * width + x] = (uint8_t)(70 + 20 * sin(x * 0.011) + 15 * cos(y * 0.017));
}

/* A walk of which only the video counts. */
static void data_of(FilmData *data, LfStudyWalk *walk, char *video, int64_t end_us)
{
    *walk = (LfStudyWalk){.video = video,
                          .width_px = WIDTH,
                          .height_px = HEIGHT,
                          .frames = FRAMES,
                          .end_us = end_us,
                          .interval_us = 20000,
                          .lens = lf_lens_plain(WIDTH, HEIGHT)};
    *data = (FilmData){.walk = walk};
}

static void test_find(void **state)
{
    static const struct {
        double x, y;
        int size;
    } rows[] = {{50, 40, 32}, {400, 200, 48}, {200, 100, 90}, {500, 20, 120}, {100, 90, 240}};
    LfStudyWalk walk;
    FilmData data;
    g_autoptr(GError) error = NULL;
    (void)state;

    data_of(&data, &walk, NULL, 1);
    g_autoptr(FilmDetect) detect = film_detect_new(&data, 1, 2, &error);
    if (detect == NULL)
        fail_msg("%s", error->message);
    for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
        g_autofree uint8_t *luma = g_malloc(WIDTH * HEIGHT);
        g_autoptr(GArray) boxes = g_array_new(FALSE, FALSE, sizeof(LfShimFace));
        const LfShimImage picture = {luma, WIDTH, HEIGHT, WIDTH};
        ground(luma, WIDTH, HEIGHT);
        assert_true(film_detect_find(detect, &picture, 0, boxes, &error));
        assert_int_equal(boxes->len, 0); /* nothing there yet */
        face_draw(luma, WIDTH, HEIGHT, WIDTH, rows[i].x, rows[i].y, rows[i].size, 1);
        assert_true(film_detect_find(detect, &picture, 0, boxes, &error));
        assert_int_equal(boxes->len, 1);
        const LfShimBox *box = &g_array_index(boxes, LfShimFace, 0).box;
        /* With the room that is blurred around it, it holds the skin (ellipse of face_draw). */
        const double size = rows[i].size, cx = box->x + box->w / 2, cy = box->y + box->h / 2;
        assert_true(fabs(rows[i].x + 0.5 * size - cx) + 0.3 * size < 1.9 / 2 * box->w);
        assert_true(fabs(rows[i].y + 0.56 * size - cy) + 0.4 * size < 2.2 / 2 * box->h);
        /* Two detectors see it, and the box holds what both of them say. */
        if (box->w < 0.6 * rows[i].size || box->w > 1.5 * rows[i].size)
            fail_msg("a face of %d px is found with %.0f px", rows[i].size, box->w);
    }
}

/* The photo itself shows a face: where the frame is the photo it is none of a bystander's. */
static void test_photo_is_none(void **state)
{
    g_autofree char *folder = g_dir_make_tmp("lookfall-faces-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "photo.pgm", NULL);
    g_autofree uint8_t *luma = g_malloc(WIDTH * HEIGHT);
    const LfShimImage picture = {luma, WIDTH, HEIGHT, WIDTH};
    g_autoptr(GArray) boxes = g_array_new(FALSE, FALSE, sizeof(LfShimFace));
    LfStudyWalk walk;
    FilmData data;
    (void)state;

    ground(luma, WIDTH, HEIGHT);
    face_draw(luma, WIDTH, HEIGHT, WIDTH, 300, 150, FACE, 1);
    g_autoptr(GString) pgm = g_string_new(NULL);
    g_string_printf(pgm, "P5\n%d %d\n255\n", WIDTH, HEIGHT);
    g_string_append_len(pgm, (const char *)luma, WIDTH * HEIGHT);
    assert_true(g_file_set_contents(path, pgm->str, (gssize)pgm->len, NULL));

    FilmPhoto photo = {.name = (char *)"p", .path = path, .width = WIDTH, .height = HEIGHT};
    FilmPose pose = {.t_us = 40000, .photo = 0, .frame_from_photo = lf_mat3_identity()};
    data_of(&data, &walk, NULL, 1);
    data.photos = &photo;
    data.n_photos = 1;
    data.poses = &pose;
    data.n_poses = 1;
    g_autoptr(FilmDetect) detect = film_detect_new(&data, 1, 1, NULL);
    assert_non_null(detect);
    assert_true(film_detect_find(detect, &picture, 40000, boxes, NULL));
    assert_int_equal(boxes->len, 0);
    /* In a frame without a pose nothing tells that it is the photo. */
    assert_true(film_detect_find(detect, &picture, 80000, boxes, NULL));
    assert_int_equal(boxes->len, 1);
    /* A second face, in front of it, is found and the printed one is still left alone. */
    g_array_set_size(boxes, 0);
    face_draw(luma, WIDTH, HEIGHT, WIDTH, 60, 60, FACE, 1);
    assert_true(film_detect_find(detect, &picture, 40000, boxes, NULL));
    assert_int_equal(boxes->len, 1);
    assert_true(g_array_index(boxes, LfShimFace, 0).box.x < 200);
    g_unlink(path);
    g_rmdir(folder);
}

/* Where the face is in frame n: it walks, and for 0.3 s it has no features that could be found. */
static void face_at(int n, double *x, double *y, int *eyes)
{
    *x = 40 + 7.0 * n;
    *y = 120 + 60 * sin(n * 0.1);
    *eyes = n < 26 || n >= 34;
}

static void test_follow(void **state)
{
    g_autofree char *folder = g_dir_make_tmp("lookfall-faces-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "face.mp4", NULL);
    const LfVideoWriterOptions options = {.width = WIDTH,
                                          .height = HEIGHT,
                                          .frame_rate = 25,
                                          .key_interval = 25,
                                          .quality = 15,
                                          .preset = "ultrafast",
                                          .threads = 1};
    const LfFilmOptions film = {.threads = 2};
    g_autoptr(LfVideoWriter) writer = lf_video_writer_new(path, &options, NULL);
    g_autoptr(LfYuv) frame = lf_yuv_new(WIDTH, HEIGHT);
    g_autofree uint8_t *luma = g_malloc(WIDTH * HEIGHT);
    LfStudyWalk walk;
    FilmData data;
    (void)state;

    for (int n = 0; n < FRAMES; n++) {
        double x, y;
        int eyes;
        face_at(n, &x, &y, &eyes);
        ground(luma, WIDTH, HEIGHT);
        face_draw(luma, WIDTH, HEIGHT, WIDTH, x, y, FACE, eyes);
        for (int v = 0; v < HEIGHT; v++)
            memcpy(frame->plane[0] + v * frame->stride[0], luma + v * WIDTH, WIDTH);
        assert_true(lf_video_writer_add_yuv(writer, n * 40000, frame, NULL));
    }
    assert_true(lf_video_writer_finish(writer, NULL));
    data_of(&data, &walk, path, FRAMES * 40000);
    g_autoptr(FilmFaces) faces = film_faces_find(&data, 0, INT64_MAX, &film, NULL);
    assert_non_null(faces);
    for (int n = 0; n < FRAMES; n++) {
        double x, y;
        int eyes, kept = 0, all = 0, outside = 0;
        face_at(n, &x, &y, &eyes);
        for (int v = 0; v < HEIGHT; v++) /* a fine pattern: what is blurred has lost it */
            for (int u = 0; u < WIDTH; u++)
                frame->plane[0][v * frame->stride[0] + u] = (u + v) % 2 ? 60 : 200;
        if (!film_faces_blur(faces, frame, n * 40000))
            fail_msg("nothing is blurred in frame %d", n);
        for (int v = 0; v < HEIGHT; v++)
            for (int u = 0; u < WIDTH; u++) {
                const double dx = (u - x) / FACE * 2 - 1, dy = (v - y) / FACE * 2 - 1;
                const int value = frame->plane[0][v * frame->stride[0] + u];
                const bool sharp = value == 60 || value == 200;
                if (dx * dx / 0.36 + (dy - 0.12) * (dy - 0.12) / 0.64 < 1) { /* skin */
                    all++;
                    kept += sharp;
                } else if (dx * dx + dy * dy > 16) {
                    outside += !sharp;
                }
            }
        if (kept > 0.02 * all || outside > 0)
            fail_msg("frame %d: %d of %d px of the face are sharp, %d px far off are not", n, kept,
                     all, outside);
    }
    g_unlink(path);
    g_rmdir(folder);
}

static void test_blur(void **state)
{
    (void)state;
    g_autoptr(LfYuv) frame = lf_yuv_new(WIDTH, HEIGHT);
    guint32 seed = 3;
    int values[256] = {0}, different = 0;

    for (int v = 0; v < HEIGHT; v++)
        for (int u = 0; u < WIDTH; u++) {
            seed = seed * 1664525u + 1013904223u; /* Numerical Recipes' constants */
            frame->plane[0][v * frame->stride[0] + u] = (uint8_t)(seed >> 24);
        }
    g_autofree uint8_t *before = g_memdup2(frame->plane[0], (gsize)(HEIGHT * frame->stride[0]));
    film_blur_ellipse(frame, 200, 100, 140, 140);
    for (int v = 0; v < HEIGHT; v++)
        for (int u = 0; u < WIDTH; u++) {
            const double dx = (u + 0.5 - 270) / 70, dy = (v + 0.5 - 170) / 70;
            const ptrdiff_t at = v * frame->stride[0] + u;
            if (dx * dx + dy * dy <= 1)
                values[frame->plane[0][at]]++;
            else
                assert_int_equal(frame->plane[0][at], before[at]);
        }
    for (int i = 0; i < 256; i++)
        different += values[i] > 0;
    assert_in_range(different, 2, 49); /* 7 x 7 cells are all that is left */
    /* Half outside, and nowhere. */
    film_blur_ellipse(frame, -50, -60, 100, 140);
    film_blur_ellipse(frame, WIDTH - 20, HEIGHT - 20, 100, 140);
    film_blur_ellipse(frame, 5000, 5000, 100, 140);
    film_blur_ellipse(frame, 10, 10, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_find),
        cmocka_unit_test(test_photo_is_none),
        cmocka_unit_test(test_follow),
        cmocka_unit_test(test_blur),
    };
    return cmocka_run_group_tests_name("film/faces", tests, NULL, NULL);
}
