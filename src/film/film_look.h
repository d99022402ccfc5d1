/* The signs of films: what a state looks like, by colour and by shape, so that it is told apart
 * without colours too. */
#ifndef LF_FILM_LOOK_H
#define LF_FILM_LOOK_H

#include "draw/overlay.h"
#include "film/film_data.h"

extern const LfInk film_look_ground, film_look_track, film_look_ink, film_look_soft,
    film_look_shade;

/* What is known of a moment: a state, or that it is not cast yet. NULL: no gaze. */
LfInk film_look_state(const FilmSample *sample);
/* A word or two for people who see the film. */
const char *film_look_word(const FilmSample *sample);

/* The sign of the gaze: a ring with a point; broken where doubtful, crossed by a bar where blocked,
 * an open square on its point where it is on no photo. Nothing where there is no gaze. */
void film_look_gaze(LfOverlay *overlay, LfPoint at, double radius_px, double unit,
                    const FilmSample *sample);

LfInk film_look_fade(LfInk ink, double alpha);

#endif
