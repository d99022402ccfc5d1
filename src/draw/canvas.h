/* What a picture is drawn on: a cairo surface that becomes bytes, letters, and the house colours.
 *
 * Lengths are px of the picture (points in a PDF), x to the right, y down; here (0, 0) is the
 * corner of the first pixel, not its centre, as cairo has it. */
#ifndef LF_DRAW_CANVAS_H
#define LF_DRAW_CANVAS_H

#include <cairo.h>

#include <lookfall/draw.h>

typedef struct {
    double r, g, b; /* 0..1, sRGB */
} CanvasColour;

/* Letters and lines; on the paper all but the rule have a contrast of 4.5 or more
 * (WCAG 2.2, 1.4.3). */
extern const CanvasColour canvas_paper, canvas_ink, canvas_soft, canvas_rule, canvas_accent;

typedef struct {
    cairo_surface_t *surface;
    cairo_t *cr;
    LfDrawFormat format;
    GByteArray *bytes;
    int width, height;
    double em; /* size of ordinary letters */
} Canvas;

/* em: 0 for one that suits the width. LF_ERROR_MACHINE where there is not enough memory. */
Canvas *canvas_new(LfDrawFormat format, int width, int height, GError **error);
void canvas_free(Canvas *canvas);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Canvas, canvas_free)
/* The finished picture; its size goes to the report. */
GBytes *canvas_finish(Canvas *canvas, LfDrawReport *report, GError **error);
/* The size of letters that suits a picture so wide. */
double canvas_em(int width);

void canvas_set(cairo_t *cr, CanvasColour colour, double alpha);
/* #rrggbb */
bool canvas_colour_parse(const char *text, CanvasColour *colour);

typedef enum { CANVAS_LEFT = 0, CANVAS_MIDDLE = 1, CANVAS_RIGHT = 2 } CanvasAlign;

/* How a line of text looks. */
typedef struct {
    double size; /* px */
    bool bold;
    CanvasAlign align; /* of the line about its x */
    double width;      /* room for it, cut short with an ellipsis beyond; 0: as much as it takes */
    CanvasColour colour;
    CanvasColour halo; /* around the letters, where halo_px > 0 */
    double halo_px;
    double angle_rad; /* about the line's (x, y) */
    int lines;        /* up to so many lines where the width is too small; 0 is 1 */
} CanvasText;

/* y is the middle of the first line's height. Gives the width taken. */
double canvas_text(cairo_t *cr, double x, double y, const CanvasText *look, const char *text);
double canvas_text_width(cairo_t *cr, double size, bool bold, const char *text);
/* The number of lines the text takes in this width. */
int canvas_text_lines(cairo_t *cr, double size, bool bold, double width, const char *text);

/* Fills the current path with slanting lines, the sign of what is unsettled. */
void canvas_hatch(cairo_t *cr, CanvasColour colour, double step);

/* A number with as many digits as it deserves: "0.042", "1.8", "12", "340"; owned by the caller. */
char *canvas_number(double value);
/* Three digits without closing zeros: "0.05", "1.25"; owned by the caller. */
char *canvas_short(double value);
/* "p = 0.013", "p < 0.001"; owned by the caller. */
char *canvas_p(double p);
/* "8.4 s", "3 min 20 s", "2 h 5 min"; owned by the caller. */
char *canvas_time(double seconds);
/* "4.2%"; owned by the caller. */
char *canvas_share(double share);
/* "1 person", "12 people"; owned by the caller. */
char *canvas_count(gsize n, const char *one, const char *many);

#endif
