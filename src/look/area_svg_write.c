/* Areas as an SVG drawing that reads back as the same areas, and can be drawn on in between.
 *
 * Inside one group moved by half a pixel (SVG counts from the corner of the first pixel) all
 * coordinates are those of the photo's frame. */
#include "look/area_text.h"

#include <math.h>
#include <string.h>

static void area_svg_number(GString *text, const char *before, double value)
{
    g_string_append(text, before);
    area_text_number(text, value);
}

/* Directions need all digits, for sides multiply them. */
static void area_svg_exact(GString *text, const char *before, double value)
{
    char number[G_ASCII_DTOSTR_BUF_SIZE];
    g_string_append(text, before);
    g_string_append(text, g_ascii_dtostr(number, sizeof number, value));
}

static void area_svg_attribute(GString *text, const char *name, double value)
{
    g_string_append_printf(text, " %s", name);
    area_svg_number(text, "=\"", value);
    g_string_append_c(text, '"');
}

/* With both axes and the origin of what is drawn in its own units. */
static void area_svg_matrix(GString *text, LfPoint x, LfPoint y, LfPoint origin)
{
    area_svg_exact(text, " transform=\"matrix(", x.x);
    area_svg_exact(text, " ", x.y);
    area_svg_exact(text, " ", y.x);
    area_svg_exact(text, " ", y.y);
    area_svg_number(text, " ", origin.x);
    area_svg_number(text, " ", origin.y);
    g_string_append(text, ")\"");
}

static void area_svg_write_rect(GString *text, const LfPoint *p)
{
    LfPoint u = {p[1].x - p[0].x, p[1].y - p[0].y}, v = {p[3].x - p[0].x, p[3].y - p[0].y};
    bool upright = u.y == 0 && v.x == 0 && u.x > 0 && v.y > 0;
    double w = hypot(u.x, u.y), h = hypot(v.x, v.y);
    g_string_append(text, "<rect");
    area_svg_attribute(text, "x", upright ? p[0].x : 0);
    area_svg_attribute(text, "y", upright ? p[0].y : 0);
    if (upright) {
        area_svg_attribute(text, "width", w);
        area_svg_attribute(text, "height", h);
        return;
    }
    area_svg_exact(text, " width=\"", w);
    area_svg_exact(text, "\" height=\"", h);
    g_string_append_c(text, '"');
    area_svg_matrix(text, (LfPoint){u.x / w, u.y / w}, (LfPoint){v.x / h, v.y / h}, p[0]);
}

static void area_svg_write_ellipse(GString *text, const LfPoint *p)
{
    LfPoint u = {p[1].x - p[0].x, p[1].y - p[0].y}, v = {p[2].x - p[0].x, p[2].y - p[0].y};
    bool upright = u.y == 0 && v.x == 0 && u.x > 0 && v.y > 0;
    g_string_append(text, "<ellipse");
    area_svg_attribute(text, "cx", upright ? p[0].x : 0);
    area_svg_attribute(text, "cy", upright ? p[0].y : 0);
    area_svg_attribute(text, "rx", upright ? u.x : 1);
    area_svg_attribute(text, "ry", upright ? v.y : 1);
    if (!upright)
        area_svg_matrix(text, u, v, p[0]);
}

static void area_svg_write_polygon(GString *text, const LfArea *area)
{
    g_string_append(text, "<polygon points=\"");
    for (gsize i = 0; i < area->n_points; i++) {
        area_svg_number(text, i ? " " : "", area->points[i].x);
        area_svg_number(text, ",", area->points[i].y);
    }
    g_string_append_c(text, '"');
}

static void area_svg_write_path(GString *text, const LfArea *area)
{
    gsize ring = 0, begin = 0;
    g_string_append(text, "<path fill-rule=\"evenodd\" d=\"");
    for (gsize i = 0; i < area->n_points; i++) {
        area_svg_number(text, i == begin ? (i ? " M " : "M ") : " L ", area->points[i].x);
        area_svg_number(text, ",", area->points[i].y);
        if (i + 1 == area->ring_ends[ring]) {
            g_string_append(text, " Z");
            begin = area->ring_ends[ring++];
        }
    }
    g_string_append_c(text, '"');
}

static void area_svg_write_area(GString *text, const LfArea *area, guint number)
{
    g_autofree char *name = g_markup_escape_text(area->name, -1);
    switch (area->shape) {
    case LF_AREA_RECT:
        area_svg_write_rect(text, area->points);
        break;
    case LF_AREA_ELLIPSE:
        area_svg_write_ellipse(text, area->points);
        break;
    case LF_AREA_POLYGON:
        area_svg_write_polygon(text, area);
        break;
    case LF_AREA_PATH:
        area_svg_write_path(text, area);
        break;
    }
    g_string_append_printf(text, " id=\"area-%u\" inkscape:label=\"%s\"/>\n", number, name);
}

/* Closes and opens groups so that those open are the path's. *open is the number of them. */
static void area_svg_write_groups(GString *text, const char *before, const char *path)
{
    g_auto(GStrv) old = g_strsplit(before, "/", -1), new = g_strsplit(path, "/", -1);
    guint same = 0;
    while (old[same] && new[same] && strcmp(old[same], new[same]) == 0)
        same++;
    for (guint i = same; old[i]; i++)
        g_string_append(text, "</g>\n");
    for (guint i = same; new[i]; i++) {
        g_autofree char *name = g_markup_escape_text(new[i], -1);
        g_string_append_printf(text, "<g inkscape:label=\"%s\">\n", name);
    }
}

char *lf_area_write_svg(const GPtrArray *areas, const LfAreaPhoto *photo, const char *picture)
{
    g_autoptr(GString) text = g_string_new("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    g_string_append_printf(text,
                           "<svg xmlns=\"http://www.w3.org/2000/svg\" "
                           "xmlns:inkscape=\"http://www.inkscape.org/namespaces/inkscape\" "
                           "width=\"%d\" height=\"%d\" viewBox=\"0 0 %d %d\">\n",
                           photo->width_px, photo->height_px, photo->width_px, photo->height_px);
    if (picture) {
        g_autofree char *href = g_markup_escape_text(picture, -1);
        g_string_append_printf(text,
                               "<image href=\"%s\" x=\"0\" y=\"0\" width=\"%d\" height=\"%d\" "
                               "preserveAspectRatio=\"none\"/>\n",
                               href, photo->width_px, photo->height_px);
    }
    g_string_append(text, "<g transform=\"translate(0.5 0.5)\" fill=\"#7a5195\" "
                          "fill-opacity=\"0.25\" stroke=\"#4b2e63\" "
                          "vector-effect=\"non-scaling-stroke\">\n");
    const char *path = "";
    for (guint i = 0; i < areas->len; i++) {
        const LfArea *area = areas->pdata[i];
        area_svg_write_groups(text, path, area->group_path);
        path = area->group_path;
        area_svg_write_area(text, area, i + 1);
    }
    area_svg_write_groups(text, path, "");
    g_string_append(text, "</g>\n</svg>\n");
    return g_string_free(g_steal_pointer(&text), FALSE);
}
