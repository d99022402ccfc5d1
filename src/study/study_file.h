/* Input files as the study knows them: where, which bytes, when last changed. */
#ifndef LF_STUDY_FILE_H
#define LF_STUDY_FILE_H

#include "study/study_db.h"

typedef struct {
    int64_t id; /* row in the table file; 0: not in the study yet */
    char *path; /* absolute */
    char *sha256;
    int64_t bytes;
    int64_t changed_ns;
} StudyFile;

typedef enum {
    STUDY_FILE_SAME,
    STUDY_FILE_TOUCHED, /* same bytes, but another place, or time of change */
    STUDY_FILE_CHANGED,
    STUDY_FILE_MISSING,
} StudyFileState;

void study_file_clear(StudyFile *file);

/* Size and time of change, then the checksum; any thread. LF_ERROR_INPUT where there is no such
 * file, LF_ERROR_MACHINE where it may not be read. `file` keeps its id. */
bool study_file_read(const char *path, StudyFile *file, GError **error);

/* Adds a row when file->id is 0 (and sets it), updates the row otherwise. */
bool study_file_write(LfStudy *study, StudyFile *file, GError **error);

/* The row `id` into *file, path as study_file_look finds it. Nothing but folder entries is read: a
 * difference in size or time counts as changed. */
bool study_file_look(LfStudy *study, int64_t id, StudyFile *file, StudyFileState *state,
                     GError **error);
/* The same, but where size or time differ the checksum decides, and *file takes the new values. */
bool study_file_check(LfStudy *study, int64_t id, StudyFile *file, StudyFileState *state,
                      GError **error);

#endif
