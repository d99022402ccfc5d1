/* Areas as values: making, copying, their points as text. Geometry is in area_shape.c. */
#include "look/area_text.h"

#include <math.h>
#include <string.h>

#include "look/shown.h"

/* More points than anybody draws; keeps the search for crossings short. */
#define AREA_POINTS_MOST 10000
/* Far beyond any photo; keeps squares and products well inside a double. */
#define AREA_COORDINATE_MOST 1e7

static const char *const area_shape_names[] = {"rect", "ellipse", "polygon", "path"};

const char *lf_area_shape_name(LfAreaShape shape)
{
    return area_shape_names[shape];
}

bool lf_area_shape_parse(const char *name, LfAreaShape *shape, GError **error)
{
    for (gsize i = 0; i < G_N_ELEMENTS(area_shape_names); i++)
        if (strcmp(name, area_shape_names[i]) == 0) {
            *shape = (LfAreaShape)i;
            return true;
        }
    g_autofree char *shown = look_shown(name);
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "\"%s\" is no shape of an area; there are rect, ellipse, polygon and path", shown);
    return false;
}

/* --- points as text -----------------------------------------------------------------------------
 */

static const char *area_skip(const char *text)
{
    while (g_ascii_isspace(*text))
        text++;
    return text;
}

/* A number with a decimal point; strtod alone would also take "inf" and hexadecimals. */
static bool area_number(const char **text, double *value)
{
    const char *at = area_skip(*text);
    const char *digits = at + (*at == '-' || *at == '+');
    char *end;
    if (!g_ascii_isdigit(digits[*digits == '.']))
        return false;
    *value = g_ascii_strtod(at, &end);
    *text = end;
    return isfinite(*value) && fabs(*value) <= AREA_COORDINATE_MOST &&
           !(digits[0] == '0' && g_ascii_tolower(digits[1]) == 'x');
}

static bool area_point(const char **text, LfPoint *point)
{
    if (!area_number(text, &point->x))
        return false;
    const char *at = area_skip(*text);
    if (*at != ',')
        return false;
    *text = at + 1;
    return area_number(text, &point->y);
}

/* Points and ends of rings; false with *why where the text is not as area.h says. */
static bool area_parse(const char *text, GArray *points, GArray *ends, const char **why)
{
    const char *at = text;
    *why = "points are written \"x,y x,y ...\", with decimal points, rings of a path parted by ;";
    while (*area_skip(at)) {
        LfPoint point;
        at = area_skip(at);
        if (*at == ';') {
            gsize end = points->len;
            g_array_append_val(ends, end);
            at++;
            continue;
        }
        if (!area_point(&at, &point))
            return false;
        if (*at && *at != ';' && !g_ascii_isspace(*at))
            return false;
        g_array_append_val(points, point);
        if (points->len > AREA_POINTS_MOST) {
            *why = "an area may have up to 10,000 points";
            return false;
        }
    }
    gsize end = points->len;
    g_array_append_val(ends, end);
    return true;
}

static const char *area_count_fault(LfAreaShape shape, const GArray *points, const GArray *ends)
{
    if (shape != LF_AREA_PATH && ends->len != 1)
        return "only a path may have more than one ring";
    switch (shape) {
    case LF_AREA_RECT:
        return points->len == 4 ? NULL : "a rect needs its 4 corners";
    case LF_AREA_ELLIPSE:
        return points->len == 3 ? NULL
                                : "an ellipse needs 3 points: its centre and the ends of two "
                                  "semi-axes";
    default:
        break;
    }
    gsize begin = 0;
    for (guint i = 0; i < ends->len; i++) {
        gsize end = g_array_index(ends, gsize, i);
        if (end - begin < 3)
            return shape == LF_AREA_PATH ? "each ring of a path needs 3 corners or more"
                                         : "a polygon needs 3 corners or more";
        begin = end;
    }
    return NULL;
}

bool lf_area_set_points(LfArea *area, LfAreaShape shape, const char *text, GError **error)
{
    g_autoptr(GArray) points = g_array_new(FALSE, FALSE, sizeof(LfPoint));
    g_autoptr(GArray) ends = g_array_new(FALSE, FALSE, sizeof(gsize));
    const char *why;
    if (!area_parse(text ? text : "", points, ends, &why) ||
        (why = area_count_fault(shape, points, ends))) {
        g_autofree char *shown = look_shown(area->name);
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "area %s: %s", shown, why);
        return false;
    }
    area->shape = shape;
    g_free(area->points);
    g_free(area->ring_ends);
    area->points = (LfPoint *)(gpointer)g_array_steal(points, &area->n_points);
    area->ring_ends = (gsize *)(gpointer)g_array_steal(ends, &area->n_rings);
    return true;
}

/* Without the zeros at the end, so that whole pixels read as such. */
void area_text_number(GString *text, double value)
{
    char number[64];
    g_ascii_formatd(number, sizeof number, "%.4f", value);
    for (gsize n = strlen(number); number[n - 1] == '0' || number[n - 1] == '.'; n--) {
        bool point = number[n - 1] == '.';
        number[n - 1] = '\0';
        if (point)
            break;
    }
    g_string_append(text, strcmp(number, "-0") == 0 ? "0" : number);
}

char *lf_area_points(const LfArea *area)
{
    g_autoptr(GString) text = g_string_new(NULL);
    gsize ring = 0;
    for (gsize i = 0; i < area->n_points; i++) {
        if (i == area->ring_ends[ring]) {
            g_string_append(text, "; ");
            ring++;
        } else if (i > 0) {
            g_string_append_c(text, ' ');
        }
        area_text_number(text, area->points[i].x);
        g_string_append_c(text, ',');
        area_text_number(text, area->points[i].y);
    }
    return g_string_free(g_steal_pointer(&text), FALSE);
}

/* --- making and freeing --------------------------------------------------------------------- */

LfArea *lf_area_new(const char *photo, const char *name, const char *group_path, LfAreaShape shape,
                    const char *points, GError **error)
{
    g_autoptr(LfArea) area = g_new0(LfArea, 1);
    area->photo = g_strdup(photo);
    area->name = g_strdup(name);
    area->group_path = g_strdup(group_path ? group_path : "");
    return lf_area_set_points(area, shape, points, error) ? g_steal_pointer(&area) : NULL;
}

LfArea *lf_area_copy(const LfArea *area)
{
    LfArea *copy = g_new(LfArea, 1);
    *copy = *area;
    copy->photo = g_strdup(area->photo);
    copy->name = g_strdup(area->name);
    copy->group_path = g_strdup(area->group_path);
    copy->points = g_memdup2(area->points, area->n_points * sizeof *area->points);
    copy->ring_ends = g_memdup2(area->ring_ends, area->n_rings * sizeof *area->ring_ends);
    return copy;
}

void lf_area_free(LfArea *area)
{
    if (!area)
        return;
    g_free(area->photo);
    g_free(area->name);
    g_free(area->group_path);
    g_free(area->points);
    g_free(area->ring_ends);
    g_free(area);
}

static void area_drop(gpointer area)
{
    lf_area_free(area);
}

GPtrArray *lf_area_list_new(void)
{
    return g_ptr_array_new_with_free_func(area_drop);
}
