/* Faces of a scene video, frame by frame: looked for every 0.4 s, followed to the frames
 * before and after each find, and blurred with room around them. */
#ifndef LF_FILM_FACES_H
#define LF_FILM_FACES_H

#include "film/film_data.h"

typedef struct FilmFaces FilmFaces;

/* Reads the walk's video from from_us to to_us once. Cancelled: what was found by then. */
FilmFaces *film_faces_find(const FilmData *data, int64_t from_us, int64_t to_us,
                           const LfFilmOptions *options, GError **error);
void film_faces_free(FilmFaces *faces);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(FilmFaces, film_faces_free)

/* Blurs the faces of the frame of t_us, which lies in the upper left corner of the picture; false
 * where there is none. */
bool film_faces_blur(const FilmFaces *faces, LfYuv *picture, int64_t t_us);

#endif
