/* Inputs by checksum, and the log, as lists. */
#include <lookfall/trail.h>

#include "study/study_db.h"

static void study_trail_input_free(gpointer data)
{
    LfStudyInput *input = data;
    g_free(input->owner);
    g_free(input->role);
    g_free(input->path);
    g_free(input->sha256);
    g_free(input);
}

static void study_trail_event_free(gpointer data)
{
    LfStudyEvent *event = data;
    g_free(event->at);
    g_free(event->who);
    g_free(event->program);
    g_free(event->action);
    g_free(event->detail);
    g_free(event);
}

GPtrArray *lf_study_inputs(LfStudy *study, GError **error)
{
    g_autoptr(GPtrArray) all = g_ptr_array_new_with_free_func(study_trail_input_free);
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        "SELECT owner, role, path, sha256, bytes FROM ("
        " SELECT 0 AS part, id AS place, 'photo ' || name AS owner, 'picture' AS role,"
        "  image AS input, 0 AS kind FROM photo"
        " UNION ALL SELECT 1, name, 'walk ' || name, 'video', video, 1 FROM walk"
        " UNION ALL SELECT 1, name, 'walk ' || name, 'gaze', gaze, 2 FROM walk"
        " UNION ALL SELECT 1, name, 'walk ' || name, 'camera', camera, 3 FROM walk"
        "  WHERE camera IS NOT NULL)"
        " JOIN file ON file.id = input ORDER BY part, place, kind");
    bool ok = false, row = false;
    if (!rows)
        return NULL;
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        LfStudyInput *input = g_new0(LfStudyInput, 1);
        *input = (LfStudyInput){.owner = study_db_string(rows, 0),
                                .role = study_db_string(rows, 1),
                                .path = study_db_string(rows, 2),
                                .sha256 = study_db_string(rows, 3),
                                .bytes = sqlite3_column_int64(rows, 4)};
        g_ptr_array_add(all, input);
    }
    return ok ? g_steal_pointer(&all) : NULL;
}

GPtrArray *lf_study_log(LfStudy *study, GError **error)
{
    g_autoptr(GPtrArray) all = g_ptr_array_new_with_free_func(study_trail_event_free);
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error, "SELECT at, who, program, engine, action, detail FROM log ORDER BY id");
    bool ok = false, row = false;
    if (!rows)
        return NULL;
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        LfStudyEvent *event = g_new0(LfStudyEvent, 1);
        *event = (LfStudyEvent){.at = study_db_string(rows, 0),
                                .who = study_db_string(rows, 1),
                                .program = study_db_string(rows, 2),
                                .engine = sqlite3_column_int64(rows, 3),
                                .action = study_db_string(rows, 4),
                                .detail = study_db_string(rows, 5)};
        g_ptr_array_add(all, event);
    }
    return ok ? g_steal_pointer(&all) : NULL;
}
