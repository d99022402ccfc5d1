/* Areas from and to CSV, and from planogram tables. docs/areas.md describes both. */
#include <lookfall/area.h>

#include <math.h>
#include <string.h>

#include "look/area_list.h"
#include "look/csv_rows.h"
#include "look/shown.h"

/* --- name, group, shape, points -----------------------------------------------------------------
 */

static const CsvColumn area_csv_columns[] = {
    {"name", true}, {"group", false}, {"shape", true}, {"points", true}};

typedef struct {
    const LfAreaPhoto *photo;
    AreaList *list;
    bool mm;
    GHashTable *items; /* planogram: how many rows have this item */
    bool counting;     /* planogram: first pass */
} AreaCsv;

static bool area_csv_take(const char *const *fields, gsize row, void *data, GError **error)
{
    AreaCsv *csv = data;
    LfAreaShape shape;
    if (!lf_area_shape_parse(fields[2], &shape, error))
        return false;
    LfArea *area = lf_area_new(csv->photo->name, fields[0], fields[1], shape, fields[3], error);
    g_autofree char *place = g_strdup_printf("row %" G_GSIZE_FORMAT, row);
    return area && area_list_add(csv->list, area, place, error);
}

GPtrArray *lf_area_read_csv(const char *text, gsize length, const char *file,
                            const LfAreaPhoto *photo, GError **error)
{
    g_autoptr(AreaList) list = area_list_new(photo);
    AreaCsv csv = {.photo = photo, .list = list};
    if (!csv_rows_read(text, length, file, area_csv_columns, G_N_ELEMENTS(area_csv_columns),
                       area_csv_take, &csv, error))
        return NULL;
    return area_list_finish(list, file, error);
}

char *lf_area_write_csv(const GPtrArray *areas)
{
    g_autoptr(GString) text = g_string_new("name,group,shape,points\r\n");
    for (guint i = 0; i < areas->len; i++) {
        const LfArea *area = areas->pdata[i];
        g_autofree char *points = lf_area_points(area);
        csv_rows_append(text, area->name);
        g_string_append_c(text, ',');
        csv_rows_append(text, area->group_path);
        g_string_append_printf(text, ",%s,", lf_area_shape_name(area->shape));
        csv_rows_append(text, points);
        g_string_append(text, "\r\n");
    }
    return g_string_free(g_steal_pointer(&text), FALSE);
}

/* --- planogram ----------------------------------------------------------------------------------
 */

enum {
    PLAN_SHELF,
    PLAN_POSITION,
    PLAN_FACINGS,
    PLAN_ITEM,
    PLAN_X,
    PLAN_Y,
    PLAN_WIDTH,
    PLAN_HEIGHT
};

static const CsvColumn area_plan_columns[] = {
    [PLAN_SHELF] = {"shelf", true},
    [PLAN_POSITION] = {"position", true},
    [PLAN_FACINGS] = {"facings", true},
    [PLAN_ITEM] = {"item", true},
    [PLAN_X] = {"x", true},
    [PLAN_Y] = {"y", true},
    [PLAN_WIDTH] = {"width", true},
    [PLAN_HEIGHT] = {"height", true},
};

static bool area_plan_box(const AreaCsv *csv, const char *const *fields, LfPoint *low,
                          LfPoint *high, GError **error)
{
    double v[4];
    for (int i = 0; i < 4; i++)
        if (!csv_rows_number(fields[PLAN_X + i], area_plan_columns[PLAN_X + i].name, &v[i], error))
            return false;
    if (!(v[2] > 0 && v[3] > 0)) {
        g_autofree char *shown = look_shown(fields[PLAN_ITEM]);
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s has no area: its width and height must be over 0, not %g and %g", shown,
                    v[2], v[3]);
        return false;
    }
    /* Millimetres count from the photo's edge, half a pixel before the first pixel's centre. */
    double scale = csv->mm ? csv->photo->width_px / csv->photo->width_mm : 1;
    double shift = csv->mm ? -0.5 : 0;
    *low = (LfPoint){v[0] * scale + shift, v[1] * scale + shift};
    *high = (LfPoint){(v[0] + v[2]) * scale + shift, (v[1] + v[3]) * scale + shift};
    return true;
}

static bool area_plan_facings(const char *field, int *facings, GError **error)
{
    double value;
    if (!csv_rows_number(field, "facings", &value, error))
        return false;
    if (value != floor(value) || value < 1 || value > 1000) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "facings must be a whole number from 1 to 1000, not %s", field);
        return false;
    }
    *facings = (int)value;
    return true;
}

/* One facing is the item's area; several are areas of a group that has the item's name. */
static bool area_plan_add(AreaCsv *csv, const char *group, const char *name, int number,
                          LfPoint low, LfPoint high, gsize row, GError **error)
{
    g_autofree char *numbered = number > 0 ? g_strdup_printf("%s %d", name, number) : NULL;
    const double corners[8] = {low.x, low.y, high.x, low.y, high.x, high.y, low.x, high.y};
    g_autoptr(GString) points = g_string_new(NULL);
    for (int i = 0; i < 8; i++) {
        char text[G_ASCII_DTOSTR_BUF_SIZE];
        g_string_append_printf(points, "%s%s", g_ascii_dtostr(text, sizeof text, corners[i]),
                               i % 2 ? " " : ",");
    }
    LfArea *area = lf_area_new(csv->photo->name, numbered ? numbered : name, group, LF_AREA_RECT,
                               points->str, error);
    g_autofree char *place = g_strdup_printf("row %" G_GSIZE_FORMAT, row);
    return area && area_list_add(csv->list, area, place, error);
}

static bool area_plan_take(const char *const *fields, gsize row, void *data, GError **error)
{
    AreaCsv *csv = data;
    const char *shelf = fields[PLAN_SHELF], *item = fields[PLAN_ITEM];
    LfPoint low, high;
    int facings;
    if (csv->counting) {
        gsize n = GPOINTER_TO_SIZE(g_hash_table_lookup(csv->items, item));
        g_hash_table_insert(csv->items, g_strdup(item), GSIZE_TO_POINTER(n + 1));
        return true;
    }
    if (strchr(shelf, '/') || strchr(item, '/')) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "names of shelves and items must not hold a '/', which parts levels");
        return false;
    }
    if (!area_plan_box(csv, fields, &low, &high, error) ||
        !area_plan_facings(fields[PLAN_FACINGS], &facings, error))
        return false;
    /* An item that stands at several places is told apart by where. */
    bool several = GPOINTER_TO_SIZE(g_hash_table_lookup(csv->items, item)) > 1;
    g_autofree char *name =
        several ? g_strdup_printf("%s, %s %s", item, shelf, fields[PLAN_POSITION]) : g_strdup(item);
    g_autofree char *inner = g_strdup_printf("%s/%s", shelf, item);
    for (int i = 0; i < facings; i++) {
        double step = (high.x - low.x) / facings;
        LfPoint from = {low.x + i * step, low.y};
        LfPoint to = {i + 1 == facings ? high.x : low.x + (i + 1) * step, high.y};
        if (!area_plan_add(csv, inner, name, facings > 1 ? i + 1 : 0, from, to, row, error))
            return false;
    }
    return true;
}

GPtrArray *lf_area_read_planogram(const char *text, gsize length, const char *file,
                                  const LfAreaPhoto *photo, bool mm, GError **error)
{
    g_autoptr(AreaList) list = area_list_new(photo);
    g_autoptr(GHashTable) items = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    AreaCsv csv = {.photo = photo, .list = list, .mm = mm, .items = items, .counting = true};
    if (mm && !(photo->width_mm > 0)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s is in millimetres, but the real width of photo %s is not known; give it "
                    "with --photo-width-mm",
                    file, photo->name);
        return NULL;
    }
    for (int pass = 0; pass < 2; pass++) {
        csv.counting = pass == 0;
        if (!csv_rows_read(text, length, file, area_plan_columns, G_N_ELEMENTS(area_plan_columns),
                           area_plan_take, &csv, error))
            return NULL;
    }
    return area_list_finish(list, file, error);
}
