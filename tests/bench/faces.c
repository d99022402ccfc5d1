/* faces VIDEO [HEIGHT...]: how well faces are covered, and how much else is.
 *
 * The video's faces are looked for as it is, and once more with drawn heads (nobody's; from the
 * front) of each height in px wandering over it, two of each. Printed are the share of the picture
 * that is blurred and the processor time of a frame in the video as it is, and by height the share
 * of frames in which 98 of 100 px of the skin are blurred. Without poses, so that nothing is left
 * out as being the photo. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <glib/gstdio.h>

#include "film/face.h"
#include "film/film_faces.h"
#include "film/film_source.h"

enum { FACES_MOST = 8, FACES_EACH = 2 };
/* A fine pattern: what is blurred has lost it. */
enum { FACES_DARK = 60, FACES_LIGHT = 200 };

typedef struct {
    int heights[FACES_MOST], n;
    int covered[FACES_MOST], frames;
    double blurred; /* sum of shares over the frames */
} Faces;

static void faces_die(const GError *error)
{
    fprintf(stderr, "faces: %s\n", error != NULL ? error->message : "that did not work");
    exit(1);
}

/* Where a head is: to and fro in a row of its own. */
static void faces_at(const Faces *f, int which, int frame, const LfVideoInfo *info, double *x,
                     double *y)
{
    const int rows = f->n * FACES_EACH;
    const double height = f->heights[which % f->n];
    *x = (info->width - height) * (0.5 + 0.42 * sin(frame * 0.012 * (1 + which % 3) + which));
    *y = (info->height - height) * (which + 0.5) / rows;
}

static void faces_film(const Faces *f, const char *from, const char *to)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(LfVideo) video = lf_video_open(from, 2, &error);
    if (video == NULL)
        faces_die(error);
    const LfVideoInfo *info = lf_video_info(video);
    const LfVideoWriterOptions options = {.width = info->width,
                                          .height = info->height,
                                          .frame_rate = 25,
                                          .key_interval = 25,
                                          .quality = 20,
                                          .preset = "ultrafast",
                                          .threads = 2};
    g_autoptr(LfVideoWriter) writer = lf_video_writer_new(to, &options, &error);
    g_autoptr(LfYuv) yuv = lf_yuv_new(info->width, info->height);
    LfFrame frame;
    bool got = writer != NULL;
    for (int n = 0; got; n++) {
        if (!lf_video_next(video, &frame, &got, &error))
            break;
        if (!got)
            break;
        if (!lf_video_last_yuv(video, yuv, &error))
            break;
        for (int i = 0; i < f->n * FACES_EACH; i++) {
            double x, y;
            faces_at(f, i, n, info, &x, &y);
            face_draw(yuv->plane[0], info->width, info->height, yuv->stride[0], x, y,
                      f->heights[i % f->n], 1);
        }
        if (!lf_video_writer_add_yuv(writer, frame.t_us, yuv, &error))
            break;
    }
    if (error != NULL || writer == NULL || !lf_video_writer_finish(writer, &error))
        faces_die(error);
}

static bool faces_blurred(const LfYuv *yuv, int x, int y)
{
    const int value = yuv->plane[0][y * yuv->stride[0] + x];
    return value != FACES_DARK && value != FACES_LIGHT;
}

static bool faces_covered(const LfYuv *yuv, double x, double y, int height)
{
    int all = 0, sharp = 0;
    for (int v = 0; v < height; v++)
        for (int u = 0; u < height; u++) {
            const double dx = 2.0 * u / height - 1, dy = 2.0 * v / height - 1;
            if (dx * dx / 0.36 + (dy - 0.12) * (dy - 0.12) / 0.64 >= 1)
                continue;
            all++;
            sharp += !faces_blurred(yuv, (int)lround(x) + u, (int)lround(y) + v);
        }
    return sharp <= 0.02 * all;
}

/* Counts over the frames of the video; returns processor seconds of the search. */
static double faces_measure(Faces *f, const char *path)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(LfVideo) video = lf_video_open(path, 2, &error);
    if (video == NULL)
        faces_die(error);
    const LfVideoInfo *info = lf_video_info(video);
    char *name = g_strdup(path);
    LfStudyWalk walk = {.video = name,
                        .width_px = info->width,
                        .height_px = info->height,
                        .frames = 1,
                        .end_us = INT64_MAX,
                        .interval_us = 40000,
                        .lens = lf_lens_plain(info->width, info->height)};
    const FilmData data = {.walk = &walk};
    const LfFilmOptions options = {.threads = 2};
    g_autoptr(LfYuv) yuv = lf_yuv_new(info->width, info->height);
    const clock_t start = clock();
    g_autoptr(FilmFaces) faces = film_faces_find(&data, 0, INT64_MAX, &options, &error);
    const double cpu_s = (double)(clock() - start) / CLOCKS_PER_SEC;
    LfFrame frame;
    bool got = true;
    if (faces == NULL)
        faces_die(error);
    for (f->frames = 0; lf_video_next(video, &frame, &got, &error) && got; f->frames++) {
        int64_t n = 0;
        for (int y = 0; y < info->height; y++)
            for (int x = 0; x < info->width; x++)
                yuv->plane[0][y * yuv->stride[0] + x] = (x + y) % 2 ? FACES_DARK : FACES_LIGHT;
        film_faces_blur(faces, yuv, frame.t_us);
        for (int y = 0; y < info->height; y++)
            for (int x = 0; x < info->width; x++)
                n += faces_blurred(yuv, x, y);
        f->blurred += (double)n / info->width / info->height;
        for (int i = 0; i < f->n * FACES_EACH; i++) {
            double x, y;
            faces_at(f, i, f->frames, info, &x, &y);
            f->covered[i % f->n] += faces_covered(yuv, x, y, f->heights[i % f->n]);
        }
    }
    g_free(name);
    if (error != NULL || f->frames == 0)
        faces_die(error);
    return cpu_s;
}

int main(int argc, char **argv)
{
    Faces none = {0}, some = {.heights = {32, 44, 60, 75, 90, 120}, .n = 6};
    g_autofree char *folder = g_dir_make_tmp("lookfall-faces-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "faces.mp4", NULL);

    if (argc < 2 || argc - 2 > FACES_MOST || folder == NULL) {
        fprintf(stderr, "Usage: faces VIDEO [HEIGHT...]\n");
        return 2;
    }
    for (int i = 2; i < argc; i++) {
        some.n = argc - 2;
        some.heights[i - 2] = atoi(argv[i]);
    }
    const double cpu_s = faces_measure(&none, argv[1]);
    printf("as it is: %.1f%% of the picture blurred, %.0f ms of processor a frame\n",
           100 * none.blurred / none.frames, 1000 * cpu_s / none.frames);
    faces_film(&some, argv[1], path);
    faces_measure(&some, path);
    for (int i = 0; i < some.n; i++)
        printf("heads of %d px: covered in %.1f%% of frames\n", some.heights[i],
               100.0 * some.covered[i] / FACES_EACH / some.frames);
    g_unlink(path);
    g_rmdir(folder);
    return 0;
}
