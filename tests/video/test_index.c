/* The index's frames and key frames against ffprobe, for every kind of sample. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <lookfall/video.h>

#include "video_samples.h"

static void index_compare(const char *what, const int64_t *got, gsize n_got, const GArray *want,
                          int64_t zero_us)
{
    for (gsize i = 0; i < MIN(n_got, want->len); i++)
        if (got[i] + zero_us != g_array_index(want, int64_t, i))
            fail_msg("%s %zu is at %" G_GINT64_FORMAT " us, ffprobe says %" G_GINT64_FORMAT, what,
                     (size_t)i, got[i] + zero_us, g_array_index(want, int64_t, i));
    assert_int_equal(n_got, want->len);
}

static void index_check(void **state)
{
    const VideoSample *sample = *state;
    g_autofree char *path = video_sample_make(sample);
    if (path == NULL)
        skip();
    g_autoptr(GError) error = NULL;
    g_autoptr(LfVideoIndex) index = lf_video_index_new(path, &error);
    if (index == NULL)
        fail_msg("%s", error->message);

    g_autoptr(VideoFacts) facts = video_sample_facts(path, sample->decoding_times);
    GArray *times = facts->times_us, *keys = facts->keys_us;
    index_compare("frame", index->frame_us, index->n_frames, times, index->info.stamp_zero_us);

    if (sample->decoding_times) {
        g_array_set_size(keys, 0); /* only the beginning is sure */
        g_array_append_val(keys, g_array_index(times, int64_t, 0));
    } else if (sample->hides_key) {
        g_array_prepend_val(keys, g_array_index(times, int64_t, 0));
    }
    index_compare("key frame", index->key_us, index->n_keys, keys, index->info.stamp_zero_us);
    assert_true(index->n_keys >= sample->min_keys);

    const int64_t last_us = index->frame_us[index->n_frames - 1];
    assert_true(index->end_us > last_us && index->end_us <= last_us + 100000);
    assert_false(index->cut_off);
}

/* VP8 encoded in two passes has packets with pictures that are only references and never shown. */
static void index_hidden_pictures(void **state)
{
    (void)state;
    g_autofree char *path = video_samples_path("vp8_hidden.webm");
    g_autofree char *plain = video_sample_make_named("vp8.webm"); /* only to know it can be made */
    if (plain == NULL)
        skip();
    for (int pass = 1; pass <= 2; pass++)
        g_free(video_samples_run("ffmpeg -v error -nostdin -y -f lavfi -i "
                                 "testsrc2=s=192x128:r=25:d=4 -c:v libvpx -g 60 -b:v 300k "
                                 "-auto-alt-ref 1 -lag-in-frames 16 -arnr-maxframes 7 -pass %d "
                                 "-passlogfile %s %s",
                                 pass, path, path));
    g_autofree char *packets = video_samples_run(
        "ffprobe -v error -count_packets -show_entries stream=nb_read_packets -of csv=p=0 %s",
        path);
    g_autoptr(VideoFacts) facts = video_sample_facts(path, false);
    const GArray *times = facts->times_us;
    assert_true(g_ascii_strtoll(packets, NULL, 10) > times->len); /* or nothing is tested */

    g_autoptr(LfVideoIndex) index = lf_video_index_new(path, NULL);
    g_autoptr(LfVideo) video = lf_video_open(path, 1, NULL);
    assert_non_null(index);
    assert_non_null(video);
    index_compare("frame", index->frame_us, index->n_frames, times, index->info.stamp_zero_us);
    LfFrame frame;
    bool got = false;
    while (lf_video_next(video, &frame, &got, NULL) && got)
        continue;
    assert_int_equal(lf_video_damaged(video), 0);
}

int main(void)
{
    g_autofree struct CMUnitTest *tests = g_new0(struct CMUnitTest, VIDEO_SAMPLES_N + 1);

    for (gsize i = 0; i < VIDEO_SAMPLES_N; i++)
        tests[i] = (struct CMUnitTest){.name = VIDEO_SAMPLES[i].file,
                                       .test_func = index_check,
                                       .initial_state = (void *)&VIDEO_SAMPLES[i]};
    tests[VIDEO_SAMPLES_N] =
        (struct CMUnitTest){.name = "hidden pictures", .test_func = index_hidden_pictures};
    return _cmocka_run_group_tests("video/index", tests, VIDEO_SAMPLES_N + 1, video_samples_setup,
                                   video_samples_teardown);
}
