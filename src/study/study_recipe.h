/* Recipes: everything a result depends on, as text. */
#ifndef LF_STUDY_RECIPE_H
#define LF_STUDY_RECIPE_H

#include "study/study_walk.h"

/* The part that is the same for all walks: engine, settings, photos. Owned by the caller. */
char *study_recipe_head(LfStudy *study, GError **error);

/* The id of the walk's recipe as things stand: *id is 0 where nothing was ever cast by it. Current
 * chunks are those that carry this id. */
bool study_recipe_find(LfStudy *study, const char *head, const StudyWalk *walk, int64_t *id,
                       GError **error);
/* The same, adding it where it is not there yet; inside the caller's transaction. */
bool study_recipe_put(LfStudy *study, const char *head, const StudyWalk *walk, int64_t *id,
                      GError **error);

#endif
