/* Frames in their own YCbCr against ffmpeg's, and back into a file. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/video.h>

#include "video_samples.h"

/* All frames in YCbCr 4:2:0 as ffmpeg shows them, packed. */
static GBytes *yuv_reference(const char *path)
{
    g_autofree char *raw = video_samples_path("frames.yuv");
    g_autofree char *run = video_samples_run(
        "ffmpeg -v error -y -i %s -vsync passthrough -pix_fmt yuv420p -f rawvideo %s", path, raw);
    char *bytes = NULL;
    gsize n = 0;
    assert_true(g_file_get_contents(raw, &bytes, &n, NULL));
    return g_bytes_new_take(bytes, n);
}

static const struct {
    const char *file;
} YUV_ROWS[] = {{"h264.mp4"}, {"h264_vfr.mp4"}, {"yuv_turned.mp4"}, {"yuv_odd.mkv"}};

/* Samples of this test: turned by 90 degrees, and of odd size. */
static char *yuv_make(const char *file)
{
    if (strcmp(file, "yuv_turned.mp4") == 0) {
        g_autofree char *from = video_sample_make_named("h264.mp4");
        char *path = video_samples_path(file);
        g_autofree char *run = video_samples_run(
            "ffmpeg -v error -y -display_rotation 90 -i %s -c copy %s 2>/dev/null || "
            "ffmpeg -v error -y -i %s -c copy -metadata:s:v:0 rotate=90 %s",
            from, path, from, path);
        return path;
    }
    if (strcmp(file, "yuv_odd.mkv") == 0) {
        char *path = video_samples_path(file);
        g_autofree char *run = video_samples_run("ffmpeg -v error -y -f lavfi -i "
                                                 "testsrc2=s=202x134:r=25:d=0.4 -vf crop=201:133 "
                                                 "-pix_fmt yuv420p -c:v ffv1 %s",
                                                 path);
        return path;
    }
    return video_sample_make_named(file);
}

static void yuv_compare(const char *file, gsize n, const LfYuv *yuv, const uint8_t *want)
{
    for (int i = 0; i < 3; i++) {
        const int w = i > 0 ? (yuv->width + 1) / 2 : yuv->width;
        const int h = i > 0 ? (yuv->height + 1) / 2 : yuv->height;
        for (int y = 0; y < h; y++, want += w)
            if (memcmp(yuv->plane[i] + y * yuv->stride[i], want, (size_t)w) != 0)
                fail_msg("%s: frame %zu, plane %d, row %d is not as ffmpeg has it", file, (size_t)n,
                         i, y);
    }
}

/* The differences alone are those of the whole picture. */
static void yuv_compare_chroma(LfVideo *video, const LfYuv *yuv)
{
    LfChroma chroma;
    assert_true(lf_video_last_chroma(video, &chroma, NULL));
    assert_int_equal(chroma.width, (yuv->width + 1) / 2);
    assert_int_equal(chroma.height, (yuv->height + 1) / 2);
    for (int c = 0; c < 2; c++)
        for (int y = 0; y < chroma.height; y++)
            assert_memory_equal(chroma.plane[c] + y * chroma.stride[c],
                                yuv->plane[1 + c] + y * yuv->stride[1 + c], (size_t)chroma.width);
}

static void yuv_read(void **state)
{
    (void)state;
    for (gsize r = 0; r < G_N_ELEMENTS(YUV_ROWS); r++) {
        g_autofree char *path = yuv_make(YUV_ROWS[r].file);
        g_autoptr(GError) error = NULL;
        assert_non_null(path);
        g_autoptr(GBytes) reference = yuv_reference(path);
        g_autoptr(LfVideo) video = lf_video_open(path, 1, &error);
        assert_non_null(video);
        const LfVideoInfo *info = lf_video_info(video);
        g_autoptr(LfYuv) yuv = lf_yuv_new(info->width, info->height);
        const gsize half = (gsize)((info->width + 1) / 2) * (gsize)((info->height + 1) / 2);
        const gsize size = (gsize)info->width * (gsize)info->height + 2 * half;
        const uint8_t *want = g_bytes_get_data(reference, NULL);
        LfFrame frame;
        LfChroma chroma;
        bool got;
        gsize n = 0;
        assert_false(lf_video_last_chroma(video, &chroma, NULL));
        assert_false(lf_video_last_yuv(video, yuv, &error)); /* nothing was given yet */
        g_clear_error(&error);
        for (; lf_video_next(video, &frame, &got, &error) && got; n++) {
            assert_true(lf_video_last_yuv(video, yuv, &error));
            assert_true((n + 1) * size <= g_bytes_get_size(reference));
            yuv_compare(YUV_ROWS[r].file, n, yuv, want + n * size);
            yuv_compare_chroma(video, yuv);
            assert_false(yuv->colours.full_range);
        }
        assert_null(error);
        assert_int_equal(n * size, g_bytes_get_size(reference));
    }
}

/* 4:4:4, ten bits and RGB become 4:2:0 near to what ffmpeg makes of them. Its way of scaling chroma
 * is another one (bicubic), so planes are compared by their mean difference. */
static void yuv_converted(void **state)
{
    static const char *const files[] = {"h264_444_odd.mkv", "h264_10.mkv"};
    (void)state;

    for (gsize r = 0; r < G_N_ELEMENTS(files); r++) {
        g_autofree char *path = video_sample_make_named(files[r]);
        g_autoptr(GError) error = NULL;
        if (path == NULL)
            continue;
        g_autoptr(GBytes) reference = yuv_reference(path);
        g_autoptr(LfVideo) video = lf_video_open(path, 1, &error);
        const LfVideoInfo *info = lf_video_info(video);
        g_autoptr(LfYuv) yuv = lf_yuv_new(info->width, info->height);
        const uint8_t *want = g_bytes_get_data(reference, NULL);
        LfFrame frame;
        bool got;
        assert_true(lf_video_next(video, &frame, &got, &error) && got);
        assert_true(lf_video_last_yuv(video, yuv, &error));
        for (int i = 0; i < 3; i++) {
            const int w = i > 0 ? (yuv->width + 1) / 2 : yuv->width;
            const int h = i > 0 ? (yuv->height + 1) / 2 : yuv->height;
            int64_t sum = 0;
            for (int y = 0; y < h; y++, want += w)
                for (int x = 0; x < w; x++)
                    sum += ABS(yuv->plane[i][y * yuv->stride[i] + x] - want[x]);
            if (sum > (int64_t)w * h * 2)
                fail_msg("%s: plane %d is off by %.2f on average", files[r], i,
                         (double)sum / ((double)w * h));
        }
    }
}

static char *yuv_tags(const char *path)
{
    return video_samples_run("ffprobe -v error -select_streams v:0 -show_entries "
                             "stream=color_range,color_space,color_transfer,color_primaries "
                             "-of csv=p=0 %s",
                             path);
}

/* What is read is written: the same tags, and pictures as near as a good quality makes them. */
static void yuv_write(void **state)
{
    static const struct {
        LfVideoColours colours;
        const char *tags;
    } rows[] = {{{0, 0, 0, false}, "tv,bt709,bt709,bt709\n"},
                {{6, 6, 6, false}, "tv,smpte170m,smpte170m,smpte170m\n"},
                {{1, 1, 1, true}, "pc,bt709,bt709,bt709\n"}};
    (void)state;

    for (gsize r = 0; r < G_N_ELEMENTS(rows); r++) {
        g_autofree char *path = video_samples_path("yuv_written.mp4");
        g_autoptr(GError) error = NULL;
        const LfVideoWriterOptions options = {.width = 64,
                                              .height = 48,
                                              .frame_rate = 25,
                                              .key_interval = 10,
                                              .quality = 1,
                                              .threads = 1,
                                              .colours = rows[r].colours};
        g_autoptr(LfVideoWriter) writer = lf_video_writer_new(path, &options, &error);
        g_autoptr(LfYuv) yuv = lf_yuv_new(64, 48), other = lf_yuv_new(64, 50);
        assert_non_null(writer);
        for (int i = 0; i < 3; i++)
            for (int y = 0; y < (i > 0 ? 24 : 48); y++)
                for (int x = 0; x < (i > 0 ? 32 : 64); x++)
                    yuv->plane[i][y * yuv->stride[i] + x] = (uint8_t)(60 + 40 * i + x + y);
        assert_true(lf_video_writer_add_yuv(writer, 0, yuv, &error));
        assert_false(lf_video_writer_add_yuv(writer, 40000, other, &error)); /* another size */
        assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_USAGE));
        g_clear_error(&error);
        assert_true(lf_video_writer_add_yuv(writer, 40000, yuv, &error));
        assert_true(lf_video_writer_finish(writer, &error));
        g_autofree char *tags = yuv_tags(path);
        assert_string_equal(tags, rows[r].tags);

        g_autoptr(LfVideo) video = lf_video_open(path, 1, &error);
        g_autoptr(LfYuv) back = lf_yuv_new(64, 48);
        LfFrame frame;
        bool got;
        assert_true(lf_video_next(video, &frame, &got, &error) && got);
        assert_true(lf_video_last_yuv(video, back, &error));
        assert_int_equal(back->colours.full_range, rows[r].colours.full_range);
        for (int i = 0; i < 3; i++)
            for (int y = 0; y < (i > 0 ? 24 : 48); y++)
                for (int x = 0; x < (i > 0 ? 32 : 64); x++)
                    assert_in_range(back->plane[i][y * back->stride[i] + x],
                                    60 + 40 * i + x + y - 3, 60 + 40 * i + x + y + 3);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(yuv_read),
        cmocka_unit_test(yuv_converted),
        cmocka_unit_test(yuv_write),
    };
    return cmocka_run_group_tests_name("video/yuv", tests, video_samples_setup,
                                       video_samples_teardown);
}
