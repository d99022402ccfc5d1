/* The heat map: density of looks in colour over the photo, with lines at the values the legend
 * names, so that it can be read without colour too. */
#include "draw/picture.h"

#include <math.h>

#include "draw/backdrop.h"
#include "draw/colour.h"
#include "draw/looks.h"

/* Up to this share of the most the colour fades in from nothing. */
#define HEAT_FADE 0.12
#define HEAT_TICKS 5
#define HEAT_TITLE "Where people looked"

typedef struct {
    ColourMap map;
    double most; /* of the field, weight per px^2 */
    double opacity;
    CanvasColour ground; /* under the key's bar */
    LooksUnit unit;
    double step; /* between lines, in the legend's unit */
} HeatLook;

static FieldInk heat_ink(double value, gconstpointer data)
{
    const HeatLook *look = data;
    double share = look->most > 0 ? value / look->most : 0;
    double fade = MIN(1, share / HEAT_FADE);
    return (FieldInk){colour_map_at(&look->map, share),
                      look->opacity * fade * fade * (3 - 2 * fade)};
}

/* The bar of colours with the values of the lines beneath. */
static void heat_key(Canvas *canvas, SheetBox box, gconstpointer data)
{
    const HeatLook *look = data;
    cairo_t *cr = canvas->cr;
    double em = canvas->em, top = look->most * look->unit.factor, bar_y = box.y + 1.7 * em;
    double bar_w = box.w - 3 * em;
    g_autofree char *title = g_strdup_printf("%s per %s", look->unit.what, look->unit.per);

    canvas_text(cr, box.x, box.y + 0.6 * em,
                &(CanvasText){.size = em, .colour = canvas_ink, .width = box.w}, title);
    int steps = (int)bar_w;
    for (int i = 0; i < steps; i++) {
        FieldInk ink = heat_ink(look->most * (i + 0.5) / steps, look);
        canvas_set(cr, colour_over(ink.colour, ink.alpha, look->ground), 1);
        cairo_rectangle(cr, box.x + i, bar_y, 1.5, 1.5 * em);
        cairo_fill(cr);
    }
    cairo_rectangle(cr, box.x, bar_y, bar_w, 1.5 * em);
    cairo_set_line_width(cr, 1);
    canvas_set(cr, canvas_soft, 1);
    cairo_stroke(cr);
    for (int i = 0; i * look->step <= top * 1.0001; i++) {
        double value = i * look->step, x = box.x + bar_w * value / top;
        g_autofree char *text = canvas_number(value);
        cairo_move_to(cr, x, bar_y + (i ? 0 : 1.5 * em));
        cairo_line_to(cr, x, bar_y + 1.9 * em);
        canvas_set(cr, canvas_soft, 1);
        cairo_stroke(cr);
        canvas_text(cr, x, bar_y + 2.6 * em,
                    &(CanvasText){.size = 0.92 * em,
                                  .colour = canvas_soft,
                                  .align = i ? CANVAS_MIDDLE : CANVAS_LEFT},
                    text);
    }
}

static void heat_lines(const LfDensity *density, const HeatLook *look, Canvas *canvas, SheetBox box)
{
    int width = MIN(LOOKS_CONTOUR_PX, (int)box.w);
    int height = MAX(2, (int)lround(width * box.h / box.w));
    g_autoptr(Field) field = looks_field(density, width, height);
    cairo_t *cr = canvas->cr;
    cairo_save(cr);
    cairo_rectangle(cr, box.x, box.y, box.w, box.h);
    cairo_clip(cr);
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    for (int i = 1; i * look->step < look->most * look->unit.factor; i++) {
        field_contour(field, cr, box, i * look->step / look->unit.factor);
        cairo_set_line_width(cr, 0.07 * canvas->em);
        canvas_set(cr, (CanvasColour){1, 1, 1}, 0.75);
        cairo_stroke(cr);
    }
    cairo_restore(cr);
}

GBytes *heat_draw(const Material *material, const LfDrawSettings *settings, LfDrawFormat format,
                  LfDrawReport *report, GError **error)
{
    double kernel_px, width, height;
    SheetBox body;
    if (!material_length_px(material, &settings->kernel, "kernel", &kernel_px, error))
        return NULL;
    report->kernel_px = kernel_px;
    g_autoptr(LfDensity) density = looks_density(material, settings, kernel_px, error);
    sheet_photo_size(settings, material, &width, &height);
    int fine = format == LF_DRAW_PNG ? 1 : 2; /* for printers */
    g_autoptr(Backdrop) backdrop =
        density ? backdrop_new(material, fine * (int)width, fine * (int)height,
                               settings->background, error)
                : NULL;
    if (!backdrop)
        return NULL;
    g_autoptr(Field) field = looks_field(density, (int)width, (int)height);

    HeatLook look = {.most = field->most,
                     .opacity = settings->opacity,
                     .ground = backdrop_mean(backdrop),
                     .unit = looks_unit(material, settings)};
    look.step = field_step(look.most * look.unit.factor, HEAT_TICKS);
    if (!colour_map_load(&look.map, settings->colours, error))
        return NULL;
    g_autoptr(SheetLegend) legend = sheet_legend_new();
    g_autofree char *people = sheet_people(material);
    legend->headline = g_strdup_printf(HEAT_TITLE ": %s", people);
    looks_tell(legend, material, settings, kernel_px);
    legend->key = heat_key;
    legend->data = &look;
    legend->key_em = 5.0;
    g_autoptr(Canvas) canvas = sheet_new(settings, format, material, legend, height, &body, error);
    if (!canvas)
        return NULL;
    SheetBox box = sheet_photo_box(settings, material, body);
    backdrop_paint(backdrop, canvas->cr, box.x, box.y, box.w, box.h);
    if (!field_paint(field, canvas->cr, box, heat_ink, &look, error))
        return NULL;
    heat_lines(density, &look, canvas, box);
    return canvas_finish(canvas, report, error);
}
