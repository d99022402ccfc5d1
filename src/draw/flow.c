/* Places and ways. */
#include "draw/flow.h"

#include <math.h>

/* Looks are first gathered in cells of this share of a place's reach. */
#define FLOW_CELLS 3

typedef struct {
    double x, y, look_s; /* x, y: mean */
    int place;           /* index, or -1 */
} FlowCell;

typedef struct {
    int nx, ny;
    FlowCell *cell;
} FlowGrid;

static int flow_more_used(gconstpointer a, gconstpointer b)
{
    const FlowWay *x = a, *y = b;
    if (x->steps != y->steps)
        return x->steps > y->steps ? -1 : 1;
    return x->from != y->from ? (x->from > y->from) - (x->from < y->from)
                              : (x->to > y->to) - (x->to < y->to);
}

static FlowCell *flow_cell(const FlowGrid *grid, const Material *material, const MaterialLook *look)
{
    int cx = CLAMP((int)((look->x + 0.5) * grid->nx / material->width_px), 0, grid->nx - 1);
    int cy = CLAMP((int)((look->y + 0.5) * grid->ny / material->height_px), 0, grid->ny - 1);
    return &grid->cell[(gsize)cy * (gsize)grid->nx + (gsize)cx];
}

static void flow_gather(const Material *material, FlowGrid *grid)
{
    for (guint i = 0; i < material->walks->len; i++) {
        const MaterialWalk *walk = material->walks->pdata[i];
        for (guint k = 0; k < walk->looks->len; k++) {
            const MaterialLook *look = &g_array_index(walk->looks, MaterialLook, k);
            if (!look->shown)
                continue;
            FlowCell *cell = flow_cell(grid, material, look);
            double length = look->to_s - look->from_s;
            cell->look_s += length;
            cell->x += (look->x - cell->x) * length / cell->look_s;
            cell->y += (look->y - cell->y) * length / cell->look_s;
        }
    }
}

static int flow_more_looked_at(gconstpointer a, gconstpointer b)
{
    const FlowCell *x = *(FlowCell *const *)a, *y = *(FlowCell *const *)b;
    return x->look_s != y->look_s ? (x->look_s > y->look_s ? -1 : 1) : (x > y) - (x < y);
}

/* The cells most looked at found places; the others join the nearest one in reach, or found their
 * own. */
static void flow_found(Flow *flow, FlowGrid *grid, double reach_px)
{
    g_autoptr(GPtrArray) order = g_ptr_array_new();
    g_autoptr(GArray) heart = g_array_new(FALSE, FALSE, sizeof(LfPoint));
    for (int c = 0; c < grid->nx * grid->ny; c++)
        if (grid->cell[c].look_s > 0)
            g_ptr_array_add(order, &grid->cell[c]);
    g_ptr_array_sort(order, flow_more_looked_at);
    for (guint i = 0; i < order->len; i++) {
        FlowCell *cell = order->pdata[i];
        double nearest = reach_px;
        cell->place = -1;
        for (guint k = 0; k < heart->len; k++) {
            LfPoint h = g_array_index(heart, LfPoint, k);
            double away = hypot(h.x - cell->x, h.y - cell->y);
            if (away < nearest) {
                nearest = away;
                cell->place = (int)k;
            }
        }
        if (cell->place < 0) {
            LfPoint h = {cell->x, cell->y};
            FlowPlace place = {cell->x, cell->y, 0};
            cell->place = (int)heart->len;
            g_array_append_val(heart, h);
            g_array_append_val(flow->places, place);
        }
        FlowPlace *place = &g_array_index(flow->places, FlowPlace, cell->place);
        place->look_s += cell->look_s;
        place->x += (cell->x - place->x) * cell->look_s / place->look_s;
        place->y += (cell->y - place->y) * cell->look_s / place->look_s;
        flow->most_s = MAX(flow->most_s, place->look_s);
    }
}

Flow *flow_blank(void)
{
    Flow *flow = g_new0(Flow, 1);
    flow->places = g_array_new(FALSE, FALSE, sizeof(FlowPlace));
    flow->ways = g_array_new(FALSE, FALSE, sizeof(FlowWay));
    return flow;
}

void flow_set_ways(Flow *flow, const double *steps)
{
    gsize n = flow->places->len;
    for (gsize i = 0; i < n * n; i++) {
        FlowWay way = {(guint)(i / n), (guint)(i % n), steps[i]};
        if (steps[i] <= 0 || way.from == way.to)
            continue;
        g_array_append_val(flow->ways, way);
        flow->steps += steps[i];
    }
    g_array_sort(flow->ways, flow_more_used);
}

Flow *flow_new(const Material *material, double reach_px)
{
    double cell_px = reach_px / FLOW_CELLS;
    FlowGrid grid = {MAX(1, (int)lround(material->width_px / cell_px)),
                     MAX(1, (int)lround(material->height_px / cell_px)), NULL};
    g_autofree FlowCell *cells = g_new0(FlowCell, (gsize)grid.nx * (gsize)grid.ny);
    Flow *flow = flow_blank();
    grid.cell = cells;
    flow_gather(material, &grid);
    flow_found(flow, &grid, reach_px);

    gsize n = flow->places->len;
    g_autofree double *steps = g_new0(double, n *n + 1);
    for (guint i = 0; i < material->walks->len; i++) {
        const MaterialWalk *walk = material->walks->pdata[i];
        int before = -1; /* -1 too after a look elsewhere: that is no step over the photo */
        for (guint k = 0; k < walk->looks->len; k++) {
            const MaterialLook *look = &g_array_index(walk->looks, MaterialLook, k);
            int now = look->shown ? flow_cell(&grid, material, look)->place : -1;
            if (before >= 0 && now >= 0)
                steps[(gsize)before * n + (gsize)now]++;
            before = now;
        }
    }
    flow_set_ways(flow, steps);
    return flow;
}

void flow_free(Flow *flow)
{
    if (!flow)
        return;
    g_array_unref(flow->places);
    g_array_unref(flow->ways);
    g_free(flow);
}

double flow_width(const Flow *flow, const FlowLook *look, double steps)
{
    double most = flow->ways->len ? g_array_index(flow->ways, FlowWay, 0).steps : 1;
    return look->em * (0.12 + 0.75 * steps / most) / 2;
}

double flow_radius(const Flow *flow, const FlowLook *look, double seconds)
{
    return 1.9 * look->em * sqrt(seconds / flow->most_s);
}

/* Bowed to the right of its direction, so that the way back is another one; broad where it leaves,
 * narrow where it arrives. */
static void flow_way(const Flow *flow, const FlowLook *look, cairo_t *cr, SheetBox box,
                     const FlowWay *way)
{
    const FlowPlace *a = &g_array_index(flow->places, FlowPlace, way->from);
    const FlowPlace *b = &g_array_index(flow->places, FlowPlace, way->to);
    double most = g_array_index(flow->ways, FlowWay, 0).steps;
    double ax = box.x + (a->x + 0.5) * look->scale, ay = box.y + (a->y + 0.5) * look->scale;
    double bx = box.x + (b->x + 0.5) * look->scale, by = box.y + (b->y + 0.5) * look->scale;
    double dx = bx - ax, dy = by - ay, length = hypot(dx, dy),
           wide = flow_width(flow, look, way->steps);
    if (length < 1)
        return;
    double tip = 0.3 * wide;
    double px = -dy / length, py = dx / length, bow = 0.16 * length;
    /* On a narrow photo a bow must not leave it. */
    double mx = CLAMP((ax + bx) / 2 + px * bow, box.x + wide, box.x + box.w - wide);
    double my = CLAMP((ay + by) / 2 + py * bow, box.y + wide, box.y + box.h - wide);
    cairo_move_to(cr, ax + px * wide, ay + py * wide);
    cairo_curve_to(cr, mx + px * wide, my + py * wide, mx + px * wide, my + py * wide,
                   bx + px * tip, by + py * tip);
    cairo_line_to(cr, bx - px * tip, by - py * tip);
    cairo_curve_to(cr, mx - px * wide, my - py * wide, mx - px * wide, my - py * wide,
                   ax - px * wide, ay - py * wide);
    cairo_close_path(cr);
    canvas_set(cr, colour_map_at(look->map, way->steps / most), look->opacity);
    cairo_fill_preserve(cr);
    cairo_set_line_width(cr, 0.045 * look->em);
    canvas_set(cr, canvas_ink, 0.6);
    cairo_stroke(cr);
}

void flow_draw(const Flow *flow, const FlowLook *look, cairo_t *cr, SheetBox box)
{
    cairo_save(cr);
    cairo_rectangle(cr, box.x, box.y, box.w, box.h);
    cairo_clip(cr);
    for (guint i = MIN(look->n_ways, flow->ways->len); i-- > 0;)
        flow_way(flow, look, cr, box, &g_array_index(flow->ways, FlowWay, i));
    for (guint i = 0; i < flow->places->len; i++) {
        const FlowPlace *p = &g_array_index(flow->places, FlowPlace, i);
        cairo_new_path(cr);
        cairo_arc(cr, box.x + (p->x + 0.5) * look->scale, box.y + (p->y + 0.5) * look->scale,
                  flow_radius(flow, look, p->look_s), 0, 2 * G_PI);
        canvas_set(cr, canvas_ink, 0.72);
        cairo_fill_preserve(cr);
        cairo_set_line_width(cr, 0.09 * look->em);
        canvas_set(cr, canvas_paper, 1);
        cairo_stroke(cr);
    }
    cairo_restore(cr);
}
