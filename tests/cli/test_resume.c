/* The same bytes from an export for any number of workers, and after any number of kills. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <signal.h>
#include <string.h>
#include <sys/wait.h>

#include <cmocka.h>

#include "study/bed.h"

static Bed *bed;
static char *expected_samples, *expected_poses; /* of a cast by one worker, undisturbed */

static void make_study(const char *name)
{
    g_autofree char *make = g_strdup_printf("new %s", name);
    g_autofree char *photo = g_strdup_printf("photo add %s --name shelf --image shelf.png", name);
    g_autofree char *walks = g_strdup_printf("walk import %s walks.csv", name);
    bed_expect(bed, 0, NULL, make);
    bed_expect(bed, 0, NULL, photo);
    bed_expect(bed, 0, NULL, walks);
}

static char *export(const char *name, const char *what)
{
    g_autofree char *arguments = g_strdup_printf("export %s %s", name, what);
    return bed_output(bed, arguments);
}

static void expect_same(const char *name)
{
    g_autofree char *samples = export(name, "samples");
    g_autofree char *poses = export(name, "poses");
    assert_string_equal(samples, expected_samples);
    assert_string_equal(poses, expected_poses);
}

/* The demo's renderer: two walks in an invented shop, several chunks each. */
static int set_up(void **state)
{
    (void)state;
    bed = bed_new();
    const char *argv[] = {LOOKFALL_RENDER, "--scene", "small",     "--seed", "5",
                          "--walks",       "2",       "--seconds", "13",     "--photo-width",
                          "1200",          "--out",   bed->folder, NULL};
    int wait_status;
    if (!g_spawn_sync(NULL, (char **)(gpointer)argv, NULL,
                      G_SPAWN_STDOUT_TO_DEV_NULL | G_SPAWN_STDERR_TO_DEV_NULL, NULL, NULL, NULL,
                      NULL, &wait_status, NULL) ||
        wait_status != 0)
        return -1;
    make_study("one.lookfall");
    bed_expect(bed, 0, NULL, "cast one.lookfall --jobs 1");
    expected_samples = export("one.lookfall", "samples");
    expected_poses = export("one.lookfall", "poses");
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    bed_free(bed);
    g_free(expected_samples);
    g_free(expected_poses);
    return 0;
}

/* An export that says nothing would be equal too. */
static void test_there_is_something(void **state)
{
    (void)state;
    g_auto(GStrv) samples = g_strsplit(expected_samples, "\r\n", -1);
    g_auto(GStrv) poses = g_strsplit(expected_poses, "\r\n", -1);
    int sure = 0;
    for (guint i = 0; samples[i]; i++)
        sure += strstr(samples[i], ",sure,") != NULL;
    assert_int_equal(g_strv_length(samples), 1 + 2 * 1300 + 1); /* 100 Hz, 13 s, two walks */
    assert_true(sure > 500);
    assert_true(g_strv_length(poses) > 200);
}

static void test_any_number_of_workers(void **state)
{
    (void)state;
    static const char *const jobs[] = {"2", "5"};
    for (gsize i = 0; i < G_N_ELEMENTS(jobs); i++) {
        g_autofree char *name = g_strdup_printf("jobs%s.lookfall", jobs[i]);
        g_autofree char *cast = g_strdup_printf("cast %s --jobs %s", name, jobs[i]);
        make_study(name);
        bed_expect(bed, 0, NULL, cast);
        expect_same(name);
    }
}

/* Waits until the study has been written to `times` times (its journal comes and goes with each
 * transaction), and stops inside the last one. False where the child ended before. */
static bool wait_for_writes(GPid child, const char *journal, int times, int *wait_status)
{
    bool there = false;
    for (int seen = 0; seen < times;) {
        bool now = g_file_test(journal, G_FILE_TEST_EXISTS);
        seen += now && !there;
        there = now;
        if (seen < times && waitpid(child, wait_status, WNOHANG) == child)
            return false;
    }
    return true;
}

static void test_killed(void **state)
{
    (void)state;
    int kills = 0;
    make_study("killed.lookfall");
    const char *journal = bed_path(bed, "killed.lookfall-journal");
    /* Each round lets one more transaction pass, so that the kill falls into a later one. */
    for (int round = 1; round <= 8; round++) {
        int wait_status = 0;
        GPid child = bed_start(bed, "cast killed.lookfall --jobs 2");
        if (wait_for_writes(child, journal, round, &wait_status)) {
            kill(child, SIGKILL);
            assert_int_equal(waitpid(child, &wait_status, 0), child);
        }
        kills += WIFSIGNALED(wait_status);
        bed_expect(bed, 0, NULL, "info killed.lookfall");
    }
    assert_true(kills >= 3);
    bed_expect(bed, 0, NULL, "cast killed.lookfall");
    expect_same("killed.lookfall");
}

/* An import that is killed adds nothing: the next command rolls it back. */
static void test_killed_import(void **state)
{
    (void)state;
    g_autoptr(GString) table = g_string_new("name,video,gaze\n");
    for (int i = 0; i < 40; i++)
        g_string_append_printf(table, "m%02d,w01.mp4,w01_gaze.csv\n", i);
    bed_write(bed, "many.csv", table->str);
    make_study("import.lookfall");
    g_autofree char *before = bed_output(bed, "walk list import.lookfall");
    int wait_status = 0;
    GPid child = bed_start(bed, "walk import import.lookfall many.csv");
    assert_true(wait_for_writes(child, bed_path(bed, "import.lookfall-journal"), 1, &wait_status));
    kill(child, SIGKILL);
    assert_int_equal(waitpid(child, &wait_status, 0), child);
    assert_true(WIFSIGNALED(wait_status));
    g_autofree char *after = bed_output(bed, "walk list import.lookfall");
    assert_string_equal(after, before);
    bed_expect(bed, 0, "added 40 walks", "walk import import.lookfall many.csv");
}

/* A polite signal: stops, says how to go on, status 1; the second cast does the rest. */
static void test_terminated(void **state)
{
    (void)state;
    static const int signals[] = {SIGINT, SIGTERM};
    for (gsize i = 0; i < G_N_ELEMENTS(signals); i++) {
        g_autofree char *name = g_strdup_printf("stopped%d.lookfall", signals[i]);
        g_autofree char *journal = g_strdup_printf("%s-journal", name);
        g_autofree char *cast = g_strdup_printf("cast %s --jobs 1", name);
        int wait_status = 0;
        make_study(name);
        GPid child = bed_start(bed, cast);
        /* Two recipes, the log's entry, the first chunk. */
        assert_true(wait_for_writes(child, bed_path(bed, journal), 4, &wait_status));
        kill(child, signals[i]);
        assert_int_equal(waitpid(child, &wait_status, 0), child);
        assert_true(WIFEXITED(wait_status));
        assert_int_equal(WEXITSTATUS(wait_status), 1);
        bed_expect(bed, 0, NULL, cast);
        expect_same(name);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_there_is_something),
        cmocka_unit_test(test_any_number_of_workers),
        cmocka_unit_test(test_killed),
        cmocka_unit_test(test_killed_import),
        cmocka_unit_test(test_terminated),
    };
    return cmocka_run_group_tests_name("cli/resume", tests, set_up, tear_down);
}
