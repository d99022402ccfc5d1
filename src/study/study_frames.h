/* When a video's frames are shown, packed. No SQL. */
#ifndef LF_STUDY_FRAMES_H
#define LF_STUDY_FRAMES_H

#include "study/study_walk.h"

/* Owned by the caller. */
GBytes *study_frames_pack(const LfVideoIndex *index);
/* NULL where the bytes are no such list. info, end_us and cut_off are left zero. */
LfVideoIndex *study_frames_unpack(GBytes *packed);
/* Keeps what walk_read_video packed; inside the caller's transaction. */
bool study_frames_write(LfStudy *study, const StudyWalk *walk, GError **error);

#endif
