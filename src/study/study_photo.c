/* Photos in the study: the picture by path and checksum, its bank as bytes. */
#include "study/study_photo.h"

#include <math.h>
#include <string.h>

static char *study_photo_bank_sha256(GBytes *bank)
{
    return g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bank);
}

/* Makes every result stale, and lets a cast that is under way notice. */
static bool study_photo_bump(LfStudy *study, GError **error)
{
    return study_db_run(study, error, "UPDATE study SET revision = revision + 1", "");
}

static bool study_photo_free_name(LfStudy *study, const char *name, GError **error)
{
    int64_t taken;
    if (!study_db_check_name("photo", name, error) ||
        !study_db_get(study, error, 0, &taken, "SELECT 1 FROM photo WHERE name = ?", "s", name))
        return false;
    if (!taken)
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "there is a photo called %s in the study already; choose another name, or remove "
                "that one first",
                name);
    return false;
}

static bool study_photo_insert(LfStudy *study, const char *name, StudyFile *image, double width_mm,
                               const LfPhoto *photo, GError **error)
{
    g_autoptr(GBytes) bank = lf_photo_bank(photo);
    g_autofree char *sha256 = study_photo_bank_sha256(bank);
    LfPhotoReport report = lf_photo_report(photo);
    if (!study_photo_free_name(study, name, error) || !study_file_write(study, image, error) ||
        !study_db_run(study, error,
                      "INSERT INTO photo(name, image, width_px, height_px, width_mm, features,"
                      " spread, alike, engine, bank_sha256, bank)"
                      " VALUES(?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                      "siiididdisb", name, image->id, (int64_t)report.width, (int64_t)report.height,
                      width_mm, (int64_t)report.features, report.spread, report.alike,
                      (int64_t)LF_ENGINE_VERSION, sha256, bank))
        return false;
    g_autofree char *detail = g_strdup_printf("%s, image sha256 %s", name, image->sha256);
    return study_photo_bump(study, error) && study_db_log(study, "photo add", detail, NULL, error);
}

bool lf_study_photo_add(LfStudy *study, const char *name, const char *image, double width_mm,
                        LfPhotoReport *report, GError **error)
{
    StudyFile file = {0};
    g_autoptr(LfPhoto) photo = NULL;

    if (!(isnan(width_mm) || (width_mm > 0 && width_mm <= 1e6))) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "a photo's width must be over 0 mm and at most 1 km, not %g mm", width_mm);
        return false;
    }
    if (!study_photo_free_name(study, name, error) || !study_file_read(image, &file, error))
        return false;
    photo = lf_photo_load(image, NULL, error);
    bool ok = photo && study_db_begin(study, error);
    if (ok)
        ok = study_db_end(study, study_photo_insert(study, name, &file, width_mm, photo, error),
                          error);
    if (ok && report)
        *report = lf_photo_report(photo);
    study_file_clear(&file);
    return ok;
}

static void study_photo_free(gpointer data)
{
    LfStudyPhoto *photo = data;
    g_free(photo->name);
    g_free(photo->path);
    g_free(photo->sha256);
    g_free(photo);
}

GPtrArray *lf_study_photos(LfStudy *study, GError **error)
{
    g_autoptr(GPtrArray) photos = g_ptr_array_new_with_free_func(study_photo_free);
    g_autoptr(sqlite3_stmt) statement = study_db_prepare(
        study, error,
        "SELECT id, name, image, width_mm, width_px, height_px, features, spread, alike"
        " FROM photo ORDER BY id");
    bool ok = false, row = false;
    if (!statement)
        return NULL;
    while ((ok = study_db_step(study, statement, &row, error)) && row) {
        LfStudyPhoto *photo = g_new0(LfStudyPhoto, 1);
        StudyFile file = {0};
        StudyFileState state;
        g_ptr_array_add(photos, photo);
        photo->id = sqlite3_column_int64(statement, 0);
        photo->name = study_db_string(statement, 1);
        photo->width_mm = study_db_double(statement, 3);
        photo->report = (LfPhotoReport){
            .width = sqlite3_column_int(statement, 4),
            .height = sqlite3_column_int(statement, 5),
            .features = sqlite3_column_int(statement, 6),
            .spread = sqlite3_column_double(statement, 7),
            .alike = sqlite3_column_double(statement, 8),
        };
        if (!study_file_look(study, sqlite3_column_int64(statement, 2), &file, &state, error))
            return NULL;
        photo->path = g_steal_pointer(&file.path);
        photo->sha256 = g_steal_pointer(&file.sha256);
    }
    return ok ? g_steal_pointer(&photos) : NULL;
}

/* Removes the results of every chunk that had the photo among its candidates. */
static bool study_photo_forget(LfStudy *study, int64_t id, GError **error)
{
    g_autoptr(sqlite3_stmt) chunks =
        study_db_prepare(study, error,
                         "SELECT walk, from_us, to_us FROM chunk WHERE recipe IN"
                         " (SELECT recipe FROM recipe_photo WHERE photo = ?)");
    bool ok = false, row = false;
    if (!chunks)
        return false;
    study_db_bind(chunks, "i", id);
    while ((ok = study_db_step(study, chunks, &row, error)) && row) {
        int64_t walk = sqlite3_column_int64(chunks, 0);
        int64_t from_us = sqlite3_column_int64(chunks, 1), to_us = sqlite3_column_int64(chunks, 2);
        if (!study_db_run(study, error,
                          "DELETE FROM cast_sample WHERE walk = ? AND t_us >= ? AND t_us < ?",
                          "iii", walk, from_us, to_us) ||
            !study_db_run(study, error,
                          "DELETE FROM pose WHERE walk = ? AND t_us >= ? AND t_us < ?", "iii", walk,
                          from_us, to_us) ||
            !study_db_run(study, error,
                          "DELETE FROM pose_rival WHERE walk = ? AND t_us >= ? AND t_us < ?", "iii",
                          walk, from_us, to_us))
            return false;
    }
    return ok && study_db_run(study, error,
                              "UPDATE chunk SET recipe = NULL WHERE recipe IN"
                              " (SELECT recipe FROM recipe_photo WHERE photo = ?)",
                              "i", id);
}

static bool study_photo_delete(LfStudy *study, int64_t id, int64_t image, const char *name,
                               GError **error)
{
    return study_photo_forget(study, id, error) &&
           study_db_run(study, error, "DELETE FROM photo WHERE id = ?", "i", id) &&
           study_db_run(study, error, "DELETE FROM file WHERE id = ?", "i", image) &&
           study_photo_bump(study, error) && study_db_log(study, "photo remove", name, NULL, error);
}

bool lf_study_photo_remove(LfStudy *study, const char *name, GError **error)
{
    int64_t id, image;
    if (!study_db_get(study, error, 0, &id, "SELECT id FROM photo WHERE name = ?", "s", name) ||
        !study_db_get(study, error, 0, &image, "SELECT image FROM photo WHERE name = ?", "s", name))
        return false;
    if (!id) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "there is no photo called %s in the study; \"lookfall photo list\" shows them",
                    name);
        return false;
    }
    return study_db_begin(study, error) &&
           study_db_end(study, study_photo_delete(study, id, image, name, error), error);
}

/* --- for the cast ---------------------------------------------------------------------------- */

static GBytes *study_photo_read_bank(LfStudy *study, int64_t id, GError **error)
{
    g_autoptr(sqlite3_stmt) statement =
        study_db_prepare(study, error, "SELECT bank FROM photo WHERE id = ?");
    bool row = false;
    if (!statement)
        return NULL;
    study_db_bind(statement, "i", id);
    if (!study_db_step(study, statement, &row, error))
        return NULL;
    if (!row) {
        study_db_fail(study, SQLITE_CORRUPT, error);
        return NULL;
    }
    gconstpointer bytes = sqlite3_column_blob(statement, 0);
    return g_bytes_new(bytes, (gsize)sqlite3_column_bytes(statement, 0));
}

static bool study_photo_update(LfStudy *study, int64_t id, StudyFile *image, const LfPhoto *photo,
                               const char *name, GError **error)
{
    g_autoptr(GBytes) bank = lf_photo_bank(photo);
    g_autofree char *sha256 = study_photo_bank_sha256(bank);
    g_autofree char *detail = g_strdup_printf("%s, image sha256 %s", name, image->sha256);
    LfPhotoReport report = lf_photo_report(photo);
    return study_file_write(study, image, error) &&
           study_db_run(study, error,
                        "UPDATE photo SET width_px = ?, height_px = ?, features = ?, spread = ?,"
                        " alike = ?, engine = ?, bank_sha256 = ?, bank = ? WHERE id = ?",
                        "iiiddisbi", (int64_t)report.width, (int64_t)report.height,
                        (int64_t)report.features, report.spread, report.alike,
                        (int64_t)LF_ENGINE_VERSION, sha256, bank, id) &&
           study_db_run(study, error, "DELETE FROM photo_relief WHERE photo = ?", "i", id) &&
           study_photo_bump(study, error) &&
           study_db_log(study, "photo changed", detail, NULL, error);
}

/* The photo of one row, with its bank made anew where picture or engine are not those it was made
 * from. */
static LfPhoto *study_photo_open(LfStudy *study, int64_t id, const char *name, int64_t image,
                                 int64_t engine, GPtrArray *notes, GError **error)
{
    StudyFile file = {0};
    StudyFileState state;
    g_autoptr(LfPhoto) photo = NULL;
    bool ok = study_file_check(study, image, &file, &state, error);

    if (ok && state == STUDY_FILE_MISSING) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "the picture of photo %s is missing: %s. Put it back there, or at the same "
                    "place beside the study",
                    name, file.path);
        ok = false;
    }
    bool anew = ok && (state == STUDY_FILE_CHANGED || engine != LF_ENGINE_VERSION);
    if (ok && !anew) {
        g_autoptr(GBytes) bank = study_photo_read_bank(study, id, error);
        photo = bank ? lf_photo_load(file.path, bank, error) : NULL;
    } else if (ok) {
        g_ptr_array_add(notes, g_strdup_printf("photo %s: %s; everything is cast again", name,
                                               state == STUDY_FILE_CHANGED
                                                   ? "its picture has changed"
                                                   : "it was prepared by another engine version"));
        photo = lf_photo_load(file.path, NULL, error);
    }
    ok = photo != NULL;
    if (ok && (anew || state == STUDY_FILE_TOUCHED)) {
        ok = study_db_begin(study, error) &&
             study_db_end(study,
                          anew ? study_photo_update(study, id, &file, photo, name, error)
                               : study_file_write(study, &file, error),
                          error);
    }
    study_file_clear(&file);
    return ok ? g_steal_pointer(&photo) : NULL;
}

static void study_photo_drop(gpointer photo)
{
    lf_photo_free(photo);
}

bool study_photos_open(LfStudy *study, GPtrArray **photos, GArray **ids, GPtrArray *notes,
                       GError **error)
{
    g_autoptr(GPtrArray) all = g_ptr_array_new_with_free_func(study_photo_drop);
    g_autoptr(GArray) numbers = g_array_new(FALSE, FALSE, sizeof(int64_t));
    g_autoptr(GPtrArray) listed = lf_study_photos(study, error);
    if (!listed)
        return false;
    for (guint i = 0; i < listed->len; i++) {
        const LfStudyPhoto *entry = listed->pdata[i];
        int64_t image, engine;
        if (!study_db_get(study, error, 0, &image, "SELECT image FROM photo WHERE id = ?", "i",
                          entry->id) ||
            !study_db_get(study, error, 0, &engine, "SELECT engine FROM photo WHERE id = ?", "i",
                          entry->id))
            return false;
        LfPhoto *photo =
            study_photo_open(study, entry->id, entry->name, image, engine, notes, error);
        if (!photo)
            return false;
        g_ptr_array_add(all, photo);
        g_array_append_val(numbers, entry->id);
    }
    *photos = g_steal_pointer(&all);
    *ids = g_steal_pointer(&numbers);
    return true;
}
