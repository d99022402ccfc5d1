/* Making a part of a picture unrecognisable. */
#include "film/film_blur.h"

#include <math.h>

/* Cells across the longer side: too few to tell a person (common practice). */
enum { FILM_BLUR_CELLS = 7, FILM_BLUR_LEAST_PX = 8 };

typedef struct {
    double x, y, rx, ry; /* centre and semi-axes, px of the plane */
} FilmEllipse;

static bool film_blur_inside(const FilmEllipse *e, int x, int y)
{
    const double dx = (x + 0.5 - e->x) / e->rx, dy = (y + 0.5 - e->y) / e->ry;
    return dx * dx + dy * dy <= 1;
}

/* One cell of the plane: its mean, from all of its pixels, goes to those inside the ellipse. */
static void film_blur_cell(uint8_t *plane, ptrdiff_t stride, const FilmEllipse *e, int x0, int y0,
                           int x1, int y1)
{
    int64_t sum = 0;
    const int64_t n = (int64_t)(x1 - x0) * (y1 - y0);

    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            sum += plane[y * stride + x];
    const uint8_t mean = (uint8_t)((sum + n / 2) / n);
    for (int y = y0; y < y1; y++)
        for (int x = x0; x < x1; x++)
            if (film_blur_inside(e, x, y))
                plane[y * stride + x] = mean;
}

static void film_blur_plane(uint8_t *plane, ptrdiff_t stride, int width, int height,
                            const FilmEllipse *e, int cell)
{
    const int x0 = (int)fmax(0, floor(e->x - e->rx)), x1 = (int)fmin(width, ceil(e->x + e->rx));
    const int y0 = (int)fmax(0, floor(e->y - e->ry)), y1 = (int)fmin(height, ceil(e->y + e->ry));

    for (int y = y0; y < y1; y += cell)
        for (int x = x0; x < x1; x += cell)
            film_blur_cell(plane, stride, e, x, y, MIN(x + cell, x1), MIN(y + cell, y1));
}

void film_blur_ellipse(LfYuv *p, double x, double y, double w, double h)
{
    const FilmEllipse luma = {x + w / 2, y + h / 2, w / 2, h / 2};
    const FilmEllipse chroma = {luma.x / 2, luma.y / 2, luma.rx / 2, luma.ry / 2};
    const int cell = 2 * (int)fmax(FILM_BLUR_LEAST_PX / 2, ceil(fmax(w, h) / FILM_BLUR_CELLS / 2));

    if (!(w > 0 && h > 0))
        return;
    film_blur_plane(p->plane[0], p->stride[0], p->width, p->height, &luma, cell);
    for (int i = 1; i < 3; i++)
        film_blur_plane(p->plane[i], p->stride[i], (p->width + 1) / 2, (p->height + 1) / 2, &chroma,
                        cell / 2);
}
