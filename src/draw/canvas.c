/* The surface, letters and colours. */
#include "draw/canvas.h"

#include <math.h>
#include <string.h>

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <pango/pangocairo.h>

#define CANVAS_FONT "DejaVu Sans"
#define CANVAS_LEADING 1.3f /* of the font's own line height, 1.16 of its size */

const CanvasColour canvas_paper = {0.988, 0.984, 0.973};
const CanvasColour canvas_ink = {0.110, 0.129, 0.165};
const CanvasColour canvas_soft = {0.333, 0.365, 0.420};
const CanvasColour canvas_rule = {0.780, 0.776, 0.757};
const CanvasColour canvas_accent = {0.655, 0.220, 0.130};

double canvas_em(int width)
{
    return CLAMP(width / 100.0, 11.0, 26.0);
}

static cairo_status_t canvas_take(void *data, const unsigned char *bytes, unsigned int n)
{
    g_byte_array_append(data, bytes, n);
    return CAIRO_STATUS_SUCCESS;
}

Canvas *canvas_new(LfDrawFormat format, int width, int height, GError **error)
{
    g_autoptr(Canvas) canvas = g_new0(Canvas, 1);
    canvas->format = format;
    canvas->width = width;
    canvas->height = height;
    canvas->em = canvas_em(width);
    canvas->bytes = g_byte_array_new();
    if (format == LF_DRAW_SVG)
        canvas->surface =
            cairo_svg_surface_create_for_stream(canvas_take, canvas->bytes, width, height);
    else if (format == LF_DRAW_PDF)
        canvas->surface =
            cairo_pdf_surface_create_for_stream(canvas_take, canvas->bytes, width, height);
    else
        canvas->surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, height);
    if (format == LF_DRAW_SVG)
        cairo_svg_surface_set_document_unit(canvas->surface, CAIRO_SVG_UNIT_PX);
    canvas->cr = cairo_create(canvas->surface);
    if (cairo_status(canvas->cr) != CAIRO_STATUS_SUCCESS) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "a picture of %d x %d px cannot be made: %s",
                    width, height, cairo_status_to_string(cairo_status(canvas->cr)));
        return NULL;
    }
    canvas_set(canvas->cr, canvas_paper, 1);
    cairo_paint(canvas->cr);
    return g_steal_pointer(&canvas);
}

void canvas_free(Canvas *canvas)
{
    if (!canvas)
        return;
    if (canvas->cr)
        cairo_destroy(canvas->cr);
    if (canvas->surface)
        cairo_surface_destroy(canvas->surface); /* may still write to bytes */
    g_byte_array_unref(canvas->bytes);
    g_free(canvas);
}

GBytes *canvas_finish(Canvas *canvas, LfDrawReport *report, GError **error)
{
    cairo_status_t status = cairo_status(canvas->cr);
    if (status == CAIRO_STATUS_SUCCESS && canvas->format == LF_DRAW_PNG)
        status = cairo_surface_write_to_png_stream(canvas->surface, canvas_take, canvas->bytes);
    cairo_surface_finish(canvas->surface);
    if (status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_status(canvas->surface);
    if (status != CAIRO_STATUS_SUCCESS) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "the picture cannot be made: %s",
                    cairo_status_to_string(status));
        return NULL;
    }
    report->width_px = canvas->width;
    report->height_px = canvas->height;
    return g_bytes_new(canvas->bytes->data, canvas->bytes->len);
}

void canvas_set(cairo_t *cr, CanvasColour colour, double alpha)
{
    cairo_set_source_rgba(cr, colour.r, colour.g, colour.b, alpha);
}

bool canvas_colour_parse(const char *text, CanvasColour *colour)
{
    if (text[0] != '#' || strlen(text) != 7)
        return false;
    int digit[6];
    for (int i = 0; i < 6; i++)
        if ((digit[i] = g_ascii_xdigit_value(text[i + 1])) < 0)
            return false;
    colour->r = (digit[0] * 16 + digit[1]) / 255.0;
    colour->g = (digit[2] * 16 + digit[3]) / 255.0;
    colour->b = (digit[4] * 16 + digit[5]) / 255.0;
    return true;
}

/* --- letters ---------------------------------------------------------------------------------- */

/* Outlines without hinting, so that letters stand alike on every machine and in every format. */
static PangoLayout *canvas_layout(cairo_t *cr, double size, bool bold, const char *text)
{
    PangoLayout *layout = pango_cairo_create_layout(cr);
    PangoFontDescription *font = pango_font_description_from_string(CANVAS_FONT);
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    pango_cairo_context_set_font_options(pango_layout_get_context(layout), options);
    pango_cairo_context_set_resolution(pango_layout_get_context(layout), 72);
    cairo_font_options_destroy(options);
    pango_font_description_set_absolute_size(font, size * PANGO_SCALE);
    pango_font_description_set_weight(font, bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_layout_set_font_description(layout, font);
    pango_layout_set_line_spacing(layout, CANVAS_LEADING);
    pango_font_description_free(font);
    g_autofree char *valid = g_utf8_make_valid(text, -1);
    pango_layout_set_text(layout, valid, -1);
    return layout;
}

static double canvas_layout_width(PangoLayout *layout)
{
    int width;
    pango_layout_get_size(layout, &width, NULL);
    return (double)width / PANGO_SCALE;
}

double canvas_text(cairo_t *cr, double x, double y, const CanvasText *look, const char *text)
{
    PangoLayout *layout = canvas_layout(cr, look->size, look->bold, text);
    int lines = MAX(look->lines, 1);
    if (look->width > 0 && canvas_layout_width(layout) > look->width) {
        pango_layout_set_width(layout, (int)(look->width * PANGO_SCALE));
        pango_layout_set_height(layout, -lines);
        pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
        pango_layout_set_ellipsize(layout, PANGO_ELLIPSIZE_END);
        pango_layout_set_alignment(layout, look->align == CANVAS_LEFT     ? PANGO_ALIGN_LEFT
                                           : look->align == CANVAS_MIDDLE ? PANGO_ALIGN_CENTER
                                                                          : PANGO_ALIGN_RIGHT);
    }
    PangoRectangle ink, box;
    pango_layout_get_extents(layout, &ink, &box);
    double width = (double)box.width / PANGO_SCALE;
    double height = (double)box.height / PANGO_SCALE / pango_layout_get_line_count(layout);
    double left = (double)box.x / PANGO_SCALE;

    cairo_save(cr);
    cairo_translate(cr, x, y);
    cairo_rotate(cr, look->angle_rad);
    cairo_move_to(cr, -left - width * look->align / 2, -height / 2);
    if (look->halo_px > 0) {
        pango_cairo_layout_path(cr, layout);
        cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
        cairo_set_line_width(cr, 2 * look->halo_px);
        canvas_set(cr, look->halo, 0.9);
        cairo_stroke(cr);
        cairo_move_to(cr, -left - width * look->align / 2, -height / 2);
    }
    canvas_set(cr, look->colour, 1);
    pango_cairo_show_layout(cr, layout);
    cairo_restore(cr);
    g_object_unref(layout);
    return width;
}

double canvas_text_width(cairo_t *cr, double size, bool bold, const char *text)
{
    PangoLayout *layout = canvas_layout(cr, size, bold, text);
    double width = canvas_layout_width(layout);
    g_object_unref(layout);
    return width;
}

int canvas_text_lines(cairo_t *cr, double size, bool bold, double width, const char *text)
{
    PangoLayout *layout = canvas_layout(cr, size, bold, text);
    pango_layout_set_width(layout, (int)(width * PANGO_SCALE));
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    int lines = pango_layout_get_line_count(layout);
    g_object_unref(layout);
    return lines;
}

void canvas_hatch(cairo_t *cr, CanvasColour colour, double step)
{
    double x1, y1, x2, y2;
    cairo_path_extents(cr, &x1, &y1, &x2, &y2);
    cairo_save(cr);
    cairo_clip(cr);
    /* Lines start from a lattice of the whole picture, so that neighbours run on into each other.
     */
    for (double c = floor((x1 - y2) / step) * step; c <= x2 - y1; c += step) {
        cairo_move_to(cr, c + y1, y1);
        cairo_line_to(cr, c + y2, y2);
    }
    cairo_set_line_width(cr, step * 0.3);
    canvas_set(cr, colour, 1);
    cairo_stroke(cr);
    cairo_restore(cr);
}

/* --- numbers ---------------------------------------------------------------------------------- */

char *canvas_number(double value)
{
    double size = fabs(value);
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    const char *format = size == 0      ? "%.0f"
                         : size < 0.001 ? "%.1e"
                         : size < 0.01  ? "%.4f"
                         : size < 0.1   ? "%.3f"
                         : size < 1     ? "%.2f"
                         : size < 9.95  ? "%.1f"
                                        : "%.0f";
    g_ascii_formatd(text, sizeof text, format, value);
    return g_strdup(text);
}

char *canvas_short(double value)
{
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    return g_strdup(g_ascii_formatd(text, sizeof text, "%.3g", value));
}

char *canvas_p(double p)
{
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    if (p < 0.0005)
        return g_strdup("p < 0.001");
    return g_strdup_printf("p = %s", g_ascii_formatd(text, sizeof text, "%.3f", p));
}

char *canvas_time(double seconds)
{
    if (seconds < 59.95 || !isfinite(seconds)) {
        char text[G_ASCII_DTOSTR_BUF_SIZE];
        g_ascii_formatd(text, sizeof text, "%.1f", seconds);
        return g_strdup_printf("%s s", text);
    }
    gint64 whole = (gint64)llround(seconds);
    if (whole < 3600)
        return g_strdup_printf("%d min %d s", (int)(whole / 60), (int)(whole % 60));
    return g_strdup_printf("%" G_GINT64_FORMAT " h %d min", whole / 3600, (int)(whole / 60 % 60));
}

char *canvas_share(double share)
{
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    double percent = 100 * share;
    /* A share that is not nothing never reads "0%", nor one that is not all "100%". */
    g_ascii_formatd(text, sizeof text,
                    percent < 9.95 || (percent > 99 && percent < 100) ? "%.1f" : "%.0f", percent);
    if (share > 0 && strcmp(text, "0.0") == 0)
        return g_strdup("under 0.1%");
    if (share < 1 && strcmp(text, "100.0") == 0)
        return g_strdup("over 99.9%");
    return g_strdup_printf("%s%%", share == 0 ? "0" : text);
}

char *canvas_count(gsize n, const char *one, const char *many)
{
    return g_strdup_printf("%" G_GSIZE_FORMAT " %s", n, n == 1 ? one : many);
}
