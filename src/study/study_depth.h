/* The depth of the photos inside this folder. */
#ifndef LF_STUDY_DEPTH_H
#define LF_STUDY_DEPTH_H

#include "study/study_db.h"

/* Gives the photos what the study keeps of their depth. *whole: all of them have something. */
bool study_depth_load(LfStudy *study, const GPtrArray *photos, const GArray *ids, bool *whole,
                      GError **error);
/* Surveys the walks (StudyWalk) for the photos' depth and keeps what it finds, unless cancelled. */
bool study_depth_survey(LfStudy *study, const GPtrArray *photos, const GArray *ids,
                        const GPtrArray *walks, int jobs, const int *cancel, GError **error);

#endif
