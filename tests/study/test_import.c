/* Many walks at once: all or none, every fault told, in the order given. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/study.h>

#include "study/bed.h"

enum { N = 7 };

typedef struct {
    Bed *bed;
    LfStudy *study;
    LfWalkInput inputs[N];
    char names[N][8];
    gsize calls;
} Fixture;

static int set_up(void **state)
{
    Fixture *f = g_new0(Fixture, 1);
    LfCastSettings settings = lf_cast_settings_default();
    f->bed = bed_new();
    bed_walk(f->bed);
    f->study = lf_study_create(bed_path(f->bed, "s.lookfall"), &settings, NULL);
    for (int i = 0; i < N; i++) {
        g_snprintf(f->names[i], sizeof f->names[i], "w%d", i);
        f->inputs[i] = (LfWalkInput){.name = f->names[i],
                                     .video = bed_path(f->bed, "w.mp4"),
                                     .gaze = bed_path(f->bed, "w.csv")};
    }
    *state = f;
    return f->study ? 0 : -1;
}

static int tear_down(void **state)
{
    Fixture *f = *state;
    lf_study_close(f->study);
    bed_free(f->bed);
    g_free(f);
    return 0;
}

static void count(gsize done, gsize total, void *data)
{
    Fixture *f = data;
    assert_int_equal(done, ++f->calls);
    assert_int_equal(total, N);
}

static void test_all(void **state)
{
    Fixture *f = *state;
    static const int jobs[] = {1, 2, 5};
    for (gsize j = 0; j < G_N_ELEMENTS(jobs); j++) {
        g_autoptr(GPtrArray) faults = lf_walk_faults_new();
        f->calls = 0;
        assert_true(lf_study_walk_import(f->study, f->inputs, N, jobs[j], false, NULL, count, f,
                                         faults, NULL));
        assert_int_equal(f->calls, N);
        assert_int_equal(faults->len, 0);
        g_autoptr(GPtrArray) walks = lf_study_walks(f->study, NULL, NULL);
        assert_int_equal(walks->len, N);
        for (int i = 0; i < N; i++) {
            const LfStudyWalk *walk = walks->pdata[i];
            assert_string_equal(walk->name, f->names[i]);
            assert_int_equal(walk->samples, 450);
            if (i > 0) /* ids in the order of the inputs, whoever was read first */
                assert_true(walk->id > ((const LfStudyWalk *)walks->pdata[i - 1])->id);
            assert_true(lf_study_walk_remove(f->study, f->names[i], NULL));
        }
    }
}

static void test_none(void **state)
{
    Fixture *f = *state;
    g_autoptr(GPtrArray) faults = lf_walk_faults_new();
    g_autoptr(GError) error = NULL;
    f->inputs[1].video = bed_path(f->bed, "missing.mp4");
    f->inputs[3].name = "w0";
    f->inputs[6].gaze = bed_path(f->bed, "w.mp4");
    g_autoptr(GBytes) before = bed_read(f->bed, "s.lookfall");
    assert_false(
        lf_study_walk_import(f->study, f->inputs, N, 2, false, NULL, count, f, faults, &error));
    assert_int_equal(error->code, LF_ERROR_INPUT);
    static const gsize expected[] = {1, 3, 6};
    assert_int_equal(faults->len, G_N_ELEMENTS(expected));
    for (gsize i = 0; i < G_N_ELEMENTS(expected); i++)
        assert_int_equal(((const LfWalkFault *)faults->pdata[i])->index, expected[i]);
    assert_non_null(strstr(((const LfWalkFault *)faults->pdata[0])->sentence, "missing.mp4"));
    assert_non_null(strstr(((const LfWalkFault *)faults->pdata[1])->sentence, "already"));
    g_autoptr(GBytes) after = bed_read(f->bed, "s.lookfall");
    assert_true(g_bytes_equal(before, after));
}

static void test_check_only(void **state)
{
    Fixture *f = *state;
    g_autoptr(GPtrArray) faults = lf_walk_faults_new();
    assert_true(
        lf_study_walk_import(f->study, f->inputs, N, 2, true, NULL, count, f, faults, NULL));
    g_autoptr(GPtrArray) walks = lf_study_walks(f->study, NULL, NULL);
    assert_int_equal(walks->len, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_all, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_none, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_check_only, set_up, tear_down),
    };
    return cmocka_run_group_tests_name("study/import", tests, NULL, NULL);
}
