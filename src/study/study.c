/* Making, opening and closing a study, and its settings.
 *
 * Journal: a rollback journal, not a write-ahead log. With a write-ahead log a study would be three
 * files whenever it is in use, committed chunks would stay outside the study file until a
 * checkpoint (lost to whoever copies that file alone), it could not be read from a read-only disk,
 * and it does not work on network drives, where laboratories keep studies. A rollback journal
 * leaves one file between transactions; after kill -9 or a power loss the next open rolls the one
 * open transaction back. What the log would give, writing without stopping readers, is not missed:
 * a chunk's transaction takes milliseconds. synchronous = EXTRA also syncs the folder after the
 * journal is gone, so that a chunk once reported is there after a power loss. */
#include "study/study_db.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>
#include <unistd.h>

#define LF_STUDY_BUSY_MS 20000 /* long enough for any transaction but an import */

/* A handle whose connection is still to be opened. */
static LfStudy *study_new(const char *path)
{
    LfStudy *study = g_new0(LfStudy, 1);
    study->name = g_filename_display_name(path);
    study->path = g_canonicalize_filename(path, NULL);
    study->folder = g_path_get_dirname(study->path);
    return study;
}

void lf_study_close(LfStudy *study)
{
    if (!study)
        return;
    sqlite3_close(study->db);
    g_free(study->name);
    g_free(study->path);
    g_free(study->folder);
    g_free(study);
}

/* Opens `path`, which may differ from the study's own while it is being made. */
static bool study_connect(LfStudy *study, const char *path, int flags, GError **error)
{
    int code = sqlite3_open_v2(path, &study->db, flags, NULL);
    if (code != SQLITE_OK)
        return study_db_fail(study, code, error);
    sqlite3_extended_result_codes(study->db, 1);
    sqlite3_busy_timeout(study->db, LF_STUDY_BUSY_MS);
    code = sqlite3_exec(study->db,
                        "PRAGMA foreign_keys = ON;"
                        "PRAGMA synchronous = EXTRA;"
                        "PRAGMA cache_size = -16000;" /* KiB */
                        "PRAGMA temp_store = MEMORY;",
                        NULL, NULL, NULL);
    return code == SQLITE_OK || study_db_fail(study, code, error);
}

bool lf_study_settings_check(const LfCastSettings *settings, GError **error)
{
    if (!(settings->tolerance_deg > 0 && settings->tolerance_deg <= 20)) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "the tolerance must be over 0 and at most 20 degrees, not %g",
                    settings->tolerance_deg);
        return false;
    }
    if (!(settings->sure_at > 0 && settings->sure_at <= 1)) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "the confidence from which a sample is sure must be over 0 and at most 1, "
                    "not %g",
                    settings->sure_at);
        return false;
    }
    return true;
}

static bool study_log_settings(LfStudy *study, const char *action, const LfCastSettings *settings,
                               GError **error)
{
    g_autofree char *detail =
        g_strdup_printf("tolerance_deg %g, sure_at %g", settings->tolerance_deg, settings->sure_at);
    return study_db_log(study, action, detail, NULL, error);
}

static bool study_fill(LfStudy *study, const LfCastSettings *settings, GError **error)
{
    if (!study_db_begin(study, error))
        return false;
    bool ok =
        study_schema_apply(study, 0, error) &&
        study_db_run(study, error, "INSERT INTO study(id, tolerance_deg, sure_at) VALUES(1, ?, ?)",
                     "dd", settings->tolerance_deg, settings->sure_at) &&
        study_log_settings(study, "new", settings, error);
    return study_db_end(study, ok, error);
}

/* Gives the finished file its name, never over another one. */
static bool study_publish(const char *draft, const char *path, GError **error)
{
    if (link(draft, path) == 0) {
        g_unlink(draft);
        return true;
    }
    /* File systems without hard links: the check and the renaming are two steps there. */
    if ((errno == EPERM || errno == EOPNOTSUPP || errno == ENOSYS) &&
        !g_file_test(path, G_FILE_TEST_EXISTS) && g_rename(draft, path) == 0)
        return true;
    int why = errno;
    g_set_error(error, LF_ERROR, why == EEXIST ? LF_ERROR_INPUT : LF_ERROR_MACHINE,
                "%s: the study cannot be made: %s", path, g_strerror(why));
    return false;
}

LfStudy *lf_study_create(const char *path, const LfCastSettings *settings, GError **error)
{
    g_autoptr(LfStudy) study = study_new(path);

    if (!lf_study_settings_check(settings, error))
        return NULL;
    if (g_file_test(study->path, G_FILE_TEST_EXISTS) ||
        g_file_test(study->path, G_FILE_TEST_IS_SYMLINK)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s exists already and is left as it is; choose another name", path);
        return NULL;
    }
    if (!g_file_test(study->folder, G_FILE_TEST_IS_DIR)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: there is no folder %s", path,
                    study->folder);
        return NULL;
    }
    /* Made beside its place under another name: whatever happens, no half study has the name. */
    g_autofree char *draft = g_strdup_printf("%s.new-%d", study->path, (int)getpid());
    g_autofree char *journal = g_strconcat(draft, "-journal", NULL);
    bool ok = study_connect(study, draft, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, error) &&
              study_fill(study, settings, error);
    sqlite3_close(study->db);
    study->db = NULL;
    if (!ok || !study_publish(draft, study->path, error)) {
        g_unlink(draft);
        g_unlink(journal);
        return NULL;
    }
    if (!study_connect(study, study->path, SQLITE_OPEN_READWRITE, error))
        return NULL;
    return g_steal_pointer(&study);
}

static bool study_upgrade(LfStudy *study, int version, GError **error)
{
    g_autofree char *detail =
        g_strdup_printf("from version %d to %d", version, study_schema_version());
    if (!study_db_begin(study, error))
        return false;
    bool ok = study_schema_apply(study, version, error) &&
              study_db_log(study, "upgrade", detail, NULL, error);
    return study_db_end(study, ok, error);
}

static bool study_check_kind(LfStudy *study, const char *path, LfStudyAccess access, GError **error)
{
    int64_t kind, version;
    if (!study_db_get(study, error, 0, &kind, "PRAGMA application_id", "") ||
        !study_db_get(study, error, 0, &version, "PRAGMA user_version", ""))
        return false;
    if (kind != LF_STUDY_APPLICATION_ID || version < 1) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: it is not a lookfall study; \"lookfall new\" makes one", path);
        return false;
    }
    if (version > study_schema_version()) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s was made by a newer lookfall (study version %d, this program knows %d); "
                    "use that one",
                    path, (int)version, study_schema_version());
        return false;
    }
    if (version == study_schema_version())
        return true;
    if (access == LF_STUDY_READ && version >= study_schema_readable())
        return true;
    if (access == LF_STUDY_READ) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s was made by an older lookfall; run \"lookfall cast\" on it once to bring "
                    "it up to date",
                    path);
        return false;
    }
    return study_upgrade(study, (int)version, error);
}

LfStudy *lf_study_open(const char *path, LfStudyAccess access, GError **error)
{
    g_autoptr(LfStudy) study = study_new(path);

    if (!g_file_test(study->path, G_FILE_TEST_EXISTS)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: there is no such study; \"lookfall new\" makes one", path);
        return NULL;
    }
    if (g_file_test(study->path, G_FILE_TEST_IS_DIR)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s is a folder, not a study", path);
        return NULL;
    }
    /* Reading, too, opens for writing where it can, so that it may roll back what a killed run
     * left; SQLite falls back to read-only by itself where the file or the disk is. */
    if (!study_connect(study, study->path, SQLITE_OPEN_READWRITE, error))
        return NULL;
    if (!study_check_kind(study, path, access, error))
        return NULL;
    if (access == LF_STUDY_WRITE && sqlite3_db_readonly(study->db, "main")) {
        study_db_fail(study, SQLITE_READONLY, error);
        return NULL;
    }
    return g_steal_pointer(&study);
}

bool lf_study_settings(LfStudy *study, LfCastSettings *settings, GError **error)
{
    g_autoptr(sqlite3_stmt) statement =
        study_db_prepare(study, error, "SELECT tolerance_deg, sure_at FROM study");
    bool row = false;
    if (!statement || !study_db_step(study, statement, &row, error))
        return false;
    if (!row)
        return study_db_fail(study, SQLITE_CORRUPT, error);
    settings->tolerance_deg = sqlite3_column_double(statement, 0);
    settings->sure_at = sqlite3_column_double(statement, 1);
    return true;
}

bool lf_study_set_settings(LfStudy *study, const LfCastSettings *settings, GError **error)
{
    LfCastSettings old;
    if (!lf_study_settings_check(settings, error) || !lf_study_settings(study, &old, error))
        return false;
    if (old.tolerance_deg == settings->tolerance_deg && old.sure_at == settings->sure_at)
        return true;
    if (!study_db_begin(study, error))
        return false;
    bool ok = study_db_run(study, error,
                           "UPDATE study SET tolerance_deg = ?, sure_at = ?,"
                           " revision = revision + 1",
                           "dd", settings->tolerance_deg, settings->sure_at) &&
              study_log_settings(study, "settings", settings, error);
    return study_db_end(study, ok, error);
}
