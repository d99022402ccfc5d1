/* One person's way over the photo: fixations as discs in their order, joined by tapering bands. */
#ifndef LF_DRAW_PATH_H
#define LF_DRAW_PATH_H

#include "draw/colour.h"
#include "draw/sheet.h"

typedef struct {
    const ColourMap *map;
    double opacity;
    double scale;        /* picture px per photo px */
    double radius_px;    /* of a fixation of one second, photo px */
    double from_s, to_s; /* first and last colour */
    bool numbers;
    double em; /* size of numbers */
} PathLook;

/* Of a fixation so long, in px of the picture: areas are as durations. */
double path_radius(const PathLook *look, double seconds);

/* Over a photo that stands in the box. Bands that pass over looks elsewhere or unsettled are drawn
 * as dashes. The number of labels that found no room goes to *unlabelled (may be NULL). */
void path_draw(const MaterialWalk *walk, const PathLook *look, cairo_t *cr, SheetBox box,
               gsize *unlabelled);

#endif
