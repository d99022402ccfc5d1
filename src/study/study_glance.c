/* Single poses, and the time of walks by state. */
#include <lookfall/glance.h>

#include "study/study_recipe.h"
#include "study/study_review.h"

/* A pose holds for its own frame and, where the next one has none, a little longer. */
#define SURVEY_HOLDS_US 200000

bool lf_study_pose_at(LfStudy *study, int64_t walk_id, int64_t photo_id, int64_t t_us,
                      LfMat3 *photo_from_frame, bool *found, GError **error)
{
    g_autoptr(sqlite3_stmt) row =
        study_db_prepare(study, error,
                         "SELECT m1, m2, m3, m4, m5, m6, m7, m8, m9 FROM pose"
                         " WHERE walk = ? AND photo = ? AND t_us <= ? AND t_us >= ?"
                         " ORDER BY t_us DESC LIMIT 1");
    *found = false;
    if (!row)
        return false;
    study_db_bind(row, "iiii", walk_id, photo_id, t_us, t_us - SURVEY_HOLDS_US);
    if (!study_db_step(study, row, found, error))
        return false;
    for (int i = 0; *found && i < 9; i++)
        photo_from_frame->m[i] = sqlite3_column_double(row, i);
    return true;
}

/* --- time ------------------------------------------------------------------------------------- */

/* Results of from_us <= t < to_us, which lie in one current chunk. */
static bool study_glance_part(LfStudy *study, int64_t walk, int64_t from_us, int64_t to_us,
                              LfStudyTime *time, GError **error)
{
    g_autoptr(sqlite3_stmt) rows =
        study_db_prepare(study, error,
                         "SELECT state, count(*) FROM cast_sample"
                         " WHERE walk = ? AND t_us >= ? AND t_us < ? GROUP BY state");
    bool ok = false, row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "iii", walk, from_us, to_us);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        int state = sqlite3_column_int(rows, 0);
        if (state >= LF_STATE_LOST && state <= LF_STATE_PLACED)
            time->states[state] += sqlite3_column_int64(rows, 1);
    }
    return ok;
}

static bool study_glance_uncast(LfStudy *study, int64_t walk, int64_t from_us, int64_t to_us,
                                LfStudyTime *time, GError **error)
{
    int64_t n;
    if (!study_db_get(study, error, 0, &n,
                      "SELECT count(*) FROM gaze WHERE walk = ? AND t_us >= ? AND t_us < ?", "iii",
                      walk, from_us, to_us))
        return false;
    time->uncast += n;
    return true;
}

/* Chunk by chunk: those that lie inside as a whole have been counted when they were cast. */
static bool study_glance_chunks(LfStudy *study, int64_t walk, int64_t recipe, int64_t from_us,
                                int64_t to_us, LfStudyTime *time, GError **error)
{
    g_autoptr(sqlite3_stmt) chunks = study_db_prepare(
        study, error,
        "SELECT from_us, to_us, recipe IS ?1, lost, away, blocked, doubtful, sure FROM chunk"
        " WHERE walk = ?2 AND from_us < ?4 AND to_us > ?3 ORDER BY number");
    bool ok = false, row = false;
    if (!chunks)
        return false;
    study_db_bind(chunks, "iiii", recipe, walk, from_us, to_us);
    while ((ok = study_db_step(study, chunks, &row, error)) && row) {
        int64_t chunk_from = sqlite3_column_int64(chunks, 0);
        int64_t chunk_to = sqlite3_column_int64(chunks, 1);
        int64_t part_from = MAX(from_us, chunk_from), part_to = MIN(to_us, chunk_to);
        bool current = sqlite3_column_int(chunks, 2);
        if (!current) {
            if (!study_glance_uncast(study, walk, part_from, part_to, time, error))
                return false;
        } else if (part_from == chunk_from && part_to == chunk_to) {
            for (int state = LF_STATE_LOST; state <= LF_STATE_SURE; state++)
                time->states[state] += sqlite3_column_int64(chunks, 3 + state);
        } else if (!study_glance_part(study, walk, part_from, part_to, time, error)) {
            return false;
        }
    }
    return ok;
}

/* A sample that a placement lies on counts as what that says, not as what the engine found. */
static bool study_glance_placed(LfStudy *study, int64_t walk, const GArray *current,
                                const GArray *overlay, LfStudyTime *time, GError **error)
{
    g_autoptr(sqlite3_stmt) result =
        study_db_prepare(study, error, "SELECT state FROM cast_sample WHERE walk = ? AND t_us = ?");
    guint at = 0;
    if (!result)
        return false;
    for (guint i = 0; i < overlay->len; i++) {
        const StudyOverlay *placed = &g_array_index(overlay, StudyOverlay, i);
        bool row = false, cast = study_current_at(current, &at, placed->t_us);
        sqlite3_reset(result);
        study_db_bind(result, "ii", walk, placed->t_us);
        if (cast && !study_db_step(study, result, &row, error))
            return false;
        if (row)
            time->states[sqlite3_column_int(result, 0)]--;
        else
            time->uncast--;
        time->states[placed->place.state]++;
    }
    return true;
}

bool lf_study_time(LfStudy *study, int64_t walk_id, int64_t from_us, int64_t to_us,
                   LfStudyTime *time, GError **error)
{
    g_autofree char *head = NULL;
    g_autoptr(StudyWalk) walk = NULL;
    g_autoptr(GArray) current = NULL;
    g_autoptr(GArray) overlay = NULL;
    int64_t recipe = 0;
    *time = (LfStudyTime){0};
    if (!study_db_begin_read(study, error))
        return false;
    bool ok = (head = study_recipe_head(study, error)) &&
              (walk = study_walk_load(study, walk_id, error)) &&
              study_recipe_find(study, head, walk, &recipe, error) &&
              (current = study_current_chunks(study, head, walk, NULL, error)) &&
              (overlay = study_overlay_load(study, NULL, walk_id, from_us, to_us, error)) &&
              study_glance_chunks(study, walk_id, recipe, from_us, to_us, time, error) &&
              study_glance_placed(study, walk_id, current, overlay, time, error);
    return study_db_end(study, ok, error);
}
