/* The pose of a photo at a time. */
#include <lookfall/survey.h>

#include "study/study_db.h"

/* A pose holds for its own frame and, where the next one has none, a little longer. */
#define SURVEY_HOLDS_US 200000

bool lf_study_pose_at(LfStudy *study, int64_t walk_id, int64_t photo_id, int64_t t_us,
                      LfMat3 *photo_from_frame, bool *found, GError **error)
{
    g_autoptr(sqlite3_stmt) row =
        study_db_prepare(study, error,
                         "SELECT m1, m2, m3, m4, m5, m6, m7, m8, m9 FROM pose"
                         " WHERE walk = ? AND photo = ? AND t_us <= ? AND t_us >= ?"
                         " ORDER BY t_us DESC LIMIT 1");
    *found = false;
    if (!row)
        return false;
    study_db_bind(row, "iiii", walk_id, photo_id, t_us, t_us - SURVEY_HOLDS_US);
    if (!study_db_step(study, row, found, error))
        return false;
    for (int i = 0; *found && i < 9; i++)
        photo_from_frame->m[i] = sqlite3_column_double(row, i);
    return true;
}
