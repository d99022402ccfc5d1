/* Faces in one picture, by several detectors side by side. */
#ifndef LF_FILM_DETECT_H
#define LF_FILM_DETECT_H

#include "faces.h"
#include "film/film_data.h"

typedef struct FilmDetect FilmDetect;

/* Pictures of width x height px are frames made smaller by `shrink` (frame px per px). threads: how
 * many detectors work at once; finds do not depend on it. data is borrowed. LF_ERROR_MACHINE where
 * the detectors' files are not on this machine. */
FilmDetect *film_detect_new(const FilmData *data, double shrink, int threads, GError **error);
void film_detect_free(FilmDetect *detect);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(FilmDetect, film_detect_free)

/* Appends an LfShimFace for each face in the picture, the small frame of t_us, to finds. Pictures
 * come in their order: not every detector is asked about each of them, but all are about two in a
 * row. What is the photo itself, by the pose of the frame, is no face of a bystander and is left
 * out. */
bool film_detect_find(FilmDetect *detect, const LfShimImage *picture, int64_t t_us, GArray *finds,
                      GError **error);

/* Share of the smaller box that lies in the other, 0..1. */
double film_detect_overlap(const LfShimBox *a, const LfShimBox *b);

#endif
