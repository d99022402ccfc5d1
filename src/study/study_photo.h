/* Photos inside this folder. */
#ifndef LF_STUDY_PHOTO_H
#define LF_STUDY_PHOTO_H

#include "study/study_file.h"

/* Every photo of the study, ready to be found, and their ids, in the order of ids; owned by the
 * caller. Pictures that changed are taken in, which notes (char *) then tells of. */
bool study_photos_open(LfStudy *study, GPtrArray **photos, GArray **ids, GPtrArray *notes,
                       GError **error);

#endif
