/* The focus map: the photo shows through only where it was looked at. */
#include "draw/picture.h"

#include <math.h>

#include "draw/backdrop.h"
#include "draw/looks.h"

/* Shares of the highest density at which the veil begins to lift and is gone. */
#define FOCUS_FROM 0.02
#define FOCUS_TO 0.25

typedef struct {
    CanvasColour veil;
    double opacity, most;
} FocusLook;

static FieldInk focus_ink(double value, gconstpointer data)
{
    const FocusLook *look = data;
    double share = look->most > 0 ? value / look->most : 0;
    double t = CLAMP((share - FOCUS_FROM) / (FOCUS_TO - FOCUS_FROM), 0, 1);
    return (FieldInk){look->veil, look->opacity * (1 - t * t * (3 - 2 * t))};
}

/* From veiled to clear, over a piece of chequered ground. */
static void focus_key(Canvas *canvas, SheetBox box, gconstpointer data)
{
    const FocusLook *look = data;
    cairo_t *cr = canvas->cr;
    double em = canvas->em, bar_y = box.y + 1.7 * em, bar_w = box.w - 3 * em, h = 1.5 * em;
    canvas_text(cr, box.x, box.y + 0.6 * em,
                &(CanvasText){.size = em, .colour = canvas_ink, .width = box.w},
                "density of looks, against its highest");
    for (int i = 0; i * 0.5 * em < bar_w; i++)
        for (int k = 0; k < 3; k++) {
            double x = i * 0.5 * em;
            canvas_set(cr,
                       (i + k) % 2 ? (CanvasColour){0.85, 0.62, 0.25}
                                   : (CanvasColour){0.25, 0.45, 0.62},
                       1);
            cairo_rectangle(cr, box.x + x, bar_y + k * h / 3, MIN(0.5 * em, bar_w - x), h / 3);
            cairo_fill(cr);
        }
    for (int i = 0; i < (int)bar_w; i++) {
        FieldInk ink = focus_ink(look->most * (i + 0.5) / bar_w, look);
        canvas_set(cr, ink.colour, ink.alpha);
        cairo_rectangle(cr, box.x + i, bar_y, 1, h);
        cairo_fill(cr);
    }
    cairo_set_line_width(cr, 1);
    cairo_rectangle(cr, box.x, bar_y, bar_w, h);
    canvas_set(cr, canvas_soft, 1);
    cairo_stroke(cr);
    static const double ticks[] = {0, 0.25, 0.5, 0.75, 1};
    for (gsize i = 0; i < G_N_ELEMENTS(ticks); i++) {
        g_autofree char *text = canvas_share(ticks[i]);
        canvas_text(cr, box.x + bar_w * ticks[i], bar_y + 2.6 * em,
                    &(CanvasText){.size = 0.92 * em,
                                  .colour = canvas_soft,
                                  .align = i ? CANVAS_MIDDLE : CANVAS_LEFT},
                    text);
        cairo_move_to(cr, box.x + bar_w * ticks[i], bar_y + h);
        cairo_line_to(cr, box.x + bar_w * ticks[i], bar_y + h + 0.4 * em);
        canvas_set(cr, canvas_soft, 1);
        cairo_stroke(cr);
    }
}

/* background is what veils here: a colour as it is, otherwise dark or light. */
static CanvasColour focus_veil(const char *background)
{
    CanvasColour colour;
    if (canvas_colour_parse(background, &colour))
        return colour;
    return g_str_equal(background, "pale") ? canvas_paper : (CanvasColour){0.07, 0.08, 0.10};
}

GBytes *focus_draw(const Material *material, const LfDrawSettings *settings, LfDrawFormat format,
                   LfDrawReport *report, GError **error)
{
    double kernel_px, width, height;
    SheetBox body;
    if (!material_length_px(material, &settings->kernel, "kernel", &kernel_px, error))
        return NULL;
    report->kernel_px = kernel_px;
    g_autoptr(LfDensity) density = looks_density(material, settings, kernel_px, error);
    sheet_photo_size(settings, material, &width, &height);
    int fine = format == LF_DRAW_PNG ? 1 : 2;
    g_autoptr(Backdrop) backdrop =
        density ? backdrop_new(material, fine * (int)width, fine * (int)height, "photo", error)
                : NULL;
    if (!backdrop)
        return NULL;
    g_autoptr(Field) field = looks_field(density, (int)width, (int)height);
    FocusLook look = {focus_veil(settings->background), settings->opacity, field->most};
    g_autoptr(SheetLegend) legend = sheet_legend_new();
    g_autofree char *people = sheet_people(material);
    legend->headline = g_strdup_printf("What people looked at: %s", people);
    looks_tell(legend, material, settings, kernel_px);
    legend->key = focus_key;
    legend->data = &look;
    legend->key_em = 5.0;
    g_autoptr(Canvas) canvas = sheet_new(settings, format, material, legend, height, &body, error);
    if (!canvas)
        return NULL;
    SheetBox box = sheet_photo_box(settings, material, body);
    backdrop_paint(backdrop, canvas->cr, box.x, box.y, box.w, box.h);
    if (!field_paint(field, canvas->cr, box, focus_ink, &look, error))
        return NULL;
    return canvas_finish(canvas, report, error);
}
