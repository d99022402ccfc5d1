/* Marks and their names. */
#include "desk/desk_state.h"

#include <lookfall/mark.h>

#include "desk/desk_route.h"

static bool desk_marks_names(DeskCall *call, GError **error)
{
    g_autoptr(GPtrArray) names = lf_study_mark_names(call->desk->study, error);
    g_autoptr(GPtrArray) marks = names ? lf_study_marks(call->desk->study, NULL, error) : NULL;
    if (!marks)
        return false;
    desk_json_open(call->json, '{');
    desk_json_key_open(call->json, "rows", '[');
    for (guint i = 0; i < names->len; i++) {
        const LfMarkName *name = names->pdata[i];
        int64_t n = 0;
        for (guint k = 0; k < marks->len; k++)
            n += g_strcmp0(((const LfMark *)marks->pdata[k])->name, name->name) == 0;
        desk_json_open(call->json, '{');
        desk_json_put_string(call->json, "name", name->name);
        desk_json_put_string(call->json, "key", name->key);
        desk_json_put_int(call->json, "marks", n);
        desk_json_close(call->json, '}');
    }
    desk_json_close(call->json, ']');
    desk_json_close(call->json, '}');
    return true;
}

bool desk_get_mark_names(DeskCall *call, GError **error)
{
    return desk_marks_names(call, error);
}

/* One character, or nothing. */
static bool desk_marks_key(DeskCall *call, const char **key, bool *there, GError **error)
{
    *key = NULL;
    if (!desk_body_text(call->body, "key", key, there, error))
        return false;
    if (*key && g_utf8_strlen(*key, -1) != 1)
        return desk_fail(error, DESK_BAD, "A key is one character.");
    return true;
}

/* What the study says is taken, is a conflict. */
static bool desk_marks_conflict(bool ok, GError **error)
{
    if (!ok && error && *error && g_error_matches(*error, LF_ERROR, LF_ERROR_INPUT)) {
        g_autofree char *why = g_strdup((*error)->message);
        g_clear_error(error);
        return desk_fail(error, DESK_CONFLICT, "%s", why);
    }
    return ok;
}

bool desk_post_mark_names(DeskCall *call, GError **error)
{
    const char *name, *key;
    bool there;
    return desk_body_text(call->body, "name", &name, NULL, error) &&
           desk_marks_key(call, &key, &there, error) &&
           desk_marks_conflict(lf_study_mark_name_put(call->desk->study, name, key, error),
                               error) &&
           desk_marks_names(call, error);
}

bool desk_put_mark_names(DeskCall *call, GError **error)
{
    const char *name, *to = NULL, *key;
    bool renames, there;
    if (!desk_body_text(call->body, "name", &name, NULL, error) ||
        !desk_body_text(call->body, "new_name", &to, &renames, error) ||
        !desk_marks_key(call, &key, &there, error))
        return false;
    if (renames && g_strcmp0(name, to) != 0 &&
        !desk_marks_conflict(lf_study_mark_name_rename(call->desk->study, name, to, error), error))
        return false;
    bool keyed = json_object_has_member(call->body, "key");
    if (keyed &&
        !desk_marks_conflict(
            lf_study_mark_name_put(call->desk->study, renames ? to : name, key, error), error))
        return false;
    return desk_marks_names(call, error);
}

bool desk_delete_mark_names(DeskCall *call, GError **error)
{
    const char *name;
    return desk_body_text(call->body, "name", &name, NULL, error) &&
           desk_marks_conflict(lf_study_mark_name_remove(call->desk->study, name, error), error) &&
           desk_marks_names(call, error);
}

static int64_t desk_marks_walk_id(LfDesk *desk, const char *name)
{
    for (guint i = 0; i < desk->walks->len; i++) {
        const LfStudyWalk *walk = desk->walks->pdata[i];
        if (g_strcmp0(walk->name, name) == 0)
            return walk->id;
    }
    return 0;
}

static void desk_marks_write(DeskCall *call, const LfMark *mark)
{
    desk_json_open(call->json, '{');
    desk_json_put_int(call->json, "id", mark->id);
    desk_json_put_id(call->json, "walk", desk_marks_walk_id(call->desk, mark->walk));
    desk_json_put_string(call->json, "name", mark->name);
    desk_json_put_int(call->json, "from_us", mark->from_us);
    desk_json_key(call->json, "to_us");
    if (mark->span)
        desk_json_int(call->json, mark->to_us);
    else
        desk_json_null(call->json);
    desk_json_put_string(call->json, "who", mark->who);
    desk_json_put_string(call->json, "at", mark->at);
    desk_json_close(call->json, '}');
}

bool desk_marks_list(DeskCall *call, const LfStudyWalk *walk, GError **error)
{
    const char *const names[] = {walk ? walk->name : NULL, NULL};
    const char *who = call->session->reviewer;
    g_autofree char *undo = NULL, *redo = NULL;
    g_autoptr(GPtrArray) marks = lf_study_marks(call->desk->study, walk ? names : NULL, error);
    if (!marks || (walk && who &&
                   !lf_study_edit_steps(call->desk->study, LF_EDIT_MARKS, walk->name, who, &undo,
                                        &redo, error)))
        return false;
    desk_json_open(call->json, '{');
    desk_json_key_open(call->json, "rows", '[');
    for (guint i = 0; i < marks->len; i++)
        desk_marks_write(call, marks->pdata[i]);
    desk_json_close(call->json, ']');
    desk_json_put_string(call->json, "undo", undo);
    desk_json_put_string(call->json, "redo", redo);
    desk_json_close(call->json, '}');
    return true;
}

bool desk_get_marks(DeskCall *call, GError **error)
{
    int64_t id = 0;
    if (!desk_fresh(call->desk, error) || !desk_query_int(call, "walk", 1, G_MAXINT64, &id, error))
        return false;
    const LfStudyWalk *walk = id ? desk_walk(call->desk, id, error) : NULL;
    return (!id || walk) && desk_marks_list(call, walk, error);
}

/* Takes what the body says; NULL for to_us makes a moment of it. */
static bool desk_marks_read(DeskCall *call, LfMark *mark, GError **error)
{
    const char *name = NULL;
    bool there;
    if (!desk_body_text(call->body, "name", &name, &there, error))
        return false;
    if (there) {
        g_free(mark->name);
        mark->name = g_strdup(name);
    }
    if (!desk_body_int(call->body, "from_us", 0, G_MAXINT64 / 2, &mark->from_us, &there, error))
        return false;
    if (json_object_has_member(call->body, "to_us")) {
        if (!desk_body_int(call->body, "to_us", 0, G_MAXINT64 / 2, &mark->to_us, &mark->span,
                           error))
            return false;
    }
    if (!mark->span)
        mark->to_us = mark->from_us;
    if (mark->span && mark->to_us <= mark->from_us)
        return desk_fail(error, DESK_BAD, "A span ends after it begins.");
    return true;
}

static bool desk_marks_put(DeskCall *call, LfMark *mark, const char *who, const char *doing,
                           GError **error)
{
    g_autofree char *what = g_strdup_printf("%s %s", doing, mark->name);
    const LfEdit edit = {who, what};
    g_autoptr(GPtrArray) list = lf_mark_list_new();
    g_ptr_array_add(list, mark); /* the list frees it */
    if (!lf_study_mark_put(call->desk->study, list, &edit, error))
        return false;
    int64_t id = mark->id;
    g_autoptr(GPtrArray) marks = lf_study_marks(call->desk->study, NULL, error);
    for (guint i = 0; marks && i < marks->len; i++)
        if (((const LfMark *)marks->pdata[i])->id == id)
            desk_marks_write(call, marks->pdata[i]);
    return marks != NULL;
}

bool desk_post_marks(DeskCall *call, GError **error)
{
    const char *who, *name;
    int64_t id, from_us;
    if (!desk_call_name(call, &who, error) || !desk_fresh(call->desk, error) ||
        !desk_body_int(call->body, "walk", 1, G_MAXINT64, &id, NULL, error) ||
        !desk_body_text(call->body, "name", &name, NULL, error) ||
        !desk_body_int(call->body, "from_us", 0, G_MAXINT64 / 2, &from_us, NULL, error))
        return false;
    const LfStudyWalk *walk = desk_walk(call->desk, id, error);
    if (!walk)
        return false;
    g_autoptr(LfMark) mark = lf_mark_new(walk->name, name, from_us, from_us, false, who);
    return desk_marks_read(call, mark, error) &&
           desk_marks_put(call, g_steal_pointer(&mark), who, "noting", error);
}

bool desk_put_mark(DeskCall *call, GError **error)
{
    const char *who;
    if (!desk_call_name(call, &who, error) || !desk_fresh(call->desk, error))
        return false;
    g_autoptr(GPtrArray) marks = lf_study_marks(call->desk->study, NULL, error);
    for (guint i = 0; marks && i < marks->len; i++) {
        const LfMark *old = marks->pdata[i];
        if (old->id != call->id)
            continue;
        g_autoptr(LfMark) mark =
            lf_mark_new(old->walk, old->name, old->from_us, old->to_us, old->span, old->who);
        mark->id = old->id;
        mark->at = g_strdup(old->at);
        return desk_marks_read(call, mark, error) &&
               desk_marks_put(call, g_steal_pointer(&mark), who, "changing", error);
    }
    return marks && desk_fail(error, DESK_GONE, "This mark is no more.");
}

bool desk_delete_mark(DeskCall *call, GError **error)
{
    LfEdit edit = {.what = "removing a mark"};
    if (!desk_call_name(call, &edit.who, error))
        return false;
    if (!lf_study_mark_remove(call->desk->study, &call->id, 1, &edit, error)) {
        if (error && *error && g_error_matches(*error, LF_ERROR, LF_ERROR_INPUT)) {
            g_clear_error(error);
            return desk_fail(error, DESK_GONE, "This mark is no more.");
        }
        return false;
    }
    desk_json_open(call->json, '{');
    desk_json_put_int(call->json, "id", call->id);
    desk_json_close(call->json, '}');
    return true;
}
