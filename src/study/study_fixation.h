/* Fixations inside this folder: what they depend on, and one walk's being found. */
#ifndef LF_STUDY_FIXATION_H
#define LF_STUDY_FIXATION_H

#include <lookfall/fixation.h>

#include "study/study_recipe.h"

/* --- what they depend on (study_fixation.c) --- */

/* *source: a text that changes whenever the walk's effective samples or poses may have changed;
 * owned by the caller. cast and chunks: how many of its chunks are current, and how many there are.
 * head is study_recipe_head. */
bool study_fixation_source(LfStudy *study, const char *head, const StudyWalk *walk, char **source,
                           gsize *cast, gsize *chunks, GError **error);

/* --- one walk (study_fixation_walk.c) --- */

typedef struct {
    int64_t walk;
    char *name;
    char *source; /* as planned; another one when it is written means that somebody changed it */
    bool partly;  /* not wholly cast */

    LfFixation *fixations; /* photo_id counts into photos, from 1 */
    gsize n;
    char *used;        /* thresholds */
    GPtrArray *photos; /* char *: names */
    GError *error;     /* why there are none */
} StudyFixationTask;

void study_fixation_task_free(StudyFixationTask *task);
/* Reads the walk and finds its fixations; on failure task->error is set. Nothing is written. */
void study_fixation_task_run(LfStudy *study, StudyFixationTask *task,
                             const LfFixationSettings *settings);

#endif
