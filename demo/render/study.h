/* The files of a rendered study that belong to all its walks. */
#ifndef LOOKFALL_DEMO_STUDY_H
#define LOOKFALL_DEMO_STUDY_H

#include "walk.h"

/* One PNG per photo, named after it. */
bool lr_study_write_photos(const LrScene *scene, const char *out_dir, int jobs, GError **error);
/* PHOTO_areas.csv of each photo with packs on it: an area for each, in a group for its product in
 * one for its board; columns name, group, shape, points. */
bool lr_study_write_areas(const LrScene *scene, const char *out_dir, GError **error);
/* camera.yml: OpenCV calibration. */
bool lr_study_write_camera(const LrWalkJob *job, GError **error);
/* walks.csv: the table that `lookfall walk import` takes; photos.csv: name,image of each photo. */
bool lr_study_write_manifest(const LrScene *scene, const char *out_dir, int walks, GError **error);

#endif
