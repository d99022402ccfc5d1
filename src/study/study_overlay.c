/* Placements on top of results: of all that lie on a sample, the newest that was not lifted. */
#include "study/study_review.h"

char *study_overlay_inputs(LfStudy *study, int64_t walk, GError **error)
{
    g_autoptr(sqlite3_stmt) files =
        study_db_prepare(study, error,
                         "SELECT v.sha256 || ' ' || g.sha256 FROM walk JOIN file v ON v.id = video"
                         " JOIN file g ON g.id = gaze WHERE walk.id = ?");
    bool row = false;
    if (!files)
        return NULL;
    study_db_bind(files, "i", walk);
    if (!study_db_step(study, files, &row, error))
        return NULL;
    if (row)
        return study_db_string(files, 0);
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: there is no such walk in it any more",
                study->name);
    return NULL;
}

GArray *study_overlay_load(LfStudy *study, const LfReviewer *reviewer, int64_t walk,
                           int64_t from_us, int64_t to_us, GError **error)
{
    g_autoptr(GArray) overlay = g_array_new(FALSE, FALSE, sizeof(StudyOverlay));
    g_autofree char *inputs = study_overlay_inputs(study, walk, error);
    bool blind = reviewer && reviewer->blind, ok = false, row = false;
    g_autoptr(sqlite3_stmt) rows =
        inputs ? study_db_prepare(
                     study, error,
                     "SELECT s.t_us, p.id, s.photo, s.state, s.x_px, s.y_px, s.radius_px"
                     " FROM placement p JOIN placed_sample s ON s.placement = p.id"
                     " WHERE p.walk = ?1 AND p.from_us < ?3 AND p.to_us > ?2 AND NOT p.lifted"
                     " AND p.blind = ?4 AND (NOT ?4 OR p.who = ?5) AND p.inputs = ?6"
                     " AND s.t_us >= ?2 AND s.t_us < ?3 ORDER BY s.t_us, p.id")
               : NULL;
    if (!rows)
        return NULL;
    study_db_bind(rows, "iiiiss", walk, from_us, to_us, (int64_t)blind, blind ? reviewer->name : "",
                  inputs);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        StudyOverlay entry = {
            .t_us = sqlite3_column_int64(rows, 0),
            .placement = sqlite3_column_int64(rows, 1),
            .place = {.photo = sqlite3_column_int64(rows, 2),
                      .state = (LfState)sqlite3_column_int(rows, 3),
                      .x = study_db_double(rows, 4),
                      .y = study_db_double(rows, 5),
                      .radius_px = study_db_double(rows, 6)},
        };
        if (overlay->len > 0 &&
            g_array_index(overlay, StudyOverlay, overlay->len - 1).t_us == entry.t_us)
            g_array_index(overlay, StudyOverlay, overlay->len - 1) = entry;
        else
            g_array_append_val(overlay, entry);
    }
    return ok ? g_steal_pointer(&overlay) : NULL;
}

const StudyOverlay *study_overlay_at(const GArray *overlay, guint *at, int64_t t_us)
{
    while (*at < overlay->len && g_array_index(overlay, StudyOverlay, *at).t_us < t_us)
        (*at)++;
    if (*at == overlay->len || g_array_index(overlay, StudyOverlay, *at).t_us != t_us)
        return NULL;
    return &g_array_index(overlay, StudyOverlay, *at);
}
