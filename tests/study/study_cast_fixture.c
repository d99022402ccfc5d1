/* A study of one photo and two walks. */
#include "study/study_cast_fixture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

/* Making the study takes long, and casting it takes longest: both are done once a program, and the
 * folder is put back before each test. It stays at its place, since a study knows its inputs by
 * their paths. */
static Bed *fixture_bed;
static char *fixture_new, *fixture_cast; /* copies of the folder, beside it */

/* The folder `to` as `from` is, with the files' times. */
static void fixture_copy(const char *from, const char *to)
{
    const char *const remove[] = {"rm", "-rf", to, NULL}, *const copy[] = {"cp", "-a", from, to,
                                                                           NULL};
    int status = -1;
    assert_true(g_spawn_sync(NULL, (char **)(gpointer)remove, NULL, G_SPAWN_SEARCH_PATH, NULL, NULL,
                             NULL, NULL, &status, NULL) &&
                status == 0);
    assert_true(g_spawn_sync(NULL, (char **)(gpointer)copy, NULL, G_SPAWN_SEARCH_PATH, NULL, NULL,
                             NULL, NULL, &status, NULL) &&
                status == 0);
}

static void fixture_make(Bed *bed)
{
    LfCastSettings settings = lf_cast_settings_default();
    bed_photo(bed, "shelf.ppm", 7);
    bed_video(bed, "a.mp4", "shelf.ppm", 9);
    bed_video(bed, "b.mp4", "shelf.ppm", 5);
    bed_gaze(bed, "a.csv", 0, 9);
    bed_gaze(bed, "b.csv", 0, 5);
    g_autoptr(LfStudy) study = lf_study_create(bed_path(bed, "s.lookfall"), &settings, NULL);
    assert_non_null(study);
    assert_true(lf_study_photo_add(study, "shelf", bed_path(bed, "shelf.ppm"), NAN, NULL, NULL));
    static const char *const files[][3] = {{"a", "a.mp4", "a.csv"}, {"b", "b.mp4", "b.csv"}};
    for (int i = 0; i < 2; i++) {
        LfWalkInput input = {.name = files[i][0],
                             .video = bed_path(bed, files[i][1]),
                             .gaze = bed_path(bed, files[i][2])};
        assert_true(lf_study_walk_add(study, &input, NULL, NULL, NULL));
    }
}

int cast_fixture_group_set_up(void **state)
{
    (void)state;
    fixture_bed = bed_new();
    fixture_new = g_strconcat(fixture_bed->folder, "-new", NULL);
    fixture_cast = g_strconcat(fixture_bed->folder, "-cast", NULL);
    fixture_make(fixture_bed);
    fixture_copy(fixture_bed->folder, fixture_new);
    bed_expect(fixture_bed, 0, "2 walks cast", "cast s.lookfall");
    fixture_copy(fixture_bed->folder, fixture_cast);
    return 0;
}

int cast_fixture_group_tear_down(void **state)
{
    (void)state;
    bed_remove(fixture_new);
    bed_remove(fixture_cast);
    bed_free(fixture_bed);
    g_free(fixture_new);
    g_free(fixture_cast);
    return 0;
}

static int fixture_set_up(void **state, const char *as)
{
    CastFixture *f = g_new0(CastFixture, 1);
    f->bed = fixture_bed;
    f->notes = g_string_new(NULL);
    fixture_copy(as, f->bed->folder);
    f->study = lf_study_open(bed_path(f->bed, "s.lookfall"), LF_STUDY_WRITE, NULL);
    assert_non_null(f->study);
    *state = f;
    return 0;
}

int cast_fixture_new_set_up(void **state)
{
    return fixture_set_up(state, fixture_new);
}

int cast_fixture_cast_set_up(void **state)
{
    return fixture_set_up(state, fixture_cast);
}

int cast_fixture_tear_down(void **state)
{
    CastFixture *f = *state;
    lf_study_cast_report_clear(&f->report);
    lf_study_close(f->study);
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
