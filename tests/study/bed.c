/* A folder of its own for a test. */
#include "study/bed.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>

#include <cmocka.h>
#include <gio/gio.h>
#include <glib/gstdio.h>

#include "kept.h"

enum { PHOTO_W = 800, PHOTO_H = 500 };

Bed *bed_new(void)
{
    Bed *bed = g_new0(Bed, 1);
    bed->folder = g_dir_make_tmp("lookfall-XXXXXX", NULL);
    bed->strings = g_ptr_array_new_with_free_func(g_free);
    assert_non_null(bed->folder);
    return bed;
}

void bed_remove(const char *path)
{
    if (g_file_test(path, G_FILE_TEST_IS_DIR) && !g_file_test(path, G_FILE_TEST_IS_SYMLINK)) {
        GDir *dir = g_dir_open(path, 0, NULL);
        const char *name;
        while (dir && (name = g_dir_read_name(dir))) {
            g_autofree char *inside = g_build_filename(path, name, NULL);
            bed_remove(inside);
        }
        if (dir)
            g_dir_close(dir);
    }
    g_remove(path);
}

void bed_free(Bed *bed)
{
    if (!bed)
        return;
    bed_remove(bed->folder);
    g_free(bed->folder);
    g_ptr_array_unref(bed->strings);
    g_free(bed);
}

const char *bed_path(Bed *bed, const char *name)
{
    char *path = g_build_filename(bed->folder, name, NULL);
    g_ptr_array_add(bed->strings, path);
    return path;
}

void bed_write(Bed *bed, const char *name, const char *text)
{
    assert_true(g_file_set_contents(bed_path(bed, name), text, -1, NULL));
}

GBytes *bed_read(Bed *bed, const char *name)
{
    char *bytes = NULL;
    gsize length = 0;
    assert_true(g_file_get_contents(bed_path(bed, name), &bytes, &length, NULL));
    return g_bytes_new_take(bytes, length);
}

static void bed_copy_file(const char *from, const char *to)
{
    char *bytes = NULL;
    gsize size = 0;
    assert_true(g_file_get_contents(from, &bytes, &size, NULL));
    g_autoptr(GBytes) owner = g_bytes_new_take(bytes, size);
    assert_true(g_file_set_contents(to, bytes, (gssize)size, NULL));
}

void bed_copy(Bed *bed, const char *from, const char *to)
{
    bed_copy_file(bed_path(bed, from), bed_path(bed, to));
}

/* Linear congruential generator (Numerical Recipes' constants): the same picture everywhere. */
static guint32 bed_random(guint32 *state, guint32 below)
{
    *state = *state * 1664525u + 1013904223u;
    return (*state >> 8) % below;
}

void bed_photo(Bed *bed, const char *name, guint32 seed)
{
    g_autofree guint8 *rgb = g_malloc(PHOTO_W * PHOTO_H * 3);
    memset(rgb, 210, PHOTO_W * PHOTO_H * 3);
    for (int i = 0; i < 700; i++) {
        guint32 x = bed_random(&seed, PHOTO_W), y = bed_random(&seed, PHOTO_H);
        guint32 w = 6 + bed_random(&seed, 40), h = 6 + bed_random(&seed, 40);
        guint8 colour[3];
        for (int c = 0; c < 3; c++)
            colour[c] = (guint8)bed_random(&seed, 256);
        for (guint32 v = y; v < MIN(y + h, PHOTO_H); v++)
            for (guint32 u = x; u < MIN(x + w, PHOTO_W); u++)
                memcpy(rgb + (v * PHOTO_W + u) * 3, colour, 3);
    }
    FILE *file = fopen(bed_path(bed, name), "wb");
    assert_non_null(file);
    fprintf(file, "P6\n%d %d\n255\n", PHOTO_W, PHOTO_H);
    assert_int_equal(fwrite(rgb, 3, PHOTO_W * PHOTO_H, file), PHOTO_W * PHOTO_H);
    assert_int_equal(fclose(file), 0);
}

void bed_video(Bed *bed, const char *name, const char *photo, int seconds)
{
    g_autofree char *length = g_strdup_printf("%d", seconds);
    const char *argv[] = {"ffmpeg",   "-v",
                          "error",    "-y",
                          "-loop",    "1",
                          "-i",       photo,
                          "-t",       length,
                          "-r",       "25",
                          "-vf",      "crop=480:360:x='160+150*sin(t*0.6)':y='70+60*cos(t*0.8)'",
                          "-c:v",     "libx264",
                          "-preset",  "ultrafast",
                          "-g",       "25",
                          "-pix_fmt", "yuv420p",
                          NULL,       NULL};
    g_autoptr(GBytes) picture = bed_read(bed, photo);
    g_autofree char *sum = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, picture);
    g_autofree char *command = g_strjoinv(" ", (char **)(gpointer)argv);
    g_autofree char *key = g_strdup_printf("%s %s", sum, command);
    g_auto(Kept) kept = kept_look(BED_KEPT, key, name);
    if (!kept.there) {
        int wait_status = -1;
        argv[G_N_ELEMENTS(argv) - 2] = kept.part;
        assert_true(g_spawn_sync(bed->folder, (char **)(gpointer)argv, NULL, G_SPAWN_SEARCH_PATH,
                                 NULL, NULL, NULL, NULL, &wait_status, NULL));
        assert_true(WIFEXITED(wait_status));
        assert_int_equal(WEXITSTATUS(wait_status), 0);
        kept_put(&kept);
    }
    bed_copy_file(kept.path, bed_path(bed, name));
}

void bed_gaze(Bed *bed, const char *name, double first_s, int seconds)
{
    g_autoptr(GString) text = g_string_new("t_s,x_px,y_px\n");
    for (int i = 0; i < seconds * 50; i++) {
        double t_s = first_s + i / 50.0;
        if (i % 10 == 9)
            g_string_append_printf(text, "%.3f,,\n", t_s);
        else
            g_string_append_printf(text, "%.3f,%.2f,%.2f\n", t_s, 240 + 150 * sin(t_s),
                                   180 + 100 * cos(1.3 * t_s));
    }
    bed_write(bed, name, text->str);
}

void bed_walk(Bed *bed)
{
    bed_photo(bed, "shelf.ppm", 7);
    bed_video(bed, "w.mp4", "shelf.ppm", 9);
    bed_gaze(bed, "w.csv", 0, 9);
}

BedRun bed_run_with(Bed *bed, const char *arguments, BedSetup setup, gpointer data)
{
    BedRun run = {-1, NULL, NULL};
    g_autofree char *line = g_strdup_printf("%s %s", LOOKFALL_PROGRAM, arguments);
    g_auto(GStrv) argv = g_strsplit(line, " ", -1);
    g_autoptr(GError) error = NULL;
    int wait_status = -1;
    if (!g_spawn_sync(bed->folder, argv, NULL, G_SPAWN_DEFAULT, setup, data, &run.out, &run.err,
                      &wait_status, &error))
        fail_msg("%s: %s", line, error->message);
    run.status = WIFEXITED(wait_status) ? WEXITSTATUS(wait_status) : -1;
    return run;
}

GPid bed_start(Bed *bed, const char *arguments)
{
    g_autofree char *line = g_strdup_printf("%s %s", LOOKFALL_PROGRAM, arguments);
    g_auto(GStrv) argv = g_strsplit(line, " ", -1);
    GPid child = 0;
    assert_true(g_spawn_async(bed->folder, argv, NULL,
                              G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_STDERR_TO_DEV_NULL, NULL, NULL,
                              &child, NULL));
    return child;
}

BedRun bed_run(Bed *bed, const char *arguments)
{
    return bed_run_with(bed, arguments, NULL, NULL);
}

void bed_run_clear(BedRun *run)
{
    g_clear_pointer(&run->out, g_free);
    g_clear_pointer(&run->err, g_free);
}

void bed_expect(Bed *bed, int status, const char *text, const char *arguments)
{
    g_auto(BedRun) run = bed_run(bed, arguments);
    if (run.status != status)
        fail_msg("lookfall %s: status %d instead of %d\n%s%s", arguments, run.status, status,
                 run.out, run.err);
    if (text && !strstr(run.err, text) && !strstr(run.out, text))
        fail_msg("lookfall %s: \"%s\" is not in\n%s%s", arguments, text, run.out, run.err);
}

char *bed_output(Bed *bed, const char *arguments)
{
    g_auto(BedRun) run = bed_run(bed, arguments);
    if (run.status != 0)
        fail_msg("lookfall %s: status %d\n%s", arguments, run.status, run.err);
    return g_steal_pointer(&run.out);
}

void bed_study(Bed *bed)
{
    bed_walk(bed);
    bed_expect(bed, 0, NULL, "new s.lookfall");
    bed_expect(bed, 0, NULL, "photo add s.lookfall --name shelf --image shelf.ppm");
    bed_expect(bed, 0, NULL, "walk add s.lookfall --name w --video w.mp4 --gaze w.csv");
}

Bed *bed_new_cast(void)
{
    Bed *bed = bed_new();
    bed_study(bed);
    bed_expect(bed, 0, NULL, "cast s.lookfall --jobs 2");
    return bed;
}
