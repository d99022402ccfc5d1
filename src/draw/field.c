/* Layers and lines of equal value. */
#include "draw/field.h"

#include <math.h>

Field *field_new(int width, int height)
{
    Field *field = g_new0(Field, 1);
    field->width = width;
    field->height = height;
    field->value = g_new0(float, (gsize)width *(gsize)height);
    return field;
}

void field_free(Field *field)
{
    if (!field)
        return;
    g_free(field->value);
    g_free(field);
}

void field_measure(Field *field)
{
    float most = 0;
    for (gsize i = 0; i < (gsize)field->width * (gsize)field->height; i++)
        most = MAX(most, field->value[i]);
    field->most = most;
}

bool field_paint(const Field *field, cairo_t *cr, SheetBox box, FieldPaint paint,
                 gconstpointer data, GError **error)
{
    cairo_surface_t *layer =
        cairo_image_surface_create(CAIRO_FORMAT_ARGB32, field->width, field->height);
    if (cairo_surface_status(layer) != CAIRO_STATUS_SUCCESS) {
        cairo_surface_destroy(layer);
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "there is not enough memory for the picture");
        return false;
    }
    cairo_surface_flush(layer);
    guchar *pixels = cairo_image_surface_get_data(layer);
    gsize stride = (gsize)cairo_image_surface_get_stride(layer);
    for (int y = 0; y < field->height; y++) {
        guint32 *row = (gpointer)(pixels + (gsize)y * stride);
        const float *value = field->value + (gsize)y * (gsize)field->width;
        for (int x = 0; x < field->width; x++) {
            FieldInk ink = paint(value[x], data);
            double a = 255 * ink.alpha;
            row[x] = (guint32)(a + 0.5) << 24 | (guint32)(a * ink.colour.r + 0.5) << 16 |
                     (guint32)(a * ink.colour.g + 0.5) << 8 | (guint32)(a * ink.colour.b + 0.5);
        }
    }
    cairo_surface_mark_dirty(layer);
    cairo_save(cr);
    cairo_translate(cr, box.x, box.y);
    cairo_scale(cr, box.w / field->width, box.h / field->height);
    cairo_set_source_surface(cr, layer, 0, 0);
    cairo_pattern_set_extend(cairo_get_source(cr), CAIRO_EXTEND_PAD);
    cairo_rectangle(cr, 0, 0, field->width, field->height);
    cairo_fill(cr);
    cairo_restore(cr);
    cairo_surface_destroy(layer);
    return true;
}

/* Where the line crosses the edge from value a to value b: 0..1. */
static double field_cross(double a, double b, double value)
{
    return a == b ? 0.5 : (value - a) / (b - a);
}

/* One square of four neighbouring values, corners clockwise from the top left (marching squares;
 * W. Lorensen, H. Cline, SIGGRAPH 1987, in the plane). */
static void field_square(cairo_t *cr, double x, double y, const double v[4], double value)
{
    LfPoint cut[4];
    int n = 0;
    static const double edge[4][4] = {{0, 0, 1, 0}, {1, 0, 1, 1}, {1, 1, 0, 1}, {0, 1, 0, 0}};
    for (int k = 0; k < 4; k++) {
        double a = v[k], b = v[(k + 1) % 4];
        if ((a >= value) == (b >= value))
            continue;
        double t = field_cross(a, b, value);
        cut[n++] = (LfPoint){x + edge[k][0] + t * (edge[k][2] - edge[k][0]),
                             y + edge[k][1] + t * (edge[k][3] - edge[k][1])};
    }
    /* A saddle: where its middle belongs to the first corner's side, the line cuts off the second
     * and fourth corner, otherwise the first and third. */
    bool second = n == 4 && ((v[0] + v[1] + v[2] + v[3]) / 4 >= value) == (v[0] >= value);
    for (int k = 0; k + 1 < n; k += 2) {
        int from = n == 4 && !second ? (k + 3) % 4 : k, to = n == 4 && !second ? k : k + 1;
        cairo_move_to(cr, cut[from].x, cut[from].y);
        cairo_line_to(cr, cut[to].x, cut[to].y);
    }
}

void field_contour(const Field *field, cairo_t *cr, SheetBox box, double value)
{
    cairo_save(cr);
    cairo_translate(cr, box.x, box.y);
    cairo_scale(cr, box.w / field->width, box.h / field->height);
    cairo_translate(cr, 0.5, 0.5); /* values stand at the middles of their boxes */
    gsize w = (gsize)field->width;
    for (int y = 0; y + 1 < field->height; y++) {
        const float *a = field->value + (gsize)y * w, *b = a + w;
        for (int x = 0; x + 1 < field->width; x++) {
            int above =
                (a[x] >= value) + (a[x + 1] >= value) + (b[x] >= value) + (b[x + 1] >= value);
            if (above == 0 || above == 4)
                continue;
            const double v[4] = {a[x], a[x + 1], b[x + 1], b[x]};
            field_square(cr, x, y, v, value);
        }
    }
    cairo_restore(cr);
}

double field_step(double most, int count)
{
    double raw = most / count, power = pow(10, floor(log10(raw))), share = raw / power;
    return power * (share <= 1 ? 1 : share <= 2 ? 2 : share <= 5 ? 5 : 10);
}

double field_step_s(double most_s, int count)
{
    static const double steps[] = {10, 15, 30, 60, 120, 300, 600, 1800, 3600};
    double raw = most_s / count;
    if (raw <= 5)
        return field_step(most_s, count);
    for (gsize i = 0; i < G_N_ELEMENTS(steps); i++)
        if (steps[i] >= raw)
            return steps[i];
    return 3600 * ceil(raw / 3600);
}
