/* The way back for areas and marks: rows as they were before a change and after it. */
#include "study/study_edit.h"

#include <string.h>

typedef struct {
    const char *table, *was; /* the things themselves, and what they were before and after a step */
    const char *place;       /* the table, and the column, of what they lie on */
    const char *columns;     /* all but the number and the place */
    const char *undo, *redo; /* in the log */
} StudyEditKind;

static const StudyEditKind study_edit_kinds[] = {
    [LF_EDIT_AREAS] = {"area", "area_was", "photo", "place, name, group_path, shape, points",
                       "area undo", "area redo"},
    [LF_EDIT_MARKS] = {"mark", "mark_was", "walk", "name, from_us, to_us, who, at", "mark undo",
                       "mark redo"},
};

/* SQL of a kind, in which @was, @table, @place and @columns stand for its names. */
static char *study_edit_sql(LfEditKind kind, const char *sql)
{
    const StudyEditKind *k = &study_edit_kinds[kind];
    GString *text = g_string_new(sql);
    g_string_replace(text, "@was", k->was, 0);
    g_string_replace(text, "@table", k->table, 0);
    g_string_replace(text, "@place", k->place, 0);
    g_string_replace(text, "@columns", k->columns, 0);
    return g_string_free(text, FALSE);
}

/* Runs SQL with whole numbers for its parameters. */
static bool study_edit_run(LfStudy *study, LfEditKind kind, const char *sql, int64_t a, int64_t b,
                           GError **error)
{
    g_autofree char *text = study_edit_sql(kind, sql);
    return study_db_run(study, error, text, strstr(sql, "?2") ? "ii" : "i", a, b);
}

static bool study_edit_count(LfStudy *study, LfEditKind kind, const char *sql, int64_t step,
                             int64_t side, int64_t *n, GError **error)
{
    g_autofree char *text = study_edit_sql(kind, sql);
    return study_db_get(study, error, 0, n, text, "ii", step, side);
}

static bool study_edit_place(LfStudy *study, LfEditKind kind, const char *name, int64_t *place,
                             GError **error)
{
    g_autofree char *text = study_edit_sql(kind, "SELECT id FROM @place WHERE name = ?");
    if (!study_db_get(study, error, 0, place, text, "s", name))
        return false;
    if (*place == 0)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "there is no %s called %s in the study",
                    study_edit_kinds[kind].place, name ? name : "");
    return *place != 0;
}

bool study_edit_place_of(LfStudy *study, LfEditKind kind, int64_t id, char **place, GError **error)
{
    g_autofree char *text = study_edit_sql(
        kind, "SELECT name FROM @place WHERE id = (SELECT @place FROM @table WHERE id = ?)");
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(study, error, text);
    bool row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "i", id);
    if (!study_db_step(study, rows, &row, error))
        return false;
    *place = row ? study_db_string(rows, 0) : NULL;
    return true;
}

/* --- noting a change ----------------------------------------------------------------------------
 */

bool study_edit_begin(LfStudy *study, LfEditKind kind, const char *place, const LfEdit *edit,
                      int64_t *step, GError **error)
{
    int64_t id;
    *step = 0;
    if (!edit)
        return true;
    if (!study_edit_place(study, kind, place, &id, error))
        return false;
    g_autoptr(GDateTime) now = g_date_time_new_now_utc();
    g_autofree char *at = g_date_time_format(now, "%Y-%m-%dT%H:%M:%SZ");
    g_autofree char *add =
        study_edit_sql(kind, "INSERT INTO edit_step(@place, who, at, what) VALUES(?, ?, ?, ?)");
    if (!study_db_run(study, error, add, "isss", id, edit->who, at, edit->what))
        return false;
    *step = sqlite3_last_insert_rowid(study->db);
    return study_edit_run(study, kind,
                          "INSERT INTO @was SELECT ?1, id, 0, @columns FROM @table"
                          " WHERE @place = ?2",
                          *step, id, error);
}

bool study_edit_end(LfStudy *study, LfEditKind kind, int64_t step, GError **error)
{
    int64_t touched;
    if (step == 0)
        return true;
    if (!study_edit_run(study, kind,
                        "INSERT INTO @was SELECT ?1, id, 1, @columns FROM @table WHERE @place ="
                        " (SELECT @place FROM edit_step WHERE id = ?1)",
                        step, 0, error) ||
        !study_edit_run(study, kind,
                        "DELETE FROM @was WHERE step = ?1 AND id IN (SELECT id FROM ("
                        "SELECT id, @columns FROM @was WHERE step = ?1 AND after = 0 INTERSECT"
                        " SELECT id, @columns FROM @was WHERE step = ?1 AND after = 1))",
                        step, 0, error) ||
        !study_edit_count(study, kind, "SELECT count(*) FROM @was WHERE step = ?1 AND ?2 = 0", step,
                          0, &touched, error))
        return false;
    if (touched == 0)
        return study_db_run(study, error, "DELETE FROM edit_step WHERE id = ?", "i", step);
    /* Something new was done: what was undone before cannot be done again. */
    return study_edit_run(study, kind,
                          "DELETE FROM edit_step WHERE undone = 1 AND (@place, who) ="
                          " (SELECT @place, who FROM edit_step WHERE id = ?1)",
                          step, 0, error);
}

/* --- back and forth -----------------------------------------------------------------------------
 */

/* The person's newest step that is done, or the one undone last. *id is 0 where there is none. */
static bool study_edit_find(LfStudy *study, LfEditKind kind, int64_t place, const char *who,
                            bool undone, int64_t *id, char **what, GError **error)
{
    g_autofree char *text = study_edit_sql(
        kind, undone ? "SELECT id, what FROM edit_step WHERE @place = ? AND who = ? AND undone = 1"
                       " ORDER BY id LIMIT 1"
                     : "SELECT id, what FROM edit_step WHERE @place = ? AND who = ? AND undone = 0"
                       " ORDER BY id DESC LIMIT 1");
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(study, error, text);
    bool row = false;
    *id = 0;
    *what = NULL;
    if (!rows)
        return false;
    study_db_bind(rows, "is", place, who);
    if (!study_db_step(study, rows, &row, error))
        return false;
    if (row) {
        *id = sqlite3_column_int64(rows, 0);
        *what = study_db_string(rows, 1);
    }
    return true;
}

static bool study_edit_look(LfStudy *study, LfEditKind kind, const char *place, const char *who,
                            char **undo, char **redo, GError **error)
{
    int64_t id, step;
    return study_edit_place(study, kind, place, &id, error) &&
           study_edit_find(study, kind, id, who, false, &step, undo, error) &&
           study_edit_find(study, kind, id, who, true, &step, redo, error);
}

bool lf_study_edit_steps(LfStudy *study, LfEditKind kind, const char *place, const char *who,
                         char **undo, char **redo, GError **error)
{
    *undo = *redo = NULL;
    if (study_db_begin_read(study, error) &&
        study_db_end(study, study_edit_look(study, kind, place, who, undo, redo, error), error))
        return true;
    g_clear_pointer(undo, g_free);
    g_clear_pointer(redo, g_free);
    return false;
}

/* Whether what the step touched still is as its side `from` (0 before it, 1 after it) left it, and
 * the other side's names are free. */
static bool study_edit_holds(LfStudy *study, LfEditKind kind, int64_t step, int64_t from,
                             bool *holds, GError **error)
{
    int64_t other, extra, taken = 0;
    if (!study_edit_count(study, kind,
                          "SELECT count(*) FROM (SELECT id, @columns FROM @was WHERE step = ?1"
                          " AND after = ?2 EXCEPT SELECT id, @columns FROM @table)",
                          step, from, &other, error) ||
        !study_edit_count(study, kind,
                          "SELECT count(*) FROM @table WHERE id IN (SELECT id FROM @was WHERE step"
                          " = ?1) AND id NOT IN (SELECT id FROM @was WHERE step = ?1 AND after ="
                          " ?2)",
                          step, from, &extra, error) ||
        (kind == LF_EDIT_AREAS &&
         !study_edit_count(study, kind,
                           "SELECT count(*) FROM area WHERE photo = (SELECT photo FROM edit_step"
                           " WHERE id = ?1) AND id NOT IN (SELECT id FROM area_was WHERE step = ?1)"
                           " AND name IN (SELECT name FROM area_was WHERE step = ?1 AND after <>"
                           " ?2)",
                           step, from, &taken, error)))
        return false;
    *holds = other == 0 && extra == 0 && taken == 0;
    return true;
}

/* Puts the step's side `to` in place of the other. */
static bool study_edit_apply(LfStudy *study, LfEditKind kind, int64_t step, int64_t to,
                             GError **error)
{
    return study_edit_run(study, kind,
                          "DELETE FROM @table WHERE id IN (SELECT id FROM @was WHERE step = ?1)",
                          step, 0, error) &&
           (kind != LF_EDIT_MARKS ||
            study_edit_run(study, kind,
                           "INSERT OR IGNORE INTO mark_name(name) SELECT name FROM mark_was"
                           " WHERE step = ?1 AND after = ?2",
                           step, to, error)) &&
           study_edit_run(study, kind,
                          "INSERT INTO @table(id, @place, @columns) SELECT id, (SELECT @place FROM"
                          " edit_step WHERE edit_step.id = ?1), @columns FROM @was WHERE step = ?1"
                          " AND after = ?2",
                          step, to, error);
}

static bool study_edit_step(LfStudy *study, LfEditKind kind, const char *place, const char *who,
                            bool back, LfEdited *edited, GError **error)
{
    const StudyEditKind *k = &study_edit_kinds[kind];
    g_autofree char *what = NULL;
    int64_t id, step, from = back ? 1 : 0;
    bool holds;
    *edited = LF_EDIT_NONE;
    if (!study_edit_place(study, kind, place, &id, error) ||
        !study_edit_find(study, kind, id, who, !back, &step, &what, error))
        return false;
    if (step == 0)
        return true;
    if (!study_edit_holds(study, kind, step, from, &holds, error))
        return false;
    if (!holds) {
        /* It will not become possible by waiting; left in place it would bar the way to the rest.
         */
        *edited = LF_EDIT_CHANGED;
        return study_db_run(study, error, "DELETE FROM edit_step WHERE id = ?", "i", step);
    }
    *edited = LF_EDITED;
    return study_edit_apply(study, kind, step, 1 - from, error) &&
           study_db_run(study, error, "UPDATE edit_step SET undone = ? WHERE id = ?", "ii",
                        (int64_t)back, step) &&
           study_db_log(study, back ? k->undo : k->redo, what, NULL, error);
}

bool lf_study_edit_go(LfStudy *study, LfEditKind kind, const char *place, const char *who,
                      bool back, LfEdited *edited, GError **error)
{
    return study_db_begin(study, error) &&
           study_db_end(study, study_edit_step(study, kind, place, who, back, edited, error),
                        error);
}
