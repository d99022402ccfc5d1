/* What lies over the scene and over the photos: gaze, its trail, fixations, edges. */
#ifndef LF_FILM_SCENE_H
#define LF_FILM_SCENE_H

#include "film/film_layout.h"

/* A moment of a film. */
typedef struct {
    const FilmData *data;
    const FilmLayout *layout;
    int64_t t_us;
    int64_t frame_us;         /* how long the frame is shown */
    const FilmSample *sample; /* of this moment; may be NULL */
} FilmMoment;

/* Over the frame of the scene video. */
void film_scene_draw(LfOverlay *overlay, const FilmMoment *moment);
/* Over a photo in its place. */
void film_scene_draw_photo(LfOverlay *overlay, const FilmMoment *moment, int photo);
/* Names of the marks that hold, over the scene's upper left corner. */
void film_scene_draw_marks(LfOverlay *overlay, const FilmMoment *moment);

#endif
