/* One stretch, or any short span of a walk, with everything a person needs to judge it. */
#include "desk/desk_state.h"

#include <math.h>

#include "desk/desk_route.h"

#define STRETCH_SPAN_MOST_US 60000000 /* of a span that is asked for */
#define STRETCH_NEXT 3                /* stretches after it that are told, and decoded ahead */

/* --- columns ---------------------------------------------------------------------------------- */

/* One column of the samples: `write` puts the value of one. */
static void desk_stretch_column(GString *json, const char *name, const GArray *samples,
                                void (*write)(GString *json, const LfSpanSample *sample))
{
    desk_json_key_open(json, name, '[');
    for (guint i = 0; i < samples->len; i++)
        write(json, &g_array_index(samples, LfSpanSample, i));
    desk_json_close(json, ']');
}

#define STRETCH_COLUMN(name, expression)                                                           \
    static void desk_stretch_put_##name(GString *json, const LfSpanSample *sample)                 \
    {                                                                                              \
        expression;                                                                                \
    }

static void desk_stretch_id(GString *json, int64_t id)
{
    if (id)
        desk_json_int(json, id);
    else
        desk_json_null(json);
}

STRETCH_COLUMN(t_us, desk_json_int(json, sample->t_us))
STRETCH_COLUMN(gx, desk_json_number(json, sample->gaze_px.x, 2))
STRETCH_COLUMN(gy, desk_json_number(json, sample->gaze_px.y, 2))
STRETCH_COLUMN(state, desk_json_int(json, sample->now.state))
STRETCH_COLUMN(photo, desk_stretch_id(json, sample->now.photo))
STRETCH_COLUMN(x, desk_json_number(json, sample->now.x, 2))
STRETCH_COLUMN(y, desk_json_number(json, sample->now.y, 2))
STRETCH_COLUMN(guess_state, desk_json_int(json, sample->guess.state))
STRETCH_COLUMN(guess_photo, desk_stretch_id(json, sample->guess.photo))
STRETCH_COLUMN(guess_x, desk_json_number(json, sample->guess.x, 2))
STRETCH_COLUMN(guess_y, desk_json_number(json, sample->guess.y, 2))
STRETCH_COLUMN(confidence, desk_json_number(json, sample->confidence, 4))
STRETCH_COLUMN(radius, desk_json_number(json, sample->guess.radius_px, 2))
STRETCH_COLUMN(doubt, desk_json_string(json, sample->guess.state == LF_STATE_DOUBTFUL ||
                                                     sample->guess.state == LF_STATE_BLOCKED
                                                 ? lf_reason_name((int)sample->doubt)
                                                 : NULL))
STRETCH_COLUMN(placement, desk_json_int(json, sample->placement))

static void desk_stretch_put_cov(GString *json, const LfSpanSample *sample)
{
    if (!isfinite(sample->cov.xx)) {
        desk_json_null(json);
        return;
    }
    desk_json_open(json, '[');
    desk_json_number(json, sample->cov.xx, 3);
    desk_json_number(json, sample->cov.xy, 3);
    desk_json_number(json, sample->cov.yy, 3);
    desk_json_close(json, ']');
}

static void desk_stretch_samples(GString *json, const GArray *samples)
{
    static const struct {
        const char *name;
        void (*write)(GString *json, const LfSpanSample *sample);
    } columns[] = {
        {"t_us", desk_stretch_put_t_us},
        {"gx", desk_stretch_put_gx},
        {"gy", desk_stretch_put_gy},
        {"state", desk_stretch_put_state},
        {"photo", desk_stretch_put_photo},
        {"x", desk_stretch_put_x},
        {"y", desk_stretch_put_y},
        {"guess_state", desk_stretch_put_guess_state},
        {"guess_photo", desk_stretch_put_guess_photo},
        {"guess_x", desk_stretch_put_guess_x},
        {"guess_y", desk_stretch_put_guess_y},
        {"confidence", desk_stretch_put_confidence},
        {"radius", desk_stretch_put_radius},
        {"cov", desk_stretch_put_cov},
        {"doubt", desk_stretch_put_doubt},
        {"placement", desk_stretch_put_placement},
    };
    desk_json_key_open(json, "samples", '{');
    for (gsize i = 0; i < G_N_ELEMENTS(columns); i++)
        desk_stretch_column(json, columns[i].name, samples, columns[i].write);
    desk_json_close(json, '}');
}

/* --- the rest of a span ----------------------------------------------------------------------- */

void desk_json_matrix(GString *json, const char *name, const LfMat3 *m)
{
    desk_json_key_open(json, name, '[');
    for (int i = 0; i < 9; i++)
        desk_json_exact(json, m->m[i]);
    desk_json_close(json, ']');
}

void desk_json_step(GString *json, const char *name, const LfReviewStep *step)
{
    desk_json_key(json, name);
    if (!step->placement) {
        desk_json_null(json);
        return;
    }
    desk_json_open(json, '{');
    desk_json_put_int(json, "placement", step->placement);
    desk_json_put_bool(json, "lifts", step->lifts);
    desk_json_put_string(json, "kind", step->kind);
    desk_json_put_int(json, "walk", step->walk);
    desk_json_put_int(json, "from_us", step->from_us);
    desk_json_put_int(json, "to_us", step->to_us);
    desk_json_put_id(json, "stretch", step->stretch);
    desk_json_put_string(json, "at", step->at);
    desk_json_close(json, '}');
}

void desk_json_pose(GString *json, int64_t photo, const LfPoseCast *pose)
{
    desk_json_open(json, '{');
    desk_json_put_int(json, "t_us", pose->t_us);
    desk_json_put_int(json, "photo", photo);
    desk_json_matrix(json, "m", &pose->photo_from_frame);
    desk_json_put_number(json, "confidence", pose->confidence, 4);
    desk_json_key_open(json, "rivals", '[');
    for (int i = 0; i < pose->n_rivals; i++) {
        desk_json_open(json, '[');
        desk_json_number(json, pose->rivals[i].dx, 2);
        desk_json_number(json, pose->rivals[i].dy, 2);
        desk_json_number(json, pose->rivals[i].strength, 4);
        desk_json_close(json, ']');
    }
    desk_json_close(json, ']');
    desk_json_close(json, '}');
}

static void desk_stretch_placement(GString *json, const LfPlacement *placement)
{
    desk_json_open(json, '{');
    desk_json_put_int(json, "id", placement->id);
    desk_json_put_int(json, "walk", placement->walk);
    desk_json_put_int(json, "from_us", placement->from_us);
    desk_json_put_int(json, "to_us", placement->to_us);
    desk_json_put_string(json, "kind", placement->kind);
    desk_json_put_string(json, "who", placement->who);
    desk_json_put_string(json, "at", placement->at);
    desk_json_put_bool(json, "blind", placement->blind);
    desk_json_put_bool(json, "lifted", placement->lifted);
    desk_json_put_int(json, "samples", placement->samples);
    desk_json_put_raw(json, "detail", placement->detail);
    desk_json_close(json, '}');
}

static void desk_stretch_placements(GString *json, const char *name, const GPtrArray *placements)
{
    desk_json_key_open(json, name, '[');
    for (guint i = 0; i < placements->len; i++)
        desk_stretch_placement(json, placements->pdata[i]);
    desk_json_close(json, ']');
}

/* Times of the frames that are shown from from_us until to_us. */
static bool desk_stretch_frames(DeskCall *call, int64_t walk, int64_t from_us, int64_t to_us,
                                GError **error)
{
    const DeskVideo *video = desk_walk_video(call->desk, walk, error);
    if (!video)
        return false;
    desk_json_key_open(call->json, "frames", '[');
    for (gsize i = desk_video_frame_at(video, from_us);
         i < video->index->n_frames && video->index->frame_us[i] < to_us; i++)
        desk_json_int(call->json, video->index->frame_us[i]);
    desk_json_close(call->json, ']');
    return true;
}

static bool desk_stretch_span(DeskCall *call, const LfSpan *span, int64_t walk, int64_t from_us,
                              int64_t to_us, GError **error)
{
    GString *json = call->json;
    if (!desk_stretch_frames(call, walk, from_us, to_us, error))
        return false;
    desk_stretch_samples(json, span->samples);
    desk_json_key_open(json, "poses", '[');
    for (guint i = 0; i < span->poses->len; i++) {
        const LfSpanPose *pose = &g_array_index(span->poses, LfSpanPose, i);
        desk_json_pose(json, pose->photo, &pose->pose);
    }
    desk_json_close(json, ']');
    desk_json_key_open(json, "fixations", '[');
    for (guint i = 0; i < span->fixations->len; i++) {
        const LfTimeSpan *fixation = &g_array_index(span->fixations, LfTimeSpan, i);
        desk_json_open(json, '{');
        desk_json_put_int(json, "from_us", fixation->from_us);
        desk_json_put_int(json, "to_us", fixation->to_us);
        desk_json_close(json, '}');
    }
    desk_json_close(json, ']');
    desk_stretch_placements(json, "placements", span->placements);
    return true;
}

static void desk_stretch_rivals(GString *json, const LfSpan *span, const LfStretch *stretch)
{
    LfSpanRival rivals[LF_SPAN_RIVALS_MAX];
    int n = lf_span_rivals(span, stretch->from_us, stretch->to_us, rivals);
    desk_json_key_open(json, "rivals", '[');
    for (int i = 0; i < n; i++) {
        desk_json_open(json, '{');
        desk_json_put_int(json, "photo", rivals[i].photo);
        desk_json_put_number(json, "dx", rivals[i].dx, 2);
        desk_json_put_number(json, "dy", rivals[i].dy, 2);
        desk_json_put_number(json, "strength", rivals[i].strength, 4);
        desk_json_put_int(json, "frames", rivals[i].frames);
        desk_json_close(json, '}');
    }
    desk_json_close(json, ']');
}

int64_t desk_stretch_show_us(const LfSpan *span, const LfStretch *stretch)
{
    int64_t show_us = stretch->from_us + (stretch->to_us - stretch->from_us) / 2, longest_us = 0;
    for (guint i = 0; i < span->fixations->len; i++) {
        const LfTimeSpan *fixation = &g_array_index(span->fixations, LfTimeSpan, i);
        int64_t from_us = MAX(fixation->from_us, stretch->from_us);
        int64_t to_us = MIN(fixation->to_us, stretch->to_us);
        if (to_us - from_us > longest_us) {
            longest_us = to_us - from_us;
            show_us = from_us + longest_us / 2;
        }
    }
    return show_us;
}

bool desk_stretch_find(DeskCall *call, int64_t id, LfStretch *stretch, GError **error)
{
    const LfReviewer reviewer = desk_reviewer(call->session);
    bool found;
    if (!lf_study_stretch(call->desk->study, &reviewer, id, stretch, &found, error))
        return false;
    return found || desk_fail(error, DESK_GONE,
                              "This stretch is no more: the walk was cast again, or removed. The "
                              "worklist shows what there is now.");
}

bool desk_get_stretch(DeskCall *call, GError **error)
{
    const LfReviewer reviewer = desk_reviewer(call->session);
    GString *json = call->json;
    LfStretch stretch;
    if (!desk_fresh(call->desk, error) || !desk_stretch_find(call, call->id, &stretch, error))
        return false;
    g_autoptr(LfSpan) span = lf_study_span(call->desk->study, &reviewer, stretch.walk,
                                           stretch.from_us, stretch.to_us, error);
    const DeskVideo *video = span ? desk_walk_video(call->desk, stretch.walk, error) : NULL;
    if (!video || !desk_list_summary(call->desk, call->session, json, &stretch, error))
        return false;
    gsize show = desk_video_frame_at(video, desk_stretch_show_us(span, &stretch));
    desk_json_put_int(json, "version", stretch.version);
    desk_json_put_int(json, "show_us", video->index->frame_us[show]);
    desk_stretch_rivals(json, span, &stretch);
    if (!desk_stretch_span(call, span, stretch.walk, stretch.from_us, stretch.to_us, error) ||
        !desk_list_neighbours(call, &stretch, false, STRETCH_NEXT, "next", error))
        return false;
    desk_json_close(json, '}');
    return true;
}

bool desk_get_after(DeskCall *call, GError **error)
{
    LfStretch stretch;
    int64_t count = STRETCH_NEXT, before = 0;
    if (!desk_query_int(call, "count", 1, 100, &count, error) ||
        !desk_query_int(call, "before", 0, 1, &before, error) ||
        !desk_stretch_find(call, call->id, &stretch, error))
        return false;
    desk_json_open(call->json, '{');
    if (!desk_list_neighbours(call, &stretch, before != 0, count, "rows", error))
        return false;
    desk_json_close(call->json, '}');
    return true;
}

bool desk_get_around(DeskCall *call, GError **error)
{
    const LfReviewer reviewer = desk_reviewer(call->session);
    int64_t walk, from_us, to_us;
    if (!desk_query_needed(call, "walk", 1, G_MAXINT64, &walk, error) ||
        !desk_query_needed(call, "from_us", G_MININT64 / 2, G_MAXINT64 / 2, &from_us, error) ||
        !desk_query_needed(call, "to_us", G_MININT64 / 2, G_MAXINT64 / 2, &to_us, error))
        return false;
    if (to_us <= from_us || to_us - from_us > STRETCH_SPAN_MOST_US)
        return desk_fail(error, DESK_BAD, "A span lasts over 0 and up to 60 s.");
    if (!desk_fresh(call->desk, error) || !desk_walk(call->desk, walk, error))
        return false;
    g_autoptr(LfSpan) span =
        lf_study_span(call->desk->study, &reviewer, walk, from_us, to_us, error);
    if (!span)
        return false;
    desk_json_open(call->json, '{');
    if (!desk_stretch_span(call, span, walk, from_us, to_us, error))
        return false;
    desk_json_close(call->json, '}');
    return true;
}

bool desk_get_placements(DeskCall *call, GError **error)
{
    const LfReviewer reviewer = desk_reviewer(call->session);
    int64_t walk;
    if (!desk_query_needed(call, "walk", 1, G_MAXINT64, &walk, error) ||
        !desk_walk(call->desk, walk, error))
        return false;
    g_autoptr(GPtrArray) placements =
        lf_study_placements(call->desk->study, &reviewer, walk, error);
    if (!placements)
        return false;
    desk_json_open(call->json, '{');
    desk_stretch_placements(call->json, "rows", placements);
    desk_json_close(call->json, '}');
    return true;
}
