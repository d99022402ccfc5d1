/* Colour maps: sequential ones from published tables, a diverging one and distinct colours. */
#ifndef LF_DRAW_COLOUR_H
#define LF_DRAW_COLOUR_H

#include "draw/canvas.h"

/* 256 steps from least to most. */
typedef struct {
    CanvasColour step[256];
} ColourMap;

bool colour_map_load(ColourMap *map, LfDrawColours colours, GError **error);
/* share 0..1, held there */
CanvasColour colour_map_at(const ColourMap *map, double share);

/* -1..1: blue for less, white-grey for none, orange for more. Both arms fall alike in lightness, so
 * that equal differences look equally strong whichever way they go. */
CanvasColour colour_diverging(double share);

/* Colours that stay apart for all common kinds of colour vision. Beyond the last they begin again.
 */
#define COLOUR_DISTINCT 8
CanvasColour colour_distinct(gsize number);

/* Black or white letters, whichever stands out more on it (WCAG 2.2, relative luminance). */
CanvasColour colour_letters_on(CanvasColour ground);
/* The colour laid with this opacity over another one. */
CanvasColour colour_over(CanvasColour top, double alpha, CanvasColour ground);
CanvasColour colour_from_oklch(double lightness, double chroma, double hue_deg);

#endif
