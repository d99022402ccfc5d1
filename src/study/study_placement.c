/* Placements: made, lifted, undone and done again, each in one transaction. */
#include "study/study_review.h"

#include <math.h>
#include <string.h>

void study_placement_free(gpointer data)
{
    LfPlacement *placement = data;
    g_free(placement->kind);
    g_free(placement->detail);
    g_free(placement->who);
    g_free(placement->at);
    g_free(placement);
}

/* A blind reviewer sees only their own; nobody else sees what was placed blind. */
GPtrArray *study_placement_list(LfStudy *study, const LfReviewer *reviewer, int64_t walk,
                                int64_t from_us, int64_t to_us, GError **error)
{
    g_autoptr(GPtrArray) list = g_ptr_array_new_with_free_func(study_placement_free);
    bool blind = reviewer && reviewer->blind, ok = false, row = false;
    g_autofree char *inputs = study_overlay_inputs(study, walk, error);
    g_autoptr(sqlite3_stmt) rows =
        inputs ? study_db_prepare(
                     study, error,
                     "SELECT id, from_us, to_us, kind, detail, who, at, blind, lifted,"
                     " (SELECT count(*) FROM placed_sample WHERE placement = id) FROM placement"
                     " WHERE walk = ?1 AND from_us < ?3 AND to_us > ?2 AND blind = ?4"
                     " AND (NOT ?4 OR who = ?5) AND inputs = ?6 ORDER BY id DESC")
               : NULL;
    if (!rows)
        return NULL;
    study_db_bind(rows, "iiiiss", walk, from_us, to_us, (int64_t)blind, blind ? reviewer->name : "",
                  inputs);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        LfPlacement *placement = g_new0(LfPlacement, 1);
        placement->id = sqlite3_column_int64(rows, 0);
        placement->walk = walk;
        placement->from_us = sqlite3_column_int64(rows, 1);
        placement->to_us = sqlite3_column_int64(rows, 2);
        placement->kind = study_db_string(rows, 3);
        placement->detail = study_db_string(rows, 4);
        placement->who = study_db_string(rows, 5);
        placement->at = study_db_string(rows, 6);
        placement->blind = sqlite3_column_int(rows, 7) != 0;
        placement->lifted = sqlite3_column_int(rows, 8) != 0;
        placement->samples = sqlite3_column_int64(rows, 9);
        g_ptr_array_add(list, placement);
    }
    return ok ? g_steal_pointer(&list) : NULL;
}

GPtrArray *lf_study_placements(LfStudy *study, const LfReviewer *reviewer, int64_t walk,
                               GError **error)
{
    if (!study_db_begin_read(study, error))
        return NULL;
    g_autoptr(GPtrArray) list =
        study_placement_list(study, reviewer, walk, INT64_MIN, INT64_MAX, error);
    return study_db_end(study, list != NULL, error) ? g_steal_pointer(&list) : NULL;
}

static GPtrArray *study_placement_names(LfStudy *study, sqlite3_stmt *rows, GError **error)
{
    g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
    bool ok = false, row = false;
    while ((ok = study_db_step(study, rows, &row, error)) && row)
        g_ptr_array_add(names, study_db_string(rows, 0));
    return ok ? g_steal_pointer(&names) : NULL;
}

GPtrArray *lf_study_reviewers(LfStudy *study, GError **error)
{
    g_autoptr(sqlite3_stmt) rows =
        study_db_prepare(study, error, "SELECT DISTINCT who FROM placement ORDER BY who");
    return rows ? study_placement_names(study, rows, error) : NULL;
}

GPtrArray *lf_study_placed_by(LfStudy *study, const LfReviewer *reviewer, int64_t walk,
                              int64_t from_us, int64_t to_us, GError **error)
{
    bool blind = reviewer && reviewer->blind;
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        "SELECT DISTINCT who FROM placement WHERE walk = ?1 AND from_us < ?3 AND to_us > ?2"
        " AND NOT lifted AND blind = ?4 AND (NOT ?4 OR who = ?5) ORDER BY who");
    if (!rows)
        return NULL;
    study_db_bind(rows, "iiiis", walk, from_us, to_us, (int64_t)blind, blind ? reviewer->name : "");
    return study_placement_names(study, rows, error);
}

/* --- making and lifting, inside a transaction ---------------------------------------------------
 */

static char *study_placement_now(void)
{
    g_autoptr(GDateTime) now = g_date_time_new_now_utc();
    return g_date_time_format(now, "%Y-%m-%dT%H:%M:%SZ");
}

static bool study_placement_check_reviewer(const LfReviewer *reviewer, GError **error)
{
    return study_db_check_name("reviewer", reviewer ? reviewer->name : NULL, error);
}

/* Something new was decided: what was undone before cannot be done again. */
static bool study_placement_step(LfStudy *study, const LfReviewer *reviewer, int64_t placement,
                                 bool lifts, GError **error)
{
    g_autofree char *at = study_placement_now();
    return study_db_run(study, error,
                        "UPDATE placement_step SET undone = 2 WHERE who = ? AND blind = ?"
                        " AND undone = 1",
                        "si", reviewer->name, (int64_t)reviewer->blind) &&
           study_db_run(study, error,
                        "INSERT INTO placement_step(who, blind, at, placement, lifts)"
                        " VALUES(?, ?, ?, ?, ?)",
                        "sisii", reviewer->name, (int64_t)reviewer->blind, at, placement,
                        (int64_t)lifts);
}

/* What a change of a placement brings with it: a blind one changes no stretch. */
static bool study_placement_changed(LfStudy *study, int64_t walk, int64_t from_us, int64_t to_us,
                                    bool blind, int64_t *settled, GError **error)
{
    int64_t version;
    *settled = 0;
    return study_review_bump(study, &version, error) &&
           (blind || study_stretch_recount(study, walk, from_us, to_us, true, settled, error));
}

static bool study_placement_fill(LfStudy *study, int64_t placement, const GArray *places,
                                 GError **error)
{
    g_autoptr(sqlite3_stmt) add =
        study_db_prepare(study, error, "INSERT INTO placed_sample VALUES(?, ?, ?, ?, ?, ?, ?)");
    if (!add)
        return false;
    for (guint i = 0; i < places->len; i++) {
        const LfTiedPlace *placed = &g_array_index(places, LfTiedPlace, i);
        study_db_bind(add, "iiiiddd", placement, placed->t_us, placed->place.photo,
                      (int64_t)placed->place.state, placed->place.x, placed->place.y,
                      placed->place.radius_px);
        if (!placed->place.photo)
            sqlite3_bind_null(add, 3);
        if (!study_db_finish(study, add, error))
            return false;
    }
    return true;
}

static bool study_placement_make(LfStudy *study, const LfReviewer *reviewer,
                                 const LfStretch *stretch, const LfDecision *decision,
                                 const GArray *places, int64_t *placement, GError **error)
{
    g_autofree char *inputs = study_overlay_inputs(study, stretch->walk, error);
    g_autofree char *detail = study_decide_detail(decision);
    g_autofree char *at = study_placement_now();
    int64_t from_us = g_array_index(places, LfTiedPlace, 0).t_us;
    int64_t to_us = g_array_index(places, LfTiedPlace, places->len - 1).t_us + 1, settled;
    if (!inputs ||
        !study_db_run(study, error,
                      "INSERT INTO placement(walk, from_us, to_us, kind, detail, who, at, program,"
                      " inputs, blind) VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                      "iiissssssi", stretch->walk, from_us, to_us,
                      study_decide_kind(decision->kind), detail, reviewer->name, at,
                      LOOKFALL_VERSION, inputs, (int64_t)reviewer->blind))
        return false;
    *placement = sqlite3_last_insert_rowid(study->db);
    if (!study_placement_fill(study, *placement, places, error) ||
        !study_placement_step(study, reviewer, *placement, false, error) ||
        !study_placement_changed(study, stretch->walk, from_us, to_us, reviewer->blind, &settled,
                                 error))
        return false;
    /* For a blind reviewer it is settled where it is whole. */
    if (reviewer->blind)
        settled = places->len >= (guint)stretch->samples;
    return study_db_run(study, error, "UPDATE placement SET settled = ? WHERE id = ?", "ii",
                        settled, *placement);
}

static bool study_placement_decide(LfStudy *study, const LfReviewer *reviewer,
                                   const LfDecision *decision, LfDecided *decided,
                                   int64_t *placement, GError **error)
{
    LfStretch stretch;
    int64_t known = 0;
    bool found;
    if (!lf_study_stretch(study, reviewer, decision->stretch, &stretch, &found, error))
        return false;
    *decided = !found                                                     ? LF_DECIDED_GONE
               : !reviewer->blind && stretch.version != decision->version ? LF_DECIDED_CHANGED
                                                                          : LF_DECIDED;
    if (*decided != LF_DECIDED)
        return true;
    if (decision->kind == LF_DECIDE_POINT &&
        (!study_db_get(study, error, 0, &known, "SELECT 1 FROM photo WHERE id = ?", "i",
                       decision->photo) ||
         !known)) {
        if (!known && error && !*error)
            g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "There is no such photo in the study.");
        return false;
    }
    g_autoptr(LfSpan) span =
        study_span_load(study, reviewer, stretch.walk, stretch.from_us, stretch.to_us, error);
    g_autoptr(GArray) places = span ? study_decide_places(span, &stretch, decision, error) : NULL;
    return places &&
           study_placement_make(study, reviewer, &stretch, decision, places, placement, error);
}

bool lf_study_decide(LfStudy *study, const LfReviewer *reviewer, const LfDecision *decision,
                     LfDecided *decided, int64_t *placement, GError **error)
{
    *placement = 0;
    if (!study_placement_check_reviewer(reviewer, error) || !study_db_begin(study, error))
        return false;
    return study_db_end(
        study, study_placement_decide(study, reviewer, decision, decided, placement, error), error);
}

/* Sets or clears `lifted`, with all that hangs on it. */
static bool study_placement_set(LfStudy *study, int64_t placement, bool lifted, GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error, "SELECT walk, from_us, to_us, blind FROM placement WHERE id = ?");
    bool row = false;
    int64_t settled;
    if (!rows)
        return false;
    study_db_bind(rows, "i", placement);
    if (!study_db_step(study, rows, &row, error))
        return false;
    if (!row)
        return true; /* gone with its walk */
    int64_t walk = sqlite3_column_int64(rows, 0), from_us = sqlite3_column_int64(rows, 1),
            to_us = sqlite3_column_int64(rows, 2);
    bool blind = sqlite3_column_int(rows, 3) != 0;
    sqlite3_reset(rows);
    return study_db_run(study, error, "UPDATE placement SET lifted = ? WHERE id = ?", "ii",
                        (int64_t)lifted, placement) &&
           study_placement_changed(study, walk, from_us, to_us, blind, &settled, error);
}

bool lf_study_lift(LfStudy *study, const LfReviewer *reviewer, int64_t placement,
                   LfDecided *decided, GError **error)
{
    int64_t there = 0;
    if (!study_placement_check_reviewer(reviewer, error) || !study_db_begin(study, error))
        return false;
    /* A blind reviewer lifts their own alone, and nobody else what was placed blind. */
    bool ok = study_db_get(study, error, 0, &there,
                           "SELECT 1 FROM placement WHERE id = ?1 AND NOT lifted AND blind = ?2"
                           " AND (NOT ?2 OR who = ?3)",
                           "iis", placement, (int64_t)reviewer->blind, reviewer->name);
    *decided = there ? LF_DECIDED : LF_DECIDED_GONE;
    if (ok && there)
        ok = study_placement_set(study, placement, true, error) &&
             study_placement_step(study, reviewer, placement, true, error);
    return study_db_end(study, ok, error);
}

/* --- back and forth --------------------------------------------------------------------------- */

/* The reviewer's newest step that is done, or the one undone last. *id is 0 where there is none. */
static bool study_placement_find_step(LfStudy *study, const LfReviewer *reviewer, bool undone,
                                      LfReviewStep *step, int64_t *id, GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        undone ? "SELECT s.id, s.placement, s.lifts, p.kind, p.walk, p.from_us, p.to_us, s.at,"
                 " (SELECT id FROM stretch t WHERE t.walk = p.walk AND t.from_us < p.to_us"
                 "  AND t.to_us > p.from_us ORDER BY t.id LIMIT 1)"
                 " FROM placement_step s JOIN placement p ON p.id = s.placement"
                 " WHERE s.who = ? AND s.blind = ? AND s.undone = 1 ORDER BY s.id LIMIT 1"
               : "SELECT s.id, s.placement, s.lifts, p.kind, p.walk, p.from_us, p.to_us, s.at,"
                 " (SELECT id FROM stretch t WHERE t.walk = p.walk AND t.from_us < p.to_us"
                 "  AND t.to_us > p.from_us ORDER BY t.id LIMIT 1)"
                 " FROM placement_step s JOIN placement p ON p.id = s.placement"
                 " WHERE s.who = ? AND s.blind = ? AND s.undone = 0 ORDER BY s.id DESC LIMIT 1");
    bool row = false;
    *step = (LfReviewStep){0};
    *id = 0;
    if (!rows)
        return false;
    study_db_bind(rows, "si", reviewer->name, (int64_t)reviewer->blind);
    if (!study_db_step(study, rows, &row, error))
        return false;
    if (!row)
        return true;
    *id = sqlite3_column_int64(rows, 0);
    step->placement = sqlite3_column_int64(rows, 1);
    step->lifts = sqlite3_column_int(rows, 2) != 0;
    g_strlcpy(step->kind, (const char *)sqlite3_column_text(rows, 3), sizeof step->kind);
    step->walk = sqlite3_column_int64(rows, 4);
    step->from_us = sqlite3_column_int64(rows, 5);
    step->to_us = sqlite3_column_int64(rows, 6);
    g_strlcpy(step->at, (const char *)sqlite3_column_text(rows, 7), sizeof step->at);
    step->stretch = sqlite3_column_int64(rows, 8);
    return true;
}

bool lf_study_review_steps(LfStudy *study, const LfReviewer *reviewer, LfReviewStep *undo,
                           LfReviewStep *redo, GError **error)
{
    int64_t id;
    *undo = *redo = (LfReviewStep){0};
    if (!reviewer || !reviewer->name)
        return true;
    return study_placement_find_step(study, reviewer, false, undo, &id, error) &&
           study_placement_find_step(study, reviewer, true, redo, &id, error);
}

static bool study_placement_go(LfStudy *study, const LfReviewer *reviewer, bool back,
                               LfReviewStep *step, GError **error)
{
    int64_t id;
    if (!study_placement_check_reviewer(reviewer, error) || !study_db_begin(study, error))
        return false;
    bool ok = study_placement_find_step(study, reviewer, !back, step, &id, error);
    if (ok && id)
        ok = study_placement_set(study, step->placement, back != step->lifts, error) &&
             study_db_run(study, error, "UPDATE placement_step SET undone = ? WHERE id = ?", "ii",
                          (int64_t)back, id);
    return study_db_end(study, ok, error);
}

bool lf_study_review_undo(LfStudy *study, const LfReviewer *reviewer, LfReviewStep *step,
                          GError **error)
{
    return study_placement_go(study, reviewer, true, step, error);
}

bool lf_study_review_redo(LfStudy *study, const LfReviewer *reviewer, LfReviewStep *step,
                          GError **error)
{
    return study_placement_go(study, reviewer, false, step, error);
}
