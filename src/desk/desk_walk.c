/* A whole walk at a glance: its frames' times, and a strip of confidence and states. */
#include "desk/desk_state.h"

#include <math.h>

#include "desk/desk_route.h"

#define WALK_BINS 1500
#define WALK_BINS_MOST 8000
#define WALK_STATES (LF_STATE_PLACED + 1)

bool desk_get_walk_frames(DeskCall *call, GError **error)
{
    const DeskVideo *video = desk_walk_video(call->desk, call->id, error);
    if (!video)
        return false;
    const LfVideoIndex *index = video->index;
    desk_json_open(call->json, '{');
    desk_json_put_int(call->json, "first_us", index->frame_us[0]);
    desk_json_key_open(call->json, "step_us", '[');
    for (gsize i = 1; i < index->n_frames; i++)
        desk_json_int(call->json, index->frame_us[i] - index->frame_us[i - 1]);
    desk_json_close(call->json, ']');
    desk_json_close(call->json, '}');
    return true;
}

typedef struct {
    double low, sum;
    gsize n;
    guint states[WALK_STATES];
} WalkBin;

typedef struct {
    GArray *bins; /* WalkBin */
    int64_t from_us, to_us;
} WalkStrip;

static void desk_walk_glance(int64_t t_us, LfState state, double confidence, bool placed,
                             void *data)
{
    const WalkStrip *strip = data;
    double place = (double)(t_us - strip->from_us) / (double)(strip->to_us - strip->from_us);
    guint at = MIN((guint)(place * strip->bins->len), strip->bins->len - 1);
    WalkBin *bin = &g_array_index(strip->bins, WalkBin, at);
    bin->states[state]++;
    if (placed || !isfinite(confidence))
        return;
    bin->low = bin->n > 0 ? MIN(bin->low, confidence) : confidence;
    bin->sum += confidence;
    bin->n++;
}

static void desk_walk_write(GString *json, const GArray *bins)
{
    for (int mean = 0; mean < 2; mean++) {
        desk_json_key_open(json, mean ? "confidence" : "confidence_low", '[');
        for (guint i = 0; i < bins->len; i++) {
            const WalkBin *bin = &g_array_index(bins, WalkBin, i);
            desk_json_number(json,
                             bin->n == 0 ? (double)NAN
                             : mean      ? bin->sum / (double)bin->n
                                         : bin->low,
                             3);
        }
        desk_json_close(json, ']');
    }
    desk_json_key_open(json, "states", '[');
    for (guint i = 0; i < bins->len; i++) {
        desk_json_open(json, '[');
        for (int state = 0; state < WALK_STATES; state++)
            desk_json_int(json, g_array_index(bins, WalkBin, i).states[state]);
        desk_json_close(json, ']');
    }
    desk_json_close(json, ']');
}

bool desk_get_walk_strip(DeskCall *call, GError **error)
{
    const LfReviewer reviewer = desk_reviewer(call->session);
    const LfStudyWalk *walk =
        desk_fresh(call->desk, error) ? desk_walk(call->desk, call->id, error) : NULL;
    int64_t from_us = 0, to_us = walk ? walk->end_us : 0, n = WALK_BINS;
    if (!walk ||
        !desk_query_int(call, "from_us", G_MININT64 / 2, G_MAXINT64 / 2, &from_us, error) ||
        !desk_query_int(call, "to_us", G_MININT64 / 2, G_MAXINT64 / 2, &to_us, error) ||
        !desk_query_int(call, "bins", 1, WALK_BINS_MOST, &n, error))
        return false;
    if (to_us <= from_us)
        return desk_fail(error, DESK_BAD, "\"to_us\" must lie after \"from_us\".");
    g_autoptr(GArray) bins = g_array_new(FALSE, TRUE, sizeof(WalkBin));
    g_array_set_size(bins, (guint)n);
    WalkStrip strip = {bins, from_us, to_us};
    if (!lf_study_glance(call->desk->study, &reviewer, walk->id, from_us, to_us, desk_walk_glance,
                         &strip, error))
        return false;
    desk_json_open(call->json, '{');
    desk_json_put_int(call->json, "from_us", from_us);
    desk_json_put_int(call->json, "to_us", to_us);
    desk_json_put_int(call->json, "bins", n);
    desk_walk_write(call->json, bins);
    desk_json_close(call->json, '}');
    return true;
}
