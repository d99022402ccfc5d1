/* The machine's faults: full disks and read-only ones. Exit status 4, and the study as it was. */
#define _GNU_SOURCE
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <sched.h>
#include <signal.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "study/bed.h"

/* A limit on the size of files stands for the full disk: it needs no right to mount one, and writes
 * fail half way in the same manner. */
static void limit_files(gpointer data)
{
    const struct rlimit limit = {GPOINTER_TO_SIZE(data), GPOINTER_TO_SIZE(data)};
    setrlimit(RLIMIT_FSIZE, &limit);
}

static gsize study_size(Bed *bed)
{
    g_autoptr(GBytes) bytes = bed_read(bed, "s.lookfall");
    return g_bytes_get_size(bytes);
}

static void expect_full(Bed *bed, const char *arguments, gsize limit)
{
    g_autoptr(GBytes) before = bed_read(bed, "s.lookfall");
    g_auto(BedRun) run = bed_run_with(bed, arguments, limit_files, GSIZE_TO_POINTER(limit));
    if (run.status != 4 || !strstr(run.err, "s.lookfall"))
        fail_msg("lookfall %s: status %d\n%s", arguments, run.status, run.err);
    g_autoptr(GBytes) after = bed_read(bed, "s.lookfall");
    if (!g_bytes_equal(before, after))
        fail_msg("lookfall %s changed the study", arguments);
    assert_false(g_file_test(bed_path(bed, "s.lookfall-journal"), G_FILE_TEST_EXISTS));
}

static void test_full_disk(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    bed_study(bed);
    expect_full(bed, "photo add s.lookfall --name p --image shelf.ppm", study_size(bed) + 4096);
    expect_full(bed, "walk add s.lookfall --name v --video w.mp4 --gaze w.csv",
                study_size(bed) + 4096);
    bed_write(bed, "m.csv", "name,video,gaze\na,w.mp4,w.csv\nb,w.mp4,w.csv\n");
    expect_full(bed, "walk import s.lookfall m.csv", study_size(bed) + 4096);
}

/* A cast on a full disk keeps the chunks it could write, and goes on when there is room. */
static void test_full_disk_in_cast(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    bed_study(bed);
    bed_expect(bed, 0, NULL, "new t.lookfall");
    bed_expect(bed, 0, NULL, "photo add t.lookfall --name shelf --image shelf.ppm");
    bed_expect(bed, 0, NULL, "walk add t.lookfall --name w --video w.mp4 --gaze w.csv");
    gsize limit = study_size(bed) + 8192;
    g_auto(BedRun) run = bed_run_with(bed, "cast s.lookfall", limit_files, GSIZE_TO_POINTER(limit));
    assert_int_equal(run.status, 4);
    bed_expect(bed, 0, NULL, "cast s.lookfall");
    bed_expect(bed, 0, NULL, "cast t.lookfall");
    g_autofree char *resumed = bed_output(bed, "export s.lookfall samples");
    g_autofree char *straight = bed_output(bed, "export t.lookfall samples");
    assert_string_equal(resumed, straight);
}

static void test_full_disk_in_export(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    bed_study(bed);
    bed_expect(bed, 0, NULL, "cast s.lookfall");
    bed_write(bed, "out.csv", "yesterday's\n");
    g_auto(BedRun) run = bed_run_with(bed, "export s.lookfall samples --out out.csv --force",
                                      limit_files, GSIZE_TO_POINTER(4096));
    assert_int_equal(run.status, 4);
    g_autoptr(GBytes) kept = bed_read(bed, "out.csv");
    assert_memory_equal(g_bytes_get_data(kept, NULL), "yesterday's\n", 12);
    g_autoptr(GDir) dir = g_dir_open(bed->folder, 0, NULL);
    for (const char *name; (name = g_dir_read_name(dir));)
        assert_null(strstr(name, "part")); /* no half file is left */
}

/* In the child: the folder on a read-only disk of its own. Exit status 77 where this is not
 * allowed. */
static void mount_read_only(gpointer data)
{
    const char *folder = data;
    if (unshare(CLONE_NEWNS) != 0 || mount(NULL, "/", NULL, MS_REC | MS_PRIVATE, NULL) != 0 ||
        mount(folder, folder, NULL, MS_BIND, NULL) != 0 ||
        mount(NULL, folder, NULL, MS_REMOUNT | MS_BIND | MS_RDONLY, NULL) != 0 ||
        chdir(folder) != 0)
        _exit(77);
}

static void test_read_only(void **state)
{
    (void)state;
    static const struct {
        const char *arguments;
        int status;
    } cases[] = {
        {"info s.lookfall", 0},
        {"export s.lookfall samples", 0},
        {"walk list s.lookfall", 0},
        {"photo list s.lookfall", 0},
        {"new t.lookfall", 4},
        {"cast s.lookfall", 4},
        {"photo add s.lookfall --name p --image shelf.ppm", 4},
        {"photo remove s.lookfall --name shelf", 4},
        {"walk add s.lookfall --name v --video w.mp4 --gaze w.csv", 4},
        {"walk remove s.lookfall --name w", 4},
        {"export s.lookfall samples --out out.csv", 4},
    };
    g_autoptr(Bed) bed = bed_new();
    bed_study(bed);
    bed_expect(bed, 0, NULL, "cast s.lookfall");
    BedSetup setup = mount_read_only;
    if (geteuid() != 0) {
        setup = NULL; /* permissions bind us then */
        chmod(bed_path(bed, "s.lookfall"), 0444);
        chmod(bed->folder, 0555);
    }
    g_autoptr(GBytes) before = bed_read(bed, "s.lookfall");
    bool mounted = true;
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_auto(BedRun) run = bed_run_with(bed, cases[i].arguments, setup, bed->folder);
        mounted = run.status != 77;
        if (!mounted)
            break;
        if (run.status != cases[i].status)
            fail_msg("lookfall %s: status %d\n%s", cases[i].arguments, run.status, run.err);
    }
    if (!mounted) {
        print_message("skipped: a read-only disk cannot be mounted here\n");
        /* skip() jumps past the cleanups, and would leave the folder behind */
        g_clear_pointer(&before, g_bytes_unref);
        g_clear_pointer(&bed, bed_free);
        skip();
    }
    g_autoptr(GBytes) after = bed_read(bed, "s.lookfall");
    chmod(bed->folder, 0755);
    assert_true(g_bytes_equal(before, after));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_full_disk),
        cmocka_unit_test(test_full_disk_in_cast),
        cmocka_unit_test(test_full_disk_in_export),
        cmocka_unit_test(test_read_only),
    };
    return cmocka_run_group_tests_name("cli/machine", tests, NULL, NULL);
}
