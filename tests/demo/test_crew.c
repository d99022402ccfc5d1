/* The same bytes for any number of threads; the same scene for the same seed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <string.h>

#include "scene.h"

static void bytes_do_not_depend_on_jobs(void **state)
{
    (void)state;
    lr_expose_init();
    LrScene *scene = lr_scene_new(lr_scene_find("small"), 9, 400);
    LrScene *again = lr_scene_new(lr_scene_find("small"), 9, 400);
    LrScene *other = lr_scene_new(lr_scene_find("small"), 10, 400);
    gsize bytes = 3 * (gsize)scene->photos[0].lens.width * (gsize)scene->photos[0].lens.height;
    assert_int_equal(scene->photos[0].lens.width, 400);
    g_autofree uint8_t *one = lr_scene_photo_render(scene, 0, 1);
    g_autofree uint8_t *three = lr_scene_photo_render(scene, 0, 3);
    g_autofree uint8_t *twin = lr_scene_photo_render(again, 0, 2);
    g_autofree uint8_t *stranger = lr_scene_photo_render(other, 0, 2);
    assert_memory_equal(one, three, bytes);
    assert_memory_equal(one, twin, bytes);
    assert_true(memcmp(one, stranger, bytes) != 0);
    lr_scene_free(scene);
    lr_scene_free(again);
    lr_scene_free(other);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(bytes_do_not_depend_on_jobs)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
