/* Path data of SVG as rings of straight edges: SVG 1.1 (2nd edition), section 8.3, arcs by
 * appendix F.6. */
#include "look/svg_path.h"

#include <math.h>
#include <string.h>

/* A tenth of what the eye tells apart on a screen, and far below any cast's radius. */
#define SVG_TOLERANCE_PX 0.05
/* An arc of 45 degrees by one cubic is off by 4e-6 of its radius (A. Riskus, "Approximation of a
 * cubic Bezier curve by circular arcs and vice versa", Information Technology and Control 35
 * (2006), from memory). */
#define SVG_ARC_STEP (G_PI / 4)
/* As many as an area may have, and then refused by it. */
#define SVG_POINTS_MOST 20000

typedef struct {
    const SvgTransform *photo_from_user;
    SvgRings *rings;
    LfPoint at, start; /* user units */
    LfPoint control;   /* the last curve's second control point */
    char last;         /* the last command, upper case */
} SvgPath;

/* --- rings --------------------------------------------------------------------------------------
 */

SvgRings *svg_rings_new(void)
{
    SvgRings *rings = g_new(SvgRings, 1);
    rings->points = g_array_new(FALSE, FALSE, sizeof(LfPoint));
    rings->ends = g_array_new(FALSE, FALSE, sizeof(gsize));
    return rings;
}

void svg_rings_free(SvgRings *rings)
{
    if (!rings)
        return;
    g_array_unref(rings->points);
    g_array_unref(rings->ends);
    g_free(rings);
}

static gsize svg_rings_begin(const SvgRings *rings)
{
    guint n = rings->ends->len;
    return n ? g_array_index(rings->ends, gsize, n - 1) : 0;
}

static void svg_rings_add(SvgRings *rings, LfPoint point)
{
    if (rings->points->len < SVG_POINTS_MOST)
        g_array_append_val(rings->points, point);
}

/* Ends the ring under way; a point that comes back to the first one is not needed. */
static void svg_rings_close(SvgRings *rings)
{
    gsize begin = svg_rings_begin(rings), end = rings->points->len;
    const LfPoint *p = (const LfPoint *)(gpointer)rings->points->data;
    while (end > begin + 1 && hypot(p[end - 1].x - p[begin].x, p[end - 1].y - p[begin].y) < 1e-9)
        end--;
    if (end - begin < 3)
        end = begin;
    g_array_set_size(rings->points, (guint)end);
    if (end > begin)
        g_array_append_val(rings->ends, end);
}

/* --- edges --------------------------------------------------------------------------------------
 */

static LfPoint svg_path_photo(const SvgPath *path, LfPoint user)
{
    return svg_transform_point(path->photo_from_user, user);
}

static void svg_path_line(SvgPath *path, LfPoint to)
{
    svg_rings_add(path->rings, svg_path_photo(path, to));
    path->at = to;
}

static double svg_path_bend(LfPoint a, LfPoint b, LfPoint c)
{
    return hypot(a.x - 2 * b.x + c.x, a.y - 2 * b.y + c.y);
}

/* n equal steps of a cubic leave it by 0.75 m / n^2 at most, m being the larger of its second
 * differences (from the bound |B''| h^2 / 8 of linear interpolation). */
static void svg_path_cubic(SvgPath *path, LfPoint b, LfPoint c, LfPoint to)
{
    LfPoint p0 = svg_path_photo(path, path->at), p1 = svg_path_photo(path, b);
    LfPoint p2 = svg_path_photo(path, c), p3 = svg_path_photo(path, to);
    double bend = fmax(svg_path_bend(p0, p1, p2), svg_path_bend(p1, p2, p3));
    double wanted = ceil(sqrt(0.75 * bend / SVG_TOLERANCE_PX));
    int n = wanted >= 1 ? (int)fmin(wanted, 2000) : 1;
    for (int i = 1; i <= n; i++) {
        double t = (double)i / n, s = 1 - t;
        double w0 = s * s * s, w1 = 3 * s * s * t, w2 = 3 * s * t * t, w3 = t * t * t;
        svg_rings_add(path->rings, (LfPoint){w0 * p0.x + w1 * p1.x + w2 * p2.x + w3 * p3.x,
                                             w0 * p0.y + w1 * p1.y + w2 * p2.y + w3 * p3.y});
    }
    path->control = c;
    path->at = to;
}

static void svg_path_quadratic(SvgPath *path, LfPoint b, LfPoint to)
{
    LfPoint a = path->at;
    LfPoint c1 = {a.x + (b.x - a.x) * 2 / 3, a.y + (b.y - a.y) * 2 / 3};
    LfPoint c2 = {to.x + (b.x - to.x) * 2 / 3, to.y + (b.y - to.y) * 2 / 3};
    svg_path_cubic(path, c1, c2, to);
    path->control = b;
}

static double svg_path_angle(LfPoint u, LfPoint v)
{
    return atan2(u.x * v.y - u.y * v.x, u.x * v.x + u.y * v.y);
}

/* From the centre, by angles, in steps. */
static void svg_path_arc_steps(SvgPath *path, LfPoint centre, double rx, double ry, double turn,
                               double from, double sweep, LfPoint to)
{
    int n = (int)ceil(fabs(sweep) / SVG_ARC_STEP);
    double step = sweep / MAX(n, 1), k = 4.0 / 3 * tan(step / 4);
    double co = cos(turn), si = sin(turn);
    for (int i = 0; i < n; i++) {
        double a = from + i * step, b = a + step;
        LfPoint u[3] = {{cos(a) - k * sin(a), sin(a) + k * cos(a)},
                        {cos(b) + k * sin(b), sin(b) - k * cos(b)},
                        {cos(b), sin(b)}};
        for (int j = 0; j < 3; j++)
            u[j] = (LfPoint){centre.x + co * rx * u[j].x - si * ry * u[j].y,
                             centre.y + si * rx * u[j].x + co * ry * u[j].y};
        svg_path_cubic(path, u[0], u[1], i + 1 == n ? to : u[2]);
    }
}

/* F.6.5, with the corrections of F.6.6. */
static void svg_path_arc(SvgPath *path, const double v[7], LfPoint to)
{
    double rx = fabs(v[0]), ry = fabs(v[1]), turn = fmod(v[2], 360) * G_PI / 180;
    LfPoint from = path->at;
    if (rx == 0 || ry == 0 || (from.x == to.x && from.y == to.y)) {
        svg_path_line(path, to);
        return;
    }
    double co = cos(turn), si = sin(turn);
    double dx = (from.x - to.x) / 2, dy = (from.y - to.y) / 2;
    LfPoint p = {co * dx + si * dy, -si * dx + co * dy};
    double fit = p.x * p.x / (rx * rx) + p.y * p.y / (ry * ry);
    if (fit > 1) {
        rx *= sqrt(fit);
        ry *= sqrt(fit);
        fit = 1;
    }
    double root = sqrt(fmax((1 - fit) / fit, 0)) * ((v[3] != 0) == (v[4] != 0) ? -1 : 1);
    LfPoint c = {root * rx * p.y / ry, -root * ry * p.x / rx};
    LfPoint centre = {co * c.x - si * c.y + (from.x + to.x) / 2,
                      si * c.x + co * c.y + (from.y + to.y) / 2};
    LfPoint begin = {(p.x - c.x) / rx, (p.y - c.y) / ry};
    LfPoint end = {(-p.x - c.x) / rx, (-p.y - c.y) / ry};
    double start = svg_path_angle((LfPoint){1, 0}, begin), sweep = svg_path_angle(begin, end);
    if (v[4] == 0 && sweep > 0)
        sweep -= 2 * G_PI;
    if (v[4] != 0 && sweep < 0)
        sweep += 2 * G_PI;
    svg_path_arc_steps(path, centre, rx, ry, turn, start, sweep, to);
}

/* --- commands
 * ------------------------------------------------------------------------------------- */

static int svg_path_count(char command)
{
    static const char commands[] = "MLHVCSQTAZ";
    static const int counts[] = {2, 2, 1, 1, 6, 4, 4, 2, 7, 0};
    const char *found = command ? strchr(commands, command) : NULL;
    return found ? counts[found - commands] : -1;
}

/* The flags of an arc are one digit each and need no blank behind them. */
static bool svg_path_flag(const char **text, double *value)
{
    const char *at = *text;
    while (g_ascii_isspace(*at) || *at == ',')
        at++;
    if (*at != '0' && *at != '1')
        return false;
    *value = *at - '0';
    *text = at + 1;
    return true;
}

static bool svg_path_numbers(const char **text, char command, double *v)
{
    int n = svg_path_count(command);
    for (int i = 0; i < n; i++) {
        bool flag = command == 'A' && (i == 3 || i == 4);
        if (flag ? !svg_path_flag(text, &v[i]) : !svg_number(text, &v[i]))
            return false;
    }
    return true;
}

static LfPoint svg_path_mirror(const SvgPath *path, const char *after)
{
    if (!strchr(after, path->last))
        return path->at;
    return (LfPoint){2 * path->at.x - path->control.x, 2 * path->at.y - path->control.y};
}

static void svg_path_begin(SvgPath *path, LfPoint at)
{
    svg_rings_close(path->rings);
    path->start = at;
    svg_path_line(path, at);
}

static void svg_path_do(SvgPath *path, char command, bool relative, const double *v)
{
    LfPoint base = relative ? path->at : (LfPoint){0, 0};
    int n = svg_path_count(command);
    LfPoint p[3] = {{0, 0}, {0, 0}, {0, 0}};
    for (int i = 0; i + 1 < n && i < 6; i += 2)
        p[i / 2] = (LfPoint){base.x + v[i], base.y + v[i + 1]};
    /* After Z a ring may go on without a moveto, from its start. */
    if (path->last == 'Z' && command != 'M' && command != 'Z')
        svg_path_begin(path, path->start);
    switch (command) {
    case 'M':
        svg_path_begin(path, p[0]);
        break;
    case 'L':
        svg_path_line(path, p[0]);
        break;
    case 'H':
        svg_path_line(path, (LfPoint){base.x + v[0], path->at.y});
        break;
    case 'V':
        svg_path_line(path, (LfPoint){path->at.x, base.y + v[0]});
        break;
    case 'C':
        svg_path_cubic(path, p[0], p[1], p[2]);
        break;
    case 'S':
        svg_path_cubic(path, svg_path_mirror(path, "CS"), p[0], p[1]);
        break;
    case 'Q':
        svg_path_quadratic(path, p[0], p[1]);
        break;
    case 'T':
        svg_path_quadratic(path, svg_path_mirror(path, "QT"), p[0]);
        break;
    case 'A':
        svg_path_arc(path, v, (LfPoint){base.x + v[5], base.y + v[6]});
        break;
    default:
        svg_rings_close(path->rings);
        path->at = path->start;
        break;
    }
    path->last = command;
}

bool svg_path_parse(const char *data, const SvgTransform *photo_from_user, SvgRings *rings,
                    GError **error)
{
    SvgPath path = {.photo_from_user = photo_from_user, .rings = rings};
    const char *at = data;
    char command = '\0';
    bool relative = false;
    for (;;) {
        double v[7];
        while (g_ascii_isspace(*at) || *at == ',')
            at++;
        if (!*at)
            break;
        const char *begin = at;
        bool named = g_ascii_isalpha(*at);
        if (named) {
            relative = g_ascii_islower(*at);
            command = g_ascii_toupper(*at++);
        }
        /* It must begin with a moveto; numbers after Z have no command; those after M are L. */
        if (svg_path_count(command) < 0 || (!path.last && command != 'M') ||
            (!named && command == 'Z') || !svg_path_numbers(&at, command, v)) {
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "the path cannot be understood from its character %" G_GSIZE_FORMAT " on",
                        (gsize)(begin - data) + 1);
            return false;
        }
        svg_path_do(&path, command, relative, v);
        if (command == 'M')
            command = 'L';
    }
    svg_rings_close(rings);
    if (rings->points->len < SVG_POINTS_MOST)
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "the path has too many points; simplify it to 10,000 at most");
    return false;
}

void svg_path_round_rect(double x, double y, double w, double h, double rx, double ry,
                         const SvgTransform *photo_from_user, SvgRings *rings)
{
    SvgPath path = {.photo_from_user = photo_from_user, .rings = rings};
    const LfPoint corners[4][2] = {{{x + w - rx, y}, {x + w, y + ry}},
                                   {{x + w, y + h - ry}, {x + w - rx, y + h}},
                                   {{x + rx, y + h}, {x, y + h - ry}},
                                   {{x, y + ry}, {x + rx, y}}};
    const double arc[7] = {rx, ry, 0, 0, 1, 0, 0};
    svg_path_begin(&path, (LfPoint){x + rx, y});
    for (int i = 0; i < 4; i++) {
        svg_path_line(&path, corners[i][0]);
        svg_path_arc(&path, arc, corners[i][1]);
    }
    svg_rings_close(rings);
}

/* --- nonzero rule
 * --------------------------------------------------------------------------------- */

/* How often a ring runs around a point, and in which direction. */
static int svg_rings_winding(const LfPoint *p, gsize n, LfPoint at)
{
    int winding = 0;
    for (gsize i = 0, j = n - 1; i < n; j = i++) {
        double side = (p[i].x - p[j].x) * (at.y - p[j].y) - (p[i].y - p[j].y) * (at.x - p[j].x);
        if (p[j].y <= at.y && p[i].y > at.y && side > 0)
            winding++;
        else if (p[j].y > at.y && p[i].y <= at.y && side < 0)
            winding--;
    }
    return winding;
}

static double svg_rings_turn(const LfPoint *p, gsize n)
{
    double twice = 0;
    for (gsize i = 1; i + 1 < n; i++)
        twice +=
            (p[i].x - p[0].x) * (p[i + 1].y - p[0].y) - (p[i].y - p[0].y) * (p[i + 1].x - p[0].x);
    return twice;
}

void svg_rings_nonzero(SvgRings *rings)
{
    const LfPoint *p = (const LfPoint *)(gpointer)rings->points->data;
    const gsize *ends = (const gsize *)(gpointer)rings->ends->data;
    gsize n = rings->ends->len;
    g_autoptr(SvgRings) kept = svg_rings_new();
    for (gsize r = 0; r < n; r++) {
        gsize begin = r ? ends[r - 1] : 0;
        int outside = 0;
        for (gsize o = 0; o < n; o++) {
            gsize from = o ? ends[o - 1] : 0;
            LfPoint middle = {(p[begin].x + p[begin + 1].x) / 2, (p[begin].y + p[begin + 1].y) / 2};
            outside += o == r ? 0 : svg_rings_winding(p + from, ends[o] - from, middle);
        }
        int inside = outside + (svg_rings_turn(p + begin, ends[r] - begin) > 0 ? 1 : -1);
        if ((outside == 0) == (inside == 0))
            continue;
        g_array_append_vals(kept->points, p + begin, (guint)(ends[r] - begin));
        gsize end = kept->points->len;
        g_array_append_val(kept->ends, end);
    }
    SvgRings swap = *rings;
    *rings = *kept;
    *kept = swap;
}
