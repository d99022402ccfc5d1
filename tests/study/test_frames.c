/* Frame times in the study: the same as the video's own index, and packed without loss. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "study/review_fixture.h"
#include "study/study_frames.h"

static void expect_same(const LfVideoIndex *a, const LfVideoIndex *b)
{
    assert_non_null(a);
    assert_int_equal(a->n_frames, b->n_frames);
    assert_int_equal(a->n_keys, b->n_keys);
    assert_memory_equal(a->frame_us, b->frame_us, a->n_frames * sizeof *a->frame_us);
    assert_memory_equal(a->key_us, b->key_us, a->n_keys * sizeof *a->key_us);
}

static void test_pack(void **state)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(5);
    (void)state;
    for (int round = 0; round < 100; round++) {
        int64_t frames[300], keys[300], t_us = g_rand_int_range(rand, -2000000000, 2000000000);
        LfVideoIndex index = {.frame_us = frames, .key_us = keys};
        gsize n = (gsize)g_rand_int_range(rand, 1, 300);
        for (gsize i = 0; i < n; i++) {
            t_us += round % 2 ? 33333 : g_rand_int_range(rand, 1, 2000000000);
            frames[index.n_frames++] = t_us;
            if (i == 0 || g_rand_int_range(rand, 0, 20) == 0)
                keys[index.n_keys++] = t_us;
        }
        g_autoptr(GBytes) packed = study_frames_pack(&index);
        g_autoptr(LfVideoIndex) back = study_frames_unpack(packed);
        expect_same(back, &index);
    }
}

static void test_damaged(void **state)
{
    static const struct {
        const char *bytes;
        gsize size;
    } cases[] = {
        {"", 0},
        {"\x80", 1},     /* the last number is cut off */
        {"\x04\x00", 2}, /* no key frame; a step of 0 */
        {"\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff", 11},
    };
    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GBytes) bytes = g_bytes_new(cases[i].bytes, cases[i].size);
        g_autoptr(LfVideoIndex) index = study_frames_unpack(bytes);
        assert_null(index);
    }
}

/* Kept when the walk was added; or, where they are not, read from the video and then kept. */
static void test_study(void **state)
{
    g_autoptr(Bed) bed = bed_new();
    g_autoptr(LfStudy) study = review_make(bed);
    g_autoptr(LfVideoIndex) own = lf_video_index_new(bed_path(bed, "a.mp4"), NULL);
    (void)state;
    g_autoptr(LfVideoIndex) kept = lf_study_frames(study, 1, NULL);
    expect_same(kept, own);
    assert_int_equal(kept->info.width, 480);
    review_sql(study, "DELETE FROM frame_times");
    g_autoptr(LfVideoIndex) read = lf_study_frames(study, 1, NULL);
    expect_same(read, own);
    int64_t rows = 0;
    assert_true(study_db_get(study, NULL, 0, &rows, "SELECT count(*) FROM frame_times", ""));
    assert_int_equal(rows, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_pack),
        cmocka_unit_test(test_damaged),
        cmocka_unit_test(test_study),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
