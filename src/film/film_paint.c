/* Paints films.
 *
 * A frame is painted in two layers, for the photo in its corner lies over the scene's gaze and
 * under its own. Where the gaze goes under the photo, the photo becomes see-through. */
#include "film/film_paint.h"

#include <math.h>
#include <string.h>

#include "draw/ycbcr.h"
#include "film/film_band.h"
#include "film/film_look.h"
#include "shim.h"

/* How much of a photo is seen while the gaze lies under it, and how long it takes to get there. */
static const double FILM_PAINT_SHEER = 0.3;
enum { FILM_PAINT_FADE_US = 250000 };

struct FilmPaint {
    const FilmData *data;
    const FilmLayout *layout;
    bool photo_only;
    int64_t from_us, to_us;
    LfOverlay *overlay;
    LfYuv **photos; /* in their size in the film */
    LfYuv *band;
    int shown;       /* the photo that is shown */
    double sheer;    /* 0: the photo is whole, 1: see-through */
    int64_t last_us; /* time of the last frame, or LF_NO_TIME */
};

static bool film_paint_read_photo(FilmPaint *p, int i, const LfVideoColours *colours,
                                  GError **error)
{
    const FilmPhoto *photo = &p->data->photos[i];
    const LfBox *box = &p->layout->photos[i];
    const int width = (int)box->w, height = (int)box->h;
    char why[LF_SHIM_MESSAGE] = "";
    uint8_t *rgb = NULL;

    p->photos[i] = lf_yuv_new(width, height);
    if (p->photos[i] == NULL) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "There is no memory for a film of this size.");
        return false;
    }
    p->photos[i]->colours = *colours;
    if (lf_shim_read_rgb_sized(photo->path, width, height, &rgb, why) != LF_SHIM_OK) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: the picture of the photo %s cannot be read (%s); put it back.",
                    photo->path, photo->name, why);
        return false;
    }
    lf_ycbcr_from_rgb(rgb, width, height, p->photos[i]);
    lf_shim_free(rgb);
    return true;
}

/* The photo of the first look at any, so that the film does not begin without one. */
static int film_paint_first_photo(const FilmData *d, int64_t from_us, int64_t to_us)
{
    for (gsize i = film_data_first_sample(d, from_us);
         i < d->n_samples && d->samples[i].t_us < to_us; i++)
        if (d->samples[i].photo >= 0)
            return d->samples[i].photo;
    return 0;
}

FilmPaint *film_paint_new(const FilmData *data, const FilmLayout *layout, bool photo_only,
                          const LfVideoColours *colours, int64_t from_us, int64_t to_us,
                          GError **error)
{
    g_autoptr(FilmPaint) p = g_new0(FilmPaint, 1);

    *p = (FilmPaint){.data = data,
                     .layout = layout,
                     .photo_only = photo_only,
                     .from_us = from_us,
                     .to_us = to_us,
                     .photos = g_new0(LfYuv *, MAX(1, data->n_photos)),
                     .shown = film_paint_first_photo(data, from_us, to_us),
                     .last_us = LF_NO_TIME};
    p->overlay = lf_overlay_new(layout->width, layout->height);
    LfYuv *sheet = lf_yuv_new(layout->width, layout->height);
    p->band = sheet;
    if (p->overlay == NULL || sheet == NULL) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "There is no memory for a film of this size.");
        return NULL;
    }
    sheet->colours = *colours;
    for (int i = 0; i < data->n_photos; i++)
        if (!film_paint_read_photo(p, i, colours, error))
            return NULL;
    if (photo_only) /* the ground the photos lie on */
        lf_overlay_box(p->overlay, layout->scene, 0, (LfInk){0.043, 0.047, 0.063, 1});
    film_band_draw_ground(p->overlay, data, layout, from_us, to_us);
    lf_overlay_onto(p->overlay, sheet);
    return g_steal_pointer(&p);
}

void film_paint_free(FilmPaint *p)
{
    if (p == NULL)
        return;
    for (int i = 0; i < p->data->n_photos; i++)
        lf_yuv_free(p->photos[i]);
    g_free(p->photos);
    lf_yuv_free(p->band);
    lf_overlay_free(p->overlay);
    g_free(p);
}

/* Copies, or mixes weight/256 of, `from` over `to`, which is as large. */
static void film_paint_copy(const LfYuv *from, LfYuv *to, int weight)
{
    for (int i = 0; i < 3; i++) {
        const int w = i > 0 ? (from->width + 1) / 2 : from->width;
        const int h = i > 0 ? (from->height + 1) / 2 : from->height;
        for (int y = 0; y < h; y++) {
            const uint8_t *s = from->plane[i] + y * from->stride[i];
            uint8_t *d = to->plane[i] + y * to->stride[i];
            if (weight == 256)
                memcpy(d, s, (size_t)w);
            for (int x = 0; x < w && weight < 256; x++)
                d[x] = (uint8_t)((s[x] * weight + d[x] * (256 - weight) + 128) >> 8);
        }
    }
}

static LfYuv film_paint_part(const LfYuv *film, const LfBox *box)
{
    return lf_yuv_part(film, (int)box->x, (int)box->y, (int)box->w, (int)box->h);
}

/* Moves the photo towards see-through or back. */
static void film_paint_fade(FilmPaint *p, const FilmMoment *m)
{
    const LfBox *box = &p->layout->photos[p->shown];
    const double near = 40 * p->layout->unit;
    const bool under = m->sample != NULL && m->sample->gaze_px.x > box->x - near &&
                       m->sample->gaze_px.x < box->x + box->w + near &&
                       m->sample->gaze_px.y > box->y - near &&
                       m->sample->gaze_px.y < box->y + box->h + near;
    const double step =
        p->last_us == LF_NO_TIME ? 1 : (double)(m->t_us - p->last_us) / FILM_PAINT_FADE_US;

    p->sheer = under ? fmin(1, p->sheer + step) : fmax(0, p->sheer - step);
    p->last_us = m->t_us;
}

static void film_paint_name(FilmPaint *p, const LfBox *box)
{
    const double u = p->layout->unit, high = 32 * u;
    const char *name = p->data->photos[p->shown].name;
    const double w = fmin(lf_overlay_text_width(p->overlay, 20 * u, false, name), box->w - 20 * u);

    lf_overlay_box(p->overlay, (LfBox){box->x, box->y + box->h - high, w + 20 * u, high}, 0,
                   film_look_fade(film_look_ground, 0.82));
    lf_overlay_text(p->overlay, box->x + 10 * u, box->y + box->h - high / 2, 20 * u, false,
                    LF_OVERLAY_LEFT, w + 2, film_look_ink, name);
}

static void film_paint_photo(FilmPaint *p, const FilmMoment *m, LfYuv *film)
{
    const LfBox *box = &p->layout->photos[p->shown];
    const double edge = fmax(1, round(2 * p->layout->unit));
    LfYuv part = film_paint_part(film, box);

    if (!p->photo_only)
        film_paint_fade(p, m);
    const double seen = 1 - p->sheer * (1 - FILM_PAINT_SHEER);
    film_paint_copy(p->photos[p->shown], &part, (int)lround(256 * seen));
    if (!p->photo_only) {
        const LfBox around = {box->x - edge, box->y - edge, box->w + 2 * edge, box->h + 2 * edge};
        lf_overlay_frame(p->overlay, around, edge, film_look_ink);
    }
    film_scene_draw_photo(p->overlay, m, p->shown);
    if (p->data->n_photos > 1)
        film_paint_name(p, box);
    lf_overlay_clip(p->overlay, NULL);
}

void film_paint_frame(FilmPaint *p, LfYuv *film, int64_t t_us, int64_t frame_us)
{
    const FilmMoment moment = {.data = p->data,
                               .layout = p->layout,
                               .t_us = t_us,
                               .frame_us = frame_us,
                               .sample = film_data_sample(p->data, t_us, frame_us)};
    const LfBox all = {0, 0, p->layout->width, p->layout->height};
    const LfBox *ground = p->photo_only ? &all : &p->layout->band;
    const LfYuv from = film_paint_part(p->band, ground);
    LfYuv to = film_paint_part(film, ground);

    film_paint_copy(&from, &to, 256);
    if (!p->photo_only) {
        film_scene_draw(p->overlay, &moment);
        lf_overlay_onto(p->overlay, film);
    }
    if (moment.sample != NULL && moment.sample->photo >= 0)
        p->shown = moment.sample->photo;
    if (p->data->n_photos > 0)
        film_paint_photo(p, &moment, film);
    film_scene_draw_marks(p->overlay, &moment);
    film_band_draw(p->overlay, &moment, p->from_us, p->to_us);
    lf_overlay_onto(p->overlay, film);
}
