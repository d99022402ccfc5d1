/* From any key frame, and to any time after it, the reader gives the same frames with the same
 * pixels as when it reads from the beginning. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/video.h>

#include "video_samples.h"

/* Frames compared after each seek: more than two key intervals of the samples. */
enum { SEEK_RUN = 45 };

typedef struct {
    int64_t t_us;
    guint8 *luma; /* packed */
} SeekFrame;

static void seek_frame_clear(gpointer frame)
{
    g_free(((SeekFrame *)frame)->luma);
}

static GArray *seek_read_all(const char *path)
{
    GArray *frames = g_array_new(FALSE, FALSE, sizeof(SeekFrame));
    g_autoptr(LfVideo) video = lf_video_open(path, 1, NULL);
    LfFrame frame;
    bool got = false;

    g_array_set_clear_func(frames, seek_frame_clear);
    assert_non_null(video);
    while (lf_video_next(video, &frame, &got, NULL) && got) {
        const gsize width = (gsize)frame.width;
        const SeekFrame one = {frame.t_us, g_malloc(width * (gsize)frame.height)};
        for (int y = 0; y < frame.height; y++)
            memcpy(one.luma + (gsize)y * width, frame.luma + y * frame.stride, width);
        g_array_append_val(frames, one);
    }
    return frames;
}

static bool seek_same(const LfFrame *frame, const SeekFrame *want)
{
    const gsize width = (gsize)frame->width;

    for (int y = 0; y < frame->height; y++)
        if (memcmp(frame->luma + y * frame->stride, want->luma + (gsize)y * width, width) != 0)
            return false;
    return true;
}

static void seek_compare(LfVideo *video, int64_t key_us, int64_t from_us, const GArray *all)
{
    g_autoptr(GError) error = NULL;
    guint at = 0;

    if (!lf_video_seek(video, key_us, from_us, &error))
        fail_msg("%s", error->message);
    while (at < all->len && g_array_index(all, SeekFrame, at).t_us < from_us)
        at++;
    for (int n = 0; n < SEEK_RUN; n++, at++) {
        LfFrame frame;
        bool got = false;
        if (!lf_video_next(video, &frame, &got, &error))
            fail_msg("%s", error->message);
        assert_int_equal(got, at < all->len);
        if (!got)
            return;
        const SeekFrame *want = &g_array_index(all, SeekFrame, at);
        assert_int_equal(frame.t_us, want->t_us);
        if (!seek_same(&frame, want))
            fail_msg("from key %" G_GINT64_FORMAT ": the frame at %" G_GINT64_FORMAT
                     " us has other pixels",
                     key_us, frame.t_us);
    }
}

static void seek_check(void **state)
{
    const VideoSample *sample = *state;
    g_autofree char *path = video_sample_make(sample);
    if (path == NULL)
        skip();
    g_autoptr(LfVideoIndex) index = lf_video_index_new(path, NULL);
    g_autoptr(GArray) all = seek_read_all(path);
    assert_non_null(index);
    assert_int_equal(all->len, index->n_frames);

    for (int threads = 1; threads <= 3; threads += 2) {
        g_autoptr(LfVideo) video = lf_video_open(path, threads, NULL);
        assert_non_null(video);
        /* Backwards, so that nothing decoded before is of use; with every key frame. */
        for (gsize k = index->n_keys; k-- > 0;)
            seek_compare(video, index->key_us[k], index->key_us[k], all);
        /* To times between frames, on them, and beyond the next key frames; forwards. */
        for (gsize k = 0; k < index->n_keys; k += 2)
            for (int64_t ahead_us = 1; ahead_us < 2000000; ahead_us += 233333)
                seek_compare(video, index->key_us[k], index->key_us[k] + ahead_us, all);
        for (gsize f = 0; f < index->n_frames; f += 13)
            seek_compare(video, index->key_us[0], index->frame_us[f], all);
        seek_compare(video, index->key_us[index->n_keys - 1], index->end_us + 1000000, all);
        assert_int_equal(lf_video_damaged(video), 0);
    }
}

static void seek_refuses_earlier_frames(void **state)
{
    (void)state;
    g_autofree char *path = video_sample_make_named("h264.mp4");
    if (path == NULL)
        skip();
    g_autoptr(GError) error = NULL;
    g_autoptr(LfVideo) video = lf_video_open(path, 1, NULL);
    assert_non_null(video);
    assert_false(lf_video_seek(video, 800000, 799999, &error));
    assert_true(g_error_matches(error, LF_ERROR, LF_ERROR_USAGE));
}

int main(void)
{
    g_autofree struct CMUnitTest *tests = g_new0(struct CMUnitTest, VIDEO_SAMPLES_N + 1);

    for (gsize i = 0; i < VIDEO_SAMPLES_N; i++)
        tests[i] = (struct CMUnitTest){.name = VIDEO_SAMPLES[i].file,
                                       .test_func = seek_check,
                                       .initial_state = (void *)&VIDEO_SAMPLES[i]};
    tests[VIDEO_SAMPLES_N] = (struct CMUnitTest){.name = "earlier than the key frame",
                                                 .test_func = seek_refuses_earlier_frames};
    return _cmocka_run_group_tests("video/seek", tests, VIDEO_SAMPLES_N + 1, video_samples_setup,
                                   video_samples_teardown);
}
