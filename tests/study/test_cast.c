/* What a cast does and leaves alone, and what an export gives of it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include "study/study_cast_fixture.h"

/* --- exports ---------------------------------------------------------------------------------- */

typedef struct {
    gsize rows, cast, on_photo;
    int64_t last_us;
    char last_walk[16];
} Rows;

static bool take_sample(const LfStudySample *sample, void *data, G_GNUC_UNUSED GError **error)
{
    Rows *rows = data;
    int order = strcmp(rows->last_walk, sample->walk);
    assert_true(order < 0 || (order == 0 && sample->t_us > rows->last_us));
    g_strlcpy(rows->last_walk, sample->walk, sizeof rows->last_walk);
    rows->last_us = sample->t_us;
    rows->rows++;
    rows->cast += sample->cast;
    if (!sample->cast)
        return true;
    /* Every tenth sample of the gaze files is lost, and no other. */
    bool lost = sample->t_us / 20000 % 10 == 9;
    assert_int_equal(sample->result.state == LF_STATE_LOST, lost);
    assert_int_equal(sample->photo == NULL, isnan(sample->result.x));
    if (sample->photo) {
        assert_string_equal(sample->photo, "shelf");
        assert_true(sample->result.confidence >= 0 && sample->result.confidence <= 1);
        rows->on_photo++;
    }
    return true;
}

static bool take_pose(const LfStudyPose *pose, void *data, G_GNUC_UNUSED GError **error)
{
    Rows *rows = data;
    int order = strcmp(rows->last_walk, pose->walk);
    assert_true(order < 0 || (order == 0 && pose->pose.t_us > rows->last_us));
    g_strlcpy(rows->last_walk, pose->walk, sizeof rows->last_walk);
    rows->last_us = pose->pose.t_us;
    assert_string_equal(pose->photo, "shelf");
    for (int i = 0; i < 9; i++)
        assert_true(isfinite(pose->pose.photo_from_frame.m[i]));
    rows->rows++;
    return true;
}

static void expect_export(CastFixture *f, gsize rows, gsize cast, const char *undone)
{
    Rows seen = {0};
    g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
    assert_true(lf_study_export_samples(f->study, NULL, take_sample, &seen, names, NULL));
    assert_int_equal(seen.rows, rows);
    assert_int_equal(seen.cast, cast);
    assert_int_equal(names->len, undone ? 1 : 0);
    if (undone)
        assert_string_equal(names->pdata[0], undone);
}

static void expect_nothing_cast(CastFixture *f)
{
    Rows seen = {0};
    g_autoptr(GError) error = NULL;
    assert_false(lf_study_export_samples(f->study, NULL, take_sample, &seen, NULL, &error));
    assert_int_equal(error->code, LF_ERROR_INPUT);
    assert_int_equal(seen.rows, 0);
}

/* --- tests ------------------------------------------------------------------------------------ */

static void test_once(void **state)
{
    CastFixture *f = *state;
    gsize a = cast_fixture_chunks(f, "a", NULL), b = cast_fixture_chunks(f, "b", NULL);
    expect_nothing_cast(f);
    cast_fixture_expect(f, a + b, 0);
    assert_int_equal(f->report.frames, (9 + 5) * 25);
    assert_int_equal(f->report.damaged, 0);
    assert_int_equal(f->report.video_us, 14000000);
    expect_export(f, 450 + 250, 450 + 250, NULL);
    Rows poses = {0}, samples = {0};
    assert_true(lf_study_export_poses(f->study, NULL, take_pose, &poses, NULL, NULL));
    assert_true(lf_study_export_samples(f->study, NULL, take_sample, &samples, NULL, NULL));
    /* The photo fills every frame: nearly all frames and gaze samples must be on it. */
    assert_in_range(poses.rows, 340, 350);
    assert_in_range(samples.on_photo, 610, 630);
    cast_fixture_expect(f, 0, 0);
    assert_int_equal(f->report.frames, 0);
}

static void test_states_add_up(void **state)
{
    CastFixture *f = *state;
    g_autoptr(GPtrArray) walks = lf_study_walks(f->study, NULL, NULL);
    for (guint i = 0; i < walks->len; i++) {
        const LfStudyWalk *walk = walks->pdata[i];
        int64_t sum = 0;
        for (int s = 0; s <= LF_STATE_PLACED; s++)
            sum += walk->states[s];
        assert_int_equal(sum, walk->samples);
        assert_int_equal(walk->states[LF_STATE_LOST], walk->lost);
    }
}

static void test_one_walk(void **state)
{
    CastFixture *f = *state;
    const char *const only[] = {"b", NULL};
    cast_fixture_cast(f, only);
    assert_int_equal(f->report.walks, 1);
    assert_int_equal(f->report.frames, 5 * 25);
    expect_export(f, 450 + 250, 250, "a");
    cast_fixture_expect(f, cast_fixture_chunks(f, "a", NULL), 0);
    expect_export(f, 450 + 250, 450 + 250, NULL);
}

static void test_cancelled(void **state)
{
    CastFixture *f = *state;
    int cancel = 1;
    LfStudyCastOptions options = {.jobs = 2, .cancel = &cancel};
    assert_true(lf_study_cast(f->study, &options, &f->report, NULL));
    assert_int_equal(f->report.chunks, 0);
    expect_nothing_cast(f);
}

static void test_settings(void **state)
{
    CastFixture *f = *state;
    const char *const only[] = {"b", NULL};
    gsize a = cast_fixture_chunks(f, "a", NULL), b = cast_fixture_chunks(f, "b", NULL);
    LfCastSettings first, tolerance, sure;
    assert_true(lf_study_settings(f->study, &first, NULL));
    tolerance = first;
    tolerance.tolerance_deg = 2;
    sure = tolerance;
    sure.sure_at = 0.5;
    assert_true(lf_study_set_settings(f->study, &tolerance, NULL));
    expect_nothing_cast(f);
    /* Rows of the old settings are still there for a, but must not be seen. */
    cast_fixture_cast(f, only);
    expect_export(f, 450 + 250, 250, "a");
    cast_fixture_expect(f, a, 0);
    assert_true(lf_study_set_settings(f->study, &sure, NULL));
    expect_nothing_cast(f);
    cast_fixture_expect(f, a + b, 0);
    /* There and back again, with nothing cast in between, changes nothing. */
    assert_true(lf_study_set_settings(f->study, &first, NULL));
    assert_true(lf_study_set_settings(f->study, &sure, NULL));
    cast_fixture_expect(f, 0, 0);
}

static void test_photos(void **state)
{
    CastFixture *f = *state;
    gsize all = cast_fixture_chunks(f, "a", NULL) + cast_fixture_chunks(f, "b", NULL);
    bed_photo(f->bed, "sign.ppm", 99);
    assert_true(
        lf_study_photo_add(f->study, "sign", bed_path(f->bed, "sign.ppm"), NAN, NULL, NULL));
    expect_nothing_cast(f);
    /* Taken out again before anything was cast with it: the old results stand. */
    assert_true(lf_study_photo_remove(f->study, "sign", NULL));
    expect_export(f, 700, 700, NULL);
    cast_fixture_expect(f, 0, 0);
    assert_true(
        lf_study_photo_add(f->study, "sign", bed_path(f->bed, "sign.ppm"), NAN, NULL, NULL));
    cast_fixture_expect(f, all, 0);
    assert_true(lf_study_photo_remove(f->study, "sign", NULL));
    expect_nothing_cast(f);
    cast_fixture_expect(f, all, 0);
}

static void test_nothing_to_cast(void **state)
{
    CastFixture *f = *state;
    LfStudyCastOptions options = {.jobs = 1};
    g_autoptr(GError) error = NULL;
    assert_true(lf_study_photo_remove(f->study, "shelf", NULL));
    assert_false(lf_study_cast(f->study, &options, &f->report, &error));
    assert_int_equal(error->code, LF_ERROR_INPUT);
    assert_non_null(strstr(error->message, "no photo"));
}

/* Somebody changes the study while it is being cast: the run stops, and what is there is right. */
static void change_meanwhile(const LfStudyProgress *progress, void *data)
{
    CastFixture *f = data;
    (void)progress;
    if (f->notes->len > 0)
        return;
    g_string_assign(f->notes, "done");
    g_autoptr(LfStudy) other = lf_study_open(bed_path(f->bed, "s.lookfall"), LF_STUDY_WRITE, NULL);
    assert_true(lf_study_photo_remove(other, "shelf", NULL));
}

static void test_changed_meanwhile(void **state)
{
    CastFixture *f = *state;
    LfStudyCastOptions options = {.jobs = 1, .progress = change_meanwhile, .data = f};
    g_autoptr(GError) error = NULL;
    assert_false(lf_study_cast(f->study, &options, &f->report, &error));
    assert_int_equal(error->code, LF_ERROR_PART);
    expect_nothing_cast(f);
}

int main(void)
{
#define NEW_TEST(f)                                                                                \
    cmocka_unit_test_setup_teardown(f, cast_fixture_new_set_up, cast_fixture_tear_down)
#define CAST_TEST(f)                                                                               \
    cmocka_unit_test_setup_teardown(f, cast_fixture_cast_set_up, cast_fixture_tear_down)
    const struct CMUnitTest tests[] = {
        NEW_TEST(test_once),
        CAST_TEST(test_states_add_up),
        NEW_TEST(test_one_walk),
        NEW_TEST(test_cancelled),
        CAST_TEST(test_settings),
        CAST_TEST(test_photos),
        NEW_TEST(test_nothing_to_cast),
        NEW_TEST(test_changed_meanwhile),
    };
    return cmocka_run_group_tests_name("study/cast", tests, cast_fixture_group_set_up,
                                       cast_fixture_group_tear_down);
}
