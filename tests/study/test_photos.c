/* Photos in a study: what they report, and what is refused. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/study.h>

#include "study/bed.h"

static LfStudy *make(Bed *bed)
{
    LfCastSettings settings = lf_cast_settings_default();
    LfStudy *study = lf_study_create(bed_path(bed, "s.lookfall"), &settings, NULL);
    assert_non_null(study);
    bed_photo(bed, "shelf.ppm", 1);
    return study;
}

static void test_add_and_list(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    g_autoptr(LfStudy) study = make(bed);
    LfPhotoReport report;
    bed_photo(bed, "sign.ppm", 2);
    assert_true(
        lf_study_photo_add(study, "shelf", bed_path(bed, "shelf.ppm"), 2400, &report, NULL));
    assert_true(lf_study_photo_add(study, "a sign", bed_path(bed, "sign.ppm"), NAN, NULL, NULL));
    g_autoptr(GPtrArray) photos = lf_study_photos(study, NULL);
    assert_int_equal(photos->len, 2);
    const LfStudyPhoto *shelf = photos->pdata[0], *sign = photos->pdata[1];
    assert_string_equal(shelf->name, "shelf");
    assert_string_equal(sign->name, "a sign");
    assert_true(shelf->width_mm == 2400);
    assert_true(isnan(sign->width_mm));
    assert_int_equal(shelf->report.width, 800);
    assert_int_equal(shelf->report.height, 500);
    assert_true(shelf->report.features == report.features && report.features > 0);
    assert_true(shelf->report.spread == report.spread && shelf->report.alike == report.alike);
    /* An independent checksum of the same bytes. */
    g_autoptr(GBytes) bytes = bed_read(bed, "shelf.ppm");
    g_autofree char *sha256 = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
    assert_string_equal(shelf->sha256, sha256);
    assert_string_equal(shelf->path, bed_path(bed, "shelf.ppm"));
}

static void test_refused(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    g_autoptr(LfStudy) study = make(bed);
    g_autofree char *long_name = g_strnfill(101, 'n');
    bed_write(bed, "text.png", "no picture");
    /* A white picture: nothing to find again. */
    g_autofree char *white = g_strnfill(300 * 200, (char)0xff);
    g_autofree char *pgm = g_strconcat("P5 300 200 255\n", white, NULL);
    bed_write(bed, "white.pgm", pgm);
    assert_true(lf_study_photo_add(study, "taken", bed_path(bed, "shelf.ppm"), NAN, NULL, NULL));
    const struct {
        const char *name, *image;
        double width_mm;
        int code;
        const char *text;
    } cases[] = {
        {"taken", "shelf.ppm", NAN, LF_ERROR_INPUT, "already"},
        {"", "shelf.ppm", NAN, LF_ERROR_INPUT, "empty"},
        {" a", "shelf.ppm", NAN, LF_ERROR_INPUT, "blank"},
        {"a\nb", "shelf.ppm", NAN, LF_ERROR_INPUT, "control character"},
        {"\xff", "shelf.ppm", NAN, LF_ERROR_INPUT, "UTF-8"},
        {long_name, "shelf.ppm", NAN, LF_ERROR_INPUT, "longer"},
        {"a", "missing.png", NAN, LF_ERROR_INPUT, "no such file"},
        {"a", "text.png", NAN, LF_ERROR_INPUT, "text.png"},
        {"a", "white.pgm", NAN, LF_ERROR_INPUT, "too few features to find this photo again"},
        {"a", "shelf.ppm", 0, LF_ERROR_USAGE, "width"},
        {"a", "shelf.ppm", -5, LF_ERROR_USAGE, "width"},
    };
    g_autoptr(GBytes) before = bed_read(bed, "s.lookfall");
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        assert_false(lf_study_photo_add(study, cases[i].name, bed_path(bed, cases[i].image),
                                        cases[i].width_mm, NULL, &error));
        assert_int_equal(error->code, cases[i].code);
        if (!strstr(error->message, cases[i].text))
            fail_msg("\"%s\" is not in \"%s\"", cases[i].text, error->message);
    }
    g_autoptr(GBytes) after = bed_read(bed, "s.lookfall");
    assert_true(g_bytes_equal(before, after));
}

static void test_remove(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    g_autoptr(LfStudy) study = make(bed);
    g_autoptr(GError) error = NULL;
    assert_true(lf_study_photo_add(study, "a", bed_path(bed, "shelf.ppm"), NAN, NULL, NULL));
    assert_false(lf_study_photo_remove(study, "b", &error));
    assert_int_equal(error->code, LF_ERROR_INPUT);
    assert_true(lf_study_photo_remove(study, "a", NULL));
    g_autoptr(GPtrArray) photos = lf_study_photos(study, NULL);
    assert_int_equal(photos->len, 0);
    /* The name is free again, the picture is untouched. */
    assert_true(lf_study_photo_add(study, "a", bed_path(bed, "shelf.ppm"), NAN, NULL, NULL));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_add_and_list),
        cmocka_unit_test(test_refused),
        cmocka_unit_test(test_remove),
    };
    return cmocka_run_group_tests_name("study/photos", tests, NULL, NULL);
}
