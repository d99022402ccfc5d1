/* Cutting walks into chunks, on made-up indexes. */
#include "cast/scene.h"

#include <inttypes.h>

#include <lookfall/cast.h>

#define S 1000000

typedef struct {
    const char *name;
    int n_keys;
    int64_t first_us, step_us; /* of the key frames */
    int64_t end_us, min_us;
    gsize chunks;
} PlanCase;

/* Expected numbers follow from the rule in cast.h: cut at a key frame as soon as what is before it
 * and what is after it are both at least min_us long. */
static const PlanCase PLAN_CASES[] = {
    {"no key frame at all", 0, 0, 0, 60 * S, 4 * S, 1},
    {"one key frame", 1, 0, 0, 3600 * (int64_t)S, 4 * S, 1},
    {"a key each second", 60, 0, S, 60 * S, 4 * S, 15},
    {"a rest too short", 60, 0, S, 59 * S + S / 2, 4 * S, 14},
    {"a rest just long enough", 12, 0, S, 12 * S, 4 * S, 3},
    {"a rest one tick too short", 12, 0, S, 12 * S - 1, 4 * S, 2},
    {"keys wider than the least", 7, 0, 10 * S, 70 * S, 4 * S, 7},
    {"keys that fit badly", 20, 0, 3 * S, 60 * S, 4 * S, 10},
    {"one frame", 1, 0, 0, S / 25, 4 * S, 1},
    {"shorter than two chunks", 7, 0, S, 7 * S, 4 * S, 1},
    {"two chunks to the tick", 8, 0, S, 8 * S, 4 * S, 2},
    {"every frame a key", 1500, 0, S / 25, 60 * S, 4 * S, 15},
    {"starts late", 20, 5 * S, S, 25 * S, 4 * S, 5},
    {"least of nothing", 10, 0, S, 10 * S, 0, 10},
};

static void test_plan_rules(void **state)
{
    (void)state;
    for (gsize c = 0; c < G_N_ELEMENTS(PLAN_CASES); c++) {
        const PlanCase *p = &PLAN_CASES[c];
        g_autofree int64_t *keys = g_new(int64_t, p->n_keys + 1);
        for (int i = 0; i < p->n_keys; i++)
            keys[i] = p->first_us + i * p->step_us;
        LfVideoIndex index = {.key_us = keys, .n_keys = (gsize)p->n_keys, .end_us = p->end_us};
        gsize n = 0;
        g_autofree LfChunkSpan *spans = lf_chunks_plan(&index, p->min_us, &n);
        if (n != p->chunks)
            fail_msg("%s: %zu chunks, expected %zu", p->name, n, p->chunks);
        assert_true(spans[0].from_us == INT64_MIN);
        assert_true(spans[n - 1].to_us == INT64_MAX);
        for (gsize i = 0; i < n; i++) {
            bool is_key = p->n_keys == 0;
            for (int k = 0; k < p->n_keys; k++)
                is_key |= spans[i].key_us == keys[k];
            assert_true(is_key);
            if (i > 0) {
                assert_true(spans[i].from_us == spans[i - 1].to_us);
                assert_true(spans[i].key_us == spans[i].from_us);
            }
            if (n > 1) {
                int64_t from = i > 0 ? spans[i].from_us : p->first_us;
                int64_t to = i + 1 < n ? spans[i].to_us : p->end_us;
                if (to - from < p->min_us)
                    fail_msg("%s: chunk %zu lasts %" PRId64 " us", p->name, i, to - from);
            }
        }
    }
}

static void test_plan_names(void **state)
{
    (void)state;
    /* the words of exports (docs) */
    static const char *const names[] = {"lost", "away", "blocked", "doubtful", "sure", "placed"};
    for (int i = LF_STATE_LOST; i <= LF_STATE_PLACED; i++)
        assert_string_equal(lf_state_name((LfState)i), names[i]);
    LfCastSettings settings = lf_cast_settings_default();
    check_near(settings.tolerance_deg, 1, 0);
    check_near(settings.sure_at, 0.85, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_plan_rules),
        cmocka_unit_test(test_plan_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
