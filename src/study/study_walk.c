/* Walks in the study: rows, samples, chunks. */
#include "study/study_frames.h"

#include <math.h>
#include <string.h>

static const char *study_walk_clock_name(LfClock clock)
{
    return clock == LF_CLOCK_STAMP ? "stamp" : "start";
}

static char *study_walk_distortion_text(const LfLens *lens)
{
    g_autoptr(GString) text = g_string_new(NULL);
    for (int i = 0; i < lens->n_k; i++) {
        char number[G_ASCII_DTOSTR_BUF_SIZE];
        g_string_append_printf(text, "%s%s", i ? " " : "",
                               g_ascii_dtostr(number, sizeof number, lens->k[i]));
    }
    return g_string_free(g_steal_pointer(&text), FALSE);
}

static void study_walk_distortion_parse(const char *text, LfLens *lens)
{
    g_auto(GStrv) numbers = g_strsplit(text, " ", -1);
    lens->n_k = 0;
    for (int i = 0; numbers[i] && numbers[i][0] && i < (int)G_N_ELEMENTS(lens->k); i++)
        lens->k[lens->n_k++] = g_ascii_strtod(numbers[i], NULL);
}

/* Every column of the table walk but id and revision, in the order of study_walk_bind. */
#define STUDY_WALK_COLUMNS                                                                         \
    "name, participant, group_name, video, gaze, camera, gaze_time, gaze_x, gaze_y, gaze_valid,"   \
    " clock_shift_ms, clock, width_px, height_px, rotation_deg, codec, frame_rate, stamp_zero_us," \
    " frames, first_us, end_us, cut_off, lens_calibrated, lens_fx_px, lens_fy_px, lens_cx_px,"     \
    " lens_cy_px, lens_distortion, time_decimals, samples, lost, outside, interval_us"

static void study_walk_bind(sqlite3_stmt *statement, const StudyWalk *walk)
{
    g_autofree char *distortion = study_walk_distortion_text(&walk->lens);
    study_db_bind(
        statement, "sssiiissssdsiiisdiiiiiiddddsiiiii", walk->name, walk->participant, walk->group,
        walk->video.id, walk->gaze.id, walk->camera.id, walk->time, walk->x, walk->y, walk->valid,
        walk->clock_shift_ms, study_walk_clock_name(walk->clock), (int64_t)walk->info.width,
        (int64_t)walk->info.height, (int64_t)walk->info.rotation, walk->info.codec,
        walk->info.frame_rate, walk->info.stamp_zero_us, walk->frames, walk->first_us, walk->end_us,
        (int64_t)walk->cut_off, (int64_t)walk->lens.calibrated, walk->lens.fx, walk->lens.fy,
        walk->lens.cx, walk->lens.cy, distortion, (int64_t)walk->time_decimals, walk->n_samples,
        walk->n_lost, walk->n_outside, walk->interval_us);
    if (walk->camera.id == 0)
        sqlite3_bind_null(statement, 6);
}

static StudyWalk *study_walk_from_row(sqlite3_stmt *row)
{
    StudyWalk *walk = g_new0(StudyWalk, 1);
    int c = 0;
    walk->notes = g_ptr_array_new_with_free_func(g_free);
    walk->id = sqlite3_column_int64(row, c++);
    walk->revision = sqlite3_column_int64(row, c++);
    walk->name = study_db_string(row, c++);
    walk->participant = study_db_string(row, c++);
    walk->group = study_db_string(row, c++);
    walk->video.id = sqlite3_column_int64(row, c++);
    walk->gaze.id = sqlite3_column_int64(row, c++);
    walk->camera.id = sqlite3_column_int64(row, c++); /* NULL reads as 0 */
    walk->time = study_db_string(row, c++);
    walk->x = study_db_string(row, c++);
    walk->y = study_db_string(row, c++);
    walk->valid = study_db_string(row, c++);
    walk->clock_shift_ms = sqlite3_column_double(row, c++);
    walk->clock = g_strcmp0((const char *)sqlite3_column_text(row, c++), "stamp") == 0
                      ? LF_CLOCK_STAMP
                      : LF_CLOCK_START;
    walk->info.width = sqlite3_column_int(row, c++);
    walk->info.height = sqlite3_column_int(row, c++);
    walk->info.rotation = sqlite3_column_int(row, c++);
    g_autofree char *codec = study_db_string(row, c++);
    g_strlcpy(walk->info.codec, codec ? codec : "", sizeof walk->info.codec);
    walk->info.frame_rate = sqlite3_column_double(row, c++);
    walk->info.stamp_zero_us = sqlite3_column_int64(row, c++);
    walk->frames = sqlite3_column_int64(row, c++);
    walk->first_us = sqlite3_column_int64(row, c++);
    walk->end_us = sqlite3_column_int64(row, c++);
    walk->cut_off = sqlite3_column_int(row, c++) != 0;
    walk->lens = lf_lens_plain(walk->info.width, walk->info.height);
    walk->lens.calibrated = sqlite3_column_int(row, c++) != 0;
    walk->lens.fx = sqlite3_column_double(row, c++);
    walk->lens.fy = sqlite3_column_double(row, c++);
    walk->lens.cx = sqlite3_column_double(row, c++);
    walk->lens.cy = sqlite3_column_double(row, c++);
    g_autofree char *distortion = study_db_string(row, c++);
    study_walk_distortion_parse(distortion ? distortion : "", &walk->lens);
    walk->time_decimals = sqlite3_column_int(row, c++);
    walk->n_samples = sqlite3_column_int64(row, c++);
    walk->n_lost = sqlite3_column_int64(row, c++);
    walk->n_outside = sqlite3_column_int64(row, c++);
    walk->interval_us = sqlite3_column_int64(row, c++);
    return walk;
}

StudyWalk *study_walk_load(LfStudy *study, int64_t id, GError **error)
{
    g_autoptr(sqlite3_stmt) statement = study_db_prepare(
        study, error, "SELECT id, revision, " STUDY_WALK_COLUMNS " FROM walk WHERE id = ?");
    bool row = false;
    if (!statement)
        return NULL;
    study_db_bind(statement, "i", id);
    if (!study_db_step(study, statement, &row, error))
        return NULL;
    if (!row) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: a walk was removed while it was being read; run this again", study->name);
        return NULL;
    }
    g_autoptr(StudyWalk) walk = study_walk_from_row(statement);
    StudyFileState state;
    if (!study_file_look(study, walk->video.id, &walk->video, &state, error) ||
        !study_file_look(study, walk->gaze.id, &walk->gaze, &state, error) ||
        (walk->camera.id && !study_file_look(study, walk->camera.id, &walk->camera, &state, error)))
        return NULL;
    return g_steal_pointer(&walk);
}

bool study_walk_load_gaze(LfStudy *study, int64_t id, LfGazeSample **samples, gsize *n,
                          GError **error)
{
    g_autoptr(sqlite3_stmt) statement = study_db_prepare(
        study, error, "SELECT t_us, x_px, y_px FROM gaze WHERE walk = ? ORDER BY t_us");
    int64_t expected;
    bool ok = false, row = false;
    if (!statement ||
        !study_db_get(study, error, 0, &expected, "SELECT samples FROM walk WHERE id = ?", "i", id))
        return false;
    /* Made to size: growing would take twice the memory for a moment. */
    g_autoptr(GArray) all =
        g_array_sized_new(FALSE, FALSE, sizeof(LfGazeSample), (guint)CLAMP(expected, 1, 1 << 24));
    study_db_bind(statement, "i", id);
    while ((ok = study_db_step(study, statement, &row, error)) && row) {
        LfGazeSample sample = {sqlite3_column_int64(statement, 0), study_db_double(statement, 1),
                               study_db_double(statement, 2), false};
        sample.lost = isnan(sample.x);
        g_array_append_val(all, sample);
    }
    if (!ok)
        return false;
    *n = all->len;
    *samples = (LfGazeSample *)(void *)g_array_free(g_steal_pointer(&all), FALSE);
    return true;
}

static bool study_walk_write_gaze(LfStudy *study, const StudyWalk *walk, GError **error)
{
    g_autoptr(sqlite3_stmt) statement =
        study_db_prepare(study, error, "INSERT INTO gaze VALUES(?, ?, ?, ?)");
    if (!statement || !study_db_run(study, error, "DELETE FROM gaze WHERE walk = ?", "i", walk->id))
        return false;
    for (int64_t i = 0; i < walk->n_samples; i++) {
        const LfGazeSample *sample = &walk->samples[i];
        study_db_bind(statement, "iidd", walk->id, sample->t_us, sample->lost ? NAN : sample->x,
                      sample->lost ? NAN : sample->y);
        if (!study_db_finish(study, statement, error))
            return false;
    }
    return true;
}

static bool study_walk_write_chunks(LfStudy *study, const StudyWalk *walk, GError **error)
{
    g_autoptr(sqlite3_stmt) statement =
        study_db_prepare(study, error,
                         "INSERT INTO chunk(walk, number, key_us, from_us, to_us, frames_due)"
                         " VALUES(?, ?, ?, ?, ?, ?)");
    if (!statement ||
        !study_db_run(study, error, "DELETE FROM chunk WHERE walk = ?", "i", walk->id))
        return false;
    for (gsize i = 0; i < walk->n_chunks; i++) {
        study_db_bind(statement, "iiiiii", walk->id, (int64_t)i, walk->chunks[i].key_us,
                      walk->chunks[i].from_us, walk->chunks[i].to_us, walk->chunk_frames[i]);
        if (!study_db_finish(study, statement, error))
            return false;
    }
    return true;
}

bool study_walk_write_files(LfStudy *study, StudyWalk *walk, GError **error)
{
    return study_file_write(study, &walk->video, error) &&
           study_file_write(study, &walk->gaze, error) &&
           (!walk->camera.path || study_file_write(study, &walk->camera, error));
}

static bool study_walk_log(LfStudy *study, const char *action, const StudyWalk *walk,
                           GError **error)
{
    g_autofree char *detail = g_strdup_printf(
        "%s, video sha256 %s, gaze sha256 %s, camera %s%s, clock %s, clock_shift_ms %.17g",
        walk->name, walk->video.sha256, walk->gaze.sha256, walk->camera.path ? "sha256 " : "none",
        walk->camera.path ? walk->camera.sha256 : "", study_walk_clock_name(walk->clock),
        walk->clock_shift_ms);
    return study_db_log(study, action, detail, NULL, error);
}

bool study_walk_insert(LfStudy *study, StudyWalk *walk, GError **error)
{
    if (!study_walk_check_name(study, walk->name, error) ||
        !study_walk_write_files(study, walk, error))
        return false;
    g_autoptr(sqlite3_stmt) statement =
        study_db_prepare(study, error,
                         "INSERT INTO walk(" STUDY_WALK_COLUMNS ") VALUES(?, ?, ?, ?, ?, ?, ?, ?,"
                         " ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?,"
                         " ?)");
    if (!statement)
        return false;
    study_walk_bind(statement, walk);
    if (!study_db_finish(study, statement, error))
        return false;
    walk->id = sqlite3_last_insert_rowid(study->db);
    return study_walk_write_chunks(study, walk, error) &&
           study_walk_write_gaze(study, walk, error) && study_frames_write(study, walk, error) &&
           study_walk_log(study, "walk add", walk, error);
}

bool study_walk_update(LfStudy *study, StudyWalk *walk, GError **error)
{
    if (!study_walk_write_files(study, walk, error))
        return false;
    g_autoptr(sqlite3_stmt) statement =
        study_db_prepare(study, error,
                         "UPDATE walk SET (" STUDY_WALK_COLUMNS ") = (?, ?, ?, ?, ?, ?, ?, ?, ?,"
                         " ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?),"
                         " revision = revision + 1 WHERE id = ?");
    if (!statement)
        return false;
    study_walk_bind(statement, walk);
    sqlite3_bind_int64(statement, sqlite3_bind_parameter_count(statement), walk->id);
    if (!study_db_finish(study, statement, error) ||
        !study_db_run(study, error, "DELETE FROM cast_sample WHERE walk = ?", "i", walk->id) ||
        !study_db_run(study, error, "DELETE FROM pose WHERE walk = ?", "i", walk->id) ||
        !study_db_run(study, error, "DELETE FROM pose_rival WHERE walk = ?", "i", walk->id) ||
        !study_db_run(study, error, "UPDATE chunk SET recipe = NULL WHERE walk = ?", "i", walk->id))
        return false;
    walk->revision++;
    return (!walk->chunks || study_walk_write_chunks(study, walk, error)) &&
           (!walk->samples || study_walk_write_gaze(study, walk, error)) &&
           study_frames_write(study, walk, error) &&
           study_walk_log(study, "walk changed", walk, error);
}

bool study_walk_check_name(LfStudy *study, const char *name, GError **error)
{
    int64_t taken;
    if (!study_db_check_name("walk", name, error) ||
        !study_db_get(study, error, 0, &taken, "SELECT 1 FROM walk WHERE name = ?", "s", name))
        return false;
    if (!taken)
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "there is a walk called %s in the study already; choose another name, or remove "
                "that one first",
                name);
    return false;
}

void study_walk_tell(const StudyWalk *walk, LfStudyNote note, void *data)
{
    for (guint i = 0; note && i < walk->notes->len; i++) {
        g_autofree char *sentence =
            g_strdup_printf("walk %s: %s", walk->name, (char *)walk->notes->pdata[i]);
        note(sentence, data);
    }
}

bool lf_study_walk_add(LfStudy *study, const LfWalkInput *input, LfStudyNote note, void *data,
                       GError **error)
{
    if (!study_walk_check_name(study, input->name, error))
        return false;
    g_autoptr(StudyWalk) walk = walk_read_all(input, error);
    if (!walk || !study_db_begin(study, error))
        return false;
    if (!study_db_end(study, study_walk_insert(study, walk, error), error))
        return false;
    study_walk_tell(walk, note, data);
    return true;
}

bool lf_study_walk_remove(LfStudy *study, const char *name, GError **error)
{
    const char *const names[] = {name, NULL};
    g_autoptr(GArray) ids = study_walk_ids(study, names, error);
    if (!ids)
        return false;
    int64_t id = g_array_index(ids, int64_t, 0);
    if (!study_db_begin(study, error))
        return false;
    g_autoptr(StudyWalk) walk = study_walk_load(study, id, error);
    /* Samples, chunks, poses and results go with the walk's row. */
    bool ok = walk && study_db_run(study, error, "DELETE FROM walk WHERE id = ?", "i", id) &&
              study_db_run(study, error, "DELETE FROM file WHERE id IN (?, ?, ?)", "iii",
                           walk->video.id, walk->gaze.id, walk->camera.id) &&
              study_db_log(study, "walk remove", name, NULL, error);
    return study_db_end(study, ok, error);
}

/* One walk by its name. */
static bool study_walk_id(LfStudy *study, const char *name, int64_t *id, GError **error)
{
    if (!study_db_get(study, error, 0, id, "SELECT id FROM walk WHERE name = ?", "s", name))
        return false;
    if (*id)
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "there is no walk called %s in the study; \"lookfall walk list\" shows them", name);
    return false;
}

static bool study_walk_all_ids(LfStudy *study, GArray *ids, GError **error)
{
    g_autoptr(sqlite3_stmt) statement =
        study_db_prepare(study, error, "SELECT id FROM walk ORDER BY name");
    bool ok = false, row = false;
    if (!statement)
        return false;
    while ((ok = study_db_step(study, statement, &row, error)) && row) {
        int64_t id = sqlite3_column_int64(statement, 0);
        g_array_append_val(ids, id);
    }
    return ok;
}

static gint study_walk_compare_names(gconstpointer a, gconstpointer b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

GArray *study_walk_ids(LfStudy *study, const char *const *names, GError **error)
{
    g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(int64_t));
    if (!names)
        return study_walk_all_ids(study, ids, error) ? g_steal_pointer(&ids) : NULL;

    g_autoptr(GPtrArray) sorted = g_ptr_array_new(); /* borrowed names, each once */
    for (gsize i = 0; names[i]; i++)
        g_ptr_array_add(sorted, (gpointer)names[i]);
    g_ptr_array_sort(sorted, study_walk_compare_names);
    for (guint i = 0; i < sorted->len; i++) {
        const char *name = sorted->pdata[i];
        int64_t id;
        if (i > 0 && strcmp(name, sorted->pdata[i - 1]) == 0)
            continue;
        if (!study_walk_id(study, name, &id, error))
            return NULL;
        g_array_append_val(ids, id);
    }
    return g_steal_pointer(&ids);
}
