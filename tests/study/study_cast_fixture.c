/* A study of one photo and two walks. */
#include "study/study_cast_fixture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

int cast_fixture_set_up(void **state)
{
    CastFixture *f = g_new0(CastFixture, 1);
    LfCastSettings settings = lf_cast_settings_default();
    f->bed = bed_new();
    f->notes = g_string_new(NULL);
    bed_photo(f->bed, "shelf.ppm", 7);
    bed_video(f->bed, "a.mp4", "shelf.ppm", 9);
    bed_video(f->bed, "b.mp4", "shelf.ppm", 5);
    bed_gaze(f->bed, "a.csv", 0, 9);
    bed_gaze(f->bed, "b.csv", 0, 5);
    f->study = lf_study_create(bed_path(f->bed, "s.lookfall"), &settings, NULL);
    assert_non_null(f->study);
    assert_true(
        lf_study_photo_add(f->study, "shelf", bed_path(f->bed, "shelf.ppm"), NAN, NULL, NULL));
    static const char *const files[][3] = {{"a", "a.mp4", "a.csv"}, {"b", "b.mp4", "b.csv"}};
    for (int i = 0; i < 2; i++) {
        LfWalkInput input = {.name = files[i][0],
                             .video = bed_path(f->bed, files[i][1]),
                             .gaze = bed_path(f->bed, files[i][2])};
        assert_true(lf_study_walk_add(f->study, &input, NULL, NULL, NULL));
    }
    *state = f;
    return 0;
}

int cast_fixture_tear_down(void **state)
{
    CastFixture *f = *state;
    lf_study_cast_report_clear(&f->report);
    lf_study_close(f->study);
    bed_free(f->bed);
    g_string_free(f->notes, TRUE);
    g_free(f);
    return 0;
}

static void cast_fixture_note(const char *sentence, void *data)
{
    CastFixture *f = data;
    g_string_append_printf(f->notes, "%s\n", sentence);
}

void cast_fixture_cast(CastFixture *f, const char *const *walks)
{
    LfStudyCastOptions options = {.walks = walks, .jobs = 2, .note = cast_fixture_note, .data = f};
    g_autoptr(GError) error = NULL;
    lf_study_cast_report_clear(&f->report);
    g_string_truncate(f->notes, 0);
    if (!lf_study_cast(f->study, &options, &f->report, &error))
        fail_msg("%s", error->message);
}

void cast_fixture_expect(CastFixture *f, gsize due, guint failed)
{
    cast_fixture_cast(f, NULL);
    assert_int_equal(f->report.chunks_due, due);
    assert_int_equal(f->report.chunks, due);
    assert_int_equal(f->report.failed->len, failed);
    assert_int_equal(f->report.walks_done, f->report.walks - failed);
    assert_false(f->report.interrupted);
}

gsize cast_fixture_chunks(CastFixture *f, const char *walk, gsize *current)
{
    const char *const names[] = {walk, NULL};
    g_autoptr(GPtrArray) walks = lf_study_walks(f->study, names, NULL);
    assert_non_null(walks);
    const LfStudyWalk *info = walks->pdata[0];
    if (current)
        *current = info->chunks_cast;
    return info->chunks;
}

void cast_fixture_expect_note(const CastFixture *f, const char *text)
{
    if (!strstr(f->notes->str, text))
        fail_msg("\"%s\" is not in \"%s\"", text, f->notes->str);
}
