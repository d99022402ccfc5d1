/* One frame of a film. */
#include <lookfall/film.h>

#include <math.h>

#include <lookfall/jpeg.h>

#include "film/film_check.h"
#include "film/film_faces.h"
#include "film/film_paint.h"
#include "film/film_source.h"

/* A face found this long before or after is followed to the frame. */
enum { FILM_STILL_AROUND_US = 600000 };
enum { FILM_STILL_QUALITY = 82 }; /* of JPEG; common practice */

/* The middle of the longest fixation on a photo that is settled. */
static int64_t film_still_time(const FilmData *d, bool *fixation)
{
    int64_t longest_us = 0, t_us = d->walk->end_us / 2;

    for (gsize i = 0; i < d->n_fixations; i++) {
        const FilmFixation *f = &d->fixations[i];
        const FilmSample *s = film_data_sample(d, (f->from_us + f->to_us) / 2, 0);
        if (s == NULL || !s->cast || s->state < LF_STATE_SURE ||
            f->to_us - f->from_us <= longest_us)
            continue;
        longest_us = f->to_us - f->from_us;
        t_us = (f->from_us + f->to_us) / 2;
    }
    *fixation = longest_us > 0;
    return t_us;
}

static GBytes *film_still_paint(const FilmData *d, const FilmLayout *layout, const FilmFaces *faces,
                                int width_px, LfFilmStill *still, GError **error)
{
    g_autoptr(FilmSource) source = film_source_new(d->walk->video, still->t_us, INT64_MAX,
                                                   layout->width, layout->height, error);
    g_autoptr(GError) why = NULL;
    FilmFrame *frame = source != NULL ? film_source_take(source, &why) : NULL;

    if (frame == NULL) {
        if (why != NULL)
            g_propagate_error(error, g_steal_pointer(&why));
        else if (source != NULL)
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "The video of the walk %s has no frame after %.3f s.", d->walk->name,
                        (double)still->t_us / 1e6);
        return NULL;
    }
    g_autoptr(FilmPaint) paint =
        film_paint_new(d, layout, false, &frame->film->colours, 0, d->walk->end_us, error);
    if (paint == NULL)
        return NULL;
    still->t_us = frame->t_us;
    still->found = faces != NULL && film_faces_blur(faces, frame->film, frame->t_us);
    film_paint_frame(paint, frame->film, frame->t_us, 0);
    const int width = MIN(width_px, layout->width);
    const int height = MAX(1, (int)lround((double)layout->height * width / layout->width));
    return lf_jpeg_from_yuv(frame->film, width, height, FILM_STILL_QUALITY, error);
}

GBytes *lf_film_still(LfStudy *study, const char *walk, bool blur_faces, int width_px, int threads,
                      LfFilmStill *still, GError **error)
{
    const LfFilmOptions options = {.walk = walk, .threads = threads};
    g_autoptr(FilmData) data = film_data_load(study, walk, error);
    g_autoptr(FilmFaces) faces = NULL;

    if (data == NULL || !film_check_video(study, data, error))
        return NULL;
    *still = (LfFilmStill){0};
    still->t_us = film_still_time(data, &still->fixation);
    if (blur_faces) {
        faces = film_faces_find(data, MAX(0, still->t_us - FILM_STILL_AROUND_US),
                                still->t_us + FILM_STILL_AROUND_US, &options, error);
        if (faces == NULL)
            return NULL;
    }
    g_autoptr(FilmLayout) layout = film_layout_new(data, false);
    return film_still_paint(data, layout, faces, width_px, still, error);
}
