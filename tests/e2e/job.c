#include "e2e/job.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

#include <cmocka.h>
#include <glib.h>
#include <glib/gstdio.h>

char *job_run(const char *folder, const char *const *arguments)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *err = NULL;
    char *out = NULL;
    int status = 0;
    if (!g_spawn_sync(folder, (char **)(void *)arguments, NULL, G_SPAWN_SEARCH_PATH, NULL, NULL,
                      &out, &err, &status, &error))
        fail_msg("%s: %s", arguments[0], error->message);
    if (!g_spawn_check_wait_status(status, NULL)) {
        g_autofree char *line = g_strjoinv(" ", (char **)(void *)arguments);
        fail_msg("%s\n%s", line, err);
    }
    return out;
}

#define RUN(folder, ...) g_free(job_run(folder, (const char *[]){__VA_ARGS__, NULL}))

/* What the render is made with: the command, and the files it runs by their bytes. */
static char *job_made_with(const char *const *arguments)
{
    static const char *const files[] = {LOOKFALL_RENDER, LOOKFALL_LIBRARY};
    g_autofree char *line = g_strjoinv(" ", (char **)(void *)arguments);
    GString *text = g_string_new(line);
    for (gsize i = 0; i < G_N_ELEMENTS(files); i++) {
        g_autoptr(GMappedFile) file = g_mapped_file_new(files[i], FALSE, NULL);
        assert_non_null(file);
        g_autoptr(GBytes) bytes = g_mapped_file_get_bytes(file);
        g_autofree char *sum = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
        g_string_append_printf(text, "\n%s", sum);
    }
    return g_string_free(text, FALSE);
}

/* Whoever needs the same render meanwhile waits here. Closing gives it back. */
static int job_lock(const char *folder)
{
    g_autofree char *path = g_strconcat(folder, ".lock", NULL);
    int lock = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0666), status;
    assert_true(lock >= 0);
    do
        status = flock(lock, LOCK_EX);
    while (status != 0 && errno == EINTR);
    assert_int_equal(status, 0);
    return lock;
}

char *job_render(const JobRender *render)
{
    g_autofree char *name = g_strdup_printf("%s-%s", render->scene, render->seed);
    char *folder = g_build_filename(JOB_RENDERS, name, NULL);
    g_autofree char *stamp = g_build_filename(folder, "made_with", NULL);
    const char *const arguments[] = {LOOKFALL_RENDER, "--scene", render->scene, "--seed",
                                     render->seed,    "--walks", render->walks, "--seconds",
                                     render->seconds, "--size",  "640x360",     "--out",
                                     folder,          NULL};
    g_autofree char *made_with = job_made_with(arguments), *is = NULL;

    assert_int_equal(g_mkdir_with_parents(JOB_RENDERS, 0777), 0);
    int lock = job_lock(folder);
    if (!g_file_get_contents(stamp, &is, NULL, NULL) || strcmp(is, made_with) != 0) {
        RUN(NULL, "rm", "-rf", folder);
        g_free(job_run(NULL, arguments));
        assert_true(g_file_set_contents(stamp, made_with, -1, NULL));
    }
    close(lock);
    return folder;
}

/* photos.csv: name,image */
static void job_add_photos(const char *folder, const char *render)
{
    g_autofree char *path = g_build_filename(render, "photos.csv", NULL), *text = NULL;
    assert_true(g_file_get_contents(path, &text, NULL, NULL));
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    assert_string_equal(g_strchomp(lines[0]), "name,image");
    int n = 0;
    for (int i = 1; lines[i]; i++) {
        g_auto(GStrv) cell = g_strsplit(g_strchomp(lines[i]), ",", 2);
        if (g_strv_length(cell) != 2)
            continue;
        g_autofree char *image = g_build_filename(render, cell[1], NULL);
        RUN(folder, LOOKFALL, "photo", "add", "w.study", "--name", cell[0], "--image", image);
        n++;
    }
    assert_true(n > 0);
}

char *job_study(const char *render)
{
    g_autofree char *walks = g_build_filename(render, "walks.csv", NULL);
    char *folder = g_dir_make_tmp("lookfall-e2e-XXXXXX", NULL);
    assert_non_null(folder);
    RUN(folder, LOOKFALL, "new", "w.study");
    job_add_photos(folder, render);
    RUN(folder, LOOKFALL, "walk", "import", "w.study", walks);
    RUN(folder, LOOKFALL, "cast", "w.study");
    return folder;
}

void job_remove(char *folder)
{
    RUN(NULL, "rm", "-rf", folder);
    g_free(folder);
}
