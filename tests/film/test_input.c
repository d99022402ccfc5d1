/* What a film refuses, and what is left when it cannot go on: nothing. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include "study/bed.h"

static Bed *shared; /* a study that is cast; no test changes it */

static int set_up(void **state)
{
    (void)state;
    shared = bed_new_cast();
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    bed_free(shared);
    return 0;
}

static void test_refused(void **state)
{
    static const struct {
        int status;
        const char *says, *arguments;
    } rows[] = {
        {2, "--walk is missing", "film s.lookfall --out f.mp4"},
        {2, "--out is missing", "film s.lookfall --walk w"},
        {2, "STUDY is missing", "film --walk w --out f.mp4"},
        {2, "--from needs a number", "film s.lookfall --walk w --out f.mp4 --from soon"},
        {2, "--to must lie between", "film s.lookfall --walk w --out f.mp4 --to -3"},
        {2, "no face to blur", "film s.lookfall --walk w --out f.mp4 --photo-only --blur-faces"},
        {2, ".mp4, .m4v, .mov or .mkv", "film s.lookfall --walk w --out f.avi"},
        {2, "did you mean --photo-only", "film s.lookfall --walk w --out f.mp4 --photo-onyl"},
        {3, "no such", "film none.lookfall --walk w --out f.mp4"},
        {3, "walk", "film s.lookfall --walk nobody --out f.mp4"},
        {3, "there is no folder nowhere", "film s.lookfall --walk w --out nowhere/f.mp4"},
        {3, "cannot begin at 9", "film s.lookfall --walk w --out f.mp4 --from 9"},
        {3, "lasts from 0 to 9.000 s", "film s.lookfall --walk w --out f.mp4 --from 100"},
        {3, "cannot end at 2", "film s.lookfall --walk w --out f.mp4 --from 2 --to 2"},
        {3, "has no frame between", "film s.lookfall --walk w --out f.mp4 --from 2.01 --to 2.02"},
        {3, "video of the walk w", "film s.lookfall --walk w --out w.mp4"},
        {3, "never written to", "film s.lookfall --walk w --out w.mp4 --force"},
        {3, "an input of the walk w", "film s.lookfall --walk w --out w.csv --force"},
        {3, "the picture of the photo shelf", "film s.lookfall --walk w --out shelf.ppm --force"},
        {3, "the study itself", "film s.lookfall --walk w --out s.lookfall --force"},
        {3, "is no file", "film s.lookfall --walk w --out folder.mp4 --force"},
    };
    static const char *const inputs[] = {"w.mp4", "w.csv", "shelf.ppm", "s.lookfall"};
    GBytes *before[G_N_ELEMENTS(inputs)];
    (void)state;

    g_mkdir(bed_path(shared, "folder.mp4"), 0777);
    for (gsize i = 0; i < G_N_ELEMENTS(inputs); i++)
        before[i] = bed_read(shared, inputs[i]);
    for (gsize i = 0; i < G_N_ELEMENTS(rows); i++) {
        bed_expect(shared, rows[i].status, rows[i].says, rows[i].arguments);
        assert_false(g_file_test(bed_path(shared, "f.mp4"), G_FILE_TEST_EXISTS));
        assert_false(g_file_test(bed_path(shared, "f.mp4.part"), G_FILE_TEST_EXISTS));
    }
    for (gsize i = 0; i < G_N_ELEMENTS(inputs); i++) {
        g_autoptr(GBytes) after = bed_read(shared, inputs[i]);
        assert_true(g_bytes_equal(before[i], after));
        g_bytes_unref(before[i]);
    }
}

static void test_kept(void **state)
{
    (void)state;
    bed_write(shared, "kept.mp4", "of yesterday");
    bed_expect(shared, 3, "--force replaces it",
               "film s.lookfall --walk w --out kept.mp4 --from 1 --to 2");
    g_autoptr(GBytes) kept = bed_read(shared, "kept.mp4");
    assert_int_equal(g_bytes_get_size(kept), strlen("of yesterday"));
    bed_expect(shared, 0, "1.0 s of film",
               "film s.lookfall --walk w --out kept.mp4 --from 1 --to 2 --force");
    g_autoptr(GBytes) film = bed_read(shared, "kept.mp4");
    assert_true(g_bytes_get_size(film) > 1000);
}

/* Faces are looked for only where asked; each film says what it does not promise. */
static void test_told(void **state)
{
    (void)state;
    bed_expect(shared, 0, "people in the film can be recognised",
               "film s.lookfall --walk w --out t1.mp4 --from 1 --to 1.5");
    bed_expect(shared, 0, "look through the whole film before you show it",
               "film s.lookfall --walk w --out t2.mp4 --from 1 --to 1.5 --blur-faces");
    g_setenv("LOOKFALL_CASCADES", "/nowhere", TRUE); /* falls back to where Debian has them */
    bed_expect(shared, 0, NULL,
               "film s.lookfall --walk w --out t3.mp4 --from 1 --to 1.2 --blur-faces");
    g_unsetenv("LOOKFALL_CASCADES");
}

static void test_not_cast(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    bed_study(bed);
    bed_expect(bed, 3, "lookfall cast", "film s.lookfall --walk w --out f.mp4");
    assert_false(g_file_test(bed_path(bed, "f.mp4"), G_FILE_TEST_EXISTS));
}

/* A limit on the size of files stands for the full disk. */
static void limit_files(gpointer data)
{
    const struct rlimit limit = {GPOINTER_TO_SIZE(data), GPOINTER_TO_SIZE(data)};
    setrlimit(RLIMIT_FSIZE, &limit);
}

static void test_full_disk(void **state)
{
    static const gsize limits[] = {0, 20000, 120000};
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(limits); i++) {
        g_auto(BedRun) run = bed_run_with(shared, "film s.lookfall --walk w --out full.mp4",
                                          limit_files, GSIZE_TO_POINTER(limits[i]));
        if (run.status != 4 || !strstr(run.err, "full.mp4"))
            fail_msg("limit %zu: status %d\n%s", (size_t)limits[i], run.status, run.err);
        assert_false(g_file_test(bed_path(shared, "full.mp4"), G_FILE_TEST_EXISTS));
        assert_false(g_file_test(bed_path(shared, "full.mp4.part"), G_FILE_TEST_EXISTS));
    }
}

/* Ctrl-C in the middle: nothing is left, and a film of the same name from before is still there. */
static void test_interrupted(void **state)
{
    (void)state;
    bed_write(shared, "stop.mp4", "of yesterday");
    GPid child = bed_start(shared, "film s.lookfall --walk w --out stop.mp4 --force --blur-faces");
    for (int i = 0; i < 3000 && !g_file_test(bed_path(shared, "stop.mp4.part"), G_FILE_TEST_EXISTS);
         i++)
        g_usleep(2000);
    kill(child, SIGINT);
    int status = -1;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    if (WEXITSTATUS(status) == 0)
        return; /* it was done before the signal came */
    assert_int_equal(WEXITSTATUS(status), 1);
    assert_false(g_file_test(bed_path(shared, "stop.mp4.part"), G_FILE_TEST_EXISTS));
    g_autoptr(GBytes) kept = bed_read(shared, "stop.mp4");
    assert_int_equal(g_bytes_get_size(kept), strlen("of yesterday"));
}

/* A video that breaks off gives a film up to there, and says so. */
static void test_broken(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    bed_walk(bed);
    const char *argv[] = {"sh", "-c",
                          "ffmpeg -v error -i w.mp4 -c copy w.ts && head -c $(($(stat -c %s "
                          "w.ts) * 6 / 10)) w.ts > b.mkv && ffmpeg -v error -i w.mp4 -c copy c.mkv "
                          "&& head -c $(($(stat -c %s c.mkv) * 6 / 10)) c.mkv > b.mkv",
                          NULL};
    int status = -1;
    assert_true(g_spawn_sync(bed->folder, (char **)(gpointer)argv, NULL, G_SPAWN_SEARCH_PATH, NULL,
                             NULL, NULL, NULL, &status, NULL));
    assert_int_equal(status, 0);
    bed_expect(bed, 0, NULL, "new s.lookfall");
    bed_expect(bed, 0, NULL, "photo add s.lookfall --name shelf --image shelf.ppm");
    bed_expect(bed, 0, NULL, "walk add s.lookfall --name b --video b.mkv --gaze w.csv");
    g_auto(BedRun) cast = bed_run(bed, "cast s.lookfall");
    assert_true(cast.status == 0 || cast.status == 1);
    g_auto(BedRun) film = bed_run(bed, "film s.lookfall --walk b --out f.mp4");
    if (film.status != 0 && film.status != 1)
        fail_msg("%s", film.err);
    assert_true(g_file_test(bed_path(bed, "f.mp4"), G_FILE_TEST_EXISTS));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_refused),   cmocka_unit_test(test_kept),
        cmocka_unit_test(test_told),      cmocka_unit_test(test_not_cast),
        cmocka_unit_test(test_full_disk), cmocka_unit_test(test_interrupted),
        cmocka_unit_test(test_broken),
    };
    return cmocka_run_group_tests_name("film/input", tests, set_up, tear_down);
}
