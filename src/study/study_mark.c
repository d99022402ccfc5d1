/* Marks in the study. A change of several marks is one transaction, with one entry in the log. */
#include "study/study_edit.h"
#include "study/study_walk.h"

#include <string.h>

#include <lookfall/mark.h>

/* --- values -------------------------------------------------------------------------------------
 */

LfMark *lf_mark_new(const char *walk, const char *name, int64_t from_us, int64_t to_us, bool span,
                    const char *who)
{
    LfMark *mark = g_new0(LfMark, 1);
    mark->walk = g_strdup(walk);
    mark->name = g_strdup(name);
    mark->from_us = from_us;
    mark->to_us = span ? to_us : from_us;
    mark->span = span;
    mark->who = g_strdup(who);
    return mark;
}

void lf_mark_free(LfMark *mark)
{
    if (!mark)
        return;
    g_free(mark->walk);
    g_free(mark->name);
    g_free(mark->who);
    g_free(mark->at);
    g_free(mark);
}

static void study_mark_drop(gpointer mark)
{
    lf_mark_free(mark);
}

GPtrArray *lf_mark_list_new(void)
{
    return g_ptr_array_new_with_free_func(study_mark_drop);
}

/* --- names --------------------------------------------------------------------------------------
 */

static void study_mark_name_free(gpointer data)
{
    LfMarkName *name = data;
    g_free(name->name);
    g_free(name->key);
    g_free(name);
}

GPtrArray *lf_study_mark_names(LfStudy *study, GError **error)
{
    g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(study_mark_name_free);
    g_autoptr(sqlite3_stmt) rows =
        study_db_prepare(study, error, "SELECT name, key FROM mark_name ORDER BY name");
    bool ok = false, row = false;
    if (!rows)
        return NULL;
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        LfMarkName *name = g_new0(LfMarkName, 1);
        name->name = study_db_string(rows, 0);
        name->key = study_db_string(rows, 1);
        g_ptr_array_add(names, name);
    }
    return ok ? g_steal_pointer(&names) : NULL;
}

static bool study_mark_check_key(LfStudy *study, const char *name, const char *key, GError **error)
{
    int64_t taken;
    if (!key)
        return true;
    if (!g_utf8_validate(key, -1, NULL) || !*key || g_utf8_strlen(key, -1) > 20) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "the key of mark %s must be 1 to 20 characters of UTF-8", name);
        return false;
    }
    if (!study_db_get(study, error, 0, &taken,
                      "SELECT 1 FROM mark_name WHERE key = ? AND name <> ?", "ss", key, name))
        return false;
    if (taken)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "the key %s belongs to another mark already; choose another one for %s", key,
                    name);
    return !taken;
}

static bool study_mark_name_write(LfStudy *study, const char *name, const char *key, GError **error)
{
    g_autofree char *detail = g_strdup_printf("%s, key %s", name, key ? key : "none");
    return study_mark_check_key(study, name, key, error) &&
           study_db_run(study, error,
                        "INSERT INTO mark_name(name, key) VALUES(?, ?)"
                        " ON CONFLICT(name) DO UPDATE SET key = excluded.key",
                        "ss", name, key) &&
           study_db_log(study, "mark name", detail, NULL, error);
}

bool lf_study_mark_name_put(LfStudy *study, const char *name, const char *key, GError **error)
{
    return study_db_check_name("mark", name, error) && study_db_begin(study, error) &&
           study_db_end(study, study_mark_name_write(study, name, key, error), error);
}

/* LF_ERROR_INPUT unless `wanted` says whether there is such a name. */
static bool study_mark_name_is(LfStudy *study, const char *name, bool wanted, GError **error)
{
    int64_t known;
    if (!study_db_get(study, error, 0, &known, "SELECT 1 FROM mark_name WHERE name = ?", "s", name))
        return false;
    if ((known != 0) != wanted)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    wanted ? "no mark is called %s" : "there are marks called %s already", name);
    return (known != 0) == wanted;
}

static bool study_mark_name_move(LfStudy *study, const char *name, const char *to, GError **error)
{
    g_autofree char *detail = g_strdup_printf("%s to %s", name, to);
    return study_mark_name_is(study, name, true, error) &&
           study_mark_name_is(study, to, false, error) &&
           study_db_run(study, error, "UPDATE mark_name SET name = ? WHERE name = ?", "ss", to,
                        name) &&
           study_db_run(study, error, "UPDATE mark_was SET name = ? WHERE name = ?", "ss", to,
                        name) &&
           study_db_log(study, "mark rename", detail, NULL, error);
}

bool lf_study_mark_name_rename(LfStudy *study, const char *name, const char *to, GError **error)
{
    return study_db_check_name("mark", to, error) && study_db_begin(study, error) &&
           study_db_end(study, study_mark_name_move(study, name, to, error), error);
}

static bool study_mark_name_delete(LfStudy *study, const char *name, GError **error)
{
    int64_t used;
    if (!study_mark_name_is(study, name, true, error) ||
        !study_db_get(study, error, 0, &used, "SELECT count(*) FROM mark WHERE name = ?", "s",
                      name))
        return false;
    if (used > 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%" G_GINT64_FORMAT " mark%s called %s; remove or rename %s first",
                    (gint64)used, used == 1 ? " is" : "s are", name, used == 1 ? "it" : "them");
        return false;
    }
    return study_db_run(study, error, "DELETE FROM mark_name WHERE name = ?", "s", name) &&
           study_db_log(study, "mark name remove", name, NULL, error);
}

bool lf_study_mark_name_remove(LfStudy *study, const char *name, GError **error)
{
    return study_db_begin(study, error) &&
           study_db_end(study, study_mark_name_delete(study, name, error), error);
}

/* --- reading ------------------------------------------------------------------------------------
 */

static bool study_mark_read(LfStudy *study, int64_t walk, GPtrArray *marks, GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        "SELECT mark.id, walk.name, mark.name, from_us, to_us, who, at FROM mark"
        " JOIN walk ON walk.id = mark.walk WHERE walk = ? ORDER BY from_us, mark.id");
    bool ok = false, row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "i", walk);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        bool span = sqlite3_column_type(rows, 4) != SQLITE_NULL;
        LfMark *mark = lf_mark_new((const char *)sqlite3_column_text(rows, 1),
                                   (const char *)sqlite3_column_text(rows, 2),
                                   sqlite3_column_int64(rows, 3), sqlite3_column_int64(rows, 4),
                                   span, (const char *)sqlite3_column_text(rows, 5));
        mark->id = sqlite3_column_int64(rows, 0);
        mark->at = study_db_string(rows, 6);
        g_ptr_array_add(marks, mark);
    }
    return ok;
}

static bool study_mark_read_all(LfStudy *study, const char *const *walks, GPtrArray *marks,
                                GError **error)
{
    g_autoptr(GArray) ids = study_walk_ids(study, walks, error);
    if (!ids)
        return false;
    for (guint i = 0; i < ids->len; i++)
        if (!study_mark_read(study, g_array_index(ids, int64_t, i), marks, error))
            return false;
    return true;
}

GPtrArray *lf_study_marks(LfStudy *study, const char *const *walks, GError **error)
{
    g_autoptr(GPtrArray) marks = lf_mark_list_new();
    if (!study_db_begin_read(study, error) ||
        !study_db_end(study, study_mark_read_all(study, walks, marks, error), error))
        return NULL;
    return g_steal_pointer(&marks);
}

/* --- writing ------------------------------------------------------------------------------------
 */

/* The walk's number; LF_ERROR_INPUT where it does not exist or the mark lies outside it. */
static bool study_mark_find_walk(LfStudy *study, const LfMark *mark, int64_t *walk, GError **error)
{
    int64_t end_us;
    if (!study_db_get(study, error, 0, walk, "SELECT id FROM walk WHERE name = ?", "s",
                      mark->walk) ||
        !study_db_get(study, error, 0, &end_us, "SELECT end_us FROM walk WHERE name = ?", "s",
                      mark->walk))
        return false;
    double from_s = (double)mark->from_us * 1e-6, to_s = (double)mark->to_us * 1e-6;
    if (*walk == 0)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "there is no walk called %s in the study; \"lookfall walk list\" shows them",
                    mark->walk);
    else if (mark->span && mark->to_us <= mark->from_us)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "the mark %s on walk %s ends at %.6g s, which is not after its start at %.6g s",
                    mark->name, mark->walk, to_s, from_s);
    else if (mark->from_us < 0 || mark->to_us > end_us)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "the mark %s at %.6g s lies outside walk %s, which goes from 0 to %.6g s",
                    mark->name, mark->from_us < 0 ? from_s : to_s, mark->walk,
                    (double)end_us * 1e-6);
    else
        return true;
    return false;
}

static bool study_mark_complete(LfMark *mark)
{
    if (!mark->who)
        mark->who = g_filename_display_name(g_get_user_name());
    if (!mark->at) {
        g_autoptr(GDateTime) now = g_date_time_new_now_utc();
        mark->at = g_date_time_format(now, "%Y-%m-%dT%H:%M:%SZ");
    }
    return true;
}

static bool study_mark_write(LfStudy *study, LfMark *mark, GError **error)
{
    int64_t walk;
    if (!study_db_check_name("mark", mark->name, error) ||
        !study_mark_find_walk(study, mark, &walk, error) || !study_mark_complete(mark) ||
        !study_db_run(study, error, "INSERT OR IGNORE INTO mark_name(name) VALUES(?)", "s",
                      mark->name))
        return false;
    g_autoptr(sqlite3_stmt) put = study_db_prepare(
        study, error,
        "INSERT INTO mark(id, walk, name, from_us, to_us, who, at)"
        " VALUES(nullif(?, 0), ?, ?, ?, ?, ?, ?) ON CONFLICT(id) DO UPDATE SET walk = "
        "excluded.walk,"
        " name = excluded.name, from_us = excluded.from_us, to_us = excluded.to_us,"
        " who = excluded.who, at = excluded.at");
    if (!put)
        return false;
    study_db_bind(put, "iisiiss", mark->id, walk, mark->name, mark->from_us, mark->to_us, mark->who,
                  mark->at);
    if (!mark->span)
        sqlite3_bind_null(put, 5);
    if (!study_db_finish(study, put, error))
        return false;
    if (mark->id == 0)
        mark->id = sqlite3_last_insert_rowid(study->db);
    return true;
}

/* Where a transaction came to nothing, new marks have no number again. */
static bool study_mark_end(LfStudy *study, bool ok, GPtrArray *marks, const bool *was_new,
                           GError **error)
{
    ok = study_db_end(study, ok, error);
    for (guint i = 0; i < marks->len && !ok; i++)
        if (was_new[i])
            ((LfMark *)marks->pdata[i])->id = 0;
    return ok;
}

static bool *study_mark_new_ones(const GPtrArray *marks)
{
    bool *was_new = g_new(bool, MAX(marks->len, 1));
    for (guint i = 0; i < marks->len; i++)
        was_new[i] = ((const LfMark *)marks->pdata[i])->id == 0;
    return was_new;
}

static char *study_mark_detail(const GPtrArray *marks)
{
    const LfMark *first = marks->len ? marks->pdata[0] : NULL;
    return marks->len == 1 ? g_strdup_printf("%s on %s", first->name, first->walk)
                           : g_strdup_printf("%u marks", marks->len);
}

bool lf_study_mark_put(LfStudy *study, GPtrArray *marks, const LfEdit *edit, GError **error)
{
    g_autofree char *detail = study_mark_detail(marks);
    g_autofree bool *was_new = study_mark_new_ones(marks);
    const char *walk = marks->len ? ((const LfMark *)marks->pdata[0])->walk : NULL;
    int64_t step;
    if (!study_db_begin(study, error))
        return false;
    bool ok = study_edit_begin(study, LF_EDIT_MARKS, walk, walk ? edit : NULL, &step, error);
    for (guint i = 0; i < marks->len && ok; i++)
        ok = study_mark_write(study, marks->pdata[i], error);
    ok = ok && study_edit_end(study, LF_EDIT_MARKS, step, error) &&
         study_db_log(study, "mark put", detail, NULL, error);
    return study_mark_end(study, ok, marks, was_new, error);
}

static bool study_mark_delete(LfStudy *study, const int64_t *ids, gsize n, const LfEdit *edit,
                              GError **error)
{
    g_autofree char *detail = g_strdup_printf("%" G_GSIZE_FORMAT " marks", n);
    g_autofree char *walk = NULL;
    int64_t step;
    if ((edit && n > 0 && !study_edit_place_of(study, LF_EDIT_MARKS, ids[0], &walk, error)) ||
        !study_edit_begin(study, LF_EDIT_MARKS, walk, walk ? edit : NULL, &step, error))
        return false;
    for (gsize i = 0; i < n; i++) {
        if (!study_db_run(study, error, "DELETE FROM mark WHERE id = ?", "i", ids[i]))
            return false;
        if (sqlite3_changes(study->db) == 0) {
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "there is no mark number %" G_GINT64_FORMAT
                        "; somebody may have removed it meanwhile",
                        (gint64)ids[i]);
            return false;
        }
    }
    return study_edit_end(study, LF_EDIT_MARKS, step, error) &&
           study_db_log(study, "mark remove", detail, NULL, error);
}

bool lf_study_mark_remove(LfStudy *study, const int64_t *ids, gsize n, const LfEdit *edit,
                          GError **error)
{
    return study_db_begin(study, error) &&
           study_db_end(study, study_mark_delete(study, ids, n, edit, error), error);
}

/* --- import -------------------------------------------------------------------------------------
 */

static bool study_mark_drop_walks(LfStudy *study, const GPtrArray *marks, GError **error)
{
    for (guint i = 0; i < marks->len; i++)
        if (!study_db_run(study, error,
                          "DELETE FROM mark WHERE walk = (SELECT id FROM walk WHERE name = ?)", "s",
                          ((const LfMark *)marks->pdata[i])->walk))
            return false;
    return true;
}

static bool study_mark_is_there(LfStudy *study, const LfMark *mark, bool *there, GError **error)
{
    int64_t found;
    if (!study_db_get(study, error, 0, &found,
                      "SELECT 1 FROM mark JOIN walk ON walk.id = mark.walk WHERE walk.name = ?"
                      " AND mark.name = ? AND from_us = ? AND ifnull(to_us, from_us) = ?"
                      " AND (to_us IS NOT NULL) = ?",
                      "ssiii", mark->walk, mark->name, mark->from_us, mark->to_us,
                      (int64_t)mark->span))
        return false;
    *there = found != 0;
    return true;
}

static bool study_mark_import_one(LfStudy *study, LfMark *mark, gsize *added, GError **error)
{
    bool there;
    if (!study_mark_is_there(study, mark, &there, error) ||
        (!there && !study_mark_write(study, mark, error)))
        return false;
    *added += !there;
    return true;
}

bool lf_study_mark_import(LfStudy *study, GPtrArray *marks, const char *file, const GArray *rows,
                          bool replace, gsize *added, GError **error)
{
    g_autofree char *detail = study_mark_detail(marks);
    g_autofree bool *was_new = study_mark_new_ones(marks);
    gsize n = 0;
    if (!study_db_begin(study, error))
        return false;
    bool ok = !replace || study_mark_drop_walks(study, marks, error);
    for (guint i = 0; i < marks->len && ok; i++) {
        ok = study_mark_import_one(study, marks->pdata[i], &n, error);
        if (!ok)
            g_prefix_error(error, "%s, row %" G_GSIZE_FORMAT ": ", file,
                           g_array_index(rows, gsize, i));
    }
    ok = ok && study_db_log(study, "mark import", detail, NULL, error);
    if (added)
        *added = n;
    return study_mark_end(study, ok, marks, was_new, error);
}
