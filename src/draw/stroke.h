/* Lines, rings and discs onto premultiplied ARGB32, each pixel by its distance: the same as cairo
 * draws, at a fraction of its cost where a thin shape spans much of the picture. */
#ifndef LF_DRAW_STROKE_H
#define LF_DRAW_STROKE_H

#include "draw/overlay.h"

/* Borrowed memory; x0 <= x < x1 and y0 <= y < y1 may be written. */
typedef struct {
    uint32_t *argb;
    ptrdiff_t stride; /* words */
    int x0, y0, x1, y1;
} LfStrokeSheet;

/* Round at its ends and joints; one that ends where it began has no ends. Where it turns back onto
 * itself it is drawn twice. */
void lf_stroke_line(const LfStrokeSheet *sheet, const LfPoint *points, gsize n, double width_px,
                    LfInk ink);
/* From one radius to another; 0 is the centre. */
void lf_stroke_ring(const LfStrokeSheet *sheet, LfPoint centre, double inner_px, double outer_px,
                    LfInk ink);

#endif
