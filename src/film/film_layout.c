/* Where things are in a film. */
#include "film/film_layout.h"

#include <math.h>

/* Units. */
#define FILM_BAND 116
#define FILM_MARGIN 20

/* A film of photos alone fits into this, px: common practice for screens. */
enum { FILM_PHOTO_WIDTH = 1920, FILM_PHOTO_HEIGHT = 1080 };
/* Share of the scene that a photo takes at most. */
static const double FILM_PHOTO_SHARE_X = 0.32, FILM_PHOTO_SHARE_Y = 0.48;
/* In films less wide than this share of 1920 px letters do not get smaller any more. */
static const double FILM_UNIT_LEAST = 0.45;

static int film_layout_even(double px)
{
    return MAX(2, 2 * (int)ceil(px / 2 - 1e-9));
}

/* The photo's shape, as large as fits into w x h; even px. */
static LfBox film_layout_fit(const FilmPhoto *photo, double w, double h)
{
    const double scale = fmin(w / photo->width, h / photo->height);
    return (LfBox){0, 0, 2 * fmax(1, round(scale * photo->width / 2)),
                   2 * fmax(1, round(scale * photo->height / 2))};
}

static void film_layout_scene(FilmLayout *l, const FilmData *d)
{
    l->scene = (LfBox){0, 0, d->walk->width_px, d->walk->height_px};
    l->width = film_layout_even(d->walk->width_px);
    l->unit = fmax(l->width / 1920.0, FILM_UNIT_LEAST);
    const int top = film_layout_even(FILM_MARGIN * l->unit);
    for (int i = 0; i < d->n_photos; i++) {
        LfBox box = film_layout_fit(&d->photos[i], FILM_PHOTO_SHARE_X * l->scene.w,
                                    FILM_PHOTO_SHARE_Y * l->scene.h);
        box.x = l->width - top - box.w;
        box.y = top;
        l->photos[i] = box;
    }
}

static void film_layout_photos(FilmLayout *l, const FilmData *d)
{
    double w = 2, h = 2;
    for (int i = 0; i < d->n_photos; i++) {
        l->photos[i] = film_layout_fit(&d->photos[i], fmin(FILM_PHOTO_WIDTH, d->photos[i].width),
                                       fmin(FILM_PHOTO_HEIGHT, d->photos[i].height));
        w = fmax(w, l->photos[i].w);
        h = fmax(h, l->photos[i].h);
    }
    /* The band needs room for its words. */
    w = fmax(w, 900);
    l->width = film_layout_even(w);
    l->scene = (LfBox){0, 0, l->width, h};
    l->unit = fmax(l->width / 1920.0, FILM_UNIT_LEAST);
    for (int i = 0; i < d->n_photos; i++) {
        l->photos[i].x = 2 * floor((l->width - l->photos[i].w) / 4);
        l->photos[i].y = 2 * floor((h - l->photos[i].h) / 4);
    }
}

FilmLayout *film_layout_new(const FilmData *data, bool photo_only)
{
    FilmLayout *l = g_new0(FilmLayout, 1);

    l->photos = g_new0(LfBox, MAX(1, data->n_photos));
    if (photo_only)
        film_layout_photos(l, data);
    else
        film_layout_scene(l, data);
    const int scene = film_layout_even(l->scene.h), band = film_layout_even(FILM_BAND * l->unit);
    l->band = (LfBox){0, scene, l->width, band};
    l->height = scene + band;
    return l;
}

void film_layout_free(FilmLayout *l)
{
    if (l == NULL)
        return;
    g_free(l->photos);
    g_free(l);
}

LfPoint film_layout_from_photo(const FilmLayout *l, const FilmData *d, int photo, LfPoint at)
{
    const LfBox *box = &l->photos[photo];
    const FilmPhoto *p = &d->photos[photo];

    /* Both count from pixel centres. */
    return (LfPoint){box->x + (at.x + 0.5) * box->w / p->width - 0.5,
                     box->y + (at.y + 0.5) * box->h / p->height - 0.5};
}
