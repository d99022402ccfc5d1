/* Decisions, and the way back. */
#include "desk/desk_state.h"

#include <math.h>
#include <string.h>

#include "desk/desk_route.h"

/* The place of a word in a list; leaves *value alone where the member is missing. */
static bool desk_decide_word(JsonObject *body, const char *name, const char *const *words,
                             bool needed, int *value, GError **error)
{
    const char *text = NULL;
    bool there = true;
    if (!desk_body_text(body, name, &text, needed ? NULL : &there, error))
        return false;
    if (!there)
        return true;
    for (gsize i = 0; words[i]; i++)
        if (strcmp(words[i], text) == 0) {
            *value = (int)i;
            return true;
        }
    g_autofree char *all = g_strjoinv(", ", (char **)(gpointer)words);
    return desk_fail(error, DESK_BAD, "\"%s\" must be one of: %s.", name, all);
}

static bool desk_decide_point(DeskCall *call, LfDecision *decision, GError **error)
{
    static const char *const moves[] = {"auto", "shift", "still", NULL};
    int move = LF_MOVE_AUTO;
    bool there;
    if (!desk_body_int(call->body, "photo", 1, G_MAXINT64, &decision->photo, NULL, error) ||
        !desk_body_number(call->body, "x", &decision->x, NULL, error) ||
        !desk_body_number(call->body, "y", &decision->y, NULL, error) ||
        !desk_body_number(call->body, "radius_px", &decision->radius_px, &there, error) ||
        !desk_decide_word(call->body, "move", moves, false, &move, error))
        return false;
    const LfStudyPhoto *photo = desk_photo(call->desk, decision->photo, error);
    if (!photo)
        return false;
    if (decision->x < -0.5 || decision->x > photo->report.width - 0.5 || decision->y < -0.5 ||
        decision->y > photo->report.height - 0.5)
        return desk_fail(error, DESK_BAD, "The point lies outside of the photo.");
    if (isfinite(decision->radius_px) && decision->radius_px < 0)
        return desk_fail(error, DESK_BAD, "\"radius_px\" must not be below 0.");
    decision->move = (LfMove)move;
    return true;
}

static bool desk_decide_read(DeskCall *call, LfDecision *decision, int64_t *job, GError **error)
{
    static const char *const kinds[] = {"accept", "rival", "point", "tie", "away", "blocked", NULL};
    static const char *const scopes[] = {"stretch", "fixation", "sample", NULL};
    int kind = 0, scope = LF_SCOPE_STRETCH;
    int64_t rival = 0;
    bool there = true;
    *decision = (LfDecision){.radius_px = (double)NAN};
    if (!desk_body_int(call->body, "stretch", 1, G_MAXINT64, &decision->stretch, NULL, error) ||
        !desk_body_int(call->body, "version", 0, G_MAXINT64, &decision->version, NULL, error) ||
        !desk_decide_word(call->body, "kind", kinds, true, &kind, error) ||
        !desk_decide_word(call->body, "scope", scopes, false, &scope, error))
        return false;
    decision->kind = (LfDecisionKind)kind;
    decision->scope = (LfScope)scope;
    bool needs_time = kind == LF_DECIDE_POINT || scope != LF_SCOPE_STRETCH;
    if (!desk_body_int(call->body, "t_us", G_MININT64 / 2, G_MAXINT64 / 2, &decision->t_us,
                       needs_time ? NULL : &there, error) ||
        (kind == LF_DECIDE_POINT && !desk_decide_point(call, decision, error)) ||
        (kind == LF_DECIDE_RIVAL &&
         !desk_body_int(call->body, "rival", 0, LF_SPAN_RIVALS_MAX - 1, &rival, NULL, error)) ||
        (kind == LF_DECIDE_TIE &&
         !desk_body_int(call->body, "job", 1, G_MAXINT64, job, NULL, error)))
        return false;
    decision->rival = (int)rival;
    return true;
}

/* The stretch as it is now, and what follows from it for the whole list. */
static bool desk_decide_answer(DeskCall *call, int64_t stretch_id, int64_t placement,
                               GError **error)
{
    const LfReviewer reviewer = desk_reviewer(call->session);
    LfStretch stretch;
    bool found = false;
    if (stretch_id &&
        !lf_study_stretch(call->desk->study, &reviewer, stretch_id, &stretch, &found, error))
        return false;
    desk_json_open(call->json, '{');
    desk_json_put_int(call->json, "placement", placement);
    desk_json_key(call->json, "stretch");
    if (found) {
        if (!desk_list_summary(call->desk, call->session, call->json, &stretch, error))
            return false;
        desk_json_put_int(call->json, "version", stretch.version);
        desk_json_close(call->json, '}');
    } else {
        desk_json_null(call->json);
    }
    if (!desk_list_progress(call, error))
        return false;
    desk_json_close(call->json, '}');
    return true;
}

static bool desk_decide_who(DeskCall *call, int64_t stretch_id, GError **error)
{
    const LfReviewer reviewer = desk_reviewer(call->session);
    LfStretch stretch;
    if (!desk_stretch_find(call, stretch_id, &stretch, error))
        return false;
    g_autoptr(GPtrArray) names = lf_study_placed_by(call->desk->study, &reviewer, stretch.walk,
                                                    stretch.from_us, stretch.to_us, error);
    if (!names)
        return false;
    g_ptr_array_add(names, NULL);
    g_autofree char *all = g_strjoinv(" and ", (char **)names->pdata);
    return desk_fail(
        error, DESK_CHANGED,
        "This stretch has changed since you opened it%s%s. Look at it again; nothing of "
        "yours was written.",
        all[0] ? ": it was placed by " : "", all);
}

bool desk_post_decision(DeskCall *call, GError **error)
{
    const LfReviewer reviewer = desk_reviewer(call->session);
    const char *name;
    LfDecision decision;
    LfDecided decided;
    LfStretch stretch;
    int64_t job = 0, placement;
    if (!desk_call_name(call, &name, error) || !desk_decide_read(call, &decision, &job, error) ||
        !desk_stretch_find(call, decision.stretch, &stretch, error) ||
        (job && !desk_tie_result(call->desk, job, &stretch, &decision.tied, &decision.n_tied,
                                 &decision.said, error)) ||
        !lf_study_decide(call->desk->study, &reviewer, &decision, &decided, &placement, error))
        return false;
    if (decided == LF_DECIDED_GONE)
        return desk_stretch_find(call, decision.stretch, &stretch, error);
    if (decided == LF_DECIDED_CHANGED)
        return desk_decide_who(call, decision.stretch, error);
    return desk_decide_answer(call, decision.stretch, placement, error);
}

bool desk_post_lift(DeskCall *call, GError **error)
{
    const LfReviewer reviewer = desk_reviewer(call->session);
    const char *name;
    LfDecided decided;
    LfReviewStep undo, redo;
    int64_t placement;
    if (!desk_call_name(call, &name, error) ||
        !desk_body_int(call->body, "placement", 1, G_MAXINT64, &placement, NULL, error) ||
        !lf_study_lift(call->desk->study, &reviewer, placement, &decided, error))
        return false;
    if (decided != LF_DECIDED)
        return desk_fail(error, DESK_GONE,
                         "This placement is no more, or somebody has lifted it already.");
    if (!lf_study_review_steps(call->desk->study, &reviewer, &undo, &redo, error))
        return false;
    return desk_decide_answer(call, undo.stretch, placement, error);
}

static bool desk_decide_step(DeskCall *call, bool back, GError **error)
{
    const LfReviewer reviewer = desk_reviewer(call->session);
    const char *name;
    LfReviewStep step;
    if (!desk_call_name(call, &name, error) ||
        !(back ? lf_study_review_undo(call->desk->study, &reviewer, &step, error)
               : lf_study_review_redo(call->desk->study, &reviewer, &step, error)))
        return false;
    if (!step.placement)
        return desk_fail(error, DESK_CONFLICT,
                         back ? "There is nothing of yours to undo." : "There is nothing to redo.");
    desk_json_open(call->json, '{');
    desk_json_step(call->json, "step", &step);
    if (!desk_list_progress(call, error))
        return false;
    desk_json_close(call->json, '}');
    return true;
}

bool desk_post_undo(DeskCall *call, GError **error)
{
    return desk_decide_step(call, true, error);
}

bool desk_post_redo(DeskCall *call, GError **error)
{
    return desk_decide_step(call, false, error);
}
