/* One frame of a film. */
#include <lookfall/film.h>

#include <math.h>
#include <string.h>

#include <lookfall/jpeg.h>

#include "film/film_check.h"
#include "film/film_faces.h"
#include "film/film_paint.h"
#include "film/film_source.h"

/* A face found this long before or after is followed to the frame. */
enum { FILM_STILL_AROUND_US = 600000 };
enum { FILM_STILL_QUALITY = 82 }; /* of JPEG; common practice */

typedef struct {
    int64_t longest_us, t_us;
} FilmStillBest;

/* The part of a fixation in a span, if it is longer than the best so far and settled. */
static void film_still_try(const FilmData *d, const FilmFixation *f, const LfDrawSpan *span,
                           FilmStillBest *best)
{
    const int64_t from_us = MAX(f->from_us, span->from_us), to_us = MIN(f->to_us, span->to_us);
    const FilmSample *s = film_data_sample(d, (from_us + to_us) / 2, 0);

    if (s == NULL || !s->cast || s->state < LF_STATE_SURE || to_us - from_us <= best->longest_us)
        return;
    *best = (FilmStillBest){to_us - from_us, (from_us + to_us) / 2};
}

/* The middle of the longest fixation that is settled. */
static int64_t film_still_time(const FilmData *d, const LfFilmStillOptions *options, bool *fixation)
{
    const LfDrawSpan whole = {0, d->walk->end_us};
    const LfDrawSpan *spans = options->n_spans > 0 ? options->spans : &whole;
    const gsize n_spans = MAX(options->n_spans, 1);
    FilmStillBest best = {0, (spans[0].from_us + spans[0].to_us) / 2};

    for (gsize i = 0; i < d->n_fixations; i++) {
        const FilmFixation *f = &d->fixations[i];
        if (options->photo != NULL && strcmp(d->photos[f->photo].name, options->photo) != 0)
            continue;
        for (gsize k = 0; k < n_spans; k++)
            film_still_try(d, f, &spans[k], &best);
    }
    *fixation = best.longest_us > 0;
    return best.t_us;
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

GBytes *lf_film_still(LfStudy *study, const LfFilmStillOptions *o, LfFilmStill *still,
                      GError **error)
{
    const LfFilmOptions options = {.walk = o->walk, .threads = o->threads};
    g_autoptr(FilmData) data = film_data_load(study, o->walk, error);
    g_autoptr(FilmFaces) faces = NULL;

    if (data == NULL || !film_check_video(study, data, error))
        return NULL;
    *still = (LfFilmStill){0};
    still->t_us = film_still_time(data, o, &still->fixation);
    if (o->blur_faces) {
        faces = film_faces_find(data, MAX(0, still->t_us - FILM_STILL_AROUND_US),
                                still->t_us + FILM_STILL_AROUND_US, &options, error);
        if (faces == NULL)
            return NULL;
    }
    g_autoptr(FilmLayout) layout = film_layout_new(data, false);
    return film_still_paint(data, layout, faces, o->width_px, still, error);
}
