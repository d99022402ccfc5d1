/* Films: the frames' own times, gaze where it belongs, and inputs left alone. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include <lookfall/video.h>

#include "study/bed.h"

static char *shell(Bed *bed, const char *line)
{
    const char *argv[] = {"sh", "-c", line, NULL};
    char *out = NULL;
    int status = -1;
    assert_true(g_spawn_sync(bed->folder, (char **)(gpointer)argv, NULL, G_SPAWN_SEARCH_PATH, NULL,
                             NULL, &out, NULL, &status, NULL));
    if (status != 0)
        fail_msg("%s", line);
    return out;
}

/* ffprobe's times of the frames, s, counted from the file's start; blank lines are about side data.
 */
static GArray *times_of(Bed *bed, const char *file)
{
    g_autofree char *frames = g_strdup_printf(
        "ffprobe -v error -select_streams v:0 -show_entries frame=pts_time -of csv=p=0 %s", file);
    g_autofree char *begin =
        g_strdup_printf("ffprobe -v error -show_entries format=start_time -of csv=p=0 %s", file);
    g_autofree char *text = shell(bed, frames), *start = shell(bed, begin);
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    GArray *times = g_array_new(FALSE, FALSE, sizeof(double));
    for (int i = 0; lines[i]; i++)
        if (g_ascii_isdigit(lines[i][0])) {
            const double t_s = g_ascii_strtod(lines[i], NULL) - g_ascii_strtod(start, NULL);
            g_array_append_val(times, t_s);
        }
    return times;
}

static double time_at(const GArray *times, guint i)
{
    return g_array_index(times, double, i);
}

static Bed *shared; /* a study that is cast; the last test takes its inputs away */

static int set_up(void **state)
{
    (void)state;
    shared = bed_new_cast();
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    bed_free(shared);
    return 0;
}

/* A video whose frames come at uneven times keeps them to the microsecond; the film is without
 * sound, and the inputs stay as they are. */
static void test_times(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    bed_walk(bed);
    g_free(shell(bed,
                 "ffmpeg -v error -y -i w.mp4 -f lavfi -i sine=d=9 -vf "
                 "\"select='gt(mod(n*7,10),2)',setpts='PTS+0.7*mod(N*13,5)/25/TB/5'\" -vsync "
                 "vfr -enc_time_base 1:90000 -video_track_timescale 90000 -c:v libx264 -preset "
                 "ultrafast -g 20 -c:a aac v.mp4"));
    bed_expect(bed, 0, NULL, "new s.lookfall");
    bed_expect(bed, 0, NULL, "photo add s.lookfall --name shelf --image shelf.ppm");
    bed_expect(bed, 0, NULL, "walk add s.lookfall --name v --video v.mp4 --gaze w.csv");
    bed_expect(bed, 0, NULL, "cast s.lookfall --jobs 2");
    g_autoptr(GBytes) video = bed_read(bed, "v.mp4"), study = bed_read(bed, "s.lookfall");

    bed_expect(bed, 0, "without sound", "film s.lookfall --walk v --out f.mp4");
    g_autoptr(GArray) want = times_of(bed, "v.mp4"), got = times_of(bed, "f.mp4");
    double gaps = 0;
    assert_int_equal(got->len, want->len);
    for (guint i = 0; i < want->len; i++) {
        /* The film's own start is that of its first frame: it has no sound. */
        const double a = time_at(want, i) - time_at(want, 0), b = time_at(got, i);
        if (fabs(a - b) > 1.5e-6) /* ffprobe prints microseconds */
            fail_msg("frame %u is at %.6f s, in the film at %.6f s", i, a, b);
        if (i > 0)
            gaps = fmax(gaps, time_at(want, i) - time_at(want, i - 1));
    }
    assert_true(gaps > 0.05); /* or nothing was shown of uneven times */
    g_autofree char *streams =
        shell(bed, "ffprobe -v error -show_entries stream=codec_name -of csv=p=0 f.mp4");
    assert_string_equal(streams, "h264\n");
    g_autoptr(GBytes) video_after = bed_read(bed, "v.mp4"),
                      study_after = bed_read(bed, "s.lookfall");
    assert_true(g_bytes_equal(video, video_after));
    assert_true(g_bytes_equal(study, study_after));
    assert_false(g_file_test(bed_path(bed, "f.mp4.part"), G_FILE_TEST_EXISTS));

    /* A part of it begins at 0 with the first frame at or after 3.1 s. */
    bed_expect(bed, 0, NULL, "film s.lookfall --walk v --out p.mkv --from 3.1 --to 5");
    g_autoptr(GArray) part = times_of(bed, "p.mkv");
    guint first = 0, n = 0;
    while (time_at(want, first) < 3.1 - 1e-9)
        first++;
    while (first + n < want->len && time_at(want, first + n) < 5 - 1e-9)
        n++;
    assert_int_equal(part->len, n);
    for (guint i = 0; i < n; i++) /* whole milliseconds in Matroska */
        assert_true(fabs(time_at(part, i) - (time_at(want, first + i) - time_at(want, first))) <
                    1.1e-3);
}

/* --- where things are --- */

static GBytes *frame_at(Bed *bed, const char *file, int64_t t_us, int *width, int *height)
{
    g_autoptr(LfVideo) video = lf_video_open(bed_path(bed, file), 1, NULL);
    LfFrame frame;
    bool got;
    assert_non_null(video);
    while (lf_video_next(video, &frame, &got, NULL) && got)
        if (frame.t_us >= t_us) {
            GByteArray *luma = g_byte_array_new();
            for (int y = 0; y < frame.height; y++)
                g_byte_array_append(luma, frame.luma + y * frame.stride, (guint)frame.width);
            *width = frame.width;
            *height = frame.height;
            return g_byte_array_free_to_bytes(luma);
        }
    fail_msg("%s has no frame at %.3f s", file, (double)t_us / 1e6);
    return NULL;
}

/* Mean difference of two pictures in a ring about a point. */
static double difference(const uint8_t *a, int stride_a, const uint8_t *b, int stride_b, int width,
                         int height, double x, double y, double low, double high)
{
    double sum = 0;
    int n = 0;
    for (int v = MAX(0, (int)(y - high)); v < MIN(height, y + high); v++)
        for (int u = MAX(0, (int)(x - high)); u < MIN(width, x + high); u++) {
            const double r = hypot(u - x, v - y);
            if (r < low || r > high)
                continue;
            sum += ABS(a[v * stride_a + u] - b[v * stride_b + u]);
            n++;
        }
    return n > 0 ? sum / n : 0;
}

/* bed_gaze's point and bed_video's window. */
static void gaze_at(double t_s, double *x, double *y)
{
    *x = 240 + 150 * sin(t_s);
    *y = 180 + 100 * cos(1.3 * t_s);
}

static void test_places(void **state)
{
    static const int64_t times_us[] = {600000, 2000000, 3800000, 5000000, 7400000};
    (void)state;
    bed_expect(shared, 0, "times real time", "film s.lookfall --walk w --out f.mp4");
    bed_expect(shared, 0, NULL, "film s.lookfall --walk w --out p.mp4 --photo-only");
    int pw, ph;
    g_autoptr(GBytes) before = frame_at(shared, "p.mp4", 180000, &pw, &ph); /* a lost sample */
    for (gsize i = 0; i < G_N_ELEMENTS(times_us); i++) {
        const double t_s = (double)times_us[i] / 1e6;
        int w, h, fw, fh;
        double x, y;
        gaze_at(t_s, &x, &y);
        g_autoptr(GBytes) source = frame_at(shared, "w.mp4", times_us[i], &w, &h);
        g_autoptr(GBytes) film = frame_at(shared, "f.mp4", times_us[i], &fw, &fh);
        assert_int_equal(fw, w);
        assert_true(fh > h && fh < h * 1.3);
        const uint8_t *s = g_bytes_get_data(source, NULL), *f = g_bytes_get_data(film, NULL);
        const double on = difference(f, fw, s, w, w, h, x, y, 0, 7);
        /* The lower left is free of everything at these times. */
        const double off = difference(f, fw, s, w, w, h, 480 - x > 240 ? 60 : 420, 330, 0, 20);
        if (on < 20 || off > 6)
            fail_msg("at %.1f s: %.1f about the gaze, %.1f away from it", t_s, on, off);

        /* The same point on the still photo, which is 800 px wide in a film of 900. */
        const double px = x + 160 + 150 * sin(0.6 * t_s) + 50, py = y + 70 + 60 * cos(0.8 * t_s);
        g_autoptr(GBytes) still = frame_at(shared, "p.mp4", times_us[i], &pw, &ph);
        assert_int_equal(pw, 900);
        const uint8_t *p = g_bytes_get_data(still, NULL), *q = g_bytes_get_data(before, NULL);
        const double there = difference(p, pw, q, pw, 900, 500, px, py, 0, 7);
        const double beside = difference(p, pw, q, pw, 900, 500, 950 - px, 500 - py, 0, 20);
        if (there < 20 || beside > 6)
            fail_msg("photo at %.1f s: %.1f about the point, %.1f beside", t_s, there, beside);
    }
}

/* A film of the photo alone needs no video; the photo it needs. */
static void test_photo_only(void **state)
{
    (void)state;
    g_rename(bed_path(shared, "w.mp4"), bed_path(shared, "gone.mp4"));
    bed_expect(shared, 3, "video of the walk w is not there",
               "film s.lookfall --walk w --out n.mp4");
    bed_expect(shared, 0, "4.0 s of film",
               "film s.lookfall --walk w --out o.mp4 --photo-only --from 2 --to 6");
    g_autoptr(GArray) times = times_of(shared, "o.mp4");
    assert_int_equal(times->len, 120);
    for (guint i = 0; i < 120; i++)
        assert_true(fabs(time_at(times, i) - i / 30.0) < 2e-6);
    g_remove(bed_path(shared, "shelf.ppm"));
    bed_expect(shared, 3, "photo shelf cannot be read",
               "film s.lookfall --walk w --out q.mp4 --photo-only");
    assert_false(g_file_test(bed_path(shared, "q.mp4"), G_FILE_TEST_EXISTS));
    assert_false(g_file_test(bed_path(shared, "q.mp4.part"), G_FILE_TEST_EXISTS));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_times),
        cmocka_unit_test(test_places),
        cmocka_unit_test(test_photo_only),
    };
    return cmocka_run_group_tests_name("film/film", tests, set_up, tear_down);
}
