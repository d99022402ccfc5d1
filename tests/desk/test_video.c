/* Frames on demand: whichever is asked for, in whatever order, it is the one that decoding from the
 * beginning gives, to the byte. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "desk/desk_video.h"
#include "study/bed.h"

static const DeskCut whole = {
    .width = 480, .height = 360, .out_width = 240, .out_height = 180, .quality = 90};

typedef struct {
    GBytes *jpeg;
    char *error;
    bool done;
} Answer;

static void answer_done(GBytes *jpeg, const GError *error, gpointer data)
{
    Answer *answer = data;
    answer->jpeg = jpeg ? g_bytes_ref(jpeg) : NULL;
    answer->error = error ? g_strdup(error->message) : NULL;
    answer->done = true;
}

static Answer ask(DeskFrames *frames, DeskVideo *video, gsize frame, const DeskCut *cut)
{
    Answer answer = {0};
    int cancelled = 0;
    desk_frames_get(frames, video, frame, cut, &cancelled, answer_done, &answer);
    while (!answer.done)
        g_main_context_iteration(NULL, TRUE);
    return answer;
}

/* JPEGs of all frames, decoded one after the other. */
static GPtrArray *frames_in_order(const char *path)
{
    GPtrArray *all = g_ptr_array_new_with_free_func((GDestroyNotify)g_bytes_unref);
    g_autoptr(LfVideo) video = lf_video_open(path, 1, NULL);
    g_autoptr(LfYuv) yuv = lf_yuv_new(480, 360);
    LfFrame frame;
    bool got;
    assert_non_null(video);
    while (lf_video_next(video, &frame, &got, NULL) && got) {
        assert_true(lf_video_last_yuv(video, yuv, NULL));
        g_ptr_array_add(all, lf_jpeg_from_yuv(yuv, 240, 180, 90, NULL));
    }
    return all;
}

static DeskVideo *video_of(Bed *bed, const char *name)
{
    LfVideoIndex *index = lf_video_index_new(bed_path(bed, name), NULL);
    assert_non_null(index);
    return desk_video_new(1, bed_path(bed, name), index);
}

static void test_any_order(void **state)
{
    g_autoptr(Bed) bed = bed_new();
    g_autoptr(GRand) rand = g_rand_new_with_seed(3);
    (void)state;
    bed_photo(bed, "shelf.ppm", 7);
    bed_video(bed, "w.mp4", "shelf.ppm", 4);
    g_autoptr(GPtrArray) wanted = frames_in_order(bed_path(bed, "w.mp4"));
    g_autoptr(DeskVideo) video = video_of(bed, "w.mp4");
    DeskFrames *frames = desk_frames_new();
    assert_int_equal(wanted->len, video->index->n_frames);
    for (int i = 0; i < 120; i++) {
        /* Anywhere, a step on, a step back; now and then with something to look ahead for. */
        static gsize at;
        gsize n = wanted->len;
        at = i % 4 == 0   ? (gsize)g_rand_int_range(rand, 0, (gint32)n)
             : i % 4 == 3 ? (at + n - 1) % n
                          : (at + 1) % n;
        if (i % 5 == 0)
            desk_frames_ahead(frames, video, (gsize)g_rand_int_range(rand, 0, (gint32)n), 6,
                              i % 2 == 0);
        Answer answer = ask(frames, video, at, &whole);
        if (!answer.jpeg || !g_bytes_equal(answer.jpeg, wanted->pdata[at]))
            fail_msg("frame %d: %s", (int)at, answer.error ? answer.error : "another picture");
        g_bytes_unref(answer.jpeg);
    }
    desk_frames_free(frames);
}

static void test_frame_at(void **state)
{
    g_autoptr(Bed) bed = bed_new();
    (void)state;
    bed_photo(bed, "shelf.ppm", 7);
    bed_video(bed, "w.mp4", "shelf.ppm", 1);
    g_autoptr(DeskVideo) video = video_of(bed, "w.mp4");
    assert_int_equal(desk_video_frame_at(video, INT64_MIN), 0);
    assert_int_equal(desk_video_frame_at(video, -1), 0);
    assert_int_equal(desk_video_frame_at(video, 0), 0);
    assert_int_equal(desk_video_frame_at(video, 39999), 0);
    assert_int_equal(desk_video_frame_at(video, 40000), 1);
    assert_int_equal(desk_video_frame_at(video, 40001), 1);
    assert_int_equal(desk_video_frame_at(video, INT64_MAX), 24);
}

static void test_part(void **state)
{
    g_autoptr(Bed) bed = bed_new();
    (void)state;
    bed_photo(bed, "shelf.ppm", 7);
    bed_video(bed, "w.mp4", "shelf.ppm", 1);
    g_autoptr(DeskVideo) video = video_of(bed, "w.mp4");
    DeskFrames *frames = desk_frames_new();
    const DeskCut cut = {.x = 100,
                         .y = 50,
                         .width = 64,
                         .height = 32,
                         .out_width = 64,
                         .out_height = 32,
                         .quality = 95};
    g_autoptr(LfVideo) reader = lf_video_open(bed_path(bed, "w.mp4"), 1, NULL);
    g_autoptr(LfYuv) yuv = lf_yuv_new(480, 360);
    LfFrame frame;
    bool got;
    assert_true(lf_video_next(reader, &frame, &got, NULL) && got);
    assert_true(lf_video_last_yuv(reader, yuv, NULL));
    LfYuv part = lf_yuv_part(yuv, 100, 50, 64, 32);
    g_autoptr(GBytes) wanted = lf_jpeg_from_yuv(&part, 64, 32, 95, NULL);
    Answer answer = ask(frames, video, 0, &cut);
    assert_non_null(answer.jpeg);
    assert_true(g_bytes_equal(answer.jpeg, wanted));
    g_bytes_unref(answer.jpeg);
    desk_frames_free(frames);
}

/* A video that went away is told, and the next request is answered all the same. */
static void test_gone(void **state)
{
    g_autoptr(Bed) bed = bed_new();
    (void)state;
    bed_photo(bed, "shelf.ppm", 7);
    bed_video(bed, "w.mp4", "shelf.ppm", 1);
    g_autoptr(DeskVideo) video = video_of(bed, "w.mp4");
    LfVideoIndex *index = lf_video_index_new(bed_path(bed, "w.mp4"), NULL);
    g_autoptr(DeskVideo) missing = desk_video_new(2, bed_path(bed, "none.mp4"), index);
    DeskFrames *frames = desk_frames_new();
    Answer answer = ask(frames, missing, 3, &whole);
    assert_null(answer.jpeg);
    assert_non_null(strstr(answer.error, "none.mp4"));
    g_free(answer.error);
    answer = ask(frames, video, 3, &whole);
    assert_non_null(answer.jpeg);
    g_bytes_unref(answer.jpeg);
    desk_frames_free(frames);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_any_order),
        cmocka_unit_test(test_frame_at),
        cmocka_unit_test(test_part),
        cmocka_unit_test(test_gone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
