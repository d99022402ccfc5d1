/* Where the numbers of a study come from: its inputs by checksum, and who did what. */
#ifndef LOOKFALL_TRAIL_H
#define LOOKFALL_TRAIL_H

#include <lookfall/study.h>

G_BEGIN_DECLS

typedef struct {
    char *owner; /* "photo shelf", "walk w01" */
    char *role;  /* "picture", "video", "gaze", "camera" */
    char *path;  /* as recorded */
    char *sha256;
    int64_t bytes;
} LfStudyInput;

/* LfStudyInput of all photos, then of all walks by name. Nothing is read but the study. */
LF_API GPtrArray *lf_study_inputs(LfStudy *study, GError **error);

typedef struct {
    char *at; /* ISO 8601, UTC */
    char *who, *program;
    int64_t engine;
    char *action, *detail;
} LfStudyEvent;

/* LfStudyEvent, oldest first. */
LF_API GPtrArray *lf_study_log(LfStudy *study, GError **error);

G_END_DECLS

#endif
