/* Where two groups differ: the difference of their densities, drawn only inside the clusters that
 * hold against a permutation test corrected over the picture (look/cluster.h). */
#include "draw/difference.h"

#include <math.h>

#include "draw/backdrop.h"
#include "draw/colour.h"
#include "draw/picture.h"

typedef struct {
    const Difference *of;
    Field *shown; /* the difference where it holds, NaN elsewhere */
    double most;  /* of its size */
    LooksUnit unit;
    double opacity;
    CanvasColour ground; /* under the key's bar */
    bool pooled;
} DifferenceLook;

/* 1 in cells of clusters that hold, 0 elsewhere. */
static Field *difference_mask(const Difference *d)
{
    Field *mask = field_new(d->nx, d->ny);
    for (gsize c = 0; c < (gsize)d->nx * (gsize)d->ny; c++)
        mask->value[c] =
            d->clusters->cluster_of[c] >= 0 && (gsize)d->clusters->cluster_of[c] < d->n_held ? 1
                                                                                             : 0;
    return mask;
}

/* Between the middles of cells by bilinear interpolation. */
static double difference_mask_at(const Field *mask, double x, double y)
{
    double fx = CLAMP(x * mask->width - 0.5, 0, mask->width - 1);
    double fy = CLAMP(y * mask->height - 0.5, 0, mask->height - 1);
    int x0 = (int)fx, y0 = (int)fy;
    int x1 = MIN(x0 + 1, mask->width - 1), y1 = MIN(y0 + 1, mask->height - 1);
    double u = fx - x0, v = fy - y0;
    const float *m = mask->value;
    gsize w = (gsize)mask->width;
    return (1 - v) * ((1 - u) * (double)m[(gsize)y0 * w + (gsize)x0] +
                      u * (double)m[(gsize)y0 * w + (gsize)x1]) +
           v * ((1 - u) * (double)m[(gsize)y1 * w + (gsize)x0] +
                u * (double)m[(gsize)y1 * w + (gsize)x1]);
}

static void difference_shown(DifferenceLook *look, const Field *mask)
{
    const Field *a = look->of->group[0].mean, *b = look->of->group[1].mean;
    look->shown = field_new(a->width, a->height);
    for (int y = 0; y < a->height; y++)
        for (int x = 0; x < a->width; x++) {
            gsize i = (gsize)y * (gsize)a->width + (gsize)x;
            double value = (double)a->value[i] - (double)b->value[i];
            bool held =
                difference_mask_at(mask, (x + 0.5) / a->width, (y + 0.5) / a->height) >= 0.5;
            look->shown->value[i] = held ? (float)value : NAN;
            look->most = held ? MAX(look->most, fabs(value)) : look->most;
        }
}

static FieldInk difference_ink(double value, gconstpointer data)
{
    const DifferenceLook *look = data;
    if (isnan(value))
        return (FieldInk){{0, 0, 0}, 0};
    return (FieldInk){colour_diverging(value / look->most), look->opacity};
}

/* What a cluster says: by how much, and how surely. Stands above it where there is room. */
static void difference_label(const DifferenceLook *look, const Material *material, Canvas *canvas,
                             SheetBox box, gsize number)
{
    const LfDrawPlace *place = &look->of->places[number];
    double em = canvas->em, scale = box.w / material->width_px;
    double amount = place->amount * (look->pooled ? 1 : 100);
    g_autofree char *size = canvas_number(fabs(amount));
    g_autofree char *p = canvas_p(place->p);
    g_autofree char *text = g_strdup_printf("%s%s%s, %s", amount < 0 ? "−" : "+", size,
                                            look->pooled ? " s" : " points", p);
    double x = box.x + (place->x_px + 0.5) * scale;
    double y = box.y + (place->top_px + 0.5) * scale - 0.9 * em;
    double half = canvas_text_width(canvas->cr, em, true, text) / 2 + 0.5 * em;
    if (y < box.y + em)
        y = MIN(box.y + (place->bottom_px + 0.5) * scale + em, box.y + box.h - em);
    x = CLAMP(x, box.x + half, MAX(box.x + half, box.x + box.w - half));
    canvas_text(canvas->cr, x, y,
                &(CanvasText){.size = em,
                              .bold = true,
                              .align = CANVAS_MIDDLE,
                              .colour = canvas_ink,
                              .halo = canvas_paper,
                              .halo_px = 0.28 * em},
                text);
}

static void difference_key(Canvas *canvas, SheetBox box, gconstpointer data)
{
    const DifferenceLook *look = data;
    cairo_t *cr = canvas->cr;
    double em = canvas->em, bar_y = box.y + 1.7 * em, bar_w = box.w - 3 * em;
    double top = look->most * look->unit.factor, step = field_step(top > 0 ? top : 1, 3);
    g_autofree char *title =
        g_strdup_printf("%s per %s: “%s” less “%s”", look->unit.what, look->unit.per,
                        look->of->group[0].name, look->of->group[1].name);
    canvas_text(cr, box.x, box.y + 0.6 * em,
                &(CanvasText){.size = em, .colour = canvas_ink, .width = box.w}, title);
    for (int i = 0; i < (int)bar_w; i++) {
        CanvasColour c = colour_diverging(2 * (i + 0.5) / bar_w - 1);
        canvas_set(cr, colour_over(c, look->opacity, look->ground), 1);
        cairo_rectangle(cr, box.x + i, bar_y, 1.5, 1.5 * em);
        cairo_fill(cr);
    }
    cairo_rectangle(cr, box.x, bar_y, bar_w, 1.5 * em);
    cairo_set_line_width(cr, 1);
    canvas_set(cr, canvas_soft, 1);
    cairo_stroke(cr);
    for (int i = -4; i <= 4 && top > 0; i++) {
        double value = i * step, x = box.x + bar_w * (value / top + 1) / 2;
        if (fabs(value) > top * 1.0001)
            continue;
        g_autofree char *size = canvas_number(fabs(value));
        g_autofree char *text = g_strconcat(i < 0 ? "−" : i > 0 ? "+" : "", size, NULL);
        cairo_move_to(cr, x, bar_y + 1.5 * em);
        cairo_line_to(cr, x, bar_y + 1.9 * em);
        canvas_set(cr, canvas_soft, 1);
        cairo_stroke(cr);
        canvas_text(cr, x, bar_y + 2.6 * em,
                    &(CanvasText){.size = 0.92 * em, .colour = canvas_soft, .align = CANVAS_MIDDLE},
                    text);
    }
}

static void difference_tell(SheetLegend *legend, const DifferenceLook *look,
                            const LfDrawSettings *settings, double kernel_px)
{
    const Difference *d = look->of;
    g_autofree char *kernel = looks_kernel(settings, kernel_px);
    g_autofree char *hold = canvas_short(settings->hold_p);
    g_autofree char *cell = canvas_short(settings->cell_p);
    if (d->n_held > 0) {
        g_autofree char *places = canvas_count(d->n_held, "place", "places");
        legend->headline = g_strdup_printf("“%s” against “%s”: the difference holds in %s",
                                           d->group[0].name, d->group[1].name, places);
    } else {
        legend->headline = g_strdup_printf("“%s” against “%s”: no difference holds",
                                           d->group[0].name, d->group[1].name);
    }
    for (int k = 0; k < 2; k++) {
        g_autofree char *people = canvas_count(d->group[k].people->len, "person", "people");
        g_autofree char *time = canvas_time(d->group[k].look_s);
        sheet_line(legend, "“%s”: %s, %s of %s", d->group[k].name, people, time,
                   settings->samples ? "settled gaze" : "fixations");
    }
    sheet_line(legend,
               "Permutation test on the mass of clusters, corrected over the whole picture%s: %d "
               "permutations, seed %u; cells from p = %s, drawn up to p = %s",
               d->paired ? ", the same people in both groups" : "", settings->permutations,
               settings->seed, cell, hold);
    sheet_line(legend, "%s, %s; %s", kernel,
               settings->count ? "weighted by number" : "weighted by duration",
               settings->pooled ? "per person" : "share of each person's own");
    if (settings->choice.doubtful)
        sheet_line(legend, "Doubtful looks are among them");
}

static void difference_over(const DifferenceLook *look, const Material *material, const Field *mask,
                            Canvas *canvas, SheetBox box)
{
    cairo_t *cr = canvas->cr;
    double em = canvas->em;
    cairo_save(cr);
    cairo_rectangle(cr, box.x, box.y, box.w, box.h);
    cairo_clip(cr);
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    for (int pass = 0; pass < 2; pass++) {
        field_contour(mask, cr, box, 0.5);
        cairo_set_line_width(cr, (pass ? 0.09 : 0.22) * em);
        canvas_set(cr, pass ? canvas_ink : canvas_paper, 1);
        cairo_stroke(cr);
    }
    cairo_restore(cr);
    for (gsize i = 0; i < look->of->n_held; i++)
        difference_label(look, material, canvas, box, i);
    if (look->of->n_held == 0) {
        g_autofree char *p =
            canvas_p(look->of->clusters->n_clusters ? look->of->clusters->clusters[0].p : 1);
        g_autofree char *text = g_strdup_printf("no difference holds (%s at best)", p);
        canvas_text(cr, box.x + box.w / 2, box.y + box.h / 2,
                    &(CanvasText){.size = 1.4 * em,
                                  .bold = true,
                                  .align = CANVAS_MIDDLE,
                                  .width = box.w - 2 * em,
                                  .lines = 2,
                                  .colour = canvas_ink,
                                  .halo = canvas_paper,
                                  .halo_px = 0.4 * em},
                    text);
    }
}

/* With everything computed. */
static GBytes *difference_picture(DifferenceLook *look, const Material *material,
                                  const LfDrawSettings *settings, LfDrawFormat format,
                                  double kernel_px, SheetBox photo, LfDrawReport *report,
                                  GError **error)
{
    g_autoptr(Field) mask = difference_mask(look->of);
    SheetBox body;
    int fine = format == LF_DRAW_PNG ? 1 : 2;
    g_autoptr(Backdrop) backdrop = backdrop_new(material, fine * (int)photo.w, fine * (int)photo.h,
                                                settings->background, error);
    if (!backdrop)
        return NULL;
    difference_shown(look, mask);
    look->ground = backdrop_mean(backdrop);
    g_autoptr(SheetLegend) legend = sheet_legend_new();
    difference_tell(legend, look, settings, kernel_px);
    legend->key = look->of->n_held > 0 ? difference_key : NULL;
    legend->data = look;
    legend->key_em = 5.0;
    g_autoptr(Canvas) canvas = sheet_new(settings, format, material, legend, photo.h, &body, error);
    if (!canvas)
        return NULL;
    SheetBox box = sheet_photo_box(settings, material, body);
    backdrop_paint(backdrop, canvas->cr, box.x, box.y, box.w, box.h);
    if (!field_paint(look->shown, canvas->cr, box, difference_ink, look, error))
        return NULL;
    difference_over(look, material, mask, canvas, box);
    return canvas_finish(canvas, report, error);
}

GBytes *difference_draw(const Material *material, const LfDrawSettings *settings,
                        LfDrawFormat format, LfDrawReport *report, GError **error)
{
    g_auto(Difference) difference = {0};
    SheetBox photo = {0};
    double kernel_px;
    if (!material_length_px(material, &settings->kernel, "kernel", &kernel_px, error))
        return NULL;
    report->kernel_px = kernel_px;
    sheet_photo_size(settings, material, &photo.w, &photo.h);
    if (!difference_compute(&difference, material, settings, kernel_px, (int)photo.w, (int)photo.h,
                            error))
        return NULL;
    report->clusters = difference.n_held;
    report->least_p = difference.clusters->n_clusters ? difference.clusters->clusters[0].p : 1;
    DifferenceLook look = {.of = &difference,
                           .unit = looks_unit(material, settings),
                           .opacity = settings->opacity,
                           .pooled = settings->pooled};
    GBytes *bytes =
        difference_picture(&look, material, settings, format, kernel_px, photo, report, error);
    field_free(look.shown);
    if (bytes) {
        report->n_places = difference.clusters->n_clusters;
        report->places = g_steal_pointer(&difference.places);
    }
    return bytes;
}
