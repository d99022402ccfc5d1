/* What the files of this folder share: the connection, statements, transactions, errors, the log.
 * Nothing here is public. */
#ifndef LF_STUDY_DB_H
#define LF_STUDY_DB_H

#include <sqlite3.h>

#include <lookfall/study.h>

struct LfStudy {
    sqlite3 *db;
    char *name;   /* the path as it was given, for messages */
    char *path;   /* absolute */
    char *folder; /* absolute; relative input paths count from here */
};

G_DEFINE_AUTOPTR_CLEANUP_FUNC(sqlite3_stmt, sqlite3_finalize)

/* --- errors and statements (study_db.c) --- */

/* Turns the connection's last error into a sentence about the study. Always false. */
bool study_db_fail(LfStudy *study, int code, GError **error);

/* NULL and an error where it cannot be prepared. */
sqlite3_stmt *study_db_prepare(LfStudy *study, GError **error, const char *sql);
/* Binds from parameter 1 on. types holds one letter each: i int64_t, d double (NaN binds NULL),
 * s const char * (NULL binds NULL; copied), b GBytes * (borrowed until the statement is reset). */
void study_db_bind(sqlite3_stmt *statement, const char *types, ...);
/* SQLITE_ROW: true and *row; SQLITE_DONE: true and !*row; otherwise an error. */
bool study_db_step(LfStudy *study, sqlite3_stmt *statement, bool *row, GError **error);
/* Steps a statement that gives no rows to its end and resets it. */
bool study_db_finish(LfStudy *study, sqlite3_stmt *statement, GError **error);
/* Prepares, binds, finishes: for statements off the hot path. */
bool study_db_run(LfStudy *study, GError **error, const char *sql, const char *types, ...);
/* The first column of the first row as an integer; `fallback` where there is no row. */
bool study_db_get(LfStudy *study, GError **error, int64_t fallback, int64_t *value, const char *sql,
                  const char *types, ...);

/* Column helpers: NULL becomes NaN or a NULL string; strings are copies. */
double study_db_double(sqlite3_stmt *statement, int column);
char *study_db_string(sqlite3_stmt *statement, int column);

/* --- transactions --- */

/* Takes the write lock at once, so that a transaction never fails half way for want of it. */
bool study_db_begin(LfStudy *study, GError **error);
/* One picture of the study for several reads. */
bool study_db_begin_read(LfStudy *study, GError **error);
/* Commits when ok, rolls back otherwise; false when !ok or the commit failed (rolled back too). */
bool study_db_end(LfStudy *study, bool ok, GError **error);

/* --- the log --- */

/* Says who did what, with which program; *id (may be NULL) takes the entry's number. */
bool study_db_log(LfStudy *study, const char *action, const char *detail, int64_t *id,
                  GError **error);

/* --- names --- */

/* What a photo or walk may be called: 1 to 100 characters of UTF-8, none of them a control
 * character, no blank at either end. `what` is "photo" or "walk". */
bool study_db_check_name(const char *what, const char *name, GError **error);

/* --- schema (study_schema.c) --- */

#define LF_STUDY_APPLICATION_ID 0x4C6B466C /* "LkFl" */

/* The version of a study this program writes. */
int study_schema_version(void);
/* The oldest version that can be read without being brought up to date. */
int study_schema_readable(void);
/* Applies the steps from `version` (0: none yet) to today's, inside the caller's transaction. */
bool study_schema_apply(LfStudy *study, int version, GError **error);
/* Makes the views anew, inside the caller's transaction (study_views.c). */
bool study_views_apply(LfStudy *study, GError **error);

#endif
