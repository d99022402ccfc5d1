/* Lines, rings and discs by distance. */
#include "draw/stroke.h"

#include <math.h>

/* What of a line stands for two neighbouring points. */
typedef struct {
    LfPoint a;
    double ux, uy; /* unit vector along it */
    double length;
} StrokePart;

enum { STROKE_WHOLE = 256, STROKE_PAIR = 0xff00ff };

/* As the sheet's pixels are: premultiplied. */
static uint32_t stroke_ink(LfInk ink)
{
    const double full = 255 * ink.a;
    return (uint32_t)lround(full) << 24 | (uint32_t)lround(full * ink.r) << 16 |
           (uint32_t)lround(full * ink.g) << 8 | (uint32_t)lround(full * ink.b);
}

/* covered: 0..1 of the pixel. Two channels at a time, each in 16 bits; alpha is rounded up, so that
 * none of the sums goes beyond them. */
static void stroke_put(uint32_t *pixel, uint32_t ink, double covered)
{
    const uint32_t part = (uint32_t)(covered * STROKE_WHOLE + 0.5), p = *pixel;
    const uint32_t alpha = ((ink >> 24) * part + STROKE_WHOLE - 1) / STROKE_WHOLE;
    const uint32_t keep = STROKE_WHOLE - alpha - (alpha >> 7), half = 0x800080;
    const uint32_t rb = (p & STROKE_PAIR) * keep + (ink & STROKE_PAIR) * part + half;
    const uint32_t ag = (p >> 8 & STROKE_PAIR) * keep + (ink >> 8 & STROKE_PAIR) * part + half;

    *pixel = (rb >> 8 & STROKE_PAIR) | (ag & ~(uint32_t)STROKE_PAIR);
}

/* --- lines --- */

static StrokePart stroke_part(LfPoint a, LfPoint b)
{
    const double length = hypot(b.x - a.x, b.y - a.y);
    return (StrokePart){a, length > 0 ? (b.x - a.x) / length : 1,
                        length > 0 ? (b.y - a.y) / length : 0, length};
}

/* Squared. */
static double stroke_distance(const StrokePart *p, double x, double y)
{
    const double dx = x - p->a.x, dy = y - p->a.y;
    const double along = dx * p->ux + dy * p->uy, beside = dy * p->ux - dx * p->uy;
    const double beyond = along - CLAMP(along, 0, p->length);

    return beyond * beyond + beside * beside;
}

/* Where a row comes within `reach` of the part: the band about its endless line, and not further
 * along than the part goes. */
static void stroke_row(const StrokePart *p, double y, double reach, double *x0, double *x1)
{
    const double bx = p->a.x + p->length * p->ux;

    *x0 = fmin(p->a.x, bx) - reach;
    *x1 = fmax(p->a.x, bx) + reach;
    if (fabs(p->uy) < 1e-6)
        return;
    /* |(y - ay) ux - (x - ax) uy| <= reach */
    const double middle = p->a.x + (y - p->a.y) * p->ux / p->uy, half = reach / fabs(p->uy);
    *x0 = fmax(*x0, middle - half);
    *x1 = fmin(*x1, middle + half);
}

/* The pixels nearer to this part than to the one before it and the one after, so that each is drawn
 * once. */
static void stroke_part_draw(const LfStrokeSheet *s, const StrokePart *p, const StrokePart *before,
                             const StrokePart *after, double half_px, uint32_t ink)
{
    const double reach = half_px + 0.5, by = p->a.y + p->length * p->uy;
    const int y0 = (int)fmax(s->y0, ceil(fmin(p->a.y, by) - reach));
    const int y1 = (int)fmin(s->y1 - 1, floor(fmax(p->a.y, by) + reach));

    for (int y = y0; y <= y1; y++) {
        double from, to;
        stroke_row(p, y, reach, &from, &to);
        if (from > to)
            continue;
        const int x0 = (int)fmax(s->x0, ceil(from)), x1 = (int)fmin(s->x1 - 1, floor(to));
        for (int x = x0; x <= x1; x++) {
            const double d = stroke_distance(p, x, y);
            const double covered = fmin(reach - sqrt(d), 2 * half_px);
            if (covered <= 0 || (before != NULL && stroke_distance(before, x, y) <= d) ||
                (after != NULL && stroke_distance(after, x, y) < d))
                continue;
            stroke_put(&s->argb[y * s->stride + x], ink, fmin(covered, 1));
        }
    }
}

void lf_stroke_line(const LfStrokeSheet *s, const LfPoint *points, gsize n, double width_px,
                    LfInk ink)
{
    const uint32_t colour = stroke_ink(ink);

    if (n < 2)
        return;
    const LfPoint first = points[0], last = points[n - 1];
    const bool closed = n > 3 && first.x == last.x && first.y == last.y;
    const StrokePart begin = stroke_part(first, points[1]), end = stroke_part(points[n - 2], last);
    StrokePart before = end, now = begin;
    for (gsize i = 1; i < n; i++) {
        const StrokePart after = i + 1 < n ? stroke_part(points[i], points[i + 1]) : begin;
        stroke_part_draw(s, &now, i > 1 || closed ? &before : NULL,
                         i + 1 < n || closed ? &after : NULL, width_px / 2, colour);
        before = now;
        now = after;
    }
}

/* --- rings --- */

/* Half of the row's width within the radius, -1 for none. */
static double stroke_chord(double radius, double dy)
{
    return radius > fabs(dy) ? sqrt(radius * radius - dy * dy) : -1;
}

static void stroke_ring_run(const LfStrokeSheet *s, LfPoint centre, double inner, double outer,
                            uint32_t ink, int y, double from, double to)
{
    const int x0 = (int)fmax(s->x0, ceil(from)), x1 = (int)fmin(s->x1 - 1, floor(to));

    for (int x = x0; x <= x1; x++) {
        const double dx = x - centre.x, dy = y - centre.y;
        const double d = sqrt(dx * dx + dy * dy);
        const double outside = fmin(outer + 0.5 - d, 1);
        const double inside = inner > 0 ? fmin(d - inner + 0.5, 1) : 1;
        const double covered = fmin(fmin(outside, inside), outside + inside - 1);
        if (covered > 0)
            stroke_put(&s->argb[y * s->stride + x], ink, covered);
    }
}

void lf_stroke_ring(const LfStrokeSheet *s, LfPoint centre, double inner_px, double outer_px,
                    LfInk ink)
{
    const uint32_t colour = stroke_ink(ink);
    const int y0 = (int)fmax(s->y0, ceil(centre.y - outer_px - 0.5));
    const int y1 = (int)fmin(s->y1 - 1, floor(centre.y + outer_px + 0.5));

    for (int y = y0; y <= y1; y++) {
        const double reach = stroke_chord(outer_px + 0.5, y - centre.y);
        const double hole = inner_px > 0.5 ? stroke_chord(inner_px - 0.5, y - centre.y) : -1;
        if (reach < 0)
            continue;
        if (hole <= 0) {
            stroke_ring_run(s, centre, inner_px, outer_px, colour, y, centre.x - reach,
                            centre.x + reach);
            continue;
        }
        /* No pixel twice: the hole is wider than none, so the runs share none. */
        stroke_ring_run(s, centre, inner_px, outer_px, colour, y, centre.x - reach,
                        centre.x - hole);
        stroke_ring_run(s, centre, inner_px, outer_px, colour, y, centre.x + hole,
                        centre.x + reach);
    }
}
