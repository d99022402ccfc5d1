/* Noting a change of areas or marks, so that it can be taken back; inside its transaction. */
#ifndef LF_STUDY_EDIT_H
#define LF_STUDY_EDIT_H

#include <lookfall/edit.h>

#include "study/study_db.h"

/* The name of the photo or walk that an area or mark lies on, owned by the caller; NULL where there
 * is no such thing. */
bool study_edit_place_of(LfStudy *study, LfEditKind kind, int64_t id, char **place, GError **error);

/* Before the change: notes what there is on the photo or walk. Nothing where edit is NULL: *step is
 * then 0. */
bool study_edit_begin(LfStudy *study, LfEditKind kind, const char *place, const LfEdit *edit,
                      int64_t *step, GError **error);
/* After it: keeps what has changed. A change that changed nothing leaves no step. */
bool study_edit_end(LfStudy *study, LfEditKind kind, int64_t step, GError **error);

#endif
