/* What has to hold before a film is begun. */
#include "film/film_check.h"

#include <math.h>
#include <string.h>

bool film_check_span(const FilmData *d, const LfFilmOptions *options, int64_t *from_us,
                     int64_t *to_us, GError **error)
{
    const double end_s = (double)d->walk->end_us / 1e6;
    const double from_s = isnan(options->from_s) ? 0 : options->from_s;
    const double to_s = isnan(options->to_s) ? end_s : options->to_s;

    if (!(from_s >= 0 && from_s < end_s)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "A film of %s cannot begin at %g s: its video lasts from 0 to %.3f s.",
                    d->walk->name, from_s, end_s);
        return false;
    }
    if (!(to_s > from_s)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "A film from %g s cannot end at %g s; give a later end.", from_s, to_s);
        return false;
    }
    *from_us = (int64_t)llround(from_s * 1e6);
    *to_us = isnan(options->to_s) ? INT64_MAX : (int64_t)llround(to_s * 1e6);
    return true;
}

bool film_check_path(LfStudy *study, const LfFilmOptions *options, GError **error)
{
    const char *path = options->path;
    g_autofree char *folder = g_path_get_dirname(path);

    if (!g_file_test(folder, G_FILE_TEST_IS_DIR)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: there is no folder %s; make it first.",
                    path, folder);
        return false;
    }
    if (!g_file_test(path, G_FILE_TEST_EXISTS))
        return true;
    if (!g_file_test(path, G_FILE_TEST_IS_REGULAR)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: is no file; a film needs a place of its own.", path);
        return false;
    }
    if (!lf_study_spares(study, path, error))
        return false;
    if (!options->force) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s exists already and is left as it is; --force replaces it.", path);
        return false;
    }
    return true;
}

bool film_check_video(LfStudy *study, const FilmData *d, GError **error)
{
    g_autoptr(GPtrArray) news = lf_study_file_news(study, error);
    g_autofree char *owner = g_strconcat("walk ", d->walk->name, NULL);

    for (guint i = 0; news != NULL && i < news->len; i++) {
        const LfStudyFileNews *file = news->pdata[i];
        if (strcmp(file->owner, owner) != 0 || g_strcmp0(file->path, d->walk->video) != 0)
            continue;
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    file->missing
                        ? "%s: the video of the walk %s is not there; put it back (gaze on the "
                          "photo alone needs no video)."
                        : "%s: the video of the walk %s has changed since it was cast; run "
                          "\"lookfall cast\" first.",
                    file->path, d->walk->name);
        return false;
    }
    return news != NULL;
}
