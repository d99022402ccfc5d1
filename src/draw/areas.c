/* Areas with their measures: each filled by its share of the looking time, named where there is
 * room, and those that were looked at in a table. */
#include "draw/picture.h"

#include <math.h>

#include "draw/backdrop.h"
#include "draw/sheet.h"
#include "draw/zones.h"

#define AREAS_ROW 1.6      /* height of a row of the table, em */
#define AREAS_TABLE_W 46.0 /* least width of the table, em: as many side by side as fit */

typedef struct {
    ColourMap map;
    double opacity, scale;
    const Material *material;
    const Zones *zones;
    const guint *order; /* by time */
    const guint *rank;  /* of each zone in it, from 1 */
    guint looked_at;    /* that many, first in the order, are in the table */
    double most;        /* largest share */
} AreasLook;

static double areas_share(const AreasLook *look, const Zone *zone)
{
    return look->material->look_s > 0 ? zone->look_s / look->material->look_s : 0;
}

static CanvasColour areas_colour(const AreasLook *look, const Zone *zone)
{
    return colour_map_at(&look->map, look->most > 0 ? areas_share(look, zone) / look->most : 0);
}

static void areas_key(Canvas *canvas, SheetBox box, gconstpointer data)
{
    const AreasLook *look = data;
    cairo_t *cr = canvas->cr;
    double em = canvas->em, bar_y = box.y + 1.7 * em, bar_w = box.w - 3 * em;
    CanvasColour ground = {0.85, 0.85, 0.85};
    canvas_text(cr, box.x, box.y + 0.6 * em,
                &(CanvasText){.size = em, .colour = canvas_ink, .width = box.w},
                "share of the looking time on the photo");
    for (int i = 0; i < (int)bar_w; i++) {
        canvas_set(cr,
                   colour_over(colour_map_at(&look->map, (i + 0.5) / bar_w), look->opacity, ground),
                   1);
        cairo_rectangle(cr, box.x + i, bar_y, 1.5, 1.5 * em);
        cairo_fill(cr);
    }
    for (int i = 0; i <= 4; i++) {
        g_autofree char *text = canvas_share(look->most * i / 4);
        canvas_text(cr, box.x + bar_w * i / 4, bar_y + 2.6 * em,
                    &(CanvasText){.size = 0.92 * em,
                                  .colour = canvas_soft,
                                  .align = i ? CANVAS_MIDDLE : CANVAS_LEFT},
                    text);
    }
}

/* Lines the name takes in this width, or 0 where one of its words does not fit. */
static int areas_name_lines(cairo_t *cr, double size, double width, const char *name)
{
    g_auto(GStrv) words = g_strsplit(name, " ", -1);
    for (gsize i = 0; words[i]; i++)
        if (canvas_text_width(cr, size, true, words[i]) > width)
            return 0;
    return canvas_text_lines(cr, size, true, width, name);
}

/* Name and share inside the area, or where they have no room its number in the table. */
static void areas_label(const AreasLook *look, Canvas *canvas, SheetBox box, guint number)
{
    const Zone *zone = look->zones->zones->pdata[number];
    double em = canvas->em, scale = look->scale;
    double w = (zone->high.x - zone->low.x) * scale - 0.5 * em;
    double h = (zone->high.y - zone->low.y) * scale;
    double x = box.x + (zone->middle.x + 0.5) * scale, y = box.y + (zone->middle.y + 0.5) * scale;
    g_autofree char *share = canvas_share(areas_share(look, zone));
    g_autofree char *rank = g_strdup_printf("%u", look->rank[number]);
    CanvasText letters = {.size = em,
                          .bold = true,
                          .align = CANVAS_MIDDLE,
                          .colour = canvas_ink,
                          .halo = canvas_paper,
                          .halo_px = 0.22 * em};
    if (zone->areas->len == 1 && zone->looks > 0 &&
        look->opacity > 0.6) { /* on the area's colour */
        letters.colour = colour_letters_on(
            colour_over(areas_colour(look, zone), look->opacity, (CanvasColour){0.8, 0.8, 0.8}));
        letters.halo_px = 0;
    }
    int lines = areas_name_lines(canvas->cr, em, w, zone->name);
    if (lines > 0 && lines <= 3 && (lines + 1) * 1.52 * em <= h) {
        letters.width = w;
        letters.lines = lines;
        canvas_text(canvas->cr, x, y - 0.76 * lines * em, &letters, zone->name);
        letters.bold = false;
        canvas_text(canvas->cr, x, y + 0.76 * lines * em, &letters, share);
    } else if (zone->looks > 0 && h >= em &&
               canvas_text_width(canvas->cr, em, true, rank) <= w + 0.5 * em) {
        canvas_text(canvas->cr, x, y, &letters, rank);
    }
}

static void areas_photo(const AreasLook *look, Canvas *canvas, SheetBox box)
{
    cairo_t *cr = canvas->cr;
    cairo_save(cr);
    cairo_rectangle(cr, box.x, box.y, box.w, box.h);
    cairo_clip(cr);
    cairo_set_fill_rule(cr, CAIRO_FILL_RULE_EVEN_ODD);
    for (guint i = 0; i < look->zones->zones->len; i++) {
        const Zone *zone = look->zones->zones->pdata[i];
        zones_path(zone, cr, box.x, box.y, look->scale);
        canvas_set(cr, areas_colour(look, zone), zone->looks ? look->opacity : 0);
        cairo_fill_preserve(cr);
        cairo_set_line_width(cr, 0.22 * canvas->em);
        canvas_set(cr, canvas_paper, 0.9);
        cairo_stroke_preserve(cr);
        cairo_set_line_width(cr, 0.09 * canvas->em);
        canvas_set(cr, canvas_ink, 1);
        cairo_stroke(cr);
    }
    for (guint i = 0; i < look->zones->zones->len; i++)
        areas_label(look, canvas, box, i);
    cairo_restore(cr);
}

/* --- the table -------------------------------------------------------------------------------- */

static guint areas_columns(const LfDrawSettings *settings, guint rows)
{
    double wide = sheet_body_width(settings) / canvas_em(settings->width_px);
    guint most = MAX(1, (guint)(wide / AREAS_TABLE_W));
    return CLAMP((rows + 5) / 6, 1, most); /* a short table is not torn apart */
}

static guint areas_rows(const LfDrawSettings *settings, guint looked_at)
{
    guint columns = areas_columns(settings, looked_at);
    return (looked_at + columns - 1) / columns;
}

/* With a last line for those that are left out. */
static double areas_table_height(const AreasLook *look, const LfDrawSettings *settings)
{
    guint left_out = look->zones->zones->len > look->looked_at ? 1 : 0;
    return (2.2 + AREAS_ROW * (areas_rows(settings, look->looked_at) + left_out)) *
           canvas_em(settings->width_px);
}

static void areas_left_out(const AreasLook *look, Canvas *canvas, double x, double y, double width)
{
    const guint n = look->zones->zones->len - look->looked_at;
    g_autofree char *text = n == 1 ? g_strdup("1 area was not looked at")
                                   : g_strdup_printf("%u areas were not looked at", n);
    canvas_text(canvas->cr, x, y,
                &(CanvasText){.size = 0.92 * canvas->em, .colour = canvas_soft, .width = width},
                text);
}

static void areas_cells(Canvas *canvas, double x, double y, double w, bool head,
                        const char *const cells[6])
{
    double em = canvas->em;
    /* Right edges of the columns of numbers. */
    const double edge[6] = {1.6 * em, 0, w - 18.5 * em, w - 11.5 * em, w - 4.6 * em, w};
    for (int i = 0; i < 6; i++) {
        CanvasText letters = {.size = 0.92 * em,
                              .colour = head ? canvas_soft : canvas_ink,
                              .align = i == 1 ? CANVAS_LEFT : CANVAS_RIGHT,
                              .width = i == 1 ? w - 28 * em : 0};
        canvas_text(canvas->cr, x + (i == 1 ? 3.6 * em : edge[i]), y, &letters, cells[i]);
    }
}

static void areas_table(const AreasLook *look, const LfDrawSettings *settings, Canvas *canvas,
                        double x, double y, double width)
{
    guint n = look->looked_at, columns = areas_columns(settings, n);
    guint rows = areas_rows(settings, n);
    double em = canvas->em, gap = 3 * em, w = (width - (columns - 1) * gap) / columns;
    static const char *const head[6] = {"", "area", "looked at it", "first look", "time", "share"};
    for (guint c = 0; c < columns; c++) {
        double left = x + c * (w + gap);
        areas_cells(canvas, left, y + 0.9 * em, w, true, head);
        cairo_rectangle(canvas->cr, left, y + 1.8 * em, w, 1);
        canvas_set(canvas->cr, canvas_rule, 1);
        cairo_fill(canvas->cr);
    }
    for (guint i = 0; i < n; i++) {
        const Zone *zone = look->zones->zones->pdata[look->order[i]];
        double left = x + (i / rows) * (w + gap), line = y + (2.9 + AREAS_ROW * (i % rows)) * em;
        g_autofree char *rank = g_strdup_printf("%u", i + 1);
        g_autofree char *people = g_strdup_printf("%" G_GSIZE_FORMAT " of %" G_GSIZE_FORMAT,
                                                  zone->people, look->material->n_people);
        g_autofree char *first = isnan(zone->first_s) ? g_strdup("–") : canvas_time(zone->first_s);
        g_autofree char *time = canvas_time(zone->look_s);
        g_autofree char *share = canvas_share(areas_share(look, zone));
        const char *const cells[6] = {rank, zone->name, people, first, time, share};
        if (i % rows % 2) { /* a tint, for the eye to stay in its row */
            cairo_rectangle(canvas->cr, left, line - AREAS_ROW / 2 * em, w, AREAS_ROW * em);
            canvas_set(canvas->cr, canvas_rule, 0.22);
            cairo_fill(canvas->cr);
        }
        cairo_rectangle(canvas->cr, left + 2.1 * em, line - 0.45 * em, 0.9 * em, 0.9 * em);
        canvas_set(canvas->cr, areas_colour(look, zone), zone->looks ? 1 : 0);
        cairo_fill_preserve(canvas->cr);
        cairo_set_line_width(canvas->cr, 1);
        canvas_set(canvas->cr, canvas_soft, 1);
        cairo_stroke(canvas->cr);
        areas_cells(canvas, left, line, w, false, cells);
    }
    if (look->zones->zones->len > n)
        areas_left_out(look, canvas, x + 3.6 * em, y + (2.9 + AREAS_ROW * rows) * em,
                       width - 3.6 * em);
}

GBytes *areas_draw(const Material *material, const LfDrawSettings *settings, LfDrawFormat format,
                   LfDrawReport *report, GError **error)
{
    g_autoptr(Zones) zones = zones_new(material, settings->level, error);
    SheetBox body;
    double width, height;
    if (!zones)
        return NULL;
    sheet_photo_size(settings, material, &width, &height);
    int fine = format == LF_DRAW_PNG ? 1 : 2;
    g_autoptr(Backdrop) backdrop =
        backdrop_new(material, fine * (int)width, fine * (int)height, settings->background, error);
    guint n = zones->zones->len;
    g_autofree guint *order = zones_by_time(zones);
    g_autofree guint *rank = g_new(guint, n + 1);
    AreasLook look = {.opacity = settings->opacity,
                      .scale = width / material->width_px,
                      .material = material,
                      .zones = zones,
                      .order = order,
                      .rank = rank};
    if (!backdrop || !colour_map_load(&look.map, settings->colours, error))
        return NULL;
    for (guint i = 0; i < n; i++) {
        rank[order[i]] = i + 1;
        look.most = MAX(look.most, areas_share(&look, zones->zones->pdata[i]));
        look.looked_at += ((const Zone *)zones->zones->pdata[i])->looks > 0;
    }
    g_autoptr(SheetLegend) legend = sheet_legend_new();
    g_autofree char *people = sheet_people(material);
    g_autofree char *looks = canvas_count(material->n_looks, "fixation", "fixations");
    g_autofree char *time = canvas_time(material->look_s);
    g_autofree char *inside = canvas_share(zones->inside_s / material->look_s);
    legend->headline = g_strdup_printf("Areas: %s", people);
    sheet_line(legend, "%s on the photo, %s; %s of that time in these areas", looks, time, inside);
    sheet_line(legend, "First look: median of those who looked, from the start");
    sheet_line(legend, "Time and share: fixations inside, all people together");
    legend->key = areas_key;
    legend->data = &look;
    legend->key_em = 5.0;
    double em = canvas_em(settings->width_px), table = areas_table_height(&look, settings);
    g_autoptr(Canvas) canvas =
        sheet_new(settings, format, material, legend, height + em + table, &body, error);
    if (!canvas)
        return NULL;
    SheetBox box = sheet_photo_box(settings, material, body);
    backdrop_paint(backdrop, canvas->cr, box.x, box.y, box.w, box.h);
    areas_photo(&look, canvas, box);
    areas_table(&look, settings, canvas, body.x, body.y + height + em, body.w);
    return canvas_finish(canvas, report, error);
}
