/* Whether an area can be used: names, surface, crossings of its outline, place on the photo.
 *
 * Two edges cross where their insides meet in one point, or where the outline runs through a corner
 * of its own to the other side. Corners and edges that merely touch are fine: even-odd filling is
 * well defined there. */
#include <lookfall/area.h>

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "look/shown.h"

/* Less than a hundredth of a pixel of photo can hold no gaze. */
#define AREA_SURFACE_LEAST_PX2 0.01

typedef struct {
    LfPoint a, b;
    double low, high;         /* of x */
    gsize ring, number, last; /* edge `number` of 0 to `last` of its ring */
} AreaEdge;

/* --- names ---------------------------------------------------------------------------------- */

static const char *area_name_fault(const char *name)
{
    if (!name || !*name)
        return "is empty";
    if (!g_utf8_validate(name, -1, NULL))
        return "is not valid UTF-8";
    if (g_utf8_strlen(name, -1) > 100)
        return "is longer than 100 characters";
    if (g_unichar_isspace(g_utf8_get_char(name)) ||
        g_unichar_isspace(g_utf8_get_char(g_utf8_prev_char(name + strlen(name)))))
        return "begins or ends with a blank";
    for (const char *c = name; *c; c = g_utf8_next_char(c))
        if (g_unichar_iscntrl(g_utf8_get_char(c)))
            return "holds a line break or another control character";
    return NULL;
}

static bool area_check_names(const LfArea *area, GError **error)
{
    const char *why = area_name_fault(area->name);
    g_autofree char *shown = look_shown(area->name);
    if (why) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "the area's name \"%s\" %s", shown, why);
        return false;
    }
    if (!area->group_path[0])
        return true;
    g_auto(GStrv) groups = g_strsplit(area->group_path, "/", -1);
    for (gsize i = 0; groups[i] && !why; i++)
        why = area_name_fault(groups[i]);
    if (!why)
        return true;
    g_autofree char *path = look_shown(area->group_path);
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "area %s: in its group \"%s\" a name %s; groups are written \"outer/inner\"", shown,
                path, why);
    return false;
}

/* --- crossings ----------------------------------------------------------------------------------
 */

static double area_side(LfPoint a, LfPoint b, LfPoint c)
{
    return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

static bool area_same(LfPoint a, LfPoint b)
{
    return a.x == b.x && a.y == b.y;
}

/* c strictly between a and b on the line through them. */
static bool area_between(LfPoint a, LfPoint b, LfPoint c)
{
    if (area_side(a, b, c) != 0 || area_same(a, c) || area_same(b, c))
        return false;
    return (c.x - a.x) * (c.x - b.x) + (c.y - a.y) * (c.y - b.y) < 0;
}

static bool area_edges_cross(const AreaEdge *e, const AreaEdge *f)
{
    double e_a = area_side(f->a, f->b, e->a), e_b = area_side(f->a, f->b, e->b);
    double f_a = area_side(e->a, e->b, f->a), f_b = area_side(e->a, e->b, f->b);
    return ((e_a > 0 && e_b < 0) || (e_a < 0 && e_b > 0)) &&
           ((f_a > 0 && f_b < 0) || (f_a < 0 && f_b > 0));
}

/* Whether direction d lies strictly inside the turn from `from` to `to`, anticlockwise. */
static bool area_turn_holds(LfPoint from, LfPoint to, LfPoint d)
{
    double turn = atan2(from.x * to.y - from.y * to.x, from.x * to.x + from.y * to.y);
    double at = atan2(from.x * d.y - from.y * d.x, from.x * d.x + from.y * d.y);
    if (turn <= 0)
        turn += 2 * G_PI;
    if (at <= 0)
        at += 2 * G_PI;
    return at < turn;
}

/* Two ways through the same point, in1 -> at -> out1 and in2 -> at -> out2: whether they cross. */
static bool area_ways_cross(LfPoint at, LfPoint in1, LfPoint out1, LfPoint in2, LfPoint out2)
{
    LfPoint directions[4] = {in1, out1, in2, out2};
    for (int i = 0; i < 4; i++)
        directions[i] = (LfPoint){directions[i].x - at.x, directions[i].y - at.y};
    for (int i = 0; i < 2; i++)
        for (int j = 2; j < 4; j++) {
            LfPoint a = directions[i], b = directions[j];
            if (a.x * b.y - a.y * b.x == 0 && a.x * b.x + a.y * b.y > 0)
                return false; /* they run along each other: a touch */
        }
    return area_turn_holds(directions[0], directions[1], directions[2]) !=
           area_turn_holds(directions[0], directions[1], directions[3]);
}

/* The outline's way through the corner at the end of edge e, against edge f. */
static bool area_corner_crosses(const AreaEdge *e, const AreaEdge *after, const AreaEdge *f,
                                const AreaEdge *f_after)
{
    if (area_between(f->a, f->b, e->b))
        return area_ways_cross(e->b, e->a, after->b, f->a, f->b);
    return area_same(e->b, f->b) && area_ways_cross(e->b, e->a, after->b, f->a, f_after->b);
}

static int area_edge_compare(const void *a, const void *b)
{
    const AreaEdge *const *e = a, *const *f = b;
    return ((*e)->low > (*f)->low) - ((*e)->low < (*f)->low);
}

/* Edges without length are left out: they cross nothing, and have no direction. */
static GArray *area_edges(const LfArea *area, GArray *firsts)
{
    GArray *edges = g_array_new(FALSE, FALSE, sizeof(AreaEdge));
    gsize begin = 0;
    for (gsize r = 0; r < area->n_rings; r++) {
        gsize end = area->ring_ends[r], first = edges->len;
        for (gsize i = begin; i < end; i++) {
            LfPoint a = area->points[i], b = area->points[i + 1 < end ? i + 1 : begin];
            AreaEdge edge = {a, b, fmin(a.x, b.x), fmax(a.x, b.x), r, edges->len - first, 0};
            if (!area_same(a, b))
                g_array_append_val(edges, edge);
        }
        for (gsize i = first; i < edges->len; i++)
            g_array_index(edges, AreaEdge, i).last = edges->len - first - 1;
        g_array_append_val(firsts, first);
        begin = end;
    }
    return edges;
}

static const AreaEdge *area_edge_after(const AreaEdge *edges, const gsize *firsts,
                                       const AreaEdge *edge)
{
    gsize next = edge->number == edge->last ? 0 : edge->number + 1;
    return edges + firsts[edge->ring] + next;
}

/* The first crossing found, going right. Edges are sorted by their left ends, so each is compared
 * with those alone that begin before it ends. */
static bool area_crossing(const LfArea *area, LfPoint *at)
{
    g_autoptr(GArray) firsts = g_array_new(FALSE, FALSE, sizeof(gsize));
    g_autoptr(GArray) list = area_edges(area, firsts);
    const AreaEdge *edges = (const AreaEdge *)(gpointer)list->data;
    const gsize *first = (const gsize *)(gpointer)firsts->data;
    g_autofree const AreaEdge **sorted = g_new(const AreaEdge *, MAX(list->len, 1));
    for (guint i = 0; i < list->len; i++)
        sorted[i] = edges + i;
    qsort(sorted, list->len, sizeof *sorted, area_edge_compare);
    for (guint i = 0; i < list->len; i++)
        for (guint j = i + 1; j < list->len && sorted[j]->low <= sorted[i]->high; j++) {
            const AreaEdge *e = sorted[i], *f = sorted[j];
            const AreaEdge *e_after = area_edge_after(edges, first, e);
            const AreaEdge *f_after = area_edge_after(edges, first, f);
            if (!area_edges_cross(e, f) && !area_corner_crosses(e, e_after, f, f_after) &&
                !area_corner_crosses(f, f_after, e, e_after))
                continue;
            double s = area_side(f->a, f->b, e->a), t = area_side(f->a, f->b, e->b);
            double share = s == t ? 1 : s / (s - t);
            *at = (LfPoint){e->a.x + share * (e->b.x - e->a.x), e->a.y + share * (e->b.y - e->a.y)};
            return true;
        }
    return false;
}

/* --- the whole -------------------------------------------------------------------------------- */

static bool area_check_fail(const LfArea *area, GError **error, const char *format, ...)
    G_GNUC_PRINTF(3, 4);
static bool area_check_fail(const LfArea *area, GError **error, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    g_autofree char *what = g_strdup_vprintf(format, list);
    va_end(list);
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "area %s %s", area->name, what);
    return false;
}

bool lf_area_check(const LfArea *area, int width_px, int height_px, GError **error)
{
    LfPoint low, high, at;
    if (!area_check_names(area, error))
        return false;
    lf_area_bounds(area, &low, &high);
    if (area->shape != LF_AREA_ELLIPSE && area_crossing(area, &at))
        return area_check_fail(area, error,
                               "crosses its own outline near %.1f,%.1f; draw it anew, or as two "
                               "areas",
                               at.x, at.y);
    if (!(lf_area_surface_px2(area) >= AREA_SURFACE_LEAST_PX2))
        return area_check_fail(area, error, "has no surface: its points lie on one line");
    /* A photo's pixels reach half a pixel beyond their centres. */
    if (high.x <= -0.5 || high.y <= -0.5 || low.x >= width_px - 0.5 || low.y >= height_px - 0.5)
        return area_check_fail(area, error,
                               "lies off the photo: it reaches from %.1f,%.1f to %.1f,%.1f, the "
                               "photo is %d x %d px",
                               low.x, low.y, high.x, high.y, width_px, height_px);
    return true;
}
