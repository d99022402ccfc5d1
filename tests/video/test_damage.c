/* Files that are cut off, damaged, empty, or no videos at all. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/video.h>

#include "video_samples.h"

/* Saves bytes [0, size) of the sample under another name, after `change`. Caller frees. */
static char *damage_copy(const char *sample, const char *name, double keep,
                         void (*change)(char *bytes, gsize size))
{
    g_autofree char *from = video_sample_make_named(sample);
    char *to = video_samples_path(name);
    g_autofree char *bytes = NULL;
    gsize size = 0;

    if (from == NULL)
        skip();
    assert_true(g_file_get_contents(from, &bytes, &size, NULL));
    size = (gsize)((double)size * keep);
    if (change != NULL)
        change(bytes, size);
    assert_true(g_file_set_contents(to, bytes, (gssize)size, NULL));
    return to;
}

/* Reads all frames; returns their number, and the error's where one ends it. */
static gsize damage_read(const char *path, int threads, int64_t *damaged, GError **error)
{
    g_autoptr(LfVideo) video = lf_video_open(path, threads, error);
    LfFrame frame;
    bool got = false;
    gsize n = 0;
    int64_t last_us = LF_NO_TIME;

    if (video == NULL)
        return 0;
    while (lf_video_next(video, &frame, &got, error) && got) {
        assert_true(frame.t_us > last_us);
        last_us = frame.t_us;
        n++;
    }
    *damaged = lf_video_damaged(video);
    return n;
}

static void damage_cut_off(void **state)
{
    static const char *const FILES[] = {"h264_first.mp4", "h264_sound.mkv", "h264_open.mkv",
                                        "mpeg4.avi",      "mjpeg.avi",      "h264_fragments.mp4"};
    (void)state;

    for (gsize i = 0; i < G_N_ELEMENTS(FILES); i++) {
        for (double keep = 0.37; keep < 0.9; keep += 0.21) {
            g_autofree char *name = g_strdup_printf("cut_%.0f_%s", keep * 100, FILES[i]);
            g_autofree char *path = damage_copy(FILES[i], name, keep, NULL);
            g_autofree char *whole_path = video_sample_make_named(FILES[i]);
            g_autoptr(GError) error = NULL;
            g_autoptr(LfVideoIndex) whole = lf_video_index_new(whole_path, &error);
            g_autoptr(LfVideoIndex) index = lf_video_index_new(path, &error);
            int64_t damaged = 0;

            if (index == NULL)
                fail_msg("%s", error->message);
            assert_false(whole->cut_off);
            if (!index->cut_off)
                fail_msg("%s: not noticed that it is cut off", name);
            /* What is there is a beginning of the whole: nothing lost but the end. */
            assert_true(index->n_frames < whole->n_frames);
            assert_true((double)index->n_frames > 0.1 * (double)whole->n_frames);
            const gsize n = damage_read(path, 1, &damaged, &error);
            assert_null(error);
            assert_int_equal(n + (gsize)damaged, index->n_frames);
            assert_true(damaged <= 1);
            for (gsize f = 0; f + 4 < index->n_frames; f++) /* reordered frames may lack one */
                assert_int_equal(index->frame_us[f], whole->frame_us[f]);
        }
    }
}

/* Cut exactly between two frames, where no packet is short. */
static void damage_cut_between_frames(void **state)
{
    (void)state;
    g_autofree char *whole_path = video_sample_make_named("h264_first.mp4");
    if (whole_path == NULL)
        skip();
    g_autofree char *positions = video_samples_run(
        "ffprobe -v error -select_streams v:0 -show_entries packet=pos -of csv=p=0 %s", whole_path);
    g_auto(GStrv) lines = g_strsplit(positions, "\n", -1);
    g_autofree char *bytes = NULL;
    gsize size = 0;
    assert_true(g_file_get_contents(whole_path, &bytes, &size, NULL));
    assert_true(g_strv_length(lines) > 90);

    for (int n = 10; n < 90; n += 20) {
        g_autofree char *path = video_samples_path("between.mp4");
        const gssize keep = (gssize)g_ascii_strtoll(lines[n], NULL, 10);
        assert_true(g_file_set_contents(path, bytes, keep, NULL));
        g_autoptr(LfVideoIndex) index = lf_video_index_new(path, NULL);
        assert_non_null(index);
        assert_true(index->cut_off);
        assert_int_equal(index->n_frames, n);
    }
}

static void damage_index_error(const char *path, const char *says)
{
    g_autoptr(GError) error = NULL;
    LfVideoIndex *index = lf_video_index_new(path, &error);

    if (index != NULL)
        fail_msg("%s was taken for a video", path);
    assert_int_equal(error->domain, LF_ERROR);
    if (error->code != LF_ERROR_INPUT || strstr(error->message, says) == NULL ||
        strstr(error->message, path) == NULL)
        fail_msg("%s: %d, %s", path, error->code, error->message);

    g_autoptr(GError) open_error = NULL;
    LfVideo *video = lf_video_open(path, 1, &open_error);
    if (video == NULL)
        assert_string_equal(open_error->message, error->message);
    lf_video_close(video);
}

static void damage_unfinished_mp4(void **state)
{
    (void)state;
    g_autofree char *path = damage_copy("h264.mp4", "unfinished.mp4", 0.5, NULL);
    damage_index_error(path, "cut off before it was finished");
}

static void damage_no_videos(void **state)
{
    static const struct {
        const char *name;
        const char *content; /* or NULL: made by `command` */
        const char *command; /* ffmpeg arguments */
        const char *says;
    } ROWS[] = {
        {"empty.mp4", "", NULL, "is empty"},
        {"text.mp4", "t_s,x_px,y_px\n0.1,20,30\n0.2,21,30\n", NULL, "not a video"},
        {"gaze.txt", "t_s\tx_px\ty_px\n0.1\t20\t30\n0.2\t21\t30\n", NULL, "not a video"},
        {"list.m3u8", "#EXTM3U\n#EXTINF:4,\nh264.ts\n#EXT-X-ENDLIST\n", NULL, "not a video"},
        {"sound.m4a", NULL, "-f lavfi -i sine=d=1 -c:a aac", "has no video in it"},
        {"sound.mkv", NULL, "-f lavfi -i sine=d=1 -c:a aac", "has no video in it"},
        {"cover.m4a", NULL,
         "-f lavfi -i sine=d=1 -f lavfi -i color=s=64x64:d=0.04 -map 0 -map 1 -c:a aac -c:v mjpeg "
         "-frames:v 1 -disposition:v:0 attached_pic",
         "has no video in it"},
        {"photo.png", NULL, "-f lavfi -i testsrc2=s=64x64 -frames:v 1", "not a video"},
        {"photo.jpg", NULL, "-f lavfi -i testsrc2=s=64x64 -frames:v 1", "not a video"},
        {"raw.m4v", NULL, "-f lavfi -i testsrc2=s=64x64:d=1 -c:v mpeg4 -f m4v", "not a video"},
    };
    (void)state;

    for (gsize i = 0; i < G_N_ELEMENTS(ROWS); i++) {
        g_autofree char *path = video_samples_path(ROWS[i].name);
        if (ROWS[i].content != NULL)
            assert_true(g_file_set_contents(path, ROWS[i].content, -1, NULL));
        else
            g_free(video_samples_run("ffmpeg -v error -nostdin -y %s %s", ROWS[i].command, path));
        damage_index_error(path, ROWS[i].says);
    }
    g_autofree char *missing = video_samples_path("missing.mp4");
    damage_index_error(missing, "There is no file");
    damage_index_error(video_samples_folder(), "a folder");
}

/* Random but repeatable bytes over part of the file (the linear congruential generator of
 * C11, 7.22.2.2's example). */
static void damage_scribble(char *bytes, gsize begin, gsize end)
{
    guint32 next = 1;

    for (gsize i = begin; i < end; i++) {
        next = next * 1103515245U + 12345U;
        bytes[i] = (char)(next >> 16);
    }
}

static void damage_middle(char *bytes, gsize size)
{
    damage_scribble(bytes, size * 45 / 100, size * 50 / 100);
}

static void damage_second_half(char *bytes, gsize size)
{
    damage_scribble(bytes, size / 2, size);
}

static bool damage_is_among(const LfVideoIndex *index, int64_t t_us)
{
    for (gsize i = 0; i < index->n_frames; i++)
        if (index->frame_us[i] == t_us)
            return true;
    return false;
}

/* A damaged stretch inside: the frames around it keep their times, and where the container still
 * lists all frames, those given and those counted as damaged add up. */
static void damage_inside(void **state)
{
    static const struct {
        const char *file;
        bool counts;  /* the decoder tells that frames are damaged (that of MJPEG does not) */
        bool adds_up; /* no frame header lies in the damaged bytes, as in AVI and MKV */
    } ROWS[] = {{"h264_first.mp4", true, true}, {"hevc.mp4", true, true},
                {"mpeg4_b.mp4", true, true},    {"mpeg4.avi", true, false},
                {"mjpeg.avi", false, false},    {"vp9.mkv", false, false}};
    (void)state;

    for (gsize i = 0; i < G_N_ELEMENTS(ROWS); i++) {
        g_autofree char *name = g_strdup_printf("scribbled_%s", ROWS[i].file);
        g_autofree char *path = damage_copy(ROWS[i].file, name, 1.0, damage_middle);
        g_autofree char *whole_path = video_sample_make_named(ROWS[i].file);
        g_autoptr(LfVideoIndex) whole = lf_video_index_new(whole_path, NULL);
        g_autoptr(LfVideoIndex) index = lf_video_index_new(path, NULL);

        assert_non_null(index);
        for (gsize f = 0; f < index->n_frames; f++)
            if (!damage_is_among(whole, index->frame_us[f]))
                fail_msg("%s: no frame was taken at %" G_GINT64_FORMAT " us", name,
                         index->frame_us[f]);
        assert_int_equal(index->frame_us[index->n_frames - 1],
                         whole->frame_us[whole->n_frames - 1]);

        for (int threads = 1; threads <= 3; threads += 2) {
            g_autoptr(GError) error = NULL;
            int64_t damaged = 0;
            const gsize n = damage_read(path, threads, &damaged, &error);
            if (error != NULL)
                fail_msg("%s", error->message);
            assert_int_equal(damaged > 0, ROWS[i].counts);
            assert_true(n > whole->n_frames / 2);
            assert_int_equal(n + (gsize)damaged, index->n_frames);
            assert_int_equal(index->n_frames == whole->n_frames, ROWS[i].adds_up);
        }
    }
}

static void damage_to_the_end(void **state)
{
    (void)state;
    g_autofree char *path = damage_copy("h264_first.mp4", "half.mp4", 1.0, damage_second_half);
    g_autoptr(GError) error = NULL;
    int64_t damaged = 0;
    const gsize n = damage_read(path, 1, &damaged, &error);

    assert_true(n > 20 && n < 80);
    assert_non_null(error);
    assert_int_equal(error->code, LF_ERROR_INPUT);
    assert_non_null(strstr(error->message, "nothing after"));
}

/* A file whose beginning is missing, as after cutting a stream: it begins inside a group of
 * pictures, and pictures stored after its first key frame but shown before it need what is gone. */
static void damage_no_beginning(void **state)
{
    static const int PERCENT[] = {7, 30, 45, 60};
    (void)state;
    g_autofree char *whole_path = video_sample_make_named("h264_open.ts");
    if (whole_path == NULL)
        skip();
    g_autofree char *bytes = NULL;
    gsize size = 0;
    assert_true(g_file_get_contents(whole_path, &bytes, &size, NULL));
    g_autoptr(LfVideoIndex) whole = lf_video_index_new(whole_path, NULL);
    const gsize n_packets = size / 188; /* bytes of a transport packet: ISO/IEC 13818-1, 2.4.3.2 */

    for (gsize i = 0; i < G_N_ELEMENTS(PERCENT); i++) {
        const gsize begin = n_packets * (gsize)PERCENT[i] / 100 * 188;
        g_autofree char *path = video_samples_path("beheaded.ts");
        g_autoptr(GError) error = NULL;
        assert_true(g_file_set_contents(path, bytes + begin, (gssize)(size - begin), NULL));
        g_autoptr(LfVideoIndex) index = lf_video_index_new(path, &error);
        if (index == NULL)
            fail_msg("%s", error->message);

        /* From one of the key frames of the whole file on, all is there. */
        assert_true(index->n_keys >= 1 && index->n_keys < whole->n_keys);
        assert_int_equal(index->key_us[0], index->frame_us[0]);
        const gsize lost = whole->n_frames - index->n_frames;
        for (gsize f = 0; f < index->n_frames; f++)
            assert_int_equal(index->frame_us[f] + index->info.stamp_zero_us,
                             whole->frame_us[lost + f] + whole->info.stamp_zero_us);
        int64_t damaged = 0;
        assert_int_equal(damage_read(path, 1, &damaged, &error), index->n_frames);
        assert_null(error);
        assert_int_equal(damaged, 0);
    }
}

static void damage_size_changes(void **state)
{
    (void)state;
    g_autofree char *path = video_samples_path("two_sizes.ts");
    g_autofree char *small = video_sample_make_named("h264.ts");
    if (small == NULL)
        skip();
    g_autofree char *big = video_samples_path("big.ts");
    g_free(video_samples_run("ffmpeg -v error -nostdin -y -f lavfi -i testsrc2=s=320x240:d=1 "
                             "-output_ts_offset 4 -c:v libx264 %s && cat %s %s >%s",
                             big, small, big, path));
    g_autoptr(GError) error = NULL;
    int64_t damaged = 0;
    const gsize n = damage_read(path, 1, &damaged, &error);

    assert_true(n >= 90 && n <= 100);
    assert_non_null(error);
    assert_int_equal(error->code, LF_ERROR_INPUT);
    assert_non_null(strstr(error->message, "from 192 x 128 to 320 x 240 px"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(damage_cut_off),        cmocka_unit_test(damage_cut_between_frames),
        cmocka_unit_test(damage_unfinished_mp4), cmocka_unit_test(damage_no_videos),
        cmocka_unit_test(damage_inside),         cmocka_unit_test(damage_no_beginning),
        cmocka_unit_test(damage_to_the_end),     cmocka_unit_test(damage_size_changes),
    };
    return cmocka_run_group_tests_name("video/damage", tests, video_samples_setup,
                                       video_samples_teardown);
}
