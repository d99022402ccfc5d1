/* Who looked at which area when: a row for each walk, and above them the share of walks that look
 * at each area at each moment. */
#include "draw/picture.h"

#include <math.h>

#include "draw/field.h"
#include "draw/zones.h"

#define TIMELINE_ROWS_PX 1100.0 /* the rows are made lower where there would be more than this */
#define TIMELINE_BINS 240
#define TIMELINE_COLOURS COLOUR_DISTINCT

/* What a moment of a row is. */
enum { TIMELINE_NO_AREA = -1, TIMELINE_UNSETTLED = -2, TIMELINE_ELSEWHERE = -3 };

typedef struct {
    const Material *material;
    const Zones *zones;
    const guint *order;
    guint *rank;   /* of each zone by time; from TIMELINE_COLOURS on they share a colour */
    double last_s; /* end of the axis */
    double label_w, row_h, curve_h, axis_h;
} TimelineLook;

static int timeline_kind(const TimelineLook *look, const MaterialLook *l)
{
    if (l->shown)
        return zones_at(look->zones, (LfPoint){l->x, l->y});
    return l->state == LF_STATE_DOUBTFUL ? TIMELINE_UNSETTLED : TIMELINE_ELSEWHERE;
}

static CanvasColour timeline_colour(const TimelineLook *look, int kind)
{
    if (kind >= 0 && look->rank[kind] < TIMELINE_COLOURS)
        return colour_distinct(look->rank[kind]);
    return kind >= 0 ? (CanvasColour){0.45, 0.46, 0.48} : (CanvasColour){0.82, 0.81, 0.79};
}

static void timeline_swatch(cairo_t *cr, const TimelineLook *look, int kind, SheetBox box,
                            double em)
{
    cairo_new_path(cr);
    cairo_rectangle(cr, box.x, box.y, box.w, box.h);
    if (kind == TIMELINE_UNSETTLED) {
        canvas_hatch(cr, canvas_accent, 0.42 * em);
        cairo_new_path(cr);
        return;
    }
    if (kind == TIMELINE_ELSEWHERE) {
        cairo_new_path(cr);
        return;
    }
    canvas_set(cr, timeline_colour(look, kind), 1);
    cairo_fill(cr);
}

/* The number of an area's colour, so that it can be told without seeing colours. */
static void timeline_number(cairo_t *cr, const TimelineLook *look, int kind, SheetBox box,
                            double em)
{
    if (kind < 0 || look->rank[kind] >= TIMELINE_COLOURS || box.w < 0.9 * em || box.h < em)
        return;
    g_autofree char *text = g_strdup_printf("%u", look->rank[kind] + 1);
    canvas_text(cr, box.x + box.w / 2, box.y + box.h / 2,
                &(CanvasText){.size = 0.8 * em,
                              .bold = true,
                              .align = CANVAS_MIDDLE,
                              .colour = colour_letters_on(timeline_colour(look, kind))},
                text);
}

/* --- the key ---------------------------------------------------------------------------------- */

static guint timeline_entries(const TimelineLook *look)
{
    guint n = look->zones->zones->len;
    return MIN(n, TIMELINE_COLOURS) + (n > TIMELINE_COLOURS) + 2;
}

static void timeline_key(Canvas *canvas, SheetBox box, gconstpointer data)
{
    const TimelineLook *look = data;
    cairo_t *cr = canvas->cr;
    double em = canvas->em, w = box.w / 2;
    guint n = look->zones->zones->len, entries = timeline_entries(look), rows = (entries + 1) / 2;
    for (guint i = 0; i < entries; i++) {
        g_autofree char *name = NULL;
        int kind;
        if (i < MIN(n, TIMELINE_COLOURS)) {
            kind = (int)look->order[i];
            name = g_strdup(((const Zone *)look->zones->zones->pdata[kind])->name);
        } else if (i == TIMELINE_COLOURS && n > TIMELINE_COLOURS) {
            kind = (int)look->order[i];
            name = g_strdup_printf("%u other areas", n - TIMELINE_COLOURS);
        } else if (i == entries - 2) {
            kind = TIMELINE_NO_AREA;
            name = g_strdup("on the photo, in no area");
        } else {
            kind = TIMELINE_UNSETTLED;
            name = g_strdup("unsettled");
        }
        double x = box.x + (i / rows) * w, y = box.y + (0.7 + 1.55 * (i % rows)) * em;
        SheetBox swatch = {x, y - 0.55 * em, 1.6 * em, 1.1 * em};
        timeline_swatch(cr, look, kind, swatch, em);
        timeline_number(cr, look, kind, swatch, em);
        canvas_text(cr, x + 2.1 * em, y,
                    &(CanvasText){.size = 0.95 * em, .colour = canvas_ink, .width = w - 3 * em},
                    name);
    }
}

/* --- rows ------------------------------------------------------------------------------------- */

static double timeline_x(const TimelineLook *look, SheetBox box, double t_s)
{
    return box.x + box.w * t_s / look->last_s;
}

static void timeline_axis(const TimelineLook *look, Canvas *canvas, SheetBox box, double bottom)
{
    double em = canvas->em, step = field_step_s(look->last_s, MAX(3, (int)(box.w / (7 * em))));
    cairo_t *cr = canvas->cr;
    for (int i = 0; i * step <= look->last_s * 1.0001; i++) {
        double x = round(timeline_x(look, box, i * step));
        g_autofree char *text =
            step < 60 && look->last_s < 120
                ? g_strdup_printf(step < 1 ? "%.1f s" : "%.0f s", i * step)
                : g_strdup_printf("%d:%02d", (int)(i * step) / 60, (int)(i * step) % 60);
        cairo_rectangle(cr, x, box.y, 1, bottom - box.y + 0.3 * em);
        canvas_set(cr, canvas_rule, 0.9);
        cairo_fill(cr);
        canvas_text(cr, x, bottom + 1.1 * em,
                    &(CanvasText){.size = 0.9 * em,
                                  .colour = canvas_soft,
                                  .align = i ? CANVAS_MIDDLE : CANVAS_LEFT},
                    text);
    }
}

static void timeline_row(const TimelineLook *look, Canvas *canvas, SheetBox box,
                         const MaterialWalk *walk, bool named)
{
    cairo_t *cr = canvas->cr;
    double em = canvas->em, end = 0;
    if (named)
        canvas_text(cr, box.x - 0.8 * em, box.y + box.h / 2,
                    &(CanvasText){.size = MIN(0.92 * em, MAX(look->row_h, 0.7 * em)),
                                  .colour = canvas_ink,
                                  .align = CANVAS_RIGHT,
                                  .width = look->label_w - em},
                    walk->person);
    for (guint i = 0; i < walk->looks->len; i++)
        end = MAX(end, g_array_index(walk->looks, MaterialLook, i).to_s);
    /* A line as long as the walk, on which looks stand. */
    cairo_rectangle(cr, box.x, round(box.y + box.h / 2), timeline_x(look, box, end) - box.x, 1);
    canvas_set(cr, canvas_rule, 1);
    cairo_fill(cr);
    double pad = box.h > 8 ? 0.1 * box.h : 0;
    for (guint i = 0; i < walk->looks->len; i++) {
        const MaterialLook *l = &g_array_index(walk->looks, MaterialLook, i);
        double x = timeline_x(look, box, l->from_s);
        SheetBox block = {x, box.y + pad, timeline_x(look, box, l->to_s) - x, box.h - 2 * pad};
        int kind = timeline_kind(look, l);
        timeline_swatch(cr, look, kind, block, em);
        timeline_number(cr, look, kind, block, em);
    }
}

/* The share of walks that look at each of the coloured areas, stacked, over bins of time. */
static void timeline_curve(const TimelineLook *look, Canvas *canvas, SheetBox box)
{
    const Material *material = look->material;
    guint kinds = MIN(look->zones->zones->len, TIMELINE_COLOURS) + 1;
    g_autofree double *share = g_new0(double, TIMELINE_BINS *(gsize)kinds);
    double bin_s = look->last_s / TIMELINE_BINS, em = canvas->em;
    for (guint w = 0; w < material->walks->len; w++) {
        const MaterialWalk *walk = material->walks->pdata[w];
        for (guint i = 0; i < walk->looks->len; i++) {
            const MaterialLook *l = &g_array_index(walk->looks, MaterialLook, i);
            int kind = timeline_kind(look, l);
            if (kind < 0)
                continue;
            guint k = MIN(look->rank[kind], kinds - 1);
            for (int b = MAX(0, (int)(l->from_s / bin_s)); b < TIMELINE_BINS && b * bin_s < l->to_s;
                 b++)
                share[(gsize)b * kinds + k] +=
                    MAX(0, MIN(l->to_s, (b + 1) * bin_s) - MAX(l->from_s, b * bin_s)) /
                    (bin_s * (double)material->n_walks);
        }
    }
    cairo_t *cr = canvas->cr;
    double bin_w = box.w / TIMELINE_BINS;
    for (int b = 0; b < TIMELINE_BINS; b++) {
        double y = box.y + box.h;
        for (guint k = 0; k < kinds; k++) {
            double h = box.h * share[(gsize)b * kinds + k];
            int zone = k < look->zones->zones->len ? (int)look->order[k] : TIMELINE_NO_AREA;
            cairo_rectangle(cr, box.x + b * bin_w, y - h, bin_w + 0.4, h);
            canvas_set(cr, timeline_colour(look, zone), 1);
            cairo_fill(cr);
            y -= h;
        }
    }
    for (int i = 0; i <= 2; i++) {
        g_autofree char *text = canvas_share(0.5 * i);
        double y = box.y + box.h * (1 - 0.5 * i);
        cairo_rectangle(cr, box.x, round(y), box.w, 1);
        canvas_set(cr, canvas_rule, 0.9);
        cairo_fill(cr);
        canvas_text(cr, box.x - 0.8 * em, y,
                    &(CanvasText){.size = 0.85 * em, .colour = canvas_soft, .align = CANVAS_RIGHT},
                    text);
    }
}

/* --- all of it -------------------------------------------------------------------------------- */

static void timeline_measure(TimelineLook *look, const LfDrawSettings *settings, Canvas *scratch)
{
    const Material *material = look->material;
    double em = canvas_em(settings->width_px);
    look->label_w = 5 * em;
    for (guint i = 0; i < material->walks->len; i++) {
        const MaterialWalk *walk = material->walks->pdata[i];
        look->label_w = MAX(look->label_w, 1.8 * em + canvas_text_width(scratch->cr, 0.92 * em,
                                                                        false, walk->person));
        for (guint k = 0; k < walk->looks->len; k++)
            look->last_s = MAX(look->last_s, g_array_index(walk->looks, MaterialLook, k).to_s);
    }
    look->label_w = MIN(look->label_w, 14 * em);
    guint rows = material->walks->len;
    look->row_h = CLAMP(TIMELINE_ROWS_PX / rows, 3, 1.9 * em);
    look->curve_h = rows >= 3 ? 9 * em : 0;
    look->axis_h = 2.2 * em;
}

static void timeline_body(const TimelineLook *look, Canvas *canvas, SheetBox body)
{
    const Material *material = look->material;
    double em = canvas->em, y = body.y;
    SheetBox box = {body.x + look->label_w, y, body.w - look->label_w - 1.5 * em, 0};
    double rows_y = y + (look->curve_h > 0 ? look->curve_h + em : 0);
    double bottom = rows_y + look->row_h * material->walks->len;
    box.y = y;
    timeline_axis(look, canvas, box, bottom);
    if (look->curve_h > 0)
        timeline_curve(look, canvas, (SheetBox){box.x, y, box.w, look->curve_h});
    /* Low rows are named as far as names have room. */
    guint every = MAX(1, (guint)ceil(1.05 * em / look->row_h));
    for (guint i = 0; i < material->walks->len; i++)
        timeline_row(look, canvas, (SheetBox){box.x, rows_y + i * look->row_h, box.w, look->row_h},
                     material->walks->pdata[i], i % every == 0);
}

GBytes *timeline_draw(const Material *material, const LfDrawSettings *settings, LfDrawFormat format,
                      LfDrawReport *report, GError **error)
{
    g_autoptr(Zones) zones = zones_new(material, settings->level, error);
    g_autoptr(Canvas) scratch = zones ? canvas_new(LF_DRAW_PNG, 1, 1, error) : NULL;
    SheetBox body;
    if (!scratch)
        return NULL;
    g_autofree guint *order = zones_by_time(zones);
    g_autofree guint *rank = g_new(guint, zones->zones->len + 1);
    for (guint i = 0; i < zones->zones->len; i++)
        rank[order[i]] = i;
    TimelineLook look = {.material = material, .zones = zones, .order = order, .rank = rank};
    timeline_measure(&look, settings, scratch);

    g_autoptr(SheetLegend) legend = sheet_legend_new();
    g_autofree char *people = sheet_people(material);
    g_autofree char *looks = canvas_count(material->n_looks, "fixation", "fixations");
    g_autofree char *time = canvas_time(material->look_s);
    legend->headline = g_strdup_printf("Who looked where, and when: %s", people);
    sheet_line(legend, "%s on the photo, %s; colours by the time areas were looked at", looks,
               time);
    if (look.curve_h > 0)
        sheet_line(legend, "Above: share of walks whose gaze rests in each area at that moment");
    sheet_line(legend, "Rows: coloured where a fixation lies on the photo, blank where it is "
                       "elsewhere; time from the start of each walk's chosen part");
    legend->key = timeline_key;
    legend->data = &look;
    legend->key_em = 1.55 * ((timeline_entries(&look) + 1) / 2) + 0.3;
    double height = (look.curve_h > 0 ? look.curve_h + canvas_em(settings->width_px) : 0) +
                    look.row_h * material->walks->len + look.axis_h;
    g_autoptr(Canvas) canvas = sheet_new(settings, format, material, legend, height, &body, error);
    if (!canvas)
        return NULL;
    timeline_body(&look, canvas, body);
    return canvas_finish(canvas, report, error);
}
