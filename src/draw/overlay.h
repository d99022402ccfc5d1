/* What films draw over frames: a transparent sheet that knows which of its tiles were drawn on, so
 * that laying it over a frame costs what is drawn and not what the frame is large.
 *
 * Points: px of the sheet, the centre of the top-left pixel is (0, 0). Boxes: from the corner of
 * the top-left pixel, so that whole numbers give sharp edges. A sheet belongs to one thread at a
 * time. */
#ifndef LF_DRAW_OVERLAY_H
#define LF_DRAW_OVERLAY_H

#include <lookfall/geometry.h>
#include <lookfall/video.h>

typedef struct LfOverlay LfOverlay;

typedef struct {
    double r, g, b, a; /* 0..1, sRGB, not premultiplied */
} LfInk;

typedef struct {
    double x, y, w, h; /* px */
} LfBox;

/* NULL where there is no memory for it. */
LfOverlay *lf_overlay_new(int width, int height);
void lf_overlay_free(LfOverlay *overlay);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfOverlay, lf_overlay_free)

/* Nothing is drawn outside of the box from here on; NULL: the whole sheet. */
void lf_overlay_clip(LfOverlay *overlay, const LfBox *box);

void lf_overlay_disc(LfOverlay *overlay, LfPoint centre, double radius_px, LfInk ink);
/* dash_px: length of dashes and gaps, 0 for a whole ring. */
void lf_overlay_ring(LfOverlay *overlay, LfPoint centre, double radius_px, double width_px,
                     double dash_px, LfInk ink);
void lf_overlay_line(LfOverlay *overlay, const LfPoint *points, gsize n, double width_px,
                     LfInk ink);
/* A filled area between three or more points. */
void lf_overlay_shape(LfOverlay *overlay, const LfPoint *points, gsize n, LfInk ink);
/* round_px: radius of the corners. */
void lf_overlay_box(LfOverlay *overlay, LfBox box, double round_px, LfInk ink);
/* Inside the box's edge. */
void lf_overlay_frame(LfOverlay *overlay, LfBox box, double width_px, LfInk ink);

typedef enum { LF_OVERLAY_LEFT, LF_OVERLAY_MIDDLE, LF_OVERLAY_RIGHT } LfOverlayAlign;

/* One line of text about (x, y), y the middle of its height; cut short with an ellipsis beyond
 * max_width_px (0: no limit). Returns the width taken, px. */
double lf_overlay_text(LfOverlay *overlay, double x, double y, double size_px, bool bold,
                       LfOverlayAlign align, double max_width_px, LfInk ink, const char *text);
double lf_overlay_text_width(LfOverlay *overlay, double size_px, bool bold, const char *text);

/* Lays the sheet over a frame of its size and leaves it transparent. */
void lf_overlay_onto(LfOverlay *overlay, LfYuv *yuv);

#endif
