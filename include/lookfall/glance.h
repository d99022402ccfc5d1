/* A study at a glance: single poses, and how the time of a walk divides. What pictures need to know
 * beside looks and areas. Ids as in LfStudyWalk and LfStudyPhoto. */
#ifndef LOOKFALL_GLANCE_H
#define LOOKFALL_GLANCE_H

#include <lookfall/study.h>

G_BEGIN_DECLS

/* The pose of a photo in the last frame at or before t_us in which it was found, if that is no more
 * than 0.2 s earlier; *found tells whether there is one. */
LF_API bool lf_study_pose_at(LfStudy *study, int64_t walk_id, int64_t photo_id, int64_t t_us,
                             LfMat3 *photo_from_frame, bool *found, GError **error);

typedef struct {
    int64_t states[LF_STATE_PLACED + 1]; /* samples by state, placements counted as what they say */
    int64_t uncast; /* samples without a result of today's inputs and settings */
} LfStudyTime;

/* Samples with from_us <= t < to_us. As fast for a long walk as for a short one where whole chunks
 * are asked for: INT64_MIN to INT64_MAX is all of it. */
LF_API bool lf_study_time(LfStudy *study, int64_t walk_id, int64_t from_us, int64_t to_us,
                          LfStudyTime *time, GError **error);

G_END_DECLS

#endif
