/* Recordings from outside the project: LOOKFALL_DATA/gaze-labels, seven files of R. Andersson et
 * al., "One algorithm to rule them all?", Behavior Research Methods 49 (2017) 616-637. What we read
 * is compared with a plain split of the same lines: as many samples, the same numbers, the same
 * blanks. Exit status 77, skipped, where the folder is missing. */
#include "gaze/check.h"

#define SKIPPED 77
#define N_FILES 7

static void test_outside_file(const char *path)
{
    g_autofree char *text = NULL;
    assert_true(g_file_get_contents(path, &text, NULL, NULL));
    g_autoptr(GError) error = NULL;
    g_autoptr(LfGaze) gaze = lf_gaze_read(path, NULL, 1024, 768, &error);
    if (!gaze) {
        fail_msg("%s", error->message);
        return;
    }
    g_auto(GStrv) lines = g_strsplit(g_strchomp(text), "\n", -1);
    assert_int_equal(g_strv_length(lines) - 1, gaze->n_samples);
    gsize n_lost = 0;
    for (gsize i = 0; i < gaze->n_samples; i++) {
        const LfGazeSample *s = &gaze->samples[i];
        g_auto(GStrv) field = g_strsplit(lines[i + 1], ",", -1);
        assert_int_equal(llround(g_ascii_strtod(field[0], NULL) * 1e6), s->t_us);
        bool lost = !*field[1] || !*field[2];
        assert_int_equal(lost, s->lost);
        n_lost += lost;
        if (!lost) {
            assert_true(s->x == g_ascii_strtod(field[1], NULL));
            assert_true(s->y == g_ascii_strtod(field[2], NULL));
        }
    }
    assert_int_equal(gaze->n_lost, n_lost);
    assert_int_equal(gaze->time_decimals, 4); /* 500 Hz */
}

static void test_outside_recordings(void **state)
{
    GDir *folder = g_dir_open(*state, 0, NULL);
    assert_non_null(folder);
    int n = 0;
    for (const char *name; (name = g_dir_read_name(folder));) {
        g_autofree char *path = g_build_filename(*state, name, NULL);
        test_outside_file(path);
        n++;
    }
    g_dir_close(folder);
    assert_int_equal(n, N_FILES);
}

int main(void)
{
    const char *data = g_getenv("LOOKFALL_DATA");
    g_autofree char *path = g_build_filename(data ? data : "", "gaze-labels", NULL);
    if (!data || !g_file_test(path, G_FILE_TEST_IS_DIR)) {
        print_message("skipped: LOOKFALL_DATA names no folder with gaze-labels in it\n");
        return SKIPPED;
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_prestate(test_outside_recordings, path),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
