/* Bad input: one clear sentence, exit status 3, and the study as it was, byte by byte. */
#define _GNU_SOURCE /* memmem */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "study/bed.h"

static void expect(Bed *bed, const char *arguments, const char *text)
{
    g_autoptr(GBytes) before = bed_read(bed, "s.lookfall");
    bed_expect(bed, 3, text, arguments);
    g_autoptr(GBytes) after = bed_read(bed, "s.lookfall");
    if (!g_bytes_equal(before, after))
        fail_msg("lookfall %s changed the study", arguments);
}

/* A video with noise in place of its pictures; its tables are whole. */
static void write_noise(Bed *bed, const char *from, const char *to)
{
    g_autoptr(GBytes) video = bed_read(bed, from);
    gsize size;
    g_autofree char *copy = g_memdup2(g_bytes_get_data(video, &size), g_bytes_get_size(video));
    char *data = memmem(copy, size, "mdat", 4), *tables = memmem(copy, size, "moov", 4);
    assert_true(data && tables && data < tables);
    guint32 seed = 1;
    for (char *c = data + 4; c < tables - 4; c++)
        *c = (char)((seed = seed * 1664525u + 1013904223u) >> 24);
    assert_true(g_file_set_contents(bed_path(bed, to), copy, (gssize)size, NULL));
}

static void test_bad_files(void **state)
{
    (void)state;
    static const struct {
        const char *arguments, *text;
    } cases[] = {
        {"walk add s.lookfall --name v --video no.mp4 --gaze w.csv", "no.mp4: there is no such"},
        {"walk add s.lookfall --name v --video text.mp4 --gaze w.csv", "text.mp4"},
        {"walk add s.lookfall --name v --video sound.mp4 --gaze w.csv", "sound.mp4"},
        {"walk add s.lookfall --name v --video noise.mp4 --gaze w.csv", "noise.mp4"},
        {"walk add s.lookfall --name v --video noise.mov --gaze w.csv",
         "no frame of this video can be decoded"},
        {"walk add s.lookfall --name v --video . --gaze w.csv", "folder"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze no.csv", "no.csv: there is no such"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze names.csv", "when, col, row"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze text.csv", "line 3"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze twice.csv", "line 4"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze back.csv", "line 4"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze lost.csv", "lost"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze none.csv", "none.csv"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze late.csv",
         "450 of 450 samples lie outside the video"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze w.csv --x x_px:norm --y y_px:norm",
         "samples with gaze lie outside of the frame of"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze share.csv",
         "all 2 samples with gaze lie in the top left corner of the frame of"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze w.csv --y x_px:px",
         "column \"x_px\" is given for both x and y"},
        {"walk add s.lookfall --name v --video pipe --gaze w.csv", "pipe: this is a pipe"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze pipe", "pipe: this is a pipe"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze w.csv --camera /dev/zero",
         "/dev/zero: this is a pipe or a device"},
        {"photo add s.lookfall --name p --image pipe", "pipe: this is a pipe"},
        {"walk add s.lookfall --name w --video w.mp4 --gaze w.csv", "already"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze w.csv --camera no.yml", "no.yml"},
        {"walk add s.lookfall --name v --video w.mp4 --gaze w.csv --camera w.csv", "w.csv"},
        {"photo add s.lookfall --name p --image no.png", "no.png: there is no such"},
        {"photo add s.lookfall --name p --image w.csv", "w.csv"},
        {"photo add s.lookfall --name p --image white.pgm",
         "too few features to find this photo again"},
        {"photo add s.lookfall --name shelf --image shelf.ppm", "already"},
        {"photo remove s.lookfall --name p", "no photo called p"},
        {"walk remove s.lookfall --name v", "no walk called v"},
        {"cast s.lookfall --walk v", "no walk called v"},
        {"export s.lookfall samples", "nothing is cast yet"},
        {"export s.lookfall poses", "nothing is cast yet"},
        {"export s.lookfall samples --force --out w.csv", "w.csv: is an input of the walk w"},
        {"export s.lookfall samples --force --out s.lookfall", "s.lookfall: is the study"},
        {"export s.lookfall samples --out no/x.csv", "there is no folder no; make it first"},
        {"draw heat s.lookfall --photo shelf --force --out link.png",
         "link.png: is the picture of the photo shelf, which is never written to"},
        {"report s.lookfall --force --out link.html",
         "link.html: is the picture of the photo shelf, which is never written to"},
        {"draw heat s.lookfall --photo shelf --out no/x.png",
         "there is no folder no; make it first"},
        {"locate --photo no.png --image shelf.ppm", "no.png"},
        {"locate --photo shelf.ppm --image no.png", "no.png"},
        {"new s.lookfall", "exists already"},
    };
    g_autoptr(Bed) bed = bed_new();
    bed_study(bed);
    bed_write(bed, "text.mp4", "This is no video.\n");
    bed_write(bed, "names.csv", "when,col,row\n0,1,2\n");
    bed_write(bed, "text.csv", "t_s,x_px,y_px\n0,1,2\n0.1,left,2\n");
    bed_write(bed, "twice.csv", "t_s,x_px,y_px\n0,1,2\n0.1,1,2\n0.1,1,2\n");
    bed_write(bed, "back.csv", "t_s,x_px,y_px\n0,1,2\n0.1,1,2\n0.05,1,2\n");
    bed_write(bed, "lost.csv", "t_s,x_px,y_px\n0,,\n0.1,nan,nan\n");
    bed_write(bed, "share.csv", "t_s,x_px,y_px\n0,0.5,0.5\n0.1,,\n0.2,1.02,-0.1\n");
    assert_int_equal(mkfifo(bed_path(bed, "pipe"), 0600), 0);
    g_autofree char *photo = g_strdup(bed_path(bed, "shelf.ppm"));
    assert_int_equal(link(photo, bed_path(bed, "link.png")), 0);
    assert_int_equal(link(photo, bed_path(bed, "link.html")), 0);
    bed_write(bed, "none.csv", "t_s,x_px,y_px\n");
    bed_gaze(bed, "late.csv", 500, 9);
    write_noise(bed, "w.mp4", "noise.mp4");
    const char *mjpeg[] = {"ffmpeg", "-v",   "error", "-i",    "w.mp4", "-t",
                           "1",      "-c:v", "mjpeg", "m.mov", NULL};
    assert_true(g_spawn_sync(bed->folder, (char **)(gpointer)mjpeg, NULL, G_SPAWN_SEARCH_PATH, NULL,
                             NULL, NULL, NULL, NULL, NULL));
    write_noise(bed, "m.mov", "noise.mov");
    g_autofree char *white = g_strnfill(300 * 200, (char)0xff);
    g_autofree char *pgm = g_strconcat("P5 300 200 255\n", white, NULL);
    bed_write(bed, "white.pgm", pgm);
    const char *argv[] = {"ffmpeg", "-v",       "error",     "-f", "lavfi",
                          "-i",     "sine=d=1", "sound.mp4", NULL};
    assert_true(g_spawn_sync(bed->folder, (char **)(gpointer)argv, NULL, G_SPAWN_SEARCH_PATH, NULL,
                             NULL, NULL, NULL, NULL, NULL));
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        expect(bed, cases[i].arguments, cases[i].text);
}

static void test_bad_studies(void **state)
{
    (void)state;
    static const char *const commands[] = {
        "info %s",
        "cast %s",
        "export %s samples",
        "walk list %s",
        "photo list %s",
        "walk remove %s --name w",
        "photo remove %s --name w",
        "photo add %s --name p --image shelf.ppm",
        "walk add %s --name v --video w.mp4 --gaze w.csv",
        "walk import %s m.csv",
    };
    static const struct {
        const char *name, *text;
    } studies[] = {
        {"missing.lookfall", "no such study"},
        {"text.lookfall", "not a lookfall study"},
        {"empty.lookfall", "not a lookfall study"},
        {"newer.lookfall", "made by a newer lookfall"},
    };
    g_autoptr(Bed) bed = bed_new();
    bed_write(bed, "text.lookfall", "walk,t_s,photo\n");
    bed_write(bed, "empty.lookfall", "");
    bed_expect(bed, 0, NULL, "new newer.lookfall");
    g_autoptr(GBytes) fresh = bed_read(bed, "newer.lookfall");
    gsize size;
    g_autofree char *copy = g_memdup2(g_bytes_get_data(fresh, &size), g_bytes_get_size(fresh));
    copy[63] = 99; /* user version: "Database File Format", section 1.3, sqlite.org */
    assert_true(g_file_set_contents(bed_path(bed, "newer.lookfall"), copy, (gssize)size, NULL));
    for (gsize s = 0; s < G_N_ELEMENTS(studies); s++)
        for (gsize c = 0; c < G_N_ELEMENTS(commands); c++) {
            g_auto(GStrv) around = g_strsplit(commands[c], "%s", 2);
            g_autofree char *arguments = g_strjoinv(studies[s].name, around);
            bed_expect(bed, 3, studies[s].text, arguments);
        }
    g_autoptr(GBytes) after = bed_read(bed, "newer.lookfall");
    assert_int_equal(g_bytes_get_size(after), size);
    assert_memory_equal(g_bytes_get_data(after, NULL), copy, size);
    assert_false(g_file_test(bed_path(bed, "missing.lookfall"), G_FILE_TEST_EXISTS));
}

static void test_import_faults(void **state)
{
    (void)state;
    g_autoptr(Bed) bed = bed_new();
    bed_study(bed);
    bed_write(bed, "m.csv",
              "name,video,gaze,clock-shift\n"
              "a,w.mp4,w.csv,\n"
              "b,no.mp4,w.csv,\n"
              "c,w.mp4,w.csv,soon\n"
              "w,w.mp4,w.csv,\n"
              "a,w.mp4,w.csv,\n"
              "d,w.mp4,,\n");
    g_autoptr(GBytes) before = bed_read(bed, "s.lookfall");
    g_auto(BedRun) run = bed_run(bed, "walk import s.lookfall m.csv");
    g_autoptr(GBytes) after = bed_read(bed, "s.lookfall");
    static const char *const lines[] = {"row 3 (b): ", "row 4 (c): ", "row 5 (w): ",
                                        "row 6 (a): ", "row 7 (d): ", "5 of 6 rows are faulty"};
    const char *at = run.err;
    assert_int_equal(run.status, 3);
    for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) { /* all of them, in this order */
        at = strstr(at, lines[i]);
        if (!at)
            fail_msg("\"%s\" is not in its place in\n%s", lines[i], run.err);
    }
    assert_null(strstr(run.err, "row 2"));
    assert_true(g_bytes_equal(before, after));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bad_files),
        cmocka_unit_test(test_bad_studies),
        cmocka_unit_test(test_import_faults),
    };
    return cmocka_run_group_tests_name("cli/input", tests, NULL, NULL);
}
