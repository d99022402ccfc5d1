/* Back and forth: the areas of a photo, the marks of a walk. */
#include "desk/desk_state.h"

#include <lookfall/edit.h>

#include "desk/desk_route.h"

/* DESK_CONFLICT where there was nothing, DESK_CHANGED where somebody else was there since. */
static bool desk_edit_done(LfEdited edited, bool back, GError **error)
{
    if (edited == LF_EDIT_NONE)
        return desk_fail(error, DESK_CONFLICT,
                         back ? "There is nothing to undo." : "There is nothing to redo.");
    if (edited == LF_EDIT_CHANGED)
        return desk_fail(error, DESK_CHANGED,
                         "Somebody has changed that again since; it is left as it is, and the next "
                         "%s goes on from there.",
                         back ? "undo" : "redo");
    return true;
}

static bool desk_edit_go(DeskCall *call, LfEditKind kind, bool back, GError **error)
{
    const bool areas = kind == LF_EDIT_AREAS;
    const LfStudyPhoto *photo = NULL;
    const LfStudyWalk *walk = NULL;
    const char *who;
    int64_t id;
    LfEdited edited;
    if (!desk_call_name(call, &who, error) || !desk_fresh(call->desk, error) ||
        !desk_body_int(call->body, areas ? "photo" : "walk", 1, G_MAXINT64, &id, NULL, error))
        return false;
    if (areas ? !(photo = desk_photo(call->desk, id, error))
              : !(walk = desk_walk(call->desk, id, error)))
        return false;
    return lf_study_edit_go(call->desk->study, kind, areas ? photo->name : walk->name, who, back,
                            &edited, error) &&
           desk_edit_done(edited, back, error) &&
           (areas ? desk_areas_list(call, photo, error) : desk_marks_list(call, walk, error));
}

bool desk_post_areas_undo(DeskCall *call, GError **error)
{
    return desk_edit_go(call, LF_EDIT_AREAS, true, error);
}

bool desk_post_areas_redo(DeskCall *call, GError **error)
{
    return desk_edit_go(call, LF_EDIT_AREAS, false, error);
}

bool desk_post_marks_undo(DeskCall *call, GError **error)
{
    return desk_edit_go(call, LF_EDIT_MARKS, true, error);
}

bool desk_post_marks_redo(DeskCall *call, GError **error)
{
    return desk_edit_go(call, LF_EDIT_MARKS, false, error);
}
