/* The transparent sheet of films. */
#include "draw/overlay.h"

#include <math.h>
#include <string.h>

#include <pango/pangocairo.h>

#include "draw/stroke.h"
#include "draw/ycbcr.h"

/* Even, since 4:2:0 has one chroma value for 2 x 2 px. Small tiles hug what is drawn, large ones
 * cost less to keep track of; 32 is common practice for dirty tiles. */
enum { OVERLAY_TILE = 32 };

struct LfOverlay {
    int width, height;
    cairo_surface_t *surface;
    cairo_t *cr;
    PangoLayout *layout;
    LfBox clip;
    bool *touched; /* tiles, row by row */
    int tiles_x, tiles_y;
};

LfOverlay *lf_overlay_new(int width, int height)
{
    g_autoptr(LfOverlay) o = g_new0(LfOverlay, 1);

    o->width = width;
    o->height = height;
    o->surface = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, width, height);
    o->cr = cairo_create(o->surface);
    if (cairo_status(o->cr) != CAIRO_STATUS_SUCCESS)
        return NULL;
    /* 16 steps at an edge instead of 255 are enough in what moves and is coded with losses. */
    cairo_set_antialias(o->cr, CAIRO_ANTIALIAS_FAST);
    o->layout = pango_cairo_create_layout(o->cr);
    o->tiles_x = (width + OVERLAY_TILE - 1) / OVERLAY_TILE;
    o->tiles_y = (height + OVERLAY_TILE - 1) / OVERLAY_TILE;
    o->touched = g_new0(bool, (gsize)o->tiles_x *(gsize)o->tiles_y);
    lf_overlay_clip(o, NULL);
    return g_steal_pointer(&o);
}

void lf_overlay_free(LfOverlay *o)
{
    if (o == NULL)
        return;
    g_clear_object(&o->layout);
    cairo_destroy(o->cr);
    cairo_surface_destroy(o->surface);
    g_free(o->touched);
    g_free(o);
}

void lf_overlay_clip(LfOverlay *o, const LfBox *box)
{
    o->clip = box != NULL ? *box : (LfBox){0, 0, o->width, o->height};
    cairo_reset_clip(o->cr);
    cairo_rectangle(o->cr, o->clip.x, o->clip.y, o->clip.w, o->clip.h);
    cairo_clip(o->cr);
}

/* --- tiles --- */

/* low..high in px from the sheet's corner. */
static void overlay_touch(LfOverlay *o, double x0, double y0, double x1, double y1)
{
    x0 = fmax(x0, fmax(o->clip.x, 0));
    y0 = fmax(y0, fmax(o->clip.y, 0));
    x1 = fmin(x1, fmin(o->clip.x + o->clip.w, o->width));
    y1 = fmin(y1, fmin(o->clip.y + o->clip.h, o->height));
    if (!(x0 < x1 && y0 < y1))
        return;
    const int from_x = (int)x0 / OVERLAY_TILE, to_x = ((int)ceil(x1) - 1) / OVERLAY_TILE;
    const int from_y = (int)y0 / OVERLAY_TILE, to_y = ((int)ceil(y1) - 1) / OVERLAY_TILE;
    for (int y = from_y; y <= to_y; y++)
        for (int x = from_x; x <= to_x; x++)
            o->touched[y * o->tiles_x + x] = true;
}

static void overlay_touch_round(LfOverlay *o, LfPoint centre, double radius)
{
    const double x = centre.x + 0.5, y = centre.y + 0.5, r = radius + 1;
    overlay_touch(o, x - r, y - r, x + r, y + r);
}

/* A long slanting line touches far fewer tiles than the box around it. */
static void overlay_touch_line(LfOverlay *o, LfPoint a, LfPoint b, double width)
{
    const double length = hypot(b.x - a.x, b.y - a.y);
    const int steps = 1 + (int)fmin(length / OVERLAY_TILE, 4096);

    for (int i = 0; i < steps; i++) {
        const double s = (double)i / steps, t = (double)(i + 1) / steps;
        const double x0 = a.x + s * (b.x - a.x), x1 = a.x + t * (b.x - a.x);
        const double y0 = a.y + s * (b.y - a.y), y1 = a.y + t * (b.y - a.y);
        overlay_touch(o, fmin(x0, x1) - width, fmin(y0, y1) - width, fmax(x0, x1) + width + 1,
                      fmax(y0, y1) + width + 1);
    }
}

/* --- shapes --- */

static void overlay_ink(LfOverlay *o, LfInk ink)
{
    cairo_set_source_rgba(o->cr, ink.r, ink.g, ink.b, ink.a);
}

/* cairo keeps coordinates in 24.8 fixed point: what lies far outside would wrap around. */
static bool overlay_near(LfPoint p)
{
    return fabs(p.x) < 1e5 && fabs(p.y) < 1e5;
}

static bool overlay_all_near(const LfPoint *points, gsize n)
{
    for (gsize i = 0; i < n; i++)
        if (!overlay_near(points[i]))
            return false;
    return n > 0;
}

/* The sheet's memory within the clip. */
static LfStrokeSheet overlay_stroke_begin(LfOverlay *o)
{
    cairo_surface_flush(o->surface);
    /* ARGB32 is in words of the machine's own byte order, aligned by cairo. */
    return (LfStrokeSheet){
        .argb = (uint32_t *)(gpointer)cairo_image_surface_get_data(o->surface),
        .stride = cairo_image_surface_get_stride(o->surface) / 4,
        .x0 = (int)fmax(0, lround(o->clip.x)),
        .y0 = (int)fmax(0, lround(o->clip.y)),
        .x1 = (int)fmin(o->width, lround(o->clip.x + o->clip.w)),
        .y1 = (int)fmin(o->height, lround(o->clip.y + o->clip.h)),
    };
}

static void overlay_stroke_ring(LfOverlay *o, LfPoint centre, double inner, double outer, LfInk ink)
{
    const LfStrokeSheet sheet = overlay_stroke_begin(o);

    overlay_touch_round(o, centre, outer);
    lf_stroke_ring(&sheet, centre, inner, outer, ink);
    cairo_surface_mark_dirty(o->surface);
}

void lf_overlay_disc(LfOverlay *o, LfPoint centre, double radius, LfInk ink)
{
    if (overlay_near(centre) && radius < 1e5)
        overlay_stroke_ring(o, centre, 0, radius, ink);
}

void lf_overlay_ring(LfOverlay *o, LfPoint centre, double radius, double width, double dash,
                     LfInk ink)
{
    if (!overlay_near(centre) || !(radius < 1e5))
        return;
    if (!(dash > 0)) {
        overlay_stroke_ring(o, centre, fmax(0, radius - width / 2), radius + width / 2, ink);
        return;
    }
    /* A whole number of dashes, so that the ring has no seam. */
    const double n = fmax(3, round(G_PI * radius / dash)), step = G_PI * radius / n;
    overlay_touch_round(o, centre, radius + width);
    overlay_ink(o, ink);
    cairo_set_dash(o->cr, &step, 1, 0);
    cairo_set_line_width(o->cr, width);
    cairo_arc(o->cr, centre.x + 0.5, centre.y + 0.5, radius, 0, 2 * G_PI);
    cairo_stroke(o->cr);
    cairo_set_dash(o->cr, NULL, 0, 0);
}

void lf_overlay_line(LfOverlay *o, const LfPoint *points, gsize n, double width, LfInk ink)
{
    if (!overlay_all_near(points, n))
        return;
    const LfStrokeSheet sheet = overlay_stroke_begin(o);
    for (gsize i = 1; i < n; i++)
        overlay_touch_line(o, points[i - 1], points[i], width);
    lf_stroke_line(&sheet, points, n, width, ink);
    cairo_surface_mark_dirty(o->surface);
}

void lf_overlay_shape(LfOverlay *o, const LfPoint *points, gsize n, LfInk ink)
{
    double x0, y0, x1, y1;

    if (!overlay_all_near(points, n))
        return;
    for (gsize i = 0; i < n; i++)
        cairo_line_to(o->cr, points[i].x + 0.5, points[i].y + 0.5);
    cairo_close_path(o->cr);
    cairo_path_extents(o->cr, &x0, &y0, &x1, &y1);
    overlay_touch(o, x0 - 1, y0 - 1, x1 + 1, y1 + 1);
    overlay_ink(o, ink);
    cairo_fill(o->cr);
}

void lf_overlay_box(LfOverlay *o, LfBox b, double round_px, LfInk ink)
{
    const double r = fmin(round_px, fmin(b.w, b.h) / 2);

    if (!(b.w > 0 && b.h > 0))
        return;
    overlay_touch(o, b.x - 1, b.y - 1, b.x + b.w + 1, b.y + b.h + 1);
    overlay_ink(o, ink);
    if (r > 0) {
        cairo_new_sub_path(o->cr);
        cairo_arc(o->cr, b.x + b.w - r, b.y + r, r, -G_PI / 2, 0);
        cairo_arc(o->cr, b.x + b.w - r, b.y + b.h - r, r, 0, G_PI / 2);
        cairo_arc(o->cr, b.x + r, b.y + b.h - r, r, G_PI / 2, G_PI);
        cairo_arc(o->cr, b.x + r, b.y + r, r, G_PI, 1.5 * G_PI);
        cairo_close_path(o->cr);
    } else {
        cairo_rectangle(o->cr, b.x, b.y, b.w, b.h);
    }
    cairo_fill(o->cr);
}

void lf_overlay_frame(LfOverlay *o, LfBox b, double width, LfInk ink)
{
    lf_overlay_box(o, (LfBox){b.x, b.y, b.w, width}, 0, ink);
    lf_overlay_box(o, (LfBox){b.x, b.y + b.h - width, b.w, width}, 0, ink);
    lf_overlay_box(o, (LfBox){b.x, b.y + width, width, b.h - 2 * width}, 0, ink);
    lf_overlay_box(o, (LfBox){b.x + b.w - width, b.y + width, width, b.h - 2 * width}, 0, ink);
}

/* --- text --- */

static void overlay_layout(LfOverlay *o, double size, bool bold, double max_width, const char *text)
{
    PangoFontDescription *font = pango_font_description_new();

    pango_font_description_set_family_static(font, "DejaVu Sans, sans-serif");
    pango_font_description_set_absolute_size(font, size * PANGO_SCALE);
    pango_font_description_set_weight(font, bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_layout_set_font_description(o->layout, font);
    pango_font_description_free(font);
    pango_layout_set_width(o->layout, max_width > 0 ? (int)(max_width * PANGO_SCALE) : -1);
    pango_layout_set_ellipsize(o->layout, PANGO_ELLIPSIZE_END);
    pango_layout_set_single_paragraph_mode(o->layout, TRUE);
    pango_layout_set_text(o->layout, text, -1);
}

double lf_overlay_text(LfOverlay *o, double x, double y, double size, bool bold,
                       LfOverlayAlign align, double max_width, LfInk ink, const char *text)
{
    PangoRectangle drawn, line;

    overlay_layout(o, size, bold, max_width, text);
    pango_layout_get_pixel_extents(o->layout, &drawn, &line);
    if (align != LF_OVERLAY_LEFT)
        x -= align == LF_OVERLAY_RIGHT ? line.width : line.width / 2.0;
    const double left = x - line.x, top = y - line.height / 2.0;
    overlay_touch(o, left + drawn.x - 1, top + drawn.y - 1, left + drawn.x + drawn.width + 1,
                  top + drawn.y + drawn.height + 1);
    overlay_ink(o, ink);
    cairo_move_to(o->cr, left, top);
    pango_cairo_show_layout(o->cr, o->layout);
    cairo_new_path(o->cr);
    return line.width;
}

double lf_overlay_text_width(LfOverlay *o, double size, bool bold, const char *text)
{
    PangoRectangle line;

    overlay_layout(o, size, bold, 0, text);
    pango_layout_get_pixel_extents(o->layout, NULL, &line);
    return line.width;
}

/* --- onto a frame --- */

void lf_overlay_onto(LfOverlay *o, LfYuv *yuv)
{
    cairo_surface_flush(o->surface);
    unsigned char *data = cairo_image_surface_get_data(o->surface);
    const int stride = cairo_image_surface_get_stride(o->surface);

    for (int ty = 0; ty < o->tiles_y; ty++)
        for (int tx = 0; tx < o->tiles_x; tx++) {
            bool *touched = &o->touched[ty * o->tiles_x + tx];
            const int x = tx * OVERLAY_TILE, y = ty * OVERLAY_TILE;
            const int w = MIN(OVERLAY_TILE, o->width - x), h = MIN(OVERLAY_TILE, o->height - y);
            if (!*touched)
                continue;
            *touched = false;
            /* ARGB32 is in words of the machine's own byte order, aligned by cairo. */
            lf_ycbcr_lay((const uint32_t *)(gpointer)data, stride / 4, x, y, w, h, yuv);
            for (int row = y; row < y + h; row++)
                memset(data + (ptrdiff_t)row * stride + 4 * (ptrdiff_t)x, 0, 4 * (size_t)w);
        }
    cairo_surface_mark_dirty(o->surface);
    lf_overlay_clip(o, NULL);
}
