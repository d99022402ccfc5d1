/* Numbers and transforms of SVG: SVG 1.1 (2nd edition), sections 4.2 and 7.6. */
#include "look/svg_path.h"

#include <math.h>
#include <string.h>

#include "look/shown.h"

bool svg_number(const char **text, double *value)
{
    const char *at = *text;
    while (g_ascii_isspace(*at))
        at++;
    if (*at == ',')
        at++;
    while (g_ascii_isspace(*at))
        at++;
    const char *from = at;
    at += *at == '-' || *at == '+';
    const char *digits = at;
    while (g_ascii_isdigit(*at))
        at++;
    gsize whole = (gsize)(at - digits), part = 0;
    if (*at == '.') {
        const char *point = at + 1;
        while (g_ascii_isdigit(point[part]))
            part++;
        at = point + part;
    }
    if (whole + part == 0)
        return false;
    if (*at == 'e' || *at == 'E') {
        const char *exponent = at + 1;
        exponent += *exponent == '-' || *exponent == '+';
        if (g_ascii_isdigit(*exponent)) {
            while (g_ascii_isdigit(*exponent))
                exponent++;
            at = exponent;
        }
    }
    g_autofree char *number = g_strndup(from, (gsize)(at - from));
    *value = g_ascii_strtod(number, NULL);
    *text = at;
    return isfinite(*value);
}

SvgTransform svg_transform_identity(void)
{
    return (SvgTransform){1, 0, 0, 1, 0, 0};
}

SvgTransform svg_transform_join(const SvgTransform *outer, const SvgTransform *inner)
{
    const SvgTransform *o = outer, *i = inner;
    return (SvgTransform){
        .a = o->a * i->a + o->c * i->b,
        .b = o->b * i->a + o->d * i->b,
        .c = o->a * i->c + o->c * i->d,
        .d = o->b * i->c + o->d * i->d,
        .e = o->a * i->e + o->c * i->f + o->e,
        .f = o->b * i->e + o->d * i->f + o->f,
    };
}

LfPoint svg_transform_point(const SvgTransform *t, LfPoint point)
{
    return (LfPoint){t->a * point.x + t->c * point.y + t->e,
                     t->b * point.x + t->d * point.y + t->f};
}

/* One function of the list, with its numbers; false where they do not fit it. */
static bool svg_transform_one(const char *name, const double *v, int n, SvgTransform *out)
{
    *out = svg_transform_identity();
    if (strcmp(name, "matrix") == 0 && n == 6) {
        *out = (SvgTransform){v[0], v[1], v[2], v[3], v[4], v[5]};
    } else if (strcmp(name, "translate") == 0 && (n == 1 || n == 2)) {
        out->e = v[0];
        out->f = n == 2 ? v[1] : 0;
    } else if (strcmp(name, "scale") == 0 && (n == 1 || n == 2)) {
        out->a = v[0];
        out->d = n == 2 ? v[1] : v[0];
    } else if (strcmp(name, "rotate") == 0 && (n == 1 || n == 3)) {
        double angle = v[0] * G_PI / 180, co = cos(angle), si = sin(angle);
        double x = n == 3 ? v[1] : 0, y = n == 3 ? v[2] : 0;
        *out = (SvgTransform){co, si, -si, co, x - co * x + si * y, y - si * x - co * y};
    } else if (strcmp(name, "skewX") == 0 && n == 1) {
        out->c = tan(v[0] * G_PI / 180);
    } else if (strcmp(name, "skewY") == 0 && n == 1) {
        out->b = tan(v[0] * G_PI / 180);
    } else {
        return false;
    }
    return true;
}

bool svg_transform_parse(const char *text, SvgTransform *transform, GError **error)
{
    const char *at = text;
    *transform = svg_transform_identity();
    for (;;) {
        char name[16] = "";
        double values[6];
        int n = 0;
        SvgTransform next;
        while (g_ascii_isspace(*at) || *at == ',')
            at++;
        if (!*at)
            return true;
        gsize length = strspn(at, G_CSET_a_2_z G_CSET_A_2_Z);
        if (length > 0 && length < sizeof name)
            memcpy(name, at, length);
        at += length;
        while (g_ascii_isspace(*at))
            at++;
        bool good = *at == '(';
        at += good;
        while (good && n < 6 && svg_number(&at, &values[n]))
            n++;
        while (g_ascii_isspace(*at))
            at++;
        if (!good || *at != ')' || !svg_transform_one(name, values, n, &next))
            break;
        at++;
        *transform = svg_transform_join(transform, &next);
    }
    g_autofree char *shown = look_shown(text);
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "the transform \"%s\" cannot be understood",
                shown);
    return false;
}
