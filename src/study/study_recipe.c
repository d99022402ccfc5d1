/* What a result was cast from.
 *
 * A recipe is a text of one "name value ..." line for each thing that can change a result. Its
 * SHA-256 is the fingerprint: a chunk is current when the recipe it was cast by is the one its walk
 * would be cast by now. The text is kept, so that each exported number can be traced (docs/study.md
 * shows the query). Numbers are written with all their digits and a decimal point. */
#include "study/study_recipe.h"

#include <string.h>

static void study_recipe_number(GString *text, double number)
{
    char digits[G_ASCII_DTOSTR_BUF_SIZE];
    g_string_append_printf(text, " %s", g_ascii_dtostr(digits, sizeof digits, number));
}

char *study_recipe_head(LfStudy *study, GError **error)
{
    g_autoptr(GString) text = g_string_new(NULL);
    LfCastSettings settings;
    if (!lf_study_settings(study, &settings, error))
        return NULL;
    g_string_append_printf(text, "engine %d\nconfidence %s\ntolerance_deg", LF_ENGINE_VERSION,
                           lf_confidence_model());
    study_recipe_number(text, settings.tolerance_deg);
    g_string_append(text, "\nsure_at");
    study_recipe_number(text, settings.sure_at);

    g_autoptr(sqlite3_stmt) statement = study_db_prepare(
        study, error,
        "SELECT photo.id, file.sha256, bank_sha256, ifnull(photo_relief.sha256, 'none'), name"
        " FROM photo JOIN file ON file.id = image"
        " LEFT JOIN photo_relief ON photo_relief.photo = photo.id ORDER BY photo.id");
    bool ok = false, row = false;
    if (!statement)
        return NULL;
    /* The name comes last: it may hold blanks. The id is in, for results carry it. */
    while ((ok = study_db_step(study, statement, &row, error)) && row)
        g_string_append_printf(
            text, "\nphoto %" G_GINT64_FORMAT " sha256 %s bank_sha256 %s relief_sha256 %s name %s",
            (gint64)sqlite3_column_int64(statement, 0), sqlite3_column_text(statement, 1),
            sqlite3_column_text(statement, 2), sqlite3_column_text(statement, 3),
            sqlite3_column_text(statement, 4));
    return ok ? g_string_free(g_steal_pointer(&text), FALSE) : NULL;
}

static void study_recipe_option(GString *text, const char *name, const char *value)
{
    if (value)
        g_string_append_printf(text, "\n%s %s", name, value);
}

static char *study_recipe_text(const char *head, const StudyWalk *walk)
{
    g_autoptr(GString) text = g_string_new(head);
    g_string_append_printf(text, "\nvideo sha256 %s\nchunk_min_us %d\ngaze sha256 %s",
                           walk->video.sha256, LF_CHUNK_MIN_US, walk->gaze.sha256);
    study_recipe_option(text, "gaze_time", walk->time);
    study_recipe_option(text, "gaze_x", walk->x);
    study_recipe_option(text, "gaze_y", walk->y);
    study_recipe_option(text, "gaze_valid", walk->valid);
    g_string_append(text, "\nclock_shift_ms");
    study_recipe_number(text, walk->clock_shift_ms);
    study_recipe_option(text, "clock", walk->clock == LF_CLOCK_STAMP ? "stamp" : "start");
    study_recipe_option(text, "camera sha256", walk->camera.sha256);
    g_string_append_printf(text, "\nlens %s %d %d", walk->lens.calibrated ? "calibrated" : "plain",
                           walk->lens.width, walk->lens.height);
    study_recipe_number(text, walk->lens.fx);
    study_recipe_number(text, walk->lens.fy);
    study_recipe_number(text, walk->lens.cx);
    study_recipe_number(text, walk->lens.cy);
    for (int i = 0; i < walk->lens.n_k; i++)
        study_recipe_number(text, walk->lens.k[i]);
    g_string_append_c(text, '\n');
    return g_string_free(g_steal_pointer(&text), FALSE);
}

static bool study_recipe_by_sha256(LfStudy *study, const char *sha256, int64_t *id, GError **error)
{
    return study_db_get(study, error, 0, id, "SELECT id FROM recipe WHERE sha256 = ?", "s", sha256);
}

bool study_recipe_find(LfStudy *study, const char *head, const StudyWalk *walk, int64_t *id,
                       GError **error)
{
    g_autofree char *text = study_recipe_text(head, walk);
    g_autofree char *sha256 = g_compute_checksum_for_string(G_CHECKSUM_SHA256, text, -1);
    return study_recipe_by_sha256(study, sha256, id, error);
}

bool study_recipe_put(LfStudy *study, const char *head, const StudyWalk *walk, int64_t *id,
                      GError **error)
{
    g_autofree char *text = study_recipe_text(head, walk);
    g_autofree char *sha256 = g_compute_checksum_for_string(G_CHECKSUM_SHA256, text, -1);
    if (!study_recipe_by_sha256(study, sha256, id, error) || *id)
        return *id != 0;
    if (!study_db_run(study, error, "INSERT INTO recipe(sha256, text) VALUES(?, ?)", "ss", sha256,
                      text))
        return false;
    *id = sqlite3_last_insert_rowid(study->db);
    return study_db_run(
        study, error, "INSERT INTO recipe_photo(recipe, photo) SELECT ?, id FROM photo", "i", *id);
}
