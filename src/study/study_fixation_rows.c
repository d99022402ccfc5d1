/* Fixations out of the study, walk by walk, as long as they are those of today's samples. */
#include "study/study_fixation.h"

#include <string.h>

typedef struct {
    StudyWalk *walk;
    char *settings; /* NULL: none, or none that is up to date */
    char *used;
    GArray *rows; /* LfFixation */
    GStringChunk *names;
} FixationRows;

static bool study_fixation_rows_read(LfStudy *study, int64_t walk, FixationRows *out,
                                     GError **error)
{
    g_autoptr(sqlite3_stmt) rows = study_db_prepare(
        study, error,
        "SELECT from_us, to_us, photo, name, state, x_px, y_px, radius_px, samples"
        " FROM fixation LEFT JOIN photo ON photo.id = photo WHERE walk = ? ORDER BY from_us");
    bool ok = false, row = false;
    if (!rows)
        return false;
    study_db_bind(rows, "i", walk);
    while ((ok = study_db_step(study, rows, &row, error)) && row) {
        const char *name = (const char *)sqlite3_column_text(rows, 3);
        LfFixation fixation = {
            .from_us = sqlite3_column_int64(rows, 0),
            .to_us = sqlite3_column_int64(rows, 1),
            .photo_id = sqlite3_column_int64(rows, 2),
            .photo = name ? g_string_chunk_insert_const(out->names, name) : NULL,
            .state = (LfState)sqlite3_column_int(rows, 4),
            .x_px = study_db_double(rows, 5),
            .y_px = study_db_double(rows, 6),
            .radius_px = study_db_double(rows, 7),
            .samples = (gsize)sqlite3_column_int64(rows, 8),
        };
        g_array_append_val(out->rows, fixation);
    }
    return ok;
}

static bool study_fixation_rows_load(LfStudy *study, int64_t id, FixationRows *out, GError **error)
{
    g_autofree char *source = NULL;
    gsize cast, chunks;
    g_autofree char *head = study_recipe_head(study, error);
    if (!head || !(out->walk = study_walk_load(study, id, error)) ||
        !study_fixation_source(study, head, out->walk, &source, &cast, &chunks, error))
        return false;
    g_autoptr(sqlite3_stmt) run = study_db_prepare(
        study, error, "SELECT settings, used FROM fixation_run WHERE walk = ? AND source = ?");
    bool row = false;
    if (!run)
        return false;
    study_db_bind(run, "is", id, source);
    if (!study_db_step(study, run, &row, error))
        return false;
    if (!row)
        return true;
    out->settings = study_db_string(run, 0);
    out->used = study_db_string(run, 1);
    return study_fixation_rows_read(study, id, out, error);
}

static void study_fixation_rows_clear(FixationRows *rows)
{
    study_walk_free(rows->walk);
    g_free(rows->settings);
    g_free(rows->used);
    g_array_unref(rows->rows);
    g_string_chunk_free(rows->names);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(FixationRows, study_fixation_rows_clear)

/* The walk is read in one transaction and handed on after it, so that a slow reader keeps nobody
 * waiting. */
static bool study_fixation_rows_give(LfStudy *study, int64_t id, LfStudyFixationSink sink,
                                     void *data, GPtrArray *undone, bool *given, GError **error)
{
    g_auto(FixationRows) rows = {.rows = g_array_new(FALSE, FALSE, sizeof(LfFixation)),
                                 .names = g_string_chunk_new(256)};
    if (!study_db_begin_read(study, error) ||
        !study_db_end(study, study_fixation_rows_load(study, id, &rows, error), error))
        return false;
    if (!rows.settings) {
        if (undone)
            g_ptr_array_add(undone, g_strdup(rows.walk->name));
        return true;
    }
    *given = true;
    const LfStudyFixations walk = {
        .walk = rows.walk->name,
        .time_decimals = rows.walk->time_decimals,
        .settings = rows.settings,
        .used = rows.used,
        .fixations = (const LfFixation *)(void *)rows.rows->data,
        .n = rows.rows->len,
    };
    return sink(&walk, data, error);
}

bool lf_study_fixations(LfStudy *study, const char *const *walks, LfStudyFixationSink sink,
                        void *data, GPtrArray *undone, GError **error)
{
    bool given = false;
    g_autoptr(GArray) ids = study_walk_ids(study, walks, error);
    if (!ids)
        return false;
    for (guint i = 0; i < ids->len; i++)
        if (!study_fixation_rows_give(study, g_array_index(ids, int64_t, i), sink, data, undone,
                                      &given, error))
            return false;
    if (given)
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: %s", study->name,
                ids->len == 0
                    ? "there is no walk in this study yet; add one with \"lookfall walk "
                      "add\""
                    : "there are no fixations of today's samples. Run \"lookfall fixate\" "
                      "first");
    return false;
}
