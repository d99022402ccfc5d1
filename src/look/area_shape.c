/* The geometry of areas, photo px.
 *
 * Ellipses are given by two conjugate semi-axes p and q: the points c + p cos t + q sin t. A skew
 * or a turn only changes p and q, so any affine mapping of an ellipse is exact. Distances to an
 * ellipse are taken to 256 chords of it: off by less than 1e-4 of its longer semi-axis. */
#include <lookfall/area.h>

#include <math.h>
#include <string.h>

/* The arc over a chord of angle d rises a (1 - cos(d / 2)) above it; 7.5e-5 a for 256 chords. */
#define AREA_CHORDS 256

static LfPoint area_minus(LfPoint a, LfPoint b)
{
    return (LfPoint){a.x - b.x, a.y - b.y};
}

static double area_cross(LfPoint a, LfPoint b)
{
    return a.x * b.y - a.y * b.x;
}

static void area_axes(const LfArea *area, LfPoint *p, LfPoint *q)
{
    *p = area_minus(area->points[1], area->points[0]);
    *q = area_minus(area->points[2], area->points[0]);
}

static LfPoint area_on_ellipse(const LfArea *area, double angle)
{
    LfPoint p, q, c = area->points[0];
    area_axes(area, &p, &q);
    double co = cos(angle), si = sin(angle);
    return (LfPoint){c.x + p.x * co + q.x * si, c.y + p.y * co + q.y * si};
}

/* --- inside -------------------------------------------------------------------------------------
 */

/* Crossings of a ray to the right, even-odd. Each edge holds its upper end and not its lower one,
 * so that a corner is counted once, and a point on an edge belongs to what lies right or below. */
static bool area_in_rings(const LfArea *area, LfPoint point)
{
    bool inside = false;
    gsize begin = 0;
    for (gsize r = 0; r < area->n_rings; r++) {
        gsize end = area->ring_ends[r];
        for (gsize i = begin, j = end - 1; i < end; j = i++) {
            LfPoint a = area->points[i], b = area->points[j];
            if ((a.y > point.y) == (b.y > point.y))
                continue;
            /* From the lower to the upper end always, so that the same edge gives the same bits to
             * the areas on both sides of it. */
            if (a.y > b.y) {
                LfPoint swap = a;
                a = b;
                b = swap;
            }
            if (point.x < a.x + (point.y - a.y) * (b.x - a.x) / (b.y - a.y))
                inside = !inside;
        }
        begin = end;
    }
    return inside;
}

bool lf_area_contains(const LfArea *area, LfPoint point)
{
    if (!isfinite(point.x) || !isfinite(point.y))
        return false;
    if (area->shape != LF_AREA_ELLIPSE)
        return area_in_rings(area, point);
    LfPoint p, q, d = area_minus(point, area->points[0]);
    area_axes(area, &p, &q);
    double det = area_cross(p, q);
    /* d = u p + v q; inside where u^2 + v^2 <= 1. */
    double u = area_cross(d, q) / det, v = area_cross(p, d) / det;
    return u * u + v * v <= 1;
}

/* --- distance -----------------------------------------------------------------------------------
 */

static double area_segment_px(LfPoint a, LfPoint b, LfPoint point)
{
    LfPoint along = area_minus(b, a), to = area_minus(point, a);
    double length2 = along.x * along.x + along.y * along.y;
    double t = length2 > 0 ? (to.x * along.x + to.y * along.y) / length2 : 0;
    t = CLAMP(t, 0, 1);
    return hypot(to.x - t * along.x, to.y - t * along.y);
}

static double area_ellipse_px(const LfArea *area, LfPoint point)
{
    double least = HUGE_VAL;
    LfPoint before = area_on_ellipse(area, 0);
    for (int i = 1; i <= AREA_CHORDS; i++) {
        LfPoint next = area_on_ellipse(area, 2 * G_PI * i / AREA_CHORDS);
        least = fmin(least, area_segment_px(before, next, point));
        before = next;
    }
    return least;
}

double lf_area_distance_px(const LfArea *area, LfPoint point)
{
    double least = HUGE_VAL;
    gsize begin = 0;
    if (area->shape == LF_AREA_ELLIPSE)
        least = area_ellipse_px(area, point);
    else
        for (gsize r = 0; r < area->n_rings; r++) {
            gsize end = area->ring_ends[r];
            for (gsize i = begin, j = end - 1; i < end; j = i++)
                least = fmin(least, area_segment_px(area->points[j], area->points[i], point));
            begin = end;
        }
    return lf_area_contains(area, point) ? -least : least;
}

/* --- surface, bounds ----------------------------------------------------------------------------
 */

static double area_ring_px2(const LfPoint *points, gsize n)
{
    /* From the first corner, not from the origin: no digits are lost far away from it. */
    double twice = 0;
    for (gsize i = 1; i + 1 < n; i++)
        twice += area_cross(area_minus(points[i], points[0]), area_minus(points[i + 1], points[0]));
    return fabs(twice) / 2;
}

/* How many of the other rings hold ring r. Rings do not cross (lf_area_check), so any of its
 * points that is on no other outline tells. */
static gsize area_depth(const LfArea *area, gsize r)
{
    gsize depth = 0, begin = 0;
    gsize own = r ? area->ring_ends[r - 1] : 0;
    LfPoint middle = {(area->points[own].x + area->points[own + 1].x) / 2,
                      (area->points[own].y + area->points[own + 1].y) / 2};
    for (gsize i = 0; i < area->n_rings; i++) {
        gsize end = area->ring_ends[i], length = end - begin;
        LfArea ring = {.shape = LF_AREA_POLYGON,
                       .points = area->points + begin,
                       .n_points = length,
                       .ring_ends = &length,
                       .n_rings = 1};
        depth += i != r && area_in_rings(&ring, middle);
        begin = end;
    }
    return depth;
}

double lf_area_surface_px2(const LfArea *area)
{
    if (area->shape == LF_AREA_ELLIPSE) {
        LfPoint p, q;
        area_axes(area, &p, &q);
        return G_PI * fabs(area_cross(p, q));
    }
    double surface = 0;
    gsize begin = 0;
    for (gsize r = 0; r < area->n_rings; r++) {
        gsize end = area->ring_ends[r];
        double ring = area_ring_px2(area->points + begin, end - begin);
        surface += area->n_rings > 1 && area_depth(area, r) % 2 ? -ring : ring;
        begin = end;
    }
    return surface;
}

void lf_area_bounds(const LfArea *area, LfPoint *low, LfPoint *high)
{
    if (area->shape == LF_AREA_ELLIPSE) {
        LfPoint p, q, c = area->points[0];
        area_axes(area, &p, &q);
        double dx = hypot(p.x, q.x), dy = hypot(p.y, q.y);
        *low = (LfPoint){c.x - dx, c.y - dy};
        *high = (LfPoint){c.x + dx, c.y + dy};
        return;
    }
    *low = *high = area->points[0];
    for (gsize i = 1; i < area->n_points; i++) {
        LfPoint point = area->points[i];
        *low = (LfPoint){fmin(low->x, point.x), fmin(low->y, point.y)};
        *high = (LfPoint){fmax(high->x, point.x), fmax(high->y, point.y)};
    }
}

/* --- straight edges -----------------------------------------------------------------------------
 */

LfArea *lf_area_flatten(const LfArea *area, double tolerance_px)
{
    LfArea *flat = lf_area_copy(area);
    if (area->shape == LF_AREA_RECT)
        flat->shape = LF_AREA_POLYGON;
    if (area->shape != LF_AREA_ELLIPSE)
        return flat;
    LfPoint p, q;
    area_axes(area, &p, &q);
    /* Rise of an arc over its chord, at most longest (1 - cos(step / 2)). */
    double longest = hypot(hypot(p.x, p.y), hypot(q.x, q.y));
    double n = G_PI / acos(1 - fmin(fmax(tolerance_px, 1e-3) / fmax(longest, 1e-3), 1));
    gsize chords = (gsize)CLAMP(ceil(n), 12, 4096);
    flat->shape = LF_AREA_POLYGON;
    flat->n_points = chords;
    flat->points = g_renew(LfPoint, flat->points, chords);
    flat->ring_ends[0] = chords;
    for (gsize i = 0; i < chords; i++)
        flat->points[i] = area_on_ellipse(area, 2 * G_PI * (double)i / (double)chords);
    return flat;
}
