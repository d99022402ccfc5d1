/* The page of a picture: title, body, and beneath it the legend, which every picture has alike: a
 * key, what stands behind the picture, and a bar of all the time with what is unsettled hatched. */
#ifndef LF_DRAW_SHEET_H
#define LF_DRAW_SHEET_H

#include "draw/canvas.h"
#include "draw/material.h"

typedef struct {
    double x, y, w, h; /* px of the picture */
} SheetBox;

/* Draws a key into a box; data is the caller's. */
typedef void (*SheetKey)(Canvas *canvas, SheetBox box, gconstpointer data);

typedef struct {
    char *headline;
    GPtrArray *lines;   /* char * */
    SheetKey key;       /* may be NULL */
    gconstpointer data; /* for the key */
    double key_em;      /* its height, in sizes of ordinary letters */
} SheetLegend;

SheetLegend *sheet_legend_new(void);
void sheet_legend_free(SheetLegend *legend);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(SheetLegend, sheet_legend_free)
void sheet_line(SheetLegend *legend, const char *format, ...) G_GNUC_PRINTF(2, 3);

/* Width there is for the body of a picture so wide. */
double sheet_body_width(const LfDrawSettings *settings);
/* The size at which the photo stands in the body. */
void sheet_photo_size(const LfDrawSettings *settings, const Material *material, double *width,
                      double *height);

/* A canvas with everything but the body, whose place goes to *body. */
Canvas *sheet_new(const LfDrawSettings *settings, LfDrawFormat format, const Material *material,
                  SheetLegend *legend, double body_height, SheetBox *body, GError **error);
/* Where the photo stands in the body: in the middle. */
SheetBox sheet_photo_box(const LfDrawSettings *settings, const Material *material, SheetBox body);

/* "24 people, 31 walks"; owned by the caller. */
char *sheet_people(const Material *material);

#endif
