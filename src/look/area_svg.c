/* Areas from SVG drawings, by GLib's parser of XML.
 *
 * Taken are rect, circle, ellipse, polygon, polyline and path, with every transform above them;
 * their names from inkscape:label or id, their groups from those of the g elements around. The
 * drawing is stretched so that its area (viewBox, or width and height) covers the photo; SVG counts
 * from the corner of the first pixel, a photo's frame from its centre. docs/areas.md tells users.
 */
#include <lookfall/area.h>

#include <math.h>
#include <string.h>

#include "look/area_list.h"
#include "look/shown.h"
#include "look/svg_path.h"

/* Drawings are nested a few deep; GMarkup itself has no limit. */
#define SVG_DEPTH_MOST 256
/* Corners this far from a right angle (as a share of the sides) still make a rect. */
#define SVG_RIGHT_ANGLE 1e-9

typedef struct {
    SvgTransform photo_from_user;
    char *group; /* path; "" for none */
    bool nonzero, hidden;
} SvgLevel;

typedef struct {
    const LfAreaPhoto *photo;
    AreaList *list;
    GArray *levels;   /* SvgLevel: of the elements open */
    guint passed;     /* elements open inside one that is passed over */
    GString *skipped; /* names of elements that are no areas */
    guint n_hidden;
} SvgReader;

static void area_svg_level_clear(gpointer data)
{
    g_free(((SvgLevel *)data)->group);
}

/* --- attributes ---------------------------------------------------------------------------------
 */

typedef struct {
    const char *element;
    const char **names, **values;
} SvgElement;

static const char *area_svg_get(const SvgElement *element, const char *name)
{
    for (gsize i = 0; element->names[i]; i++)
        if (strcmp(element->names[i], name) == 0)
            return element->values[i];
    return NULL;
}

/* A property: in the style attribute, or an attribute of its own; owned by the caller. */
static char *area_svg_property(const SvgElement *element, const char *name)
{
    const char *style = area_svg_get(element, "style");
    g_auto(GStrv) parts = g_strsplit(style ? style : "", ";", -1);
    for (gsize i = 0; parts[i]; i++) {
        char *colon = strchr(parts[i], ':');
        if (!colon)
            continue;
        *colon = '\0';
        if (strcmp(g_strstrip(parts[i]), name) == 0)
            return g_strdup(g_strstrip(colon + 1));
    }
    return g_strdup(area_svg_get(element, name));
}

/* A length in user units; `fallback` where it is not there. */
static bool area_svg_length(const SvgElement *element, const char *name, double fallback,
                            double *value, GError **error)
{
    const char *text = area_svg_get(element, name);
    *value = fallback;
    if (!text)
        return true;
    const char *at = text;
    if (svg_number(&at, value) && (!*g_strchug((char *)at) || strcmp(at, "px") == 0))
        return true;
    g_autofree char *shown = look_shown(text);
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "%s=\"%s\" must be a number in px; let the drawing program use px", name, shown);
    return false;
}

/* --- the drawing's area -------------------------------------------------------------------------
 */

static bool area_svg_view(const SvgElement *element, double view[4], bool *there, GError **error)
{
    const char *text = area_svg_get(element, "viewBox");
    *there = text != NULL;
    if (text) {
        const char *at = text;
        for (int i = 0; i < 4; i++)
            if (!svg_number(&at, &view[i]) || (i > 1 && !(view[i] > 0))) {
                g_autofree char *shown = look_shown(text);
                g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "viewBox=\"%s\" is not four numbers",
                            shown);
                return false;
            }
        return true;
    }
    const char *width = area_svg_get(element, "width"), *height = area_svg_get(element, "height");
    if (!width || !height || strchr(width, '%') || strchr(height, '%'))
        return true;
    view[0] = view[1] = 0;
    *there = true;
    if (!area_svg_length(element, "width", 0, &view[2], error) ||
        !area_svg_length(element, "height", 0, &view[3], error))
        return false;
    if (view[2] > 0 && view[3] > 0)
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "width and height must be over 0");
    return false;
}

/* Without a size, user units are photo px. */
static bool area_svg_root(const SvgReader *reader, const SvgElement *element, SvgTransform *out,
                          GError **error)
{
    double view[4] = {0, 0, reader->photo->width_px, reader->photo->height_px};
    bool there;
    if (!area_svg_view(element, view, &there, error))
        return false;
    double sx = reader->photo->width_px / view[2], sy = reader->photo->height_px / view[3];
    /* Sizes written in whole units or with few digits are off by a little. */
    if (fabs(sx / sy - 1) > 0.01) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "the drawing is %g x %g, the photo %s %d x %d px: other proportions, so it was "
                    "not drawn on this photo, or its page has another size",
                    view[2], view[3], reader->photo->name, reader->photo->width_px,
                    reader->photo->height_px);
        return false;
    }
    *out = (SvgTransform){sx, 0, 0, sy, -view[0] * sx - 0.5, -view[1] * sy - 0.5};
    return true;
}

/* --- shapes
 * --------------------------------------------------------------------------------------- */

static void area_svg_append(GString *text, LfPoint point)
{
    char number[G_ASCII_DTOSTR_BUF_SIZE];
    g_string_append(text, g_ascii_dtostr(number, sizeof number, point.x));
    g_string_append_c(text, ',');
    g_string_append(text, g_ascii_dtostr(number, sizeof number, point.y));
    g_string_append_c(text, ' ');
}

static char *area_svg_rings_text(const SvgRings *rings)
{
    g_autoptr(GString) text = g_string_new(NULL);
    gsize begin = 0;
    for (guint r = 0; r < rings->ends->len; r++) {
        gsize end = g_array_index(rings->ends, gsize, r);
        g_string_append(text, r ? "; " : "");
        for (gsize i = begin; i < end; i++)
            area_svg_append(text, g_array_index(rings->points, LfPoint, i));
        begin = end;
    }
    return g_string_free(g_steal_pointer(&text), FALSE);
}

static bool area_svg_right(const LfPoint *p)
{
    LfPoint u = {p[1].x - p[0].x, p[1].y - p[0].y}, v = {p[3].x - p[0].x, p[3].y - p[0].y};
    return fabs(u.x * v.x + u.y * v.y) <= SVG_RIGHT_ANGLE * hypot(u.x, u.y) * hypot(v.x, v.y);
}

static bool area_svg_rect(const SvgElement *element, const SvgTransform *map, LfAreaShape *shape,
                          char **points, GError **error)
{
    double x, y, w, h, rx, ry;
    if (!area_svg_length(element, "x", 0, &x, error) ||
        !area_svg_length(element, "y", 0, &y, error) ||
        !area_svg_length(element, "width", 0, &w, error) ||
        !area_svg_length(element, "height", 0, &h, error) ||
        !area_svg_length(element, "rx", (double)NAN, &rx, error) ||
        !area_svg_length(element, "ry", (double)NAN, &ry, error))
        return false;
    /* One radius alone stands for both; none is more than half a side (SVG 1.1, 9.2). */
    rx = isnan(rx) ? ry : rx;
    ry = isnan(ry) ? rx : ry;
    rx = isnan(rx) ? 0 : fmin(rx, w / 2);
    ry = isnan(ry) ? 0 : fmin(ry, h / 2);
    g_autoptr(SvgRings) rings = svg_rings_new();
    if (rx > 0 && ry > 0) {
        svg_path_round_rect(x, y, w, h, rx, ry, map, rings);
        *shape = LF_AREA_POLYGON;
    } else {
        const LfPoint user[4] = {{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}};
        LfPoint p[4];
        for (int i = 0; i < 4; i++)
            p[i] = svg_transform_point(map, user[i]);
        g_array_append_vals(rings->points, p, 4);
        *shape = area_svg_right(p) ? LF_AREA_RECT : LF_AREA_POLYGON;
        gsize end = 4;
        g_array_append_val(rings->ends, end);
    }
    *points = area_svg_rings_text(rings);
    return true;
}

static bool area_svg_ellipse(const SvgElement *element, const SvgTransform *map, LfAreaShape *shape,
                             char **points, GError **error)
{
    double cx, cy, rx, ry;
    bool circle = strcmp(element->element, "circle") == 0;
    if (!area_svg_length(element, "cx", 0, &cx, error) ||
        !area_svg_length(element, "cy", 0, &cy, error) ||
        !area_svg_length(element, circle ? "r" : "rx", 0, &rx, error) ||
        !area_svg_length(element, circle ? "r" : "ry", 0, &ry, error))
        return false;
    const LfPoint user[3] = {{cx, cy}, {cx + rx, cy}, {cx, cy + ry}};
    g_autoptr(GString) text = g_string_new(NULL);
    for (int i = 0; i < 3; i++)
        area_svg_append(text, svg_transform_point(map, user[i]));
    *shape = LF_AREA_ELLIPSE;
    *points = g_string_free(g_steal_pointer(&text), FALSE);
    return true;
}

static bool area_svg_polygon(const SvgElement *element, const SvgTransform *map, LfAreaShape *shape,
                             char **points, GError **error)
{
    const char *list = area_svg_get(element, "points"), *at = list ? list : "";
    g_autoptr(GString) text = g_string_new(NULL);
    LfPoint p;
    while (svg_number(&at, &p.x) && svg_number(&at, &p.y))
        area_svg_append(text, svg_transform_point(map, p));
    while (g_ascii_isspace(*at))
        at++;
    *shape = LF_AREA_POLYGON;
    *points = g_strdup(text->str);
    if (!*at)
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "points are not pairs of numbers");
    return false;
}

static bool area_svg_path(const SvgElement *element, const SvgLevel *level, LfAreaShape *shape,
                          char **points, GError **error)
{
    const char *data = area_svg_get(element, "d");
    g_autoptr(SvgRings) rings = svg_rings_new();
    if (!svg_path_parse(data ? data : "", &level->photo_from_user, rings, error))
        return false;
    if (level->nonzero && rings->ends->len > 1)
        svg_rings_nonzero(rings);
    *shape = rings->ends->len > 1 ? LF_AREA_PATH : LF_AREA_POLYGON;
    *points = area_svg_rings_text(rings);
    return true;
}

static bool area_svg_shape(const SvgElement *element, const SvgLevel *level, LfAreaShape *shape,
                           char **points, GError **error)
{
    const SvgTransform *map = &level->photo_from_user;
    if (strcmp(element->element, "rect") == 0)
        return area_svg_rect(element, map, shape, points, error);
    if (strcmp(element->element, "circle") == 0 || strcmp(element->element, "ellipse") == 0)
        return area_svg_ellipse(element, map, shape, points, error);
    if (strcmp(element->element, "path") == 0)
        return area_svg_path(element, level, shape, points, error);
    return area_svg_polygon(element, map, shape, points, error);
}

static bool area_svg_area(SvgReader *reader, const SvgElement *element, const SvgLevel *level,
                          int line, GError **error)
{
    const char *name = area_svg_get(element, "inkscape:label");
    LfAreaShape shape;
    g_autofree char *points = NULL;
    name = name ? name : area_svg_get(element, "id");
    if (!name) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "the %s has no name: give it a label (inkscape:label) or an id",
                    element->element);
        return false;
    }
    if (!area_svg_shape(element, level, &shape, &points, error)) {
        g_autofree char *shown = look_shown(name);
        g_prefix_error(error, "%s: ", shown);
        return false;
    }
    LfArea *area = lf_area_new(reader->photo->name, name, level->group, shape, points, error);
    g_autofree char *place = g_strdup_printf("line %d", line);
    return area && area_list_add(reader->list, area, place, error);
}

/* --- elements
 * ------------------------------------------------------------------------------------- */

/* Drawing programs give every group an id such as "g1234" or "layer1": no name of a level. */
static bool area_svg_is_made_up(const char *id)
{
    const char *digits = id;
    if (g_str_has_prefix(id, "layer"))
        digits += strlen("layer");
    else if (*id == 'g')
        digits++;
    return digits != id && strspn(digits, "0123456789-_") == strlen(digits);
}

static char *area_svg_group(const SvgElement *element, const char *outer)
{
    const char *label = area_svg_get(element, "inkscape:label");
    const char *id = area_svg_get(element, "id");
    const char *name = label ? label : id && !area_svg_is_made_up(id) ? id : NULL;
    if (strcmp(element->element, "g") != 0 || !name)
        return g_strdup(outer);
    return *outer ? g_strconcat(outer, "/", name, NULL) : g_strdup(name);
}

static bool area_svg_inherit(const SvgElement *element, const SvgLevel *outer, SvgLevel *level,
                             GError **error)
{
    const char *transform = area_svg_get(element, "transform");
    g_autofree char *rule = area_svg_property(element, "fill-rule");
    g_autofree char *display = area_svg_property(element, "display");
    g_autofree char *visibility = area_svg_property(element, "visibility");
    *level = *outer;
    if (rule)
        level->nonzero = strcmp(rule, "evenodd") != 0;
    level->hidden =
        outer->hidden || g_strcmp0(display, "none") == 0 || g_strcmp0(visibility, "hidden") == 0;
    if (transform) {
        SvgTransform own;
        if (!svg_transform_parse(transform, &own, error)) {
            level->group = NULL;
            return false;
        }
        level->photo_from_user = svg_transform_join(&outer->photo_from_user, &own);
    }
    level->group = area_svg_group(element, outer->group);
    return true;
}

static bool area_svg_is(const char *name, const char *const *names)
{
    return g_strv_contains(names, name);
}

static void area_svg_skip(SvgReader *reader, const char *name)
{
    /* What says nothing about areas is passed over without a word. */
    static const char *const silent[] = {"defs",  "style",  "metadata",           "title",  "desc",
                                         "image", "script", "sodipodi:namedview", "symbol", NULL};
    reader->passed = 1;
    if (area_svg_is(name, silent) || reader->skipped->len > 200)
        return;
    g_autofree char *shown = look_shown(name);
    g_autofree char *quoted = g_strdup_printf("%s, ", shown);
    if (!strstr(reader->skipped->str, quoted))
        g_string_append(reader->skipped, quoted);
}

static bool area_svg_open(SvgReader *reader, const SvgElement *element, int line, GError **error)
{
    static const char *const shapes[] = {"rect",     "circle", "ellipse", "polygon",
                                         "polyline", "path",   NULL};
    static const char *const holders[] = {"g", "a", "switch", NULL};
    SvgLevel root = {.group = (char *)(gpointer) "", .nonzero = true}, level;
    if (reader->levels->len == 0) {
        if (strcmp(element->element, "svg") != 0) {
            g_autofree char *shown = look_shown(element->element);
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "it is no SVG drawing, but <%s>", shown);
            return false;
        }
        if (!area_svg_root(reader, element, &root.photo_from_user, error))
            return false;
    } else if (reader->levels->len >= SVG_DEPTH_MOST) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "elements are nested more than %d deep",
                    SVG_DEPTH_MOST);
        return false;
    }
    bool shape = area_svg_is(element->element, shapes);
    if (reader->levels->len > 0 && !shape && !area_svg_is(element->element, holders)) {
        area_svg_skip(reader, element->element);
        return true;
    }
    const SvgLevel *outer = reader->levels->len
                                ? &g_array_index(reader->levels, SvgLevel, reader->levels->len - 1)
                                : &root;
    if (!area_svg_inherit(element, outer, &level, error))
        return false;
    g_array_append_val(reader->levels, level);
    if (shape && level.hidden)
        reader->n_hidden++;
    return !shape || level.hidden || area_svg_area(reader, element, &level, line, error);
}

static void area_svg_on_start(GMarkupParseContext *context, const char *name, const char **names,
                              const char **values, gpointer data, GError **error)
{
    SvgReader *reader = data;
    GError *why = NULL;
    int line;
    if (reader->passed > 0) {
        reader->passed++;
        return;
    }
    g_markup_parse_context_get_position(context, &line, NULL);
    /* "svg:rect": some programs write the prefix. */
    SvgElement element = {g_str_has_prefix(name, "svg:") ? name + 4 : name, names, values};
    if (area_svg_open(reader, &element, line, &why))
        return;
    g_propagate_prefixed_error(error, why, "line %d: ", line);
}

static void area_svg_on_end(G_GNUC_UNUSED GMarkupParseContext *context,
                            G_GNUC_UNUSED const char *name, gpointer data,
                            G_GNUC_UNUSED GError **error)
{
    SvgReader *reader = data;
    if (reader->passed > 0)
        reader->passed--;
    else
        g_array_set_size(reader->levels, reader->levels->len - 1);
}

static void area_svg_tell(const SvgReader *reader, const char *file, LfStudyNote note, void *data)
{
    if (reader->skipped->len > 2) {
        g_autofree char *names = g_strndup(reader->skipped->str, reader->skipped->len - 2);
        g_autofree char *sentence =
            g_strdup_printf("%s: passed over what is no area: %s", file, names);
        note(sentence, data);
    }
    if (reader->n_hidden > 0) {
        g_autofree char *sentence =
            g_strdup_printf("%s: passed over %u hidden shape%s", file, reader->n_hidden,
                            reader->n_hidden == 1 ? "" : "s");
        note(sentence, data);
    }
}

static bool area_svg_parse(SvgReader *reader, const char *text, gsize length, const char *file,
                           GError **error)
{
    static const GMarkupParser parser = {.start_element = area_svg_on_start,
                                         .end_element = area_svg_on_end};
    g_autoptr(GMarkupParseContext) context =
        g_markup_parse_context_new(&parser, (GMarkupParseFlags)0, reader, NULL);
    g_autoptr(GError) why = NULL;
    if (g_markup_parse_context_parse(context, text, (gssize)length, &why) &&
        g_markup_parse_context_end_parse(context, &why))
        return true;
    if (why->domain == LF_ERROR) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s, %s", file, why->message);
        return false;
    }
    /* The parser's own sentence, with the place; its quotations may be cut or broken. */
    g_autofree char *plain = g_utf8_make_valid(why->message, -1);
    g_strdelimit(plain, "\n\r", ' ');
    if (g_utf8_strlen(plain, -1) > 200)
        strcpy(g_utf8_offset_to_pointer(plain, 197), "...");
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "%s cannot be read as SVG (save it as plain SVG in UTF-8): %s", file, plain);
    return false;
}

GPtrArray *lf_area_read_svg(const char *text, gsize length, const char *file,
                            const LfAreaPhoto *photo, LfStudyNote note, void *data, GError **error)
{
    g_autoptr(AreaList) list = area_list_new(photo);
    SvgReader reader = {.photo = photo,
                        .list = list,
                        .levels = g_array_new(FALSE, FALSE, sizeof(SvgLevel)),
                        .skipped = g_string_new(NULL)};
    g_array_set_clear_func(reader.levels, area_svg_level_clear);
    bool ok = area_svg_parse(&reader, text, length, file, error);
    if (ok && note)
        area_svg_tell(&reader, file, note, data);
    g_array_unref(reader.levels);
    g_string_free(reader.skipped, TRUE);
    return ok ? area_list_finish(list, file, error) : NULL;
}
