/* The band under the scene: clock, walk, state, confidence, and the whole film as a line. */
#ifndef LF_FILM_BAND_H
#define LF_FILM_BAND_H

#include "film/film_scene.h"

/* What stays the same from frame to frame; from_us and to_us are the film's span. */
void film_band_draw_ground(LfOverlay *overlay, const FilmData *data, const FilmLayout *layout,
                           int64_t from_us, int64_t to_us);
void film_band_draw(LfOverlay *overlay, const FilmMoment *moment, int64_t from_us, int64_t to_us);

#endif
