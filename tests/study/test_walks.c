/* Walks in a study: what is kept of their files, clocks, samples outside the video, moved folders.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include <lookfall/study.h>

#include "study/bed.h"

typedef struct {
    Bed *bed;
    LfStudy *study;
    GString *notes;
} Fixture;

static int set_up(void **state)
{
    Fixture *f = g_new0(Fixture, 1);
    LfCastSettings settings = lf_cast_settings_default();
    f->bed = bed_new();
    bed_walk(f->bed);
    f->study = lf_study_create(bed_path(f->bed, "s.lookfall"), &settings, NULL);
    f->notes = g_string_new(NULL);
    *state = f;
    return f->study ? 0 : -1;
}

static int tear_down(void **state)
{
    Fixture *f = *state;
    lf_study_close(f->study);
    bed_free(f->bed);
    g_string_free(f->notes, TRUE);
    g_free(f);
    return 0;
}

static void take_note(const char *sentence, void *data)
{
    Fixture *f = data;
    g_string_append_printf(f->notes, "%s\n", sentence);
}

static bool add(Fixture *f, LfWalkInput input, GError **error)
{
    input.video = bed_path(f->bed, input.video);
    input.gaze = bed_path(f->bed, input.gaze);
    g_string_truncate(f->notes, 0);
    return lf_study_walk_add(f->study, &input, take_note, f, error);
}

static void expect_refused(Fixture *f, LfWalkInput input, const char *text)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GBytes) before = bed_read(f->bed, "s.lookfall");
    assert_false(add(f, input, &error));
    assert_int_equal(error->code, LF_ERROR_INPUT);
    if (!strstr(error->message, text))
        fail_msg("\"%s\" is not in \"%s\"", text, error->message);
    g_autoptr(GBytes) after = bed_read(f->bed, "s.lookfall");
    assert_true(g_bytes_equal(before, after));
}

static void expect_note(const Fixture *f, const char *text)
{
    if (!strstr(f->notes->str, text))
        fail_msg("\"%s\" is not in \"%s\"", text, f->notes->str);
}

static void test_add_and_list(void **state)
{
    Fixture *f = *state;
    LfWalkInput input = {.name = "w", .participant = "p7", .video = "w.mp4", .gaze = "w.csv"};
    assert_true(add(f, input, NULL));
    assert_string_equal(f->notes->str, "");
    g_autoptr(GPtrArray) walks = lf_study_walks(f->study, NULL, NULL);
    assert_int_equal(walks->len, 1);
    const LfStudyWalk *walk = walks->pdata[0];
    assert_string_equal(walk->name, "w");
    assert_string_equal(walk->participant, "p7");
    assert_null(walk->group);
    assert_null(walk->camera);
    assert_int_equal(walk->width_px, 480);
    assert_int_equal(walk->height_px, 360);
    assert_int_equal(walk->frames, 9 * 25);
    assert_int_equal(walk->end_us, 9000000);
    assert_int_equal(walk->samples, 450);
    assert_int_equal(walk->lost, 45);
    assert_int_equal(walk->outside, 0);
    assert_int_equal(walk->interval_us, 20000);
    assert_true(walk->chunks >= 2);
    assert_int_equal(walk->chunks_cast, 0);
}

static void test_refused(void **state)
{
    Fixture *f = *state;
    bed_gaze(f->bed, "late.csv", 100, 9);
    bed_gaze(f->bed, "half.csv", 6, 9);
    assert_true(add(f, (LfWalkInput){.name = "w", .video = "w.mp4", .gaze = "w.csv"}, NULL));
    expect_refused(f, (LfWalkInput){.name = "w", .video = "w.mp4", .gaze = "w.csv"}, "already");
    expect_refused(f, (LfWalkInput){.name = "", .video = "w.mp4", .gaze = "w.csv"}, "empty");
    expect_refused(f, (LfWalkInput){.name = "v", .video = "x.mp4", .gaze = "w.csv"},
                   "no such file");
    expect_refused(f, (LfWalkInput){.name = "v", .video = "w.csv", .gaze = "w.csv"}, "w.csv");
    expect_refused(f, (LfWalkInput){.name = "v", .video = "w.mp4", .gaze = "x.csv"},
                   "no such file");
    /* All samples after the video's end, then two thirds of them: 9 s of video, gaze 6 s to 15 s.
     */
    expect_refused(f, (LfWalkInput){.name = "v", .video = "w.mp4", .gaze = "late.csv"},
                   "450 of 450 samples lie outside the video: they run from 100.000 s to 108.980 "
                   "s, the video from 0.000 s to 9.000 s");
    expect_refused(f, (LfWalkInput){.name = "v", .video = "w.mp4", .gaze = "half.csv"},
                   "300 of 450 samples");
}

static void test_few_outside(void **state)
{
    Fixture *f = *state;
    bed_gaze(f->bed, "early.csv", -1, 9);
    assert_true(add(f, (LfWalkInput){.name = "v", .video = "w.mp4", .gaze = "early.csv"}, NULL));
    expect_note(f, "50 of 450 samples lie outside the video");
    g_autoptr(GPtrArray) walks = lf_study_walks(f->study, NULL, NULL);
    const LfStudyWalk *walk = walks->pdata[0];
    assert_int_equal(walk->outside, 50);
}

static void test_shift(void **state)
{
    Fixture *f = *state;
    bed_gaze(f->bed, "late.csv", 100, 9);
    LfWalkInput input = {
        .name = "v", .video = "w.mp4", .gaze = "late.csv", .format = {.clock_shift_ms = -100000}};
    assert_true(add(f, input, NULL));
    g_autoptr(GPtrArray) walks = lf_study_walks(f->study, NULL, NULL);
    const LfStudyWalk *walk = walks->pdata[0];
    assert_int_equal(walk->outside, 0);
}

/* The same video with timestamps that begin at 20 s, and gaze on either clock. */
static void test_clock(void **state)
{
    Fixture *f = *state;
    const char *argv[] = {
        "ffmpeg", "-v",       "error", "-y", "-i", "w.mp4", "-c", "copy", "-output_ts_offset",
        "20",     "late.mkv", NULL};
    int wait_status;
    assert_true(g_spawn_sync(f->bed->folder, (char **)(gpointer)argv, NULL, G_SPAWN_SEARCH_PATH,
                             NULL, NULL, NULL, NULL, &wait_status, NULL));
    assert_int_equal(wait_status, 0);
    bed_gaze(f->bed, "stamp.csv", 20, 9);
    const struct {
        const char *gaze;
        LfClock clock;
        const char *note; /* NULL: none */
        bool good;
    } cases[] = {
        {"w.csv", LF_CLOCK_AUTO, "from the video's start", true},
        {"stamp.csv", LF_CLOCK_AUTO, "on that same clock", true},
        {"w.csv", LF_CLOCK_START, NULL, true},
        {"stamp.csv", LF_CLOCK_STAMP, NULL, true},
        {"stamp.csv", LF_CLOCK_START, NULL, false},
        {"w.csv", LF_CLOCK_STAMP, NULL, false},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *name = g_strdup_printf("c%d", (int)i);
        const char *const names[] = {name, NULL};
        LfWalkInput input = {
            .name = name, .video = "late.mkv", .gaze = cases[i].gaze, .clock = cases[i].clock};
        assert_int_equal(add(f, input, NULL), cases[i].good);
        if (!cases[i].good)
            continue;
        if (cases[i].note)
            expect_note(f, cases[i].note);
        else
            assert_string_equal(f->notes->str, "");
        g_autoptr(GPtrArray) walks = lf_study_walks(f->study, names, NULL);
        assert_int_equal(((const LfStudyWalk *)walks->pdata[0])->outside, 0);
    }
}

static void test_cut_off(void **state)
{
    Fixture *f = *state;
    /* MKV that ends early; its header still tells the whole length. */
    const char *argv[] = {"ffmpeg", "-v", "error", "-y",        "-i",
                          "w.mp4",  "-c", "copy",  "whole.mkv", NULL};
    int wait_status;
    assert_true(g_spawn_sync(f->bed->folder, (char **)(gpointer)argv, NULL, G_SPAWN_SEARCH_PATH,
                             NULL, NULL, NULL, NULL, &wait_status, NULL));
    g_autoptr(GBytes) whole = bed_read(f->bed, "whole.mkv");
    assert_true(g_file_set_contents(bed_path(f->bed, "cut.mkv"), g_bytes_get_data(whole, NULL),
                                    (gssize)g_bytes_get_size(whole) * 4 / 10, NULL));
    assert_true(add(f, (LfWalkInput){.name = "v", .video = "cut.mkv", .gaze = "w.csv"}, NULL));
    expect_note(f, "the video is cut off");
    expect_note(f, "samples lie outside the video");
}

static void test_choice_and_remove(void **state)
{
    Fixture *f = *state;
    static const char *const added[] = {"c", "a", "b"};
    for (int i = 0; i < 3; i++)
        assert_true(
            add(f, (LfWalkInput){.name = added[i], .video = "w.mp4", .gaze = "w.csv"}, NULL));
    const char *const two[] = {"c", "a", "c", NULL}, *const wrong[] = {"a", "d", NULL};
    g_autoptr(GPtrArray) chosen = lf_study_walks(f->study, two, NULL);
    assert_int_equal(chosen->len, 2);
    assert_string_equal(((const LfStudyWalk *)chosen->pdata[0])->name, "a");
    assert_string_equal(((const LfStudyWalk *)chosen->pdata[1])->name, "c");
    g_autoptr(GError) error = NULL;
    assert_null(lf_study_walks(f->study, wrong, &error));
    assert_int_equal(error->code, LF_ERROR_INPUT);
    assert_true(lf_study_walk_remove(f->study, "b", NULL));
    assert_false(lf_study_walk_remove(f->study, "b", NULL));
    g_autoptr(GPtrArray) left = lf_study_walks(f->study, NULL, NULL);
    assert_int_equal(left->len, 2);
}

static gsize study_bytes(Fixture *f)
{
    g_autoptr(GBytes) bytes = bed_read(f->bed, "s.lookfall");
    return g_bytes_get_size(bytes);
}

/* A walk takes its samples along: their room is used again. */
static void test_remove_frees(void **state)
{
    Fixture *f = *state;
    gsize first = 0;
    for (int i = 0; i < 4; i++) {
        assert_true(add(f, (LfWalkInput){.name = "w", .video = "w.mp4", .gaze = "w.csv"}, NULL));
        if (i == 0)
            first = study_bytes(f);
        assert_true(lf_study_walk_remove(f->study, "w", NULL));
    }
    assert_int_equal(study_bytes(f), first);
}

/* Study and recordings moved together are found again; a lost file is told. */
static void test_moved(void **state)
{
    Fixture *f = *state;
    assert_true(add(f, (LfWalkInput){.name = "w", .video = "w.mp4", .gaze = "w.csv"}, NULL));
    g_clear_pointer(&f->study, lf_study_close);
    const char *moved = bed_path(f->bed, "elsewhere");
    assert_int_equal(g_mkdir(moved, 0755), 0);
    static const char *const files[] = {"s.lookfall", "w.mp4", "w.csv"};
    for (int i = 0; i < 3; i++) {
        g_autofree char *to = g_build_filename(moved, files[i], NULL);
        assert_int_equal(g_rename(bed_path(f->bed, files[i]), to), 0);
    }
    f->study = lf_study_open(bed_path(f->bed, "elsewhere/s.lookfall"), LF_STUDY_READ, NULL);
    assert_non_null(f->study);
    g_autoptr(GPtrArray) none = lf_study_file_news(f->study, NULL);
    assert_int_equal(none->len, 0);
    g_autoptr(GPtrArray) walks = lf_study_walks(f->study, NULL, NULL);
    assert_string_equal(((const LfStudyWalk *)walks->pdata[0])->video,
                        bed_path(f->bed, "elsewhere/w.mp4"));
    assert_int_equal(g_unlink(bed_path(f->bed, "elsewhere/w.mp4")), 0);
    g_autoptr(GPtrArray) news = lf_study_file_news(f->study, NULL);
    assert_int_equal(news->len, 1);
    assert_true(((const LfStudyFileNews *)news->pdata[0])->missing);
    assert_string_equal(((const LfStudyFileNews *)news->pdata[0])->owner, "walk w");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_add_and_list, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_refused, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_few_outside, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_shift, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_clock, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_cut_off, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_choice_and_remove, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_remove_frees, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_moved, set_up, tear_down),
    };
    return cmocka_run_group_tests_name("study/walks", tests, NULL, NULL);
}
