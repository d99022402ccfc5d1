/* The photo under a picture: read, resampled to where it will stand, and toned. */
#ifndef LF_DRAW_BACKDROP_H
#define LF_DRAW_BACKDROP_H

#include "draw/canvas.h"
#include "draw/material.h"

typedef struct {
    bool plain; /* of one colour, and nothing else is set */
    CanvasColour colour;
    cairo_surface_t *surface; /* width x height px */
    int width, height;
    guint8 *pixels; /* of the surface, which borrows them */
} Backdrop;

/* width, height: how large it will stand; a smaller photo is kept as it is. background: as
 * LfDrawSettings; a plain colour needs no file. LF_ERROR_INPUT where the photo cannot be read or
 * has another size than when it was added. */
Backdrop *backdrop_new(const Material *material, int width, int height, const char *background,
                       GError **error);
void backdrop_free(Backdrop *backdrop);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Backdrop, backdrop_free)

/* Its mean colour. */
CanvasColour backdrop_mean(const Backdrop *backdrop);
/* "photo", "grey", "pale", "dark" or "#rrggbb". */
bool backdrop_known(const char *background);

/* At (x, y), width x height of the canvas; a thin line around it. */
void backdrop_paint(const Backdrop *backdrop, cairo_t *cr, double x, double y, double width,
                    double height);

#endif
