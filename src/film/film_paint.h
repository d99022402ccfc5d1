/* Paints films: everything that lies over a frame. One thread at a time. */
#ifndef LF_FILM_PAINT_H
#define LF_FILM_PAINT_H

#include "film/film_layout.h"

typedef struct FilmPaint FilmPaint;

/* Reads the photos; they and the colours' meaning must not change while it lives. data and layout
 * are borrowed. LF_ERROR_INPUT where a photo is gone. */
FilmPaint *film_paint_new(const FilmData *data, const FilmLayout *layout, bool photo_only,
                          const LfVideoColours *colours, int64_t from_us, int64_t to_us,
                          GError **error);
void film_paint_free(FilmPaint *paint);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(FilmPaint, film_paint_free)

/* Paints over a frame of the film in which the scene video's frame lies already (photo_only:
 * anything). Frames come in the order of time. */
void film_paint_frame(FilmPaint *paint, LfYuv *film, int64_t t_us, int64_t frame_us);

#endif
