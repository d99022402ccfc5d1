/* Where things are in a film: the scene above, a band below it, the photos in the scene's corner.
 */
#ifndef LF_FILM_LAYOUT_H
#define LF_FILM_LAYOUT_H

#include "draw/overlay.h"
#include "film/film_data.h"

typedef struct {
    int width, height; /* of the film, px; even */
    double unit;       /* px; lengths below are multiples of it: 1 for a film 1920 px wide */
    LfBox scene;       /* of the scene video, or of the ground that photos lie on */
    LfBox band;
    LfBox *photos; /* one for each photo; whole, even px */
} FilmLayout;

/* photo_only: photos fill the scene. */
FilmLayout *film_layout_new(const FilmData *data, bool photo_only);
void film_layout_free(FilmLayout *layout);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(FilmLayout, film_layout_free)

/* From px of a photo to px of the film. */
LfPoint film_layout_from_photo(const FilmLayout *layout, const FilmData *data, int photo,
                               LfPoint at);

#endif
