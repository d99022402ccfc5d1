/* Videos written: times against ffprobe, colours against what was put in, nothing half-written. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>
#include <sys/resource.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include <lookfall/video.h>

#include "video_samples.h"

enum { WRITE_WIDTH = 160, WRITE_HEIGHT = 96, WRITE_FRAMES = 60 };

static const LfVideoWriterOptions WRITE_OPTIONS = {.width = WRITE_WIDTH,
                                                   .height = WRITE_HEIGHT,
                                                   .frame_rate = 25.0,
                                                   .key_interval = 12,
                                                   .quality = 18,
                                                   .threads = 2};

/* Irregular: 40.001 ms apart, now and then a third of a second, also before the last frames. */
static int64_t write_time_us(int n)
{
    return (int64_t)n * 40001 + (int64_t)(n / 7) * 293332 + (n > 55 ? (n - 55) * 333333 : 0);
}

/* Six fields of plain colour, so that chroma subsampling does not matter inside each. */
static const uint8_t WRITE_COLOURS[6][3] = {{255, 0, 0},     {0, 255, 0},  {0, 0, 255},
                                            {255, 255, 255}, {16, 16, 16}, {200, 120, 40}};

static void write_picture(uint8_t *rgb, gsize stride)
{
    for (gsize y = 0; y < WRITE_HEIGHT; y++)
        for (gsize x = 0; x < WRITE_WIDTH; x++)
            memcpy(rgb + y * stride + 3 * x, WRITE_COLOURS[x * 6 / WRITE_WIDTH], 3);
}

static bool write_video(const char *path, const LfVideoWriterOptions *options, int n_frames,
                        bool finish, GError **error)
{
    const gsize stride = 3 * WRITE_WIDTH + 7;
    g_autofree uint8_t *rgb = g_malloc(stride * WRITE_HEIGHT);
    g_autoptr(LfVideoWriter) writer = lf_video_writer_new(path, options, error);

    write_picture(rgb, stride);
    if (writer == NULL)
        return false;
    for (int n = 0; n < n_frames; n++)
        if (!lf_video_writer_add(writer, write_time_us(n), rgb, (ptrdiff_t)stride, error))
            return false;
    return !finish || lf_video_writer_finish(writer, error);
}

static void write_times(void **state)
{
    static const struct {
        const char *file;
        int64_t start_us, tick_us;
    } ROWS[] = {{"a.mp4", 0, 1},        {"b.mp4", 5000123, 1},       {"c.mov", 7999999, 1},
                {"d.mkv", 0, 1000},     {"e.mkv", 3600000000, 1000}, {"f.mp4", 3600000001, 1},
                {"g.m4v", 123456789, 1}};
    (void)state;

    for (gsize i = 0; i < G_N_ELEMENTS(ROWS); i++) {
        g_autofree char *path = video_samples_path(ROWS[i].file);
        g_autofree char *part = g_strconcat(path, ".part", NULL);
        g_autoptr(GError) error = NULL;
        LfVideoWriterOptions options = WRITE_OPTIONS;
        options.start_us = ROWS[i].start_us;
        if (!write_video(path, &options, WRITE_FRAMES, true, &error))
            fail_msg("%s", error->message);
        assert_false(g_file_test(part, G_FILE_TEST_EXISTS));

        g_autoptr(VideoFacts) facts = video_sample_facts(path, false);
        const GArray *times = facts->times_us;
        assert_int_equal(times->len, WRITE_FRAMES);
        for (int n = 0; n < WRITE_FRAMES; n++) {
            const int64_t want = ROWS[i].start_us + write_time_us(n);
            const int64_t tick = ROWS[i].tick_us;
            assert_int_equal(g_array_index(times, int64_t, n), (want + tick / 2) / tick * tick);
        }

        g_autoptr(LfVideoIndex) index = lf_video_index_new(path, &error);
        assert_non_null(index);
        assert_int_equal(index->n_frames, WRITE_FRAMES);
        assert_true(index->n_keys >= WRITE_FRAMES / 12);
        assert_int_equal(index->info.stamp_zero_us, (ROWS[i].start_us + ROWS[i].tick_us / 2) /
                                                        ROWS[i].tick_us * ROWS[i].tick_us);
    }
}

static void write_colours(void **state)
{
    (void)state;
    g_autofree char *path = video_samples_path("colours.mp4");
    g_autoptr(GError) error = NULL;
    assert_true(write_video(path, &WRITE_OPTIONS, 5, true, &error));

    g_autofree char *tags = video_samples_run(
        "ffprobe -v error -select_streams v:0 -show_entries "
        "stream=codec_name,pix_fmt,color_range,color_space,color_transfer,color_primaries "
        "-of csv=p=0 %s",
        path);
    assert_string_equal(tags, "h264,yuv420p,tv,bt709,bt709,bt709\n");

    g_autoptr(LfVideo) video = lf_video_open(path, 1, &error);
    g_autofree uint8_t *rgb = g_malloc(3 * WRITE_WIDTH * WRITE_HEIGHT);
    LfFrame frame;
    bool got = false;
    assert_true(lf_video_next(video, &frame, &got, &error) && got);
    assert_true(lf_video_last_rgb(video, rgb, &error));
    for (int field = 0; field < 6; field++) {
        const int x = (2 * field + 1) * WRITE_WIDTH / 12, y = WRITE_HEIGHT / 2;
        const uint8_t *colour = WRITE_COLOURS[field];
        /* BT.709's luma weights, limited range: ITU-R BT.709-6, items 3.2 and 3.4. */
        const double luma =
            16.5 + 219.0 / 255.0 * (0.2126 * colour[0] + 0.7152 * colour[1] + 0.0722 * colour[2]);
        const int got_luma = frame.luma[y * frame.stride + x];
        /* Two steps of quantisation at CRF 18 on a plain field. */
        if (ABS(got_luma - (int)luma) > 2)
            fail_msg("field %d: luma %d, expected %d", field, got_luma, (int)luma);
        for (int c = 0; c < 3; c++) {
            const int value = rgb[3 * (y * WRITE_WIDTH + x) + c];
            if (ABS(value - colour[c]) > 5)
                fail_msg("field %d: colour %d is %d, expected %d", field, c, value, colour[c]);
        }
    }
}

static void write_same_twice(void **state)
{
    (void)state;
    g_autofree char *a = video_samples_path("same_a.mp4"), *b = video_samples_path("same_b.mp4");
    g_autofree char *bytes_a = NULL, *bytes_b = NULL;
    gsize size_a = 0, size_b = 0;

    assert_true(write_video(a, &WRITE_OPTIONS, 20, true, NULL));
    assert_true(write_video(b, &WRITE_OPTIONS, 20, true, NULL));
    assert_true(g_file_get_contents(a, &bytes_a, &size_a, NULL));
    assert_true(g_file_get_contents(b, &bytes_b, &size_b, NULL));
    assert_int_equal(size_a, size_b);
    assert_memory_equal(bytes_a, bytes_b, size_a);
}

static void write_leaves_nothing_unfinished(void **state)
{
    (void)state;
    g_autofree char *path = video_samples_path("kept.mp4");
    g_autofree char *part = g_strconcat(path, ".part", NULL);
    g_autofree char *content = NULL;

    assert_true(write_video(path, &WRITE_OPTIONS, 30, false, NULL));
    assert_false(g_file_test(path, G_FILE_TEST_EXISTS));
    assert_false(g_file_test(part, G_FILE_TEST_EXISTS));

    /* What was there before stays until the new file is whole. */
    assert_true(g_file_set_contents(path, "earlier", -1, NULL));
    assert_true(write_video(path, &WRITE_OPTIONS, 30, false, NULL));
    assert_true(g_file_get_contents(path, &content, NULL, NULL));
    assert_string_equal(content, "earlier");
    assert_true(write_video(path, &WRITE_OPTIONS, 30, true, NULL));
    g_autoptr(LfVideoIndex) index = lf_video_index_new(path, NULL);
    assert_non_null(index);
    assert_int_equal(index->n_frames, 30);
}

/* A limit on the size of files stands in for a full disk: at any byte, also those of the trailer,
 * the caller is told and nothing is left. */
static void write_full_disk(void **state)
{
    (void)state;
    g_autofree char *path = video_samples_path("full.mp4");
    g_autofree char *part = g_strconcat(path, ".part", NULL);
    struct rlimit before;
    GStatBuf whole;

    assert_true(write_video(path, &WRITE_OPTIONS, 30, true, NULL));
    assert_int_equal(g_stat(path, &whole), 0);
    assert_int_equal(g_remove(path), 0);
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    assert_ptr_not_equal(signal(SIGXFSZ, SIG_IGN), SIG_ERR);
    for (int missing = 1; missing < whole.st_size; missing = missing * 3 + 1) {
        const struct rlimit limit = {(rlim_t)(whole.st_size - missing), before.rlim_max};
        g_autoptr(GError) error = NULL;
        assert_int_equal(setrlimit(RLIMIT_FSIZE, &limit), 0);
        const bool written = write_video(path, &WRITE_OPTIONS, 30, true, &error);
        assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
        assert_false(written);
        assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_MACHINE));
        assert_false(g_file_test(path, G_FILE_TEST_EXISTS));
        assert_false(g_file_test(part, G_FILE_TEST_EXISTS));
    }
}

static void write_refuses(void **state)
{
    static const struct {
        const char *file;
        int width, height, key_interval, quality, threads;
        double frame_rate;
        const char *preset;
        int64_t start_us;
        LfErrorCode code;
    } ROWS[] = {
        {"x.mp4", 161, 96, 12, 18, 1, 25.0, NULL, 0, LF_ERROR_USAGE},
        {"x.mp4", 160, 95, 12, 18, 1, 25.0, NULL, 0, LF_ERROR_USAGE},
        {"x.mp4", 0, 0, 12, 18, 1, 25.0, NULL, 0, LF_ERROR_USAGE},
        {"x.mp4", 160, 96, 0, 18, 1, 25.0, NULL, 0, LF_ERROR_USAGE},
        {"x.mp4", 160, 96, 12, 52, 1, 25.0, NULL, 0, LF_ERROR_USAGE},
        {"x.mp4", 160, 96, 12, -1, 1, 25.0, NULL, 0, LF_ERROR_USAGE},
        {"x.mp4", 160, 96, 12, 18, 0, 25.0, NULL, 0, LF_ERROR_USAGE},
        {"x.mp4", 160, 96, 12, 18, 1, 0.0, NULL, 0, LF_ERROR_USAGE},
        {"x.mp4", 160, 96, 12, 18, 1, 25.0, "hasty", 0, LF_ERROR_USAGE},
        {"x.mp4", 160, 96, 12, 18, 1, 25.0, NULL, -1, LF_ERROR_USAGE},
        {"x.avi", 160, 96, 12, 18, 1, 25.0, NULL, 0, LF_ERROR_USAGE},
        {"x", 160, 96, 12, 18, 1, 25.0, NULL, 0, LF_ERROR_USAGE},
        {"missing/x.mp4", 160, 96, 12, 18, 1, 25.0, NULL, 0, LF_ERROR_MACHINE},
    };
    (void)state;

    for (gsize i = 0; i < G_N_ELEMENTS(ROWS); i++) {
        g_autofree char *path = video_samples_path(ROWS[i].file);
        g_autoptr(GError) error = NULL;
        const LfVideoWriterOptions options = {.width = ROWS[i].width,
                                              .height = ROWS[i].height,
                                              .frame_rate = ROWS[i].frame_rate,
                                              .key_interval = ROWS[i].key_interval,
                                              .quality = ROWS[i].quality,
                                              .preset = ROWS[i].preset,
                                              .threads = ROWS[i].threads,
                                              .start_us = ROWS[i].start_us};
        LfVideoWriter *writer = lf_video_writer_new(path, &options, &error);
        assert_null(writer);
        if (!g_error_matches(error, LF_ERROR, (gint)ROWS[i].code))
            fail_msg("row %zu: %s", (size_t)i, error->message);
        assert_false(g_file_test(path, G_FILE_TEST_EXISTS));
    }
}

static void write_refuses_times(void **state)
{
    (void)state;
    g_autofree char *path = video_samples_path("times.mp4");
    g_autoptr(GError) error = NULL;
    g_autofree uint8_t *rgb = g_malloc0(3 * WRITE_WIDTH * WRITE_HEIGHT);
    g_autoptr(LfVideoWriter) writer = lf_video_writer_new(path, &WRITE_OPTIONS, &error);
    const ptrdiff_t stride = 3 * WRITE_WIDTH;

    assert_non_null(writer);
    assert_false(lf_video_writer_finish(writer, &error)); /* not one frame */
    g_clear_error(&error);
    assert_false(lf_video_writer_add(writer, -1, rgb, stride, &error));
    g_clear_error(&error);
    assert_true(lf_video_writer_add(writer, 10, rgb, stride, &error));
    assert_false(lf_video_writer_add(writer, 10, rgb, stride, &error)); /* not later */
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_USAGE));
    g_clear_error(&error);
    assert_false(lf_video_writer_add(writer, 20, rgb, stride - 1, &error));
    g_clear_error(&error);
    assert_true(lf_video_writer_add(writer, 11, rgb, stride, &error));
    assert_true(lf_video_writer_finish(writer, &error));
    assert_false(lf_video_writer_add(writer, 30, rgb, stride, &error)); /* finished */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(write_times),         cmocka_unit_test(write_colours),
        cmocka_unit_test(write_same_twice),    cmocka_unit_test(write_leaves_nothing_unfinished),
        cmocka_unit_test(write_full_disk),     cmocka_unit_test(write_refuses),
        cmocka_unit_test(write_refuses_times),
    };
    return cmocka_run_group_tests_name("video/write", tests, video_samples_setup,
                                       video_samples_teardown);
}
