/* Marks: moments and spans that somebody notes on walks, under names of one's own.
 *
 * Times are microseconds of the walk's clock. Lists are GPtrArray that free what they hold. */
#ifndef LOOKFALL_MARK_H
#define LOOKFALL_MARK_H

#include <stdbool.h>
#include <stdint.h>

#include <lookfall/edit.h>
#include <lookfall/study.h>

G_BEGIN_DECLS

typedef struct {
    char *name;
    char *key; /* on the desk's keyboard; NULL for none */
} LfMarkName;

typedef struct {
    int64_t id; /* in the study; 0: not in one yet */
    char *walk; /* name of the walk */
    char *name;
    int64_t from_us;
    int64_t to_us; /* end of a span; from_us for a moment */
    bool span;     /* otherwise a moment */
    char *who;     /* NULL when put: the user who runs the program */
    char *at;      /* when it was noted, ISO 8601 UTC; NULL when put: now */
} LfMark;

/* Strings are copied; who may be NULL. */
LF_API LfMark *lf_mark_new(const char *walk, const char *name, int64_t from_us, int64_t to_us,
                           bool span, const char *who);
LF_API void lf_mark_free(LfMark *mark);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfMark, lf_mark_free)
/* An empty list that frees its marks. */
LF_API GPtrArray *lf_mark_list_new(void);

/* LfMarkName, by name. */
LF_API GPtrArray *lf_study_mark_names(LfStudy *study, GError **error);
/* Adds a name, or gives it another key (NULL: none). LF_ERROR_INPUT where the key belongs to
 * another name or is longer than 20 characters. */
LF_API bool lf_study_mark_name_put(LfStudy *study, const char *name, const char *key,
                                   GError **error);
/* Renames it and all its marks. LF_ERROR_INPUT where it does not exist or the new name does. */
LF_API bool lf_study_mark_name_rename(LfStudy *study, const char *name, const char *to,
                                      GError **error);
/* LF_ERROR_INPUT where it does not exist or marks bear it. */
LF_API bool lf_study_mark_name_remove(LfStudy *study, const char *name, GError **error);

/* LfMark of the walks (NULL: all), by walk and time. */
LF_API GPtrArray *lf_study_marks(LfStudy *study, const char *const *walks, GError **error);
/* Writes marks in one transaction: id 0 adds one, and mark->id takes its number; an id that is
 * there replaces it; one that is not there any more puts the mark back under its number. Names not
 * known yet are added, without a key. LF_ERROR_INPUT, and nothing written, where a walk does not
 * exist, a name is not fit, or a time lies outside the walk (before 0 or after its video's end).
 * edit (may be NULL, as below): it can be undone (edit.h); all marks then are of one walk. */
LF_API bool lf_study_mark_put(LfStudy *study, GPtrArray *marks, const LfEdit *edit, GError **error);
/* Removes marks in one transaction; LF_ERROR_INPUT where one does not exist. */
LF_API bool lf_study_mark_remove(LfStudy *study, const int64_t *ids, gsize n, const LfEdit *edit,
                                 GError **error);
/* Adds marks read from a file, all or none. replace: first removes every mark of the walks named in
 * it. Marks that are there already (same walk, name and times) are not added again; *added (may be
 * NULL) takes how many were. file: what to call it in messages, rows: the row of each mark in it.
 */
LF_API bool lf_study_mark_import(LfStudy *study, GPtrArray *marks, const char *file,
                                 const GArray *rows, bool replace, gsize *added, GError **error);

/* LfMark of a CSV text with the columns walk, name, from_s, to_s (blank for a moment) and, if
 * wanted, who and at. rows (may be NULL) takes the row of each (gsize), as a spreadsheet counts.
 * LF_ERROR_INPUT with file and row. docs/marks.md describes the format. */
LF_API GPtrArray *lf_mark_read_csv(const char *text, gsize length, const char *file, GArray *rows,
                                   GError **error);
/* The same as text; owned by the caller. */
LF_API char *lf_mark_write_csv(const GPtrArray *marks);

G_END_DECLS

#endif
