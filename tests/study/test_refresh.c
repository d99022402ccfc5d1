/* Inputs that change, move or go: only what depends on them is done again. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>
#include <utime.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include "study/study_cast_fixture.h"

static const char camera[] = "%%YAML:1.0\n---\nimage_width: 480\nimage_height: 360\n"
                             "camera_matrix: !!opencv-matrix\n   rows: 3\n   cols: 3\n   dt: d\n"
                             "   data: [ %d., 0., 240., 0., 400., 180., 0., 0., 1. ]\n"
                             "distortion_coefficients: !!opencv-matrix\n   rows: 1\n   cols: 5\n"
                             "   dt: d\n   data: [ 0., 0., 0., 0., 0. ]\n";

static void write_camera(CastFixture *f, int fx_px)
{
    g_autofree char *text = g_strdup_printf(camera, fx_px);
    bed_write(f->bed, "camera.yml", text);
}

static void remove_file(CastFixture *f, const char *name)
{
    assert_int_equal(g_unlink(bed_path(f->bed, name)), 0);
}

static void test_touched(void **state)
{
    CastFixture *f = *state;
    static const char *const files[] = {"shelf.ppm", "a.mp4", "a.csv"};
    const struct utimbuf old = {1000000000, 1000000000};
    for (gsize i = 0; i < G_N_ELEMENTS(files); i++)
        assert_int_equal(utime(bed_path(f->bed, files[i]), &old), 0);
    g_autoptr(GPtrArray) news = lf_study_file_news(f->study, NULL);
    assert_int_equal(news->len, 3);
    cast_fixture_expect(f, 0, 0);
    assert_string_equal(f->notes->str, "");
    g_autoptr(GPtrArray) later = lf_study_file_news(f->study, NULL);
    assert_int_equal(later->len, 0);
}

static void test_gaze_changed(void **state)
{
    CastFixture *f = *state;
    bed_gaze(f->bed, "a.csv", 1, 6);
    cast_fixture_expect(f, cast_fixture_chunks(f, "a", NULL), 0);
    cast_fixture_expect_note(f, "walk a: its gaze file has changed");
    const char *const names[] = {"a", NULL};
    g_autoptr(GPtrArray) walks = lf_study_walks(f->study, names, NULL);
    assert_int_equal(((const LfStudyWalk *)walks->pdata[0])->samples, 300);
}

static void test_gaze_unfit(void **state)
{
    CastFixture *f = *state;
    bed_write(f->bed, "a.csv", "t_s,x_px,y_px\n0,1,2\n0.1,here,2\n");
    cast_fixture_expect(f, 0, 1);
    assert_non_null(strstr(f->report.failed->pdata[0], "walk a: "));
    assert_non_null(strstr(f->report.failed->pdata[0], "line 3"));
}

static void test_gaze_missing(void **state)
{
    CastFixture *f = *state;
    remove_file(f, "a.csv");
    cast_fixture_expect(f, cast_fixture_chunks(f, "a", NULL) + cast_fixture_chunks(f, "b", NULL),
                        0);
    cast_fixture_expect_note(f, "walk a: its gaze file is missing; the study's own copy is used");
}

static void test_video_changed(void **state)
{
    CastFixture *f = *state;
    bed_video(f->bed, "b.mp4", "shelf.ppm", 6);
    cast_fixture_cast(f, NULL);
    cast_fixture_expect_note(f, "walk b: its video has changed");
    assert_int_equal(f->report.frames, 6 * 25);
    assert_int_equal(f->report.walks_done, 2);
    /* The same with the gaze file gone: its samples are in the study. */
    remove_file(f, "b.csv");
    bed_video(f->bed, "b.mp4", "shelf.ppm", 4);
    cast_fixture_cast(f, NULL);
    assert_int_equal(f->report.frames, 4 * 25);
    const char *const names[] = {"b", NULL};
    g_autoptr(GPtrArray) walks = lf_study_walks(f->study, names, NULL);
    assert_int_equal(((const LfStudyWalk *)walks->pdata[0])->samples, 250);
    assert_int_equal(((const LfStudyWalk *)walks->pdata[0])->outside, 50);
}

static void test_video_missing(void **state)
{
    CastFixture *f = *state;
    remove_file(f, "a.mp4");
    cast_fixture_expect(f, cast_fixture_chunks(f, "b", NULL), 1);
    assert_non_null(strstr(f->report.failed->pdata[0], "walk a: its video is missing"));
}

static void test_video_unfit(void **state)
{
    CastFixture *f = *state;
    bed_write(f->bed, "a.mp4", "no video");
    cast_fixture_expect(f, cast_fixture_chunks(f, "b", NULL), 1);
    assert_non_null(strstr(f->report.failed->pdata[0], "a.mp4"));
}

static void test_camera(void **state)
{
    CastFixture *f = *state;
    write_camera(f, 400);
    LfWalkInput input = {.name = "c",
                         .video = bed_path(f->bed, "b.mp4"),
                         .gaze = bed_path(f->bed, "b.csv"),
                         .camera = bed_path(f->bed, "camera.yml")};
    assert_true(lf_study_walk_add(f->study, &input, NULL, NULL, NULL));
    cast_fixture_cast(f, NULL);
    write_camera(f, 500);
    cast_fixture_expect(f, cast_fixture_chunks(f, "c", NULL), 0);
    cast_fixture_expect_note(f, "walk c: its camera file has changed");
    remove_file(f, "camera.yml");
    cast_fixture_expect(f, 0, 0);
    cast_fixture_expect_note(f, "walk c: its camera file is missing");
}

static void test_photo_changed(void **state)
{
    CastFixture *f = *state;
    gsize all = cast_fixture_chunks(f, "a", NULL) + cast_fixture_chunks(f, "b", NULL);
    bed_photo(f->bed, "shelf.ppm", 8);
    cast_fixture_expect(f, all, 0);
    cast_fixture_expect_note(f, "photo shelf: its picture has changed");
    cast_fixture_expect(f, 0, 0);
}

static void test_photo_missing(void **state)
{
    CastFixture *f = *state;
    LfStudyCastOptions options = {.jobs = 1};
    g_autoptr(GError) error = NULL;
    remove_file(f, "shelf.ppm");
    assert_false(lf_study_cast(f->study, &options, &f->report, &error));
    assert_int_equal(error->code, LF_ERROR_INPUT);
    assert_non_null(strstr(error->message, "shelf.ppm"));
}

int main(void)
{
#define NEW_TEST(f)                                                                                \
    cmocka_unit_test_setup_teardown(f, cast_fixture_new_set_up, cast_fixture_tear_down)
#define CAST_TEST(f)                                                                               \
    cmocka_unit_test_setup_teardown(f, cast_fixture_cast_set_up, cast_fixture_tear_down)
    const struct CMUnitTest tests[] = {
        CAST_TEST(test_touched),      CAST_TEST(test_gaze_changed),  CAST_TEST(test_gaze_unfit),
        NEW_TEST(test_gaze_missing),  CAST_TEST(test_video_changed), NEW_TEST(test_video_missing),
        NEW_TEST(test_video_unfit),   CAST_TEST(test_camera),        CAST_TEST(test_photo_changed),
        NEW_TEST(test_photo_missing),
    };
    return cmocka_run_group_tests_name("study/refresh", tests, cast_fixture_group_set_up,
                                       cast_fixture_group_tear_down);
}
