/* What has to hold before a film is begun. */
#ifndef LF_FILM_CHECK_H
#define LF_FILM_CHECK_H

#include "film/film_data.h"

/* The span in the walk's time; LF_ERROR_INPUT where it lies outside of it. */
bool film_check_span(const FilmData *data, const LfFilmOptions *options, int64_t *from_us,
                     int64_t *to_us, GError **error);
/* That the film's place is free and no input; before anything is read. */
bool film_check_path(LfStudy *study, const LfFilmOptions *options, GError **error);
/* That the scene video is there, as it was when it was cast. */
bool film_check_video(LfStudy *study, const FilmData *data, GError **error);

#endif
