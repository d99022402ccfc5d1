/* The same bytes from an export for any number of workers, and after any number of kills. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <sys/inotify.h>
#include <sys/wait.h>
#include <unistd.h>

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

/* The demo's renderer: two walks in an invented shop, two chunks each. The pictures are small:
 * what is tested is when a chunk is written, not how well it is cast. */
static int set_up(void **state)
{
    (void)state;
    bed = bed_new();
    const char *argv[] = {LOOKFALL_RENDER,
                          "--scene",
                          "small",
                          "--seed",
                          "5",
                          "--walks",
                          "2",
                          "--seconds",
                          "9",
                          "--size",
                          "480x270",
                          "--photo-width",
                          "800",
                          "--out",
                          bed->folder,
                          NULL};
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
    assert_int_equal(g_strv_length(samples), 1 + 2 * 900 + 1); /* 100 Hz, 9 s, two walks */
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

/* The program in the background, and what tells when it writes to the study: the journal beside it
 * comes and goes with each transaction. */
typedef struct {
    GPid child;
    int watch; /* inotify(7) on the bed's folder */
    const char *journal;
} Run;

static Run run_start(const char *arguments, const char *journal)
{
    Run run = {.watch = inotify_init1(IN_CLOEXEC | IN_NONBLOCK), .journal = journal};
    assert_true(run.watch >= 0);
    assert_true(inotify_add_watch(run.watch, bed->folder, IN_CREATE) >= 0);
    run.child = bed_start(bed, arguments);
    return run;
}

/* How many transactions have begun since last asked. */
static int run_writes(const Run *run)
{
    _Alignas(struct inotify_event) char buffer[4096];
    int writes = 0;
    for (gssize n; (n = read(run->watch, buffer, sizeof buffer)) > 0;)
        for (const char *at = buffer; at < buffer + n;) {
            const struct inotify_event *event = (const void *)at;
            writes += event->len > 0 && strcmp(event->name, run->journal) == 0;
            at += sizeof *event + event->len;
        }
    return writes;
}

/* Sends the signal inside the `times`-th transaction, unless the program ends before. Returns the
 * status of waitpid. */
static int run_signal(Run run, int times, int signal)
{
    int wait_status = 0;
    bool ended = false;
    for (int seen = 0; !ended && (seen += run_writes(&run)) < times;) {
        struct pollfd wait = {.fd = run.watch, .events = POLLIN};
        ended = poll(&wait, 1, 20) == 0 && waitpid(run.child, &wait_status, WNOHANG) == run.child;
    }
    if (!ended) {
        kill(run.child, signal);
        assert_int_equal(waitpid(run.child, &wait_status, 0), run.child);
    }
    close(run.watch);
    return wait_status;
}

static void test_killed(void **state)
{
    (void)state;
    int kills = 0;
    make_study("killed.lookfall");
    /* Each round lets one more transaction pass, so that the kill falls into a later one. */
    for (int round = 1; round <= 8; round++) {
        Run run = run_start("cast killed.lookfall --jobs 2", "killed.lookfall-journal");
        kills += WIFSIGNALED(run_signal(run, round, SIGKILL));
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
    Run run = run_start("walk import import.lookfall many.csv", "import.lookfall-journal");
    assert_true(WIFSIGNALED(run_signal(run, 1, SIGKILL)));
    g_autofree char *after = bed_output(bed, "walk list import.lookfall");
    assert_string_equal(after, before);
    bed_expect(bed, 0, "added 40 walks", "walk import import.lookfall many.csv");
}

/* A polite signal: stops, says how to go on, status 1; the last cast does the rest. */
static void test_terminated(void **state)
{
    (void)state;
    /* Depths, two recipes, the log's entry, the first chunk; the log's entry, the next chunk. */
    static const struct {
        int signal, writes;
        const char *left;
    } stops[] = {{SIGINT, 5, "0 cast, 1 cast in part, 1 not cast"},
                 {SIGTERM, 2, "1 cast, 0 cast in part, 1 not cast"}};
    make_study("stopped.lookfall");
    for (gsize i = 0; i < G_N_ELEMENTS(stops); i++) {
        Run run = run_start("cast stopped.lookfall --jobs 1", "stopped.lookfall-journal");
        int wait_status = run_signal(run, stops[i].writes, stops[i].signal);
        assert_true(WIFEXITED(wait_status));
        assert_int_equal(WEXITSTATUS(wait_status), 1);
        bed_expect(bed, 0, stops[i].left, "info stopped.lookfall");
    }
    bed_expect(bed, 0, NULL, "cast stopped.lookfall --jobs 1");
    expect_same("stopped.lookfall");
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
