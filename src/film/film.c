/* Making a film: decoding, painting and encoding side by side.
 *
 * The source's thread decodes ahead, this thread paints, the encoder has threads of its own. */
#include <lookfall/film.h>

#include <math.h>

#include "film/film_check.h"
#include "film/film_faces.h"
#include "film/film_paint.h"
#include "film/film_source.h"

/* Seconds between key frames at most: how exactly a player can jump (common practice). */
static const double FILM_KEY_S = 2;
/* x264's QP and preset: small letters stay clean, the file is about as large as the scene video,
 * and two cores encode 1080p faster than twice real time (docs/measured.md). */
enum { FILM_QUALITY = 28 };
static const char FILM_PRESET[] = "superfast";
enum { FILM_ENCODER_MORE = 2 };
/* Frames of a film of photos alone. */
enum { FILM_STILL_RATE = 30 };

typedef struct {
    const LfFilmOptions *options;
    LfFilmReport *report;
    FilmData *data;
    FilmLayout *layout;
    FilmFaces *faces; /* NULL: nothing is blurred */
    FilmPaint *paint;
    LfVideoWriter *writer;
    int64_t from_us, to_us; /* to_us INT64_MAX: to the end */
    int64_t zero_us;        /* walk time of the film's time 0 */
    int64_t first_us, last_us;
    double frame_rate;
} Film;

static bool film_cancelled(const Film *f)
{
    return f->options->cancel != NULL && g_atomic_int_get(f->options->cancel);
}

static int64_t film_end_us(const Film *f)
{
    return MIN(f->to_us, f->data->walk->end_us);
}

static void film_tell(const Film *f)
{
    const double length_s = (double)(film_end_us(f) - f->from_us) / 1e6;
    const LfFilmProgress progress = {.step = LF_FILM_FRAMES,
                                     .frames = f->report->frames,
                                     .frames_total = (int64_t)ceil(length_s * f->frame_rate),
                                     .video_us = f->last_us - f->first_us};
    if (f->options->progress != NULL)
        f->options->progress(&progress, f->options->data);
}

/* Writer and painter need the colours of the first frame. */
static bool film_begin(Film *f, const LfVideoColours *colours, GError **error)
{
    const LfVideoWriterOptions options = {
        .width = f->layout->width,
        .height = f->layout->height,
        .frame_rate = CLAMP(f->frame_rate, 0.01, 1000),
        .key_interval = (int)CLAMP(FILM_KEY_S * f->frame_rate, 1, 1000),
        .quality = FILM_QUALITY,
        .preset = FILM_PRESET,
        .fast = true,
        /* Frames that the encoder has at work at once. More than processors: while one waits for
         * its turn, another one is there to go on with. */
        .threads = f->options->threads + FILM_ENCODER_MORE,
        .colours = *colours,
    };

    f->paint = film_paint_new(f->data, f->layout, f->options->photo_only, colours, f->from_us,
                              film_end_us(f), error);
    if (f->paint == NULL)
        return false;
    f->writer = lf_video_writer_new(f->options->path, &options, error);
    return f->writer != NULL;
}

static bool film_add(Film *f, LfYuv *picture, int64_t t_us, GError **error)
{
    const int64_t frame_us = (int64_t)(1e6 / f->frame_rate);

    if (f->writer == NULL && !film_begin(f, &picture->colours, error))
        return false;
    if (f->report->frames == 0)
        f->first_us = t_us;
    if (f->faces != NULL && film_faces_blur(f->faces, picture, t_us))
        f->report->faced_frames++;
    film_paint_frame(f->paint, picture, t_us, frame_us);
    if (!lf_video_writer_add_yuv(f->writer, t_us - f->zero_us, picture, error))
        return false;
    f->report->frames++;
    f->last_us = t_us;
    film_tell(f);
    return true;
}

/* A video that breaks off gives a film up to there. */
static bool film_broke_off(Film *f, GError *why, GError **error)
{
    if (f->report->frames > 0 && g_error_matches(why, LF_ERROR, LF_ERROR_INPUT)) {
        f->report->broken = g_strdup(why->message);
        g_error_free(why);
        return true;
    }
    g_propagate_error(error, why);
    return false;
}

static bool film_run_scene(Film *f, GError **error)
{
    GError *why = NULL;
    g_autoptr(FilmSource) source = film_source_new(f->data->walk->video, f->from_us, f->to_us,
                                                   f->layout->width, f->layout->height, error);
    FilmFrame *frame;

    if (source == NULL)
        return false;
    while (!film_cancelled(f) && (frame = film_source_take(source, &why)) != NULL) {
        /* The source decodes into the same memory when it is given back, so it is blurred, painted
         * and encoded before. */
        const bool ok = film_add(f, frame->film, frame->t_us, error);
        film_source_give_back(source, frame);
        if (!ok)
            return false;
    }
    if (film_cancelled(f))
        return true;
    f->report->damaged = film_source_damaged(source);
    return why == NULL || film_broke_off(f, why, error);
}

static bool film_run_photo(Film *f, GError **error)
{
    g_autoptr(LfYuv) picture = lf_yuv_new(f->layout->width, f->layout->height);

    if (picture == NULL) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "There is no memory for a film of this size.");
        return false;
    }
    f->zero_us = f->from_us;
    for (int64_t n = 0; !film_cancelled(f); n++) {
        const int64_t t_us = f->from_us + n * 1000000 / FILM_STILL_RATE;
        if (t_us >= film_end_us(f))
            break;
        if (!film_add(f, picture, t_us, error))
            return false;
    }
    return true;
}

/* Whether every sample of the span has a result. */
static bool film_is_wholly_cast(const Film *f)
{
    for (gsize i = film_data_first_sample(f->data, f->from_us);
         i < f->data->n_samples && f->data->samples[i].t_us < film_end_us(f); i++)
        if (!f->data->samples[i].cast)
            return false;
    return true;
}

static bool film_prepare(Film *f, LfStudy *study, GError **error)
{
    const LfFilmOptions *o = f->options;

    if (!film_check_path(study, o, error))
        return false;
    f->data = film_data_load(study, o->walk, error);
    if (f->data == NULL || !film_check_span(f->data, o, &f->from_us, &f->to_us, error))
        return false;
    if (!o->photo_only && !film_check_video(study, f->data, error))
        return false;
    const double rate = (double)f->data->walk->frames * 1e6 / (double)MAX(f->data->walk->end_us, 1);
    f->frame_rate = o->photo_only ? FILM_STILL_RATE : CLAMP(rate, 1, 240);
    f->zero_us = f->from_us;
    f->layout = film_layout_new(f->data, o->photo_only);
    f->report->width_px = f->layout->width;
    f->report->height_px = f->layout->height;
    f->report->fixated = f->data->fixated;
    f->report->wholly_cast = film_is_wholly_cast(f);
    if (!o->blur_faces || o->photo_only)
        return true;
    f->faces = film_faces_find(f->data, f->from_us, f->to_us, o, error);
    return f->faces != NULL;
}

static bool film_run(Film *f, GError **error)
{
    const bool ran = f->options->photo_only ? film_run_photo(f, error) : film_run_scene(f, error);

    if (!ran)
        return false;
    if (film_cancelled(f)) {
        f->report->interrupted = true;
        return true;
    }
    if (f->report->frames == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "The video of the walk %s has no frame between %.3f s and %.3f s.",
                    f->data->walk->name, (double)f->from_us / 1e6, (double)film_end_us(f) / 1e6);
        return false;
    }
    f->report->video_us = f->last_us - f->first_us + (int64_t)(1e6 / f->frame_rate);
    return lf_video_writer_finish(f->writer, error);
}

bool lf_film_make(LfStudy *study, const LfFilmOptions *options, LfFilmReport *report,
                  GError **error)
{
    Film film = {.options = options, .report = report};

    *report = (LfFilmReport){0};
    const bool ok = film_prepare(&film, study, error) && film_run(&film, error);
    lf_video_writer_free(film.writer); /* takes away what is not finished */
    film_paint_free(film.paint);
    film_faces_free(film.faces);
    film_layout_free(film.layout);
    film_data_free(film.data);
    return ok;
}

void lf_film_report_clear(LfFilmReport *report)
{
    g_clear_pointer(&report->broken, g_free);
}
