/* Settings, names, and cutting a walk into chunks. */
#include <lookfall/cast.h>

static const char *const PLAN_STATES[] = {"lost", "away", "blocked", "doubtful", "sure", "placed"};

const char *lf_state_name(LfState state)
{
    return PLAN_STATES[state];
}

const char *lf_doubt_name(LfDoubt doubt)
{
    static const char *const names[] = {"",       "blur",    "front", "alike",
                                        "little", "changed", "gap",   "depth"};
    return names[doubt];
}

LfCastSettings lf_cast_settings_default(void)
{
    return (LfCastSettings){.tolerance_deg = 1, .sure_at = 0.85};
}

LfChunkSpan *lf_chunks_plan(const LfVideoIndex *index, int64_t min_us, gsize *n)
{
    GArray *spans = g_array_new(FALSE, FALSE, sizeof(LfChunkSpan));
    int64_t key_us = index->n_keys > 0 ? index->key_us[0] : 0;
    LfChunkSpan span = {.key_us = key_us, .from_us = INT64_MIN, .to_us = INT64_MAX};
    for (gsize i = 1; i < index->n_keys; i++) {
        /* What is left behind the last cut must be long enough as well. */
        if (index->key_us[i] - span.key_us < min_us || index->end_us - index->key_us[i] < min_us)
            continue;
        span.to_us = index->key_us[i];
        g_array_append_val(spans, span);
        span = (LfChunkSpan){
            .key_us = index->key_us[i], .from_us = index->key_us[i], .to_us = INT64_MAX};
    }
    g_array_append_val(spans, span);
    *n = spans->len;
    return (LfChunkSpan *)(void *)g_array_free(spans, FALSE);
}
