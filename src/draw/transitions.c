/* From which area to which: a matrix of counts, and the same ways over the photo. */
#include "draw/picture.h"

#include <math.h>

#include "draw/backdrop.h"
#include "draw/flow.h"
#include "draw/field.h"
#include "draw/zones.h"

#define TRANSITIONS_MOST 24u /* rows of the matrix; more areas are put together in the last */
#define TRANSITIONS_WAYS 30u /* over the photo */

typedef struct {
    const Zones *zones;
    guint n;            /* rows and columns */
    guint unseen;       /* areas nobody looked at */
    bool others;        /* the last one stands for all other areas */
    const guint *order; /* zones by time */
    double *count;      /* n x n, from row to column */
    double *zone_count; /* the same of all zones */
    double most, sum;   /* off the diagonal */
    ColourMap map;
    double opacity;
    double label_w, cell, head_h; /* px of the picture */
    SheetBox photo;
} TransitionsLook;

/* Steps from fixation to fixation with nothing else between; *zone_count is zones x zones. */
static double *transitions_count(const Zones *zones, const Material *material)
{
    gsize n = zones->zones->len;
    double *count = g_new0(double, n *n + 1);
    for (guint i = 0; i < material->walks->len; i++) {
        const MaterialWalk *walk = material->walks->pdata[i];
        int before = -1;
        for (guint k = 0; k < walk->looks->len; k++) {
            const MaterialLook *look = &g_array_index(walk->looks, MaterialLook, k);
            int now = look->shown ? zones_at(zones, (LfPoint){look->x, look->y}) : -1;
            if (before >= 0 && now >= 0)
                count[(gsize)before * n + (gsize)now]++;
            before = now;
        }
    }
    return count;
}

static void transitions_fold(TransitionsLook *look)
{
    guint all = 0, zones = look->zones->zones->len;
    while (all < zones && ((const Zone *)look->zones->zones->pdata[look->order[all]])->looks > 0)
        all++; /* those nobody looked at come last, and are left out */
    look->unseen = zones - all;
    look->others = all > TRANSITIONS_MOST;
    look->n = MIN(all, TRANSITIONS_MOST);
    look->count = g_new0(double, (gsize)look->n * look->n + 1);
    for (guint r = 0; r < all; r++)
        for (guint c = 0; c < all; c++) {
            guint row = MIN(r, look->n - 1), column = MIN(c, look->n - 1);
            look->count[row * look->n + column] +=
                look->zone_count[(gsize)look->order[r] * zones + look->order[c]];
        }
    for (guint r = 0; r < look->n; r++)
        for (guint c = 0; c < look->n; c++)
            if (r != c) {
                look->most = MAX(look->most, look->count[r * look->n + c]);
                look->sum += look->count[r * look->n + c];
            }
}

static const char *transitions_name(const TransitionsLook *look, guint i)
{
    if (look->others && i == look->n - 1)
        return "all other areas";
    return ((const Zone *)look->zones->zones->pdata[look->order[i]])->name;
}

static void transitions_key(Canvas *canvas, SheetBox box, gconstpointer data)
{
    const TransitionsLook *look = data;
    cairo_t *cr = canvas->cr;
    double em = canvas->em, bar_y = box.y + 1.7 * em, bar_w = box.w - 3 * em;
    canvas_text(cr, box.x, box.y + 0.6 * em,
                &(CanvasText){.size = em, .colour = canvas_ink, .width = box.w},
                "steps from one area straight to another");
    for (int i = 0; i < (int)bar_w; i++) {
        canvas_set(cr, colour_map_at(&look->map, (i + 0.5) / bar_w), 1);
        cairo_rectangle(cr, box.x + i, bar_y, 1.5, 1.5 * em);
        cairo_fill(cr);
    }
    double step = field_step(MAX(look->most, 1), 5);
    step = MAX(step, 1);
    for (int i = 0; i * step <= look->most; i++) {
        g_autofree char *text = canvas_number(i * step);
        if (step < 10)
            text = (g_free(text), g_strdup_printf("%.0f", i * step));
        canvas_text(cr, box.x + bar_w * i * step / MAX(look->most, 1), bar_y + 2.6 * em,
                    &(CanvasText){.size = 0.92 * em,
                                  .colour = canvas_soft,
                                  .align = i ? CANVAS_MIDDLE : CANVAS_LEFT},
                    text);
    }
}

static void transitions_matrix(const TransitionsLook *look, Canvas *canvas, SheetBox box)
{
    cairo_t *cr = canvas->cr;
    double em = canvas->em, cell = look->cell, x0 = box.x + look->label_w,
           y0 = box.y + look->head_h;
    double size = MIN(0.95 * em, 0.62 * cell);
    canvas_text(cr, x0 - 0.8 * em, y0 - 0.9 * em,
                &(CanvasText){.size = 0.9 * em, .colour = canvas_soft, .align = CANVAS_RIGHT},
                "from ↓   to →");
    for (guint r = 0; r < look->n; r++) {
        canvas_text(cr, x0 - 0.8 * em, y0 + (r + 0.5) * cell,
                    &(CanvasText){.size = size,
                                  .colour = canvas_ink,
                                  .align = CANVAS_RIGHT,
                                  .width = look->label_w - em},
                    transitions_name(look, r));
        canvas_text(cr, x0 + (r + 0.5) * cell, y0 - 0.5 * em,
                    &(CanvasText){.size = size,
                                  .colour = canvas_ink,
                                  .angle_rad = -G_PI / 4,
                                  .width = (look->head_h - em) * G_SQRT2 * 0.95},
                    transitions_name(look, r));
        for (guint c = 0; c < look->n; c++) {
            double value = look->count[r * look->n + c], x = x0 + c * cell, y = y0 + r * cell;
            CanvasColour fill = r == c      ? (CanvasColour){0.93, 0.925, 0.91}
                                : value > 0 ? colour_map_at(&look->map, value / look->most)
                                            : canvas_paper;
            cairo_rectangle(cr, x, y, cell, cell);
            canvas_set(cr, fill, 1);
            cairo_fill_preserve(cr);
            cairo_set_line_width(cr, 1);
            canvas_set(cr, canvas_rule, 1);
            cairo_stroke(cr);
            if (value <= 0)
                continue;
            g_autofree char *text = g_strdup_printf("%.0f", value);
            double wide = canvas_text_width(cr, size, r != c, text);
            canvas_text(cr, x + cell / 2, y + cell / 2,
                        &(CanvasText){.size = size * MIN(1, 0.86 * cell / wide),
                                      .bold = r != c,
                                      .align = CANVAS_MIDDLE,
                                      .colour = r == c ? canvas_soft : colour_letters_on(fill)},
                        text);
        }
    }
}

static void transitions_photo(const TransitionsLook *look, const Backdrop *backdrop,
                              const Material *material, Canvas *canvas, SheetBox box)
{
    cairo_t *cr = canvas->cr;
    double scale = box.w / material->width_px;
    g_autoptr(Flow) flow = flow_blank();
    for (guint i = 0; i < look->zones->zones->len; i++) {
        const Zone *zone = look->zones->zones->pdata[i];
        FlowPlace place = {zone->middle.x, zone->middle.y, zone->look_s};
        g_array_append_val(flow->places, place);
        flow->most_s = MAX(flow->most_s, zone->look_s);
    }
    flow_set_ways(flow, look->zone_count);
    backdrop_paint(backdrop, cr, box.x, box.y, box.w, box.h);
    cairo_save(cr);
    cairo_rectangle(cr, box.x, box.y, box.w, box.h);
    cairo_clip(cr);
    for (guint i = 0; i < look->zones->zones->len; i++) {
        zones_path(look->zones->zones->pdata[i], cr, box.x, box.y, scale);
        cairo_set_line_width(cr, 0.07 * canvas->em);
        canvas_set(cr, canvas_soft, 0.9);
        cairo_stroke(cr);
    }
    cairo_restore(cr);
    FlowLook how = {&look->map, MAX(look->opacity, 0.85), scale, TRANSITIONS_WAYS,
                    CLAMP(box.w / 45, 0.6 * canvas->em, canvas->em)};
    flow_draw(flow, &how, cr, box);
}

/* The matrix on the left and the photo on the right, or beneath where there is little room. Gives
 * the height of both. */
static double transitions_plan(TransitionsLook *look, const LfDrawSettings *settings,
                               const Material *material, Canvas *scratch)
{
    double em = canvas_em(settings->width_px), room = sheet_body_width(settings);
    bool beside = room > 80 * em;
    double matrix_w = beside ? floor(0.54 * room) : room, longest = 4 * em;
    for (guint i = 0; i < look->n; i++)
        longest = MAX(longest,
                      canvas_text_width(scratch->cr, 0.95 * em, false, transitions_name(look, i)));
    look->label_w = MAX(8.5 * em, MIN(longest + 1.6 * em, 0.32 * matrix_w));
    look->head_h = MIN(longest, 15 * em) / G_SQRT2 + 2 * em;
    /* The last column's slanting name needs room to the right. */
    look->cell = MIN((matrix_w - look->label_w - 0.75 * (look->head_h - em)) / look->n, 3.6 * em);
    double matrix_h = look->head_h + look->n * look->cell;
    double photo_w = beside ? room - matrix_w - 2 * em : room;
    double ratio = (double)material->height_px / material->width_px;
    double photo_h = MIN(photo_w * ratio, 1.1 * room);
    look->photo.w = round(photo_h / ratio);
    look->photo.h = round(photo_h);
    look->photo.x = beside ? matrix_w + 2 * em : round((room - look->photo.w) / 2);
    look->photo.y = beside ? 0 : matrix_h + 1.5 * em;
    return beside ? MAX(matrix_h, photo_h) : look->photo.y + photo_h;
}

GBytes *transitions_draw(const Material *material, const LfDrawSettings *settings,
                         LfDrawFormat format, LfDrawReport *report, GError **error)
{
    g_autoptr(Zones) zones = zones_new(material, settings->level, error);
    g_autoptr(Canvas) scratch = zones ? canvas_new(LF_DRAW_PNG, 1, 1, error) : NULL;
    SheetBox body;
    if (!scratch)
        return NULL;
    g_autofree guint *order = zones_by_time(zones);
    g_autofree double *zone_count = transitions_count(zones, material);
    TransitionsLook look = {
        .zones = zones, .order = order, .zone_count = zone_count, .opacity = settings->opacity};
    transitions_fold(&look);
    g_autofree double *count = look.count;
    double height = transitions_plan(&look, settings, material, scratch);
    int fine = format == LF_DRAW_PNG ? 1 : 2;
    g_autoptr(Backdrop) backdrop = backdrop_new(
        material, fine * (int)look.photo.w, fine * (int)look.photo.h, settings->background, error);
    if (!backdrop || !colour_map_load(&look.map, settings->colours, error))
        return NULL;

    g_autoptr(SheetLegend) legend = sheet_legend_new();
    g_autofree char *people = sheet_people(material);
    g_autofree char *looks = canvas_count(material->n_looks, "fixation", "fixations");
    g_autofree char *time = canvas_time(material->look_s);
    legend->headline = g_strdup_printf("From area to area: %s", people);
    sheet_line(legend, "%s on the photo, %s; %.0f steps from one area to another", looks, time,
               look.sum);
    sheet_line(legend,
               "A step: two fixations, one right after the other. On the diagonal: the next "
               "fixation stayed in the area");
    if (look.unseen > 0) {
        g_autofree char *areas = canvas_count(look.unseen, "area", "areas");
        sheet_line(legend, "%s nobody looked at, left out", areas);
    }
    sheet_line(legend, "Over the photo the %u most used ways, from the broad end to the narrow one",
               TRANSITIONS_WAYS);
    legend->key = transitions_key;
    legend->data = &look;
    legend->key_em = 5.0;
    g_autoptr(Canvas) canvas = sheet_new(settings, format, material, legend, height, &body, error);
    if (!canvas)
        return NULL;
    transitions_matrix(&look, canvas, body);
    look.photo.x += body.x;
    look.photo.y += body.y;
    transitions_photo(&look, backdrop, material, canvas, look.photo);
    return canvas_finish(canvas, report, error);
}
