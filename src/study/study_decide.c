/* From a reviewer's decision to a place for each sample it holds for. No SQL: everything is in the
 * span. */
#include "study/study_review.h"

#include <math.h>

const char *study_decide_kind(LfDecisionKind kind)
{
    static const char *const names[] = {"accept", "rival", "point", "tie", "away", "blocked"};
    return names[kind];
}

/* --- what was said ---------------------------------------------------------------------------- */

static void study_decide_number(GString *text, const char *name, double value)
{
    char digits[G_ASCII_DTOSTR_BUF_SIZE];
    if (isfinite(value))
        g_string_append_printf(text, ", \"%s\": %s", name,
                               g_ascii_dtostr(digits, sizeof digits, value));
}

char *study_decide_detail(const LfDecision *decision)
{
    static const char *const scopes[] = {"stretch", "fixation", "sample"};
    static const char *const moves[] = {"auto", "shift", "still"};
    if (decision->said)
        return g_strdup(decision->said);
    g_autoptr(GString) text = g_string_new(NULL);
    g_string_append_printf(text, "{\"scope\": \"%s\"", scopes[decision->scope]);
    if (decision->scope != LF_SCOPE_STRETCH || decision->kind == LF_DECIDE_POINT)
        g_string_append_printf(text, ", \"t_us\": %" G_GINT64_FORMAT, (gint64)decision->t_us);
    if (decision->kind == LF_DECIDE_POINT) {
        g_string_append_printf(text, ", \"photo\": %" G_GINT64_FORMAT ", \"move\": \"%s\"",
                               (gint64)decision->photo, moves[decision->move]);
        study_decide_number(text, "x", decision->x);
        study_decide_number(text, "y", decision->y);
        study_decide_number(text, "radius_px", decision->radius_px);
    }
    if (decision->kind == LF_DECIDE_RIVAL)
        g_string_append_printf(text, ", \"rival\": %d", decision->rival);
    g_string_append_c(text, '}');
    return g_string_free(g_steal_pointer(&text), FALSE);
}

/* --- what it holds for ------------------------------------------------------------------------ */

static bool study_decide_refuse(GError **error, const char *sentence)
{
    g_set_error_literal(error, LF_ERROR, LF_ERROR_USAGE, sentence);
    return false;
}

/* The sample with gaze nearest to t_us, inside the stretch. */
static const LfSpanSample *study_decide_nearest(const LfSpan *span, const LfStretch *stretch,
                                                int64_t t_us)
{
    const LfSpanSample *nearest = NULL;
    for (guint i = 0; i < span->samples->len; i++) {
        const LfSpanSample *sample = &g_array_index(span->samples, LfSpanSample, i);
        if (sample->lost || sample->t_us < stretch->from_us || sample->t_us >= stretch->to_us)
            continue;
        if (!nearest || ABS(sample->t_us - t_us) < ABS(nearest->t_us - t_us))
            nearest = sample;
    }
    return nearest;
}

static bool study_decide_scope(const LfSpan *span, const LfStretch *stretch,
                               const LfDecision *decision, int64_t *from_us, int64_t *to_us,
                               GError **error)
{
    *from_us = stretch->from_us;
    *to_us = stretch->to_us;
    if (decision->scope == LF_SCOPE_SAMPLE) {
        const LfSpanSample *sample = study_decide_nearest(span, stretch, decision->t_us);
        if (!sample)
            return study_decide_refuse(error, "There is no gaze in this stretch to be placed.");
        *from_us = sample->t_us;
        *to_us = sample->t_us + 1;
    }
    if (decision->scope != LF_SCOPE_FIXATION)
        return true;
    for (guint i = 0; i < span->fixations->len; i++) {
        const LfTimeSpan *fixation = &g_array_index(span->fixations, LfTimeSpan, i);
        if (fixation->from_us <= decision->t_us && decision->t_us < fixation->to_us) {
            *from_us = MAX(*from_us, fixation->from_us);
            *to_us = MIN(*to_us, fixation->to_us);
            return true;
        }
    }
    return study_decide_refuse(error,
                               "There is no fixation at this moment. Place the sample or the "
                               "stretch, or run \"lookfall fixate\" first.");
}

/* --- one kind each ---------------------------------------------------------------------------- */

static bool study_decide_is_on(const LfPlace *place)
{
    return place->photo != 0 && isfinite(place->x) && isfinite(place->y);
}

static LfPlace study_decide_accept(const LfSpanSample *sample)
{
    LfPlace place = sample->guess;
    if (place.state == LF_STATE_DOUBTFUL || place.state == LF_STATE_SURE)
        place.state = LF_STATE_PLACED;
    return place;
}

/* The pose of the rival's photo that was in force when the sample was taken. */
static const LfPoseCast *study_decide_pose(const LfSpan *span, int64_t photo, int64_t t_us)
{
    const LfPoseCast *found = NULL;
    for (guint i = 0; i < span->poses->len; i++) {
        const LfSpanPose *pose = &g_array_index(span->poses, LfSpanPose, i);
        if (pose->photo != photo)
            continue;
        if (!found || ABS(pose->pose.t_us - t_us) < ABS(found->t_us - t_us))
            found = &pose->pose;
        else
            break; /* poses ascend: it only gets further from here */
    }
    return found;
}

/* A frame's own rival nearest to the one chosen, where it has one about there. */
static void study_decide_shift(const LfSpan *span, const LfSpanRival *rival, int64_t t_us,
                               double *dx, double *dy)
{
    const LfPoseCast *pose = study_decide_pose(span, rival->photo, t_us);
    double least = hypot(rival->dx, rival->dy) / 2;
    *dx = rival->dx;
    *dy = rival->dy;
    for (int i = 0; pose && i < pose->n_rivals; i++) {
        double far = hypot(pose->rivals[i].dx - rival->dx, pose->rivals[i].dy - rival->dy);
        if (far < least) {
            least = far;
            *dx = pose->rivals[i].dx;
            *dy = pose->rivals[i].dy;
        }
    }
}

/* How a decision places one sample; false where it leaves it alone. */
typedef struct {
    const LfSpan *span;
    const LfDecision *decision;
    LfSpanRival rival;
    bool shift;
    double dx, dy;
    gsize tied; /* index of the next tied sample */
} DecideHow;

static bool study_decide_one(DecideHow *how, const LfSpanSample *sample, LfPlace *place)
{
    const LfDecision *decision = how->decision;
    const LfPlace *guess = &sample->guess;
    *place = *guess;
    switch (decision->kind) {
    case LF_DECIDE_ACCEPT:
        *place = study_decide_accept(sample);
        return sample->cast;
    case LF_DECIDE_AWAY:
        *place = (LfPlace){LF_STATE_AWAY, 0, (double)NAN, (double)NAN, (double)NAN};
        return true;
    case LF_DECIDE_BLOCKED:
        place->state = LF_STATE_BLOCKED;
        return true;
    case LF_DECIDE_RIVAL: {
        double dx, dy;
        if (!study_decide_is_on(guess) || guess->photo != how->rival.photo)
            return false;
        study_decide_shift(how->span, &how->rival, sample->t_us, &dx, &dy);
        *place = (LfPlace){LF_STATE_PLACED, guess->photo, guess->x + dx, guess->y + dy,
                           guess->radius_px};
        return true;
    }
    case LF_DECIDE_POINT:
        if (!how->shift) {
            *place = (LfPlace){LF_STATE_PLACED, decision->photo, decision->x, decision->y,
                               decision->radius_px};
            return true;
        }
        if (!study_decide_is_on(guess) || guess->photo != decision->photo)
            return false;
        *place = (LfPlace){LF_STATE_PLACED, guess->photo, guess->x + how->dx, guess->y + how->dy,
                           decision->radius_px};
        return true;
    case LF_DECIDE_TIE:
        while (how->tied < decision->n_tied && decision->tied[how->tied].t_us < sample->t_us)
            how->tied++;
        if (how->tied == decision->n_tied || decision->tied[how->tied].t_us != sample->t_us)
            return false;
        *place = decision->tied[how->tied].place;
        if (place->state == LF_STATE_SURE || place->state == LF_STATE_DOUBTFUL)
            place->state = LF_STATE_PLACED;
        return place->state != LF_STATE_LOST;
    }
    return false;
}

static bool study_decide_prepare(DecideHow *how, const LfStretch *stretch, GError **error)
{
    const LfDecision *decision = how->decision;
    if (decision->kind == LF_DECIDE_RIVAL) {
        LfSpanRival rivals[LF_SPAN_RIVALS_MAX];
        int n = lf_span_rivals(how->span, stretch->from_us, stretch->to_us, rivals);
        if (decision->rival < 0 || decision->rival >= n)
            return study_decide_refuse(error, "This stretch has no such rival.");
        how->rival = rivals[decision->rival];
    }
    if (decision->kind != LF_DECIDE_POINT)
        return true;
    const LfSpanSample *sample = study_decide_nearest(how->span, stretch, decision->t_us);
    bool can =
        sample && study_decide_is_on(&sample->guess) && sample->guess.photo == decision->photo;
    how->shift = decision->move == LF_MOVE_SHIFT ||
                 (decision->move == LF_MOVE_AUTO && decision->scope == LF_SCOPE_STRETCH && can);
    if (how->shift && !can)
        return study_decide_refuse(error,
                                   "The engine has no point on this photo at that moment that "
                                   "could be shifted.");
    if (how->shift) {
        how->dx = decision->x - sample->guess.x;
        how->dy = decision->y - sample->guess.y;
    }
    return true;
}

GArray *study_decide_places(const LfSpan *span, const LfStretch *stretch,
                            const LfDecision *decision, GError **error)
{
    g_autoptr(GArray) places = g_array_new(FALSE, FALSE, sizeof(LfTiedPlace));
    DecideHow how = {.span = span, .decision = decision};
    int64_t from_us, to_us;
    if (!study_decide_scope(span, stretch, decision, &from_us, &to_us, error) ||
        !study_decide_prepare(&how, stretch, error))
        return NULL;
    for (guint i = 0; i < span->samples->len; i++) {
        const LfSpanSample *sample = &g_array_index(span->samples, LfSpanSample, i);
        LfTiedPlace placed = {.t_us = sample->t_us};
        if (!sample->lost && sample->t_us >= from_us && sample->t_us < to_us &&
            study_decide_one(&how, sample, &placed.place))
            g_array_append_val(places, placed);
    }
    if (places->len == 0) {
        study_decide_refuse(error, "This would place nothing: no sample here has what it takes.");
        return NULL;
    }
    return g_steal_pointer(&places);
}
