/* An invented shelf and people who look at it, for tests of pictures: drawn by rules, always the
 * same (fixed seeds). */
#ifndef LF_TEST_DRAW_SCENE_H
#define LF_TEST_DRAW_SCENE_H

#include "draw/material.h"

/* A photo of a shelf of plain packs with no lettering, as PPM. */
void scene_photo(const char *path, int width, int height);

/* People p01, p02, ... of the groups "control" and "new layout" in turn, each with so many
 * fixations, spread about a few packs; the second group looks more often at the right. A tenth of
 * the fixations is doubtful, a tenth elsewhere. */
Material *scene_material(const char *photo_path, int width, int height, int people, int fixations,
                         guint32 seed);

/* One area for each pack of the photo, in groups "top shelf/Morrow", ...; every fourth name is
 * long. */
GPtrArray *scene_areas(int width, int height);

#endif
