/* Single poses out of a study: how a photo was seen at a time. */
#ifndef LOOKFALL_SURVEY_H
#define LOOKFALL_SURVEY_H

#include <lookfall/study.h>

G_BEGIN_DECLS

/* The pose of a photo in the last frame at or before t_us in which it was found, if that is no more
 * than 0.2 s earlier; *found tells whether there is one. Ids as in LfStudyWalk and LfStudyPhoto. */
LF_API bool lf_study_pose_at(LfStudy *study, int64_t walk_id, int64_t photo_id, int64_t t_us,
                             LfMat3 *photo_from_frame, bool *found, GError **error);

G_END_DECLS

#endif
