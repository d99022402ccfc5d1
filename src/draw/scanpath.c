/* The order in which people looked: one walk large, with numbers; some as a panel each; many
 * bundled as a flow. */
#include "draw/picture.h"

#include <math.h>

#include "draw/backdrop.h"
#include "draw/flow.h"
#include "draw/path.h"

#define SCANPATH_PANELS 30 /* walks; more become a flow */
#define SCANPATH_WAYS 40u  /* drawn in a flow */
/* A flow's places reach as far as twice the radius of a one-second fixation, and at least this
 * share of the photo's longer side. */
#define SCANPATH_CELL 0.06

typedef struct {
    ColourMap map;
    PathLook path;
    Flow *flow;
    FlowLook flow_look;
    double photo_px; /* width of one panel's photo in the picture */
} Scanpath;

/* Walks with something to show; borrowed from the material. */
static GPtrArray *scanpath_walks(const Material *material)
{
    GPtrArray *walks = g_ptr_array_new();
    for (guint i = 0; i < material->walks->len; i++)
        if (material_shown(material->walks->pdata[i], true) > 0)
            g_ptr_array_add(walks, material->walks->pdata[i]);
    return walks;
}

/* A disc for each of some durations; gives the x after them. */
static double scanpath_sizes(cairo_t *cr, double em, double x, double y, const double *seconds,
                             const double *radius, gsize n, double room)
{
    for (gsize i = 0; i < n; i++) {
        g_autofree char *text = canvas_time(seconds[i]);
        double w = 2 * radius[i] + 0.6 * em + canvas_text_width(cr, 0.92 * em, false, text);
        if (x + w > room)
            break;
        cairo_new_path(cr);
        cairo_arc(cr, x + radius[i], y, radius[i], 0, 2 * G_PI);
        cairo_set_line_width(cr, 0.1 * em);
        canvas_set(cr, canvas_ink, 1);
        cairo_stroke(cr);
        canvas_text(cr, x + 2 * radius[i] + 0.4 * em, y,
                    &(CanvasText){.size = 0.92 * em, .colour = canvas_soft}, text);
        x += w + 0.9 * em;
    }
    return x;
}

static void scanpath_ramp(Canvas *canvas, SheetBox box, const ColourMap *map, const char *title,
                          const char *first, const char *last)
{
    cairo_t *cr = canvas->cr;
    double em = canvas->em, bar_y = box.y + 1.6 * em, bar_w = box.w - 3 * em;
    canvas_text(cr, box.x, box.y + 0.6 * em,
                &(CanvasText){.size = em, .colour = canvas_ink, .width = box.w}, title);
    for (int i = 0; i < (int)bar_w; i++) {
        canvas_set(cr, colour_map_at(map, (i + 0.5) / bar_w), 1);
        cairo_rectangle(cr, box.x + i, bar_y, 1.5, 0.9 * em);
        cairo_fill(cr);
    }
    canvas_text(cr, box.x, bar_y + 1.7 * em,
                &(CanvasText){.size = 0.92 * em, .colour = canvas_soft}, first);
    canvas_text(cr, box.x + bar_w, bar_y + 1.7 * em,
                &(CanvasText){.size = 0.92 * em, .colour = canvas_soft, .align = CANVAS_RIGHT},
                last);
}

static void scanpath_key(Canvas *canvas, SheetBox box, gconstpointer data)
{
    const Scanpath *s = data;
    double em = canvas->em, radius[4];
    if (s->flow) {
        double most = s->flow->ways->len ? g_array_index(s->flow->ways, FlowWay, 0).steps : 0;
        g_autofree char *last = g_strdup_printf("%.0f times", most);
        scanpath_ramp(canvas, box, &s->map,
                      "How often a way was taken (broad end: from, point: to)", "once", last);
        const double seconds[] = {s->flow->most_s / 16, s->flow->most_s / 4, s->flow->most_s};
        for (int i = 0; i < 3; i++)
            radius[i] = flow_radius(s->flow, &s->flow_look, seconds[i]);
        scanpath_sizes(canvas->cr, em, box.x, box.y + 6.0 * em, seconds, radius, 3, box.x + box.w);
        return;
    }
    g_autofree char *first = canvas_time(s->path.from_s);
    g_autofree char *last = canvas_time(s->path.to_s);
    scanpath_ramp(canvas, box, &s->map, "Time from the start (broad end: from, point: to)", first,
                  last);
    static const double seconds[] = {0.1, 0.2, 0.5, 1};
    for (int i = 0; i < 4; i++)
        radius[i] = path_radius(&s->path, seconds[i]);
    scanpath_sizes(canvas->cr, em, box.x, box.y + 6.0 * em, seconds, radius, 4, box.x + box.w);
}

/* --- panels ----------------------------------------------------------------------------------- */

typedef struct {
    guint columns, rows;
    double w, h, gap, head; /* of one photo; between panels; above each for its name */
} ScanpathGrid;

/* As many columns as make the panels largest in a body that is no taller than wide. */
static ScanpathGrid scanpath_grid(const LfDrawSettings *settings, const Material *material, guint n)
{
    ScanpathGrid grid = {1, n, 0, 0, 0, 0};
    double em = canvas_em(settings->width_px), room = sheet_body_width(settings);
    grid.gap = em;
    grid.head = n > 1 ? 1.7 * em : 0;
    if (n == 1) {
        sheet_photo_size(settings, material, &grid.w, &grid.h);
        return grid;
    }
    double ratio = (double)material->height_px / material->width_px, best = 0;
    for (guint columns = 1; columns <= n; columns++) {
        guint rows = (n + columns - 1) / columns;
        double w = floor((room - (columns - 1) * grid.gap) / columns);
        double tall = rows * (w * ratio + grid.head + grid.gap);
        double most = 1.1 * room;
        if (tall > most)
            w = floor(((most / rows) - grid.head - grid.gap) / ratio);
        if (w > best + 0.5) {
            best = w;
            grid.columns = columns;
            grid.rows = rows;
        }
    }
    grid.w = MAX(best, 4 * em);
    grid.h = round(grid.w * ratio);
    return grid;
}

static void scanpath_panel_name(Canvas *canvas, const MaterialWalk *walk, double x, double y,
                                double width)
{
    double em = canvas->em;
    g_autofree char *name = g_str_equal(walk->person, walk->name)
                                ? g_strdup(walk->name)
                                : g_strdup_printf("%s, %s", walk->person, walk->name);
    g_autofree char *time = canvas_time(material_shown(walk, false));
    double w = canvas_text_width(canvas->cr, 0.85 * em, false, time);
    bool both = width > w + 6 * em;
    canvas_text(canvas->cr, x, y,
                &(CanvasText){.size = 0.92 * em,
                              .bold = true,
                              .colour = canvas_ink,
                              .width = both ? width - w - em : width},
                name);
    if (both)
        canvas_text(canvas->cr, x + width, y,
                    &(CanvasText){.size = 0.85 * em, .colour = canvas_soft, .align = CANVAS_RIGHT},
                    time);
}

static void scanpath_panels(Scanpath *s, Canvas *canvas, const ScanpathGrid *grid,
                            const Backdrop *backdrop, GPtrArray *walks, SheetBox body)
{
    for (guint i = 0; i < walks->len; i++) {
        double taken = grid->columns * grid->w + (grid->columns - 1) * grid->gap;
        double x =
            round(body.x + (body.w - taken) / 2 + (i % grid->columns) * (grid->w + grid->gap));
        double y = round(body.y + (i / grid->columns) * (grid->h + grid->head + grid->gap));
        SheetBox box = {x, y + grid->head, grid->w, grid->h};
        if (grid->head > 0)
            scanpath_panel_name(canvas, walks->pdata[i], x, y + 0.8 * canvas->em, grid->w);
        backdrop_paint(backdrop, canvas->cr, box.x, box.y, box.w, box.h);
        path_draw(walks->pdata[i], &s->path, canvas->cr, box, NULL);
    }
}

/* --- all of it -------------------------------------------------------------------------------- */

static void scanpath_tell(SheetLegend *legend, const Scanpath *s, const Material *material,
                          const LfDrawSettings *settings, const GPtrArray *walks)
{
    const MaterialWalk *only = walks->pdata[0];
    g_autofree char *people = sheet_people(material);
    g_autofree char *looks = canvas_count(material->n_looks, "fixation", "fixations");
    g_autofree char *time = canvas_time(material->look_s);
    g_autofree char *value = canvas_short(settings->radius.value);
    if (s->flow)
        legend->headline = g_strdup_printf("The ways of %s, bundled", people);
    else if (walks->len == 1)
        legend->headline = g_strdup_printf("The order in which %s looked", only->person);
    else
        legend->headline = g_strdup_printf("The order in which each of %s looked", people);
    sheet_line(legend, "%s, %s%s", looks, time,
               settings->choice.doubtful ? ", doubtful ones among them" : "");
    if (s->flow) {
        double drawn = 0;
        for (guint i = 0; i < MIN(SCANPATH_WAYS, s->flow->ways->len); i++)
            drawn += g_array_index(s->flow->ways, FlowWay, i).steps;
        g_autofree char *share = canvas_share(s->flow->steps > 0 ? drawn / s->flow->steps : 0);
        sheet_line(legend, "The %u most used ways of %u: %s of all %.0f steps from place to place",
                   MIN(SCANPATH_WAYS, s->flow->ways->len), s->flow->ways->len, share,
                   s->flow->steps);
        sheet_line(legend, "Discs: areas are as the time looked there, all people together");
        return;
    }
    sheet_line(legend, "Discs: areas are as durations, one second has a radius of %s%s", value,
               settings->radius.unit == LF_DRAW_DEG  ? "°"
               : settings->radius.unit == LF_DRAW_MM ? " mm"
                                                     : " px");
    sheet_line(legend, "Dashes: looks elsewhere or unsettled lie between");
}

GBytes *scanpath_draw(const Material *material, const LfDrawSettings *settings, LfDrawFormat format,
                      LfDrawReport *report, GError **error)
{
    g_autoptr(GPtrArray) walks = scanpath_walks(material);
    bool flow = walks->len > SCANPATH_PANELS;
    double radius_px;
    SheetBox body;
    if (!material_length_px(material, &settings->radius, "radius", &radius_px, error))
        return NULL;
    ScanpathGrid grid = scanpath_grid(settings, material, flow ? 1 : walks->len);
    int fine = format == LF_DRAW_PNG ? 1 : 2;
    g_autoptr(Backdrop) backdrop =
        backdrop_new(material, fine * (int)grid.w, fine * (int)grid.h, settings->background, error);
    Scanpath s = {0};
    if (!backdrop || !colour_map_load(&s.map, settings->colours, error))
        return NULL;
    double em = canvas_em(settings->width_px), scale = grid.w / material->width_px;
    double last = 0;
    for (guint i = 0; i < walks->len; i++) {
        const MaterialWalk *walk = walks->pdata[i];
        for (guint k = 0; k < walk->looks->len; k++)
            last = MAX(last, g_array_index(walk->looks, MaterialLook, k).to_s);
    }
    s.path = (PathLook){.map = &s.map,
                        .opacity = settings->opacity,
                        .scale = scale,
                        .radius_px = radius_px,
                        .to_s = last,
                        .numbers = walks->len == 1,
                        .em = walks->len == 1 ? em : CLAMP(grid.w / 40, 0.45 * em, em)};
    g_autoptr(Flow) bundled =
        flow ? flow_new(material, MAX(2 * radius_px,
                                      SCANPATH_CELL * MAX(material->width_px, material->height_px)))
             : NULL;
    s.flow = bundled;
    s.flow_look = (FlowLook){&s.map, settings->opacity, scale, SCANPATH_WAYS, em};

    g_autoptr(SheetLegend) legend = sheet_legend_new();
    scanpath_tell(legend, &s, material, settings, walks);
    legend->key = scanpath_key;
    legend->data = &s;
    legend->key_em = 8.2;
    double height = grid.rows * (grid.h + grid.head) + (grid.rows - 1) * grid.gap;
    if (flow)
        height = grid.h;
    g_autoptr(Canvas) canvas = sheet_new(settings, format, material, legend, height, &body, error);
    if (!canvas)
        return NULL;
    if (flow) {
        SheetBox box = sheet_photo_box(settings, material, body);
        backdrop_paint(backdrop, canvas->cr, box.x, box.y, box.w, box.h);
        flow_draw(bundled, &s.flow_look, canvas->cr, box);
    } else {
        scanpath_panels(&s, canvas, &grid, backdrop, walks, body);
    }
    return canvas_finish(canvas, report, error);
}
