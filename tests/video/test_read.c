/* Frames, times and pixels of the reader against ffprobe and ffmpeg, for every kind of sample. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/video.h>

#include "video_samples.h"

/* swscale's fixed-point gray of RGB is not the rounded formula: measured difference at most 1 on
 * this sample. */
enum { READ_RGB_TOLERANCE = 1 };

static void read_compare_picture(const VideoSample *sample, gsize n, const LfFrame *frame,
                                 const uint8_t *expected)
{
    const int tolerance = sample->luma == VIDEO_LUMA_RGB ? READ_RGB_TOLERANCE : 0;

    for (int y = 0; y < frame->height; y++) {
        const uint8_t *got = frame->luma + y * frame->stride;
        const uint8_t *want = expected + (gsize)y * (gsize)frame->width;
        if (memcmp(got, want, (size_t)frame->width) == 0)
            continue;
        for (int x = 0; x < frame->width; x++)
            if (ABS((int)got[x] - (int)want[x]) > tolerance)
                fail_msg("%s: frame %zu (%d, %d) is %d, ffmpeg says %d", sample->file, (size_t)n, x,
                         y, got[x], want[x]);
    }
}

static void read_with_threads(const VideoSample *sample, const char *path, int threads,
                              const VideoFacts *facts, GBytes *luma)
{
    const GArray *times = facts->times_us;
    g_autoptr(GError) error = NULL;
    g_autoptr(LfVideo) video = lf_video_open(path, threads, &error);
    if (video == NULL)
        fail_msg("%s", error->message);

    const LfVideoInfo *info = lf_video_info(video);
    const gsize picture = (gsize)info->width * (gsize)info->height;
    assert_int_equal(g_bytes_get_size(luma), picture * times->len);
    assert_int_equal(info->stamp_zero_us, facts->start_us);
    assert_int_equal(info->rotation, facts->rotation);

    const uint8_t *expected = g_bytes_get_data(luma, NULL);
    gsize n = 0;
    LfFrame frame;
    bool got = true;
    while (lf_video_next(video, &frame, &got, &error) && got) {
        assert_true(n < times->len);
        assert_int_equal(frame.t_us + info->stamp_zero_us, g_array_index(times, int64_t, n));
        assert_int_equal(frame.width, info->width);
        assert_int_equal(frame.height, info->height);
        read_compare_picture(sample, n, &frame, expected + n * picture);
        n++;
    }
    assert_null(error);
    assert_int_equal(n, times->len);
    assert_int_equal(lf_video_damaged(video), 0);
    /* The end is an end, however often one asks. */
    assert_true(lf_video_next(video, &frame, &got, &error));
    assert_false(got);
}

/* A sparse reader gives some of the frames, each as the whole reader gives it. */
static void read_sparse_check(const VideoSample *sample, const char *path, const VideoFacts *facts,
                              GBytes *luma)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(LfVideo) video = lf_video_open(path, 1, &error);
    assert_non_null(video);
    const LfVideoInfo *info = lf_video_info(video);
    const gsize picture = (gsize)info->width * (gsize)info->height;
    const uint8_t *expected = g_bytes_get_data(luma, NULL);
    gsize n = 0, given = 0;
    LfFrame frame;
    bool got = true;
    lf_video_set_sparse(video, true);
    while (lf_video_next(video, &frame, &got, &error) && got) {
        while (n < facts->times_us->len &&
               g_array_index(facts->times_us, int64_t, n) < frame.t_us + info->stamp_zero_us)
            n++;
        assert_true(n < facts->times_us->len);
        assert_int_equal(frame.t_us + info->stamp_zero_us,
                         g_array_index(facts->times_us, int64_t, n));
        read_compare_picture(sample, n, &frame, expected + n * picture);
        given++;
    }
    assert_null(error);
    assert_in_range(given, 1, facts->times_us->len);
    assert_int_equal(given + (gsize)lf_video_damaged(video), facts->times_us->len);
}

static void read_check(void **state)
{
    const VideoSample *sample = *state;
    g_autofree char *path = video_sample_make(sample);
    if (path == NULL)
        skip();
    g_autoptr(VideoFacts) facts = video_sample_facts(path, sample->decoding_times);
    g_autoptr(GBytes) luma = video_sample_luma(sample, path);

    assert_true(facts->times_us->len > 20);
    read_with_threads(sample, path, 1, facts, luma);
    read_with_threads(sample, path, 3, facts, luma);
    read_sparse_check(sample, path, facts, luma);
}

/* Colours of the last frame: the same bytes as those of ffmpeg's scale filter with the same flags,
 * turned by its transpose filter. */
static void read_rgb_check(void **state)
{
    static const char *const FILES[] = {"h264_rgb.mkv", "h264.mp4",     "turned_a.mp4",
                                        "turned_b.mp4", "turned_c.mov", "hevc_10.mp4",
                                        "mjpeg.avi",    "vp9.mkv"};
    static const char *const TURNS[] = {"", ",transpose=clock", ",hflip,vflip",
                                        ",transpose=cclock"};
    (void)state;

    for (gsize i = 0; i < G_N_ELEMENTS(FILES); i++) {
        g_autofree char *path = video_sample_make_named(FILES[i]);
        if (path == NULL)
            continue; /* said so; the other files are still checked */
        g_autoptr(GError) error = NULL;
        g_autoptr(LfVideo) video = lf_video_open(path, 1, &error);
        assert_non_null(video);

        g_autofree char *raw_path = video_samples_path("frame.rgb");
        g_autofree char *raw = NULL;
        gsize size = 0;
        g_free(video_samples_run("ffmpeg -v error -nostdin -y -noautorotate -i %s -frames:v 1 -vf "
                                 "scale=flags=bilinear+accurate_rnd+full_chroma_int+bitexact,"
                                 "format=rgb24%s -f rawvideo %s",
                                 path, TURNS[lf_video_info(video)->rotation / 90], raw_path));
        assert_true(g_file_get_contents(raw_path, &raw, &size, NULL));

        g_autofree uint8_t *rgb = g_malloc(size);
        LfFrame frame;
        bool got = false;
        assert_false(lf_video_last_rgb(video, rgb, &error));
        assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_USAGE));
        g_clear_error(&error);
        assert_true(lf_video_next(video, &frame, &got, &error) && got);
        assert_int_equal(size, frame.width * frame.height * 3);
        assert_true(lf_video_last_rgb(video, rgb, &error));
        for (gsize k = 0; k < size; k++)
            if (rgb[k] != (uint8_t)raw[k])
                fail_msg("%s: byte %zu of the colours is %d, ffmpeg says %d", FILES[i], (size_t)k,
                         rgb[k], (uint8_t)raw[k]);
    }
}

int main(void)
{
    g_autofree struct CMUnitTest *tests = g_new0(struct CMUnitTest, VIDEO_SAMPLES_N + 1);

    for (gsize i = 0; i < VIDEO_SAMPLES_N; i++)
        tests[i] = (struct CMUnitTest){.name = VIDEO_SAMPLES[i].file,
                                       .test_func = read_check,
                                       .initial_state = (void *)&VIDEO_SAMPLES[i]};
    tests[VIDEO_SAMPLES_N] = (struct CMUnitTest){.name = "colours", .test_func = read_rgb_check};
    return _cmocka_run_group_tests("video/read", tests, VIDEO_SAMPLES_N + 1, video_samples_setup,
                                   video_samples_teardown);
}
