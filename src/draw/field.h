/* A field of numbers over the photo, as a layer of colour and as lines of equal value. */
#ifndef LF_DRAW_FIELD_H
#define LF_DRAW_FIELD_H

#include "draw/sheet.h"

typedef struct {
    int width, height;
    float *value; /* row by row; belongs to the field */
    double most;
} Field;

Field *field_new(int width, int height);
void field_free(Field *field);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Field, field_free)
/* Finds the largest value. */
void field_measure(Field *field);

/* A pixel's colour and opacity by its value. */
typedef struct {
    CanvasColour colour;
    double alpha;
} FieldInk;
typedef FieldInk (*FieldPaint)(double value, gconstpointer data);

/* Lays the field over a box. */
bool field_paint(const Field *field, cairo_t *cr, SheetBox box, FieldPaint paint,
                 gconstpointer data, GError **error);
/* The line along which the field has this value, as the current path. */
void field_contour(const Field *field, cairo_t *cr, SheetBox box, double value);

/* Steps of 1, 2 or 5 times a power of ten, at most `count` of them up to `most`. */
double field_step(double most, int count);
/* The same for seconds, in whole parts of a minute above ten. */
double field_step_s(double most_s, int count);

#endif
