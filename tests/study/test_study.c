/* Making and opening studies: what is refused, and that a refused file keeps its bytes. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include <lookfall/study.h>

#include "study/bed.h"

static LfStudy *make(Bed *bed, const char *name)
{
    LfCastSettings settings = lf_cast_settings_default();
    g_autoptr(GError) error = NULL;
    LfStudy *study = lf_study_create(bed_path(bed, name), &settings, &error);
    assert_null(error);
    assert_non_null(study);
    return study;
}

static void expect_refused(Bed *bed, const char *name, int code, const char *text)
{
    g_autoptr(GError) error = NULL;
    assert_null(lf_study_open(bed_path(bed, name), LF_STUDY_WRITE, &error));
    assert_non_null(error);
    assert_int_equal(error->code, code);
    if (!strstr(error->message, text))
        fail_msg("\"%s\" is not in \"%s\"", text, error->message);
}

static void test_new_is_empty(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    lf_study_close(make(bed, "a.lookfall"));
    g_autoptr(LfStudy) study = lf_study_open(bed_path(bed, "a.lookfall"), LF_STUDY_READ, NULL);
    assert_non_null(study);
    g_autoptr(GPtrArray) photos = lf_study_photos(study, NULL);
    g_autoptr(GPtrArray) walks = lf_study_walks(study, NULL, NULL);
    g_autoptr(GPtrArray) news = lf_study_file_news(study, NULL);
    assert_int_equal(photos->len, 0);
    assert_int_equal(walks->len, 0);
    assert_int_equal(news->len, 0);
}

static void test_one_file(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    LfStudy *study = make(bed, "a.lookfall");
    GDir *dir = g_dir_open(bed->folder, 0, NULL);
    assert_string_equal(g_dir_read_name(dir), "a.lookfall");
    assert_null(g_dir_read_name(dir));
    g_dir_close(dir);
    lf_study_close(study);
}

static void test_existing_is_kept(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    LfCastSettings settings = lf_cast_settings_default();
    g_autoptr(GError) error = NULL;
    bed_write(bed, "a.lookfall", "a letter");
    assert_null(lf_study_create(bed_path(bed, "a.lookfall"), &settings, &error));
    assert_int_equal(error->code, LF_ERROR_INPUT);
    g_autoptr(GBytes) after = bed_read(bed, "a.lookfall");
    assert_int_equal(g_bytes_get_size(after), 8);
    assert_memory_equal(g_bytes_get_data(after, NULL), "a letter", 8);
}

static void test_not_a_study(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    bed_write(bed, "text", "t_s,x_px,y_px\n0,1,2\n");
    bed_write(bed, "empty", "");
    g_autofree char *long_text = g_strnfill(20000, 'x');
    bed_write(bed, "long", long_text);
    assert_int_equal(g_mkdir(bed_path(bed, "folder"), 0755), 0);
    expect_refused(bed, "missing", LF_ERROR_INPUT, "no such study");
    expect_refused(bed, "text", LF_ERROR_INPUT, "not a lookfall study");
    expect_refused(bed, "empty", LF_ERROR_INPUT, "not a lookfall study");
    expect_refused(bed, "long", LF_ERROR_INPUT, "not a lookfall study");
    expect_refused(bed, "folder", LF_ERROR_INPUT, "is a folder");
}

/* Overwrites a big-endian number in the header of the study. Offsets: "Database File Format",
 * section 1.3 (the database header), sqlite.org: user version at 60, application id at 68. */
static void patch(Bed *bed, const char *name, int offset, guint32 number)
{
    g_autoptr(GBytes) bytes = bed_read(bed, name);
    gsize size;
    g_autofree guint8 *copy = g_memdup2(g_bytes_get_data(bytes, &size), g_bytes_get_size(bytes));
    for (int i = 0; i < 4; i++)
        copy[offset + i] = (guint8)(number >> (24 - 8 * i));
    assert_true(g_file_set_contents(bed_path(bed, name), (char *)copy, (gssize)size, NULL));
}

static void test_newer_version(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    lf_study_close(make(bed, "a.lookfall"));
    patch(bed, "a.lookfall", 60, 99);
    g_autoptr(GBytes) before = bed_read(bed, "a.lookfall");
    expect_refused(bed, "a.lookfall", LF_ERROR_INPUT, "made by a newer lookfall");
    g_autoptr(GBytes) after = bed_read(bed, "a.lookfall");
    assert_true(g_bytes_equal(before, after));
}

static void test_other_application(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    lf_study_close(make(bed, "a.lookfall"));
    patch(bed, "a.lookfall", 68, 0x12345678);
    expect_refused(bed, "a.lookfall", LF_ERROR_INPUT, "not a lookfall study");
}

static void test_damaged(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    lf_study_close(make(bed, "a.lookfall"));
    g_autoptr(GBytes) whole = bed_read(bed, "a.lookfall");
    gsize size;
    g_autofree char *copy = g_memdup2(g_bytes_get_data(whole, &size), g_bytes_get_size(whole));
    memset(copy + 100, 0xff, size - 100);
    assert_true(g_file_set_contents(bed_path(bed, "a.lookfall"), copy, (gssize)size, NULL));
    g_autoptr(GError) error = NULL;
    g_autoptr(LfStudy) study = lf_study_open(bed_path(bed, "a.lookfall"), LF_STUDY_READ, &error);
    if (study)
        assert_null(lf_study_photos(study, &error));
    assert_non_null(error);
    assert_int_equal(error->code, LF_ERROR_INPUT);
}

static void test_settings(void **state)
{
    (void)state;
    static const struct {
        double tolerance_deg, sure_at;
        bool good;
    } cases[] = {
        {1, 0.8, true},  {0.25, 1, true},  {20, 0.01, true},
        {0, 0.8, false}, {-1, 0.8, false}, {21, 0.8, false},
        {1, 0, false},   {1, 1.1, false},  {0.0 / 0.0, 0.8, false},
    };
    g_autoptr(Bed) bed = bed_new();
    g_autoptr(LfStudy) study = make(bed, "a.lookfall");
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        LfCastSettings want = {cases[i].tolerance_deg, cases[i].sure_at}, before, after;
        assert_true(lf_study_settings(study, &before, NULL));
        assert_int_equal(lf_study_set_settings(study, &want, &error), cases[i].good);
        assert_true(lf_study_settings(study, &after, NULL));
        if (!cases[i].good) {
            assert_int_equal(error->code, LF_ERROR_USAGE);
            want = before;
        }
        assert_true(after.tolerance_deg == want.tolerance_deg);
        assert_true(after.sure_at == want.sure_at);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_new_is_empty),     cmocka_unit_test(test_one_file),
        cmocka_unit_test(test_existing_is_kept), cmocka_unit_test(test_not_a_study),
        cmocka_unit_test(test_newer_version),    cmocka_unit_test(test_other_application),
        cmocka_unit_test(test_damaged),          cmocka_unit_test(test_settings),
    };
    return cmocka_run_group_tests_name("study/study", tests, NULL, NULL);
}
