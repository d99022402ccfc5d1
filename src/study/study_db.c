/* SQLite as the rest of the folder sees it: statements, transactions, errors as sentences. */
#include "study/study_db.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

bool study_db_fail(LfStudy *study, int code, GError **error)
{
    LfErrorCode status = LF_ERROR_MACHINE;
    const char *why;

    switch (code & 0xff) { /* the low byte is the primary result code */
    case SQLITE_FULL:
        why = "the disk is full; nothing of this step was written. Make room and run it again";
        break;
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_CANTOPEN:
    case SQLITE_AUTH:
        why = "it cannot be written here (read-only disk or folder, or no permission). Copy the "
              "study to a folder you may write to";
        break;
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        why = "another program has been writing to it for too long. Wait for it to end and run "
              "this again";
        break;
    case SQLITE_IOERR:
        why = "reading or writing failed (disk full, file size limit, or a fault of the disk); "
              "nothing of this step was written";
        break;
    case SQLITE_NOMEM:
        why = "there is not enough memory";
        break;
    case SQLITE_NOTADB:
        status = LF_ERROR_INPUT;
        why = "it is not a lookfall study";
        break;
    case SQLITE_CORRUPT:
        status = LF_ERROR_INPUT;
        why = "the file is damaged. Go back to a copy of it";
        break;
    default:
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "%s: the study's store failed: %s",
                    study->name, sqlite3_errmsg(study->db));
        return false;
    }
    g_set_error(error, LF_ERROR, status, "%s: %s (%s)", study->name, why, sqlite3_errstr(code));
    return false;
}

sqlite3_stmt *study_db_prepare(LfStudy *study, GError **error, const char *sql)
{
    sqlite3_stmt *statement = NULL;
    int code = sqlite3_prepare_v2(study->db, sql, -1, &statement, NULL);
    if (code != SQLITE_OK)
        study_db_fail(study, code, error);
    return statement;
}

static void study_db_bind_list(sqlite3_stmt *statement, const char *types, va_list list)
{
    for (int i = 0; types[i]; i++) {
        switch (types[i]) {
        case 'i':
            sqlite3_bind_int64(statement, i + 1, va_arg(list, int64_t));
            break;
        case 'd':
            sqlite3_bind_double(statement, i + 1, va_arg(list, double)); /* NaN becomes NULL */
            break;
        case 's':
            sqlite3_bind_text(statement, i + 1, va_arg(list, const char *), -1, SQLITE_TRANSIENT);
            break;
        case 'b': {
            gsize size;
            gconstpointer bytes = g_bytes_get_data(va_arg(list, GBytes *), &size);
            sqlite3_bind_blob64(statement, i + 1, size ? bytes : "", size, SQLITE_STATIC);
            break;
        }
        default:
            g_assert_not_reached();
        }
    }
}

void study_db_bind(sqlite3_stmt *statement, const char *types, ...)
{
    va_list list;
    va_start(list, types);
    study_db_bind_list(statement, types, list);
    va_end(list);
}

bool study_db_step(LfStudy *study, sqlite3_stmt *statement, bool *row, GError **error)
{
    int code = sqlite3_step(statement);
    *row = code == SQLITE_ROW;
    return code == SQLITE_ROW || code == SQLITE_DONE || study_db_fail(study, code, error);
}

bool study_db_finish(LfStudy *study, sqlite3_stmt *statement, GError **error)
{
    int code = sqlite3_step(statement);
    if (code != SQLITE_DONE)
        study_db_fail(study, code, error);
    sqlite3_reset(statement);
    return code == SQLITE_DONE;
}

bool study_db_run(LfStudy *study, GError **error, const char *sql, const char *types, ...)
{
    g_autoptr(sqlite3_stmt) statement = study_db_prepare(study, error, sql);
    if (!statement)
        return false;
    va_list list;
    va_start(list, types);
    study_db_bind_list(statement, types, list);
    va_end(list);
    return study_db_finish(study, statement, error);
}

bool study_db_get(LfStudy *study, GError **error, int64_t fallback, int64_t *value, const char *sql,
                  const char *types, ...)
{
    g_autoptr(sqlite3_stmt) statement = study_db_prepare(study, error, sql);
    bool row = false;
    if (!statement)
        return false;
    va_list list;
    va_start(list, types);
    study_db_bind_list(statement, types, list);
    va_end(list);
    if (!study_db_step(study, statement, &row, error))
        return false;
    *value = row ? sqlite3_column_int64(statement, 0) : fallback;
    return true;
}

double study_db_double(sqlite3_stmt *statement, int column)
{
    return sqlite3_column_type(statement, column) == SQLITE_NULL
               ? (double)NAN
               : sqlite3_column_double(statement, column);
}

char *study_db_string(sqlite3_stmt *statement, int column)
{
    return g_strdup((const char *)sqlite3_column_text(statement, column));
}

bool study_db_begin(LfStudy *study, GError **error)
{
    int code = sqlite3_exec(study->db, "BEGIN IMMEDIATE", NULL, NULL, NULL);
    return code == SQLITE_OK || study_db_fail(study, code, error);
}

bool study_db_begin_read(LfStudy *study, GError **error)
{
    int code = sqlite3_exec(study->db, "BEGIN", NULL, NULL, NULL);
    return code == SQLITE_OK || study_db_fail(study, code, error);
}

bool study_db_end(LfStudy *study, bool ok, GError **error)
{
    if (ok) {
        int code = sqlite3_exec(study->db, "COMMIT", NULL, NULL, NULL);
        if (code == SQLITE_OK)
            return true;
        study_db_fail(study, code, error);
    }
    /* A full disk may have rolled back already; then there is nothing left to roll back. */
    if (!sqlite3_get_autocommit(study->db))
        sqlite3_exec(study->db, "ROLLBACK", NULL, NULL, NULL);
    return false;
}

bool study_db_log(LfStudy *study, const char *action, const char *detail, int64_t *id,
                  GError **error)
{
    g_autoptr(GDateTime) now = g_date_time_new_now_utc();
    g_autofree char *at = g_date_time_format(now, "%Y-%m-%dT%H:%M:%SZ");
    g_autofree char *who = g_filename_display_name(g_get_user_name());
    if (!study_db_run(study, error,
                      "INSERT INTO log(at, who, program, engine, action, detail)"
                      " VALUES(?, ?, ?, ?, ?, ?)",
                      "sssiss", at, who, LOOKFALL_VERSION, (int64_t)LF_ENGINE_VERSION, action,
                      detail))
        return false;
    if (id)
        *id = sqlite3_last_insert_rowid(study->db);
    return true;
}

bool study_db_check_name(const char *what, const char *name, GError **error)
{
    const char *why = NULL;

    if (!name || !name[0])
        why = "must not be empty";
    else if (!g_utf8_validate(name, -1, NULL))
        why = "is not valid UTF-8";
    else if (g_utf8_strlen(name, -1) > 100)
        why = "is longer than 100 characters";
    else if (g_unichar_isspace(g_utf8_get_char(name)) ||
             g_unichar_isspace(g_utf8_get_char(g_utf8_prev_char(name + strlen(name)))))
        why = "must not begin or end with a blank";
    else
        for (const char *c = name; *c && !why; c = g_utf8_next_char(c))
            if (g_unichar_iscntrl(g_utf8_get_char(c)))
                why = "must not hold a line break or another control character";
    if (!why)
        return true;
    g_autofree char *shown = name ? g_utf8_make_valid(name, -1) : g_strdup("");
    if (g_utf8_strlen(shown, -1) > 100)
        strcpy(g_utf8_offset_to_pointer(shown, 97), "...");
    g_autofree char *escaped = g_strescape(shown, NULL);
    g_autofree char *plain = g_utf8_validate(shown, -1, NULL) && !strpbrk(shown, "\n\r\t")
                                 ? g_strdup(shown)
                                 : g_strdup(escaped);
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "the %s's name \"%s\" %s", what, plain, why);
    return false;
}
