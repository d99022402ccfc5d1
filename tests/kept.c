#include "kept.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <unistd.h>

#include <cmocka.h>
#include <glib/gstdio.h>

Kept kept_look(const char *folder, const char *key, const char *name)
{
    g_autofree char *sum = g_compute_checksum_for_string(G_CHECKSUM_SHA256, key, -1);
    g_autofree char *file = g_strdup_printf("%.16s_%s", sum, name);
    g_autofree char *mine = g_strdup_printf("%d_%s", (int)getpid(), file);
    Kept kept = {.path = g_build_filename(folder, file, NULL),
                 .part = g_build_filename(folder, mine, NULL)};

    assert_int_equal(g_mkdir_with_parents(folder, 0777), 0);
    kept.there = g_file_test(kept.path, G_FILE_TEST_EXISTS);
    return kept;
}

void kept_put(Kept *kept)
{
    assert_int_equal(g_rename(kept->part, kept->path), 0);
    kept->there = true;
}

void kept_clear(Kept *kept)
{
    g_clear_pointer(&kept->path, g_free);
    g_clear_pointer(&kept->part, g_free);
}
