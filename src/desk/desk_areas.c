/* Areas: drawn, changed, ordered, copied along a row; and the way back, which the study keeps. */
#include "desk/desk_state.h"

#include <math.h>
#include <string.h>

#include <lookfall/area.h>

#include "desk/desk_route.h"

#define AREAS_COPIES_MOST 200
#define AREAS_POINTS_MOST 10000

/* --- writing ---------------------------------------------------------------------------------- */

static void desk_areas_points(GString *json, const LfArea *area, gsize from, gsize to)
{
    for (gsize i = from; i < to; i++) {
        desk_json_open(json, '[');
        desk_json_number(json, area->points[i].x, 4);
        desk_json_number(json, area->points[i].y, 4);
        desk_json_close(json, ']');
    }
}

static void desk_areas_area(GString *json, const LfArea *area, int64_t photo)
{
    desk_json_open(json, '{');
    desk_json_put_int(json, "id", area->id);
    desk_json_put_int(json, "photo", photo);
    desk_json_put_string(json, "name", area->name);
    desk_json_put_string(json, "group", area->group_path);
    desk_json_put_string(json, "shape", lf_area_shape_name(area->shape));
    desk_json_key_open(json, "points", '[');
    if (area->shape != LF_AREA_PATH) {
        desk_areas_points(json, area, 0, area->n_points);
    } else {
        for (gsize i = 0; i < area->n_rings; i++) {
            desk_json_open(json, '[');
            desk_areas_points(json, area, i ? area->ring_ends[i - 1] : 0, area->ring_ends[i]);
            desk_json_close(json, ']');
        }
    }
    desk_json_close(json, ']');
    desk_json_close(json, '}');
}

bool desk_areas_list(DeskCall *call, const LfStudyPhoto *photo, GError **error)
{
    const char *who = call->session->reviewer;
    g_autofree char *undo = NULL, *redo = NULL;
    g_autoptr(GPtrArray) areas = lf_study_areas(call->desk->study, photo->name, error);
    if (!areas || (who && !lf_study_edit_steps(call->desk->study, LF_EDIT_AREAS, photo->name, who,
                                               &undo, &redo, error)))
        return false;
    desk_json_open(call->json, '{');
    desk_json_key_open(call->json, "rows", '[');
    for (guint i = 0; i < areas->len; i++)
        desk_areas_area(call->json, areas->pdata[i], photo->id);
    desk_json_close(call->json, ']');
    desk_json_put_string(call->json, "undo", undo);
    desk_json_put_string(call->json, "redo", redo);
    desk_json_close(call->json, '}');
    return true;
}

bool desk_get_areas(DeskCall *call, GError **error)
{
    int64_t id;
    if (!desk_fresh(call->desk, error) ||
        !desk_query_needed(call, "photo", 1, G_MAXINT64, &id, error))
        return false;
    const LfStudyPhoto *photo = desk_photo(call->desk, id, error);
    return photo && desk_areas_list(call, photo, error);
}

/* --- changing --------------------------------------------------------------------------------- */

static LfArea *desk_areas_find(const GPtrArray *areas, int64_t id)
{
    for (guint i = 0; i < areas->len; i++)
        if (((LfArea *)areas->pdata[i])->id == id)
            return areas->pdata[i];
    return NULL;
}

/* The areas of the photo that the area `id` lies on. */
static GPtrArray *desk_areas_of(DeskCall *call, int64_t id, const LfStudyPhoto **photo,
                                GError **error)
{
    if (!desk_fresh(call->desk, error))
        return NULL;
    for (guint i = 0; i < call->desk->photos->len; i++) {
        *photo = call->desk->photos->pdata[i];
        g_autoptr(GPtrArray) areas = lf_study_areas(call->desk->study, (*photo)->name, error);
        if (!areas)
            return NULL;
        if (desk_areas_find(areas, id))
            return g_steal_pointer(&areas);
    }
    desk_fail(error, DESK_GONE, "This area is no more.");
    return NULL;
}

static bool desk_areas_append_ring(JsonArray *ring, GString *text, GError **error)
{
    for (guint i = 0; i < json_array_get_length(ring); i++) {
        char x[G_ASCII_DTOSTR_BUF_SIZE], y[G_ASCII_DTOSTR_BUF_SIZE];
        double xy[2];
        if (!desk_body_point(json_array_get_element(ring, i), "points", xy, error))
            return false;
        g_ascii_formatd(x, sizeof x, "%.4f", xy[0]);
        g_ascii_formatd(y, sizeof y, "%.4f", xy[1]);
        g_string_append_printf(text, "%s%s,%s", i ? " " : "", x, y);
    }
    return true;
}

/* "x,y x,y", rings parted by ';'; owned by the caller. */
static char *desk_areas_read_points(JsonObject *body, LfAreaShape shape, GError **error)
{
    g_autoptr(GString) text = g_string_new(NULL);
    JsonArray *points;
    if (!desk_body_list(body, "points", AREAS_POINTS_MOST, &points, NULL, error))
        return NULL;
    if (shape != LF_AREA_PATH)
        return desk_areas_append_ring(points, text, error)
                   ? g_string_free(g_steal_pointer(&text), FALSE)
                   : NULL;
    for (guint i = 0; i < json_array_get_length(points); i++) {
        JsonNode *ring = json_array_get_element(points, i);
        if (!JSON_NODE_HOLDS_ARRAY(ring)) {
            desk_fail(error, DESK_BAD, "\"points\" of a path must be a list of rings.");
            return NULL;
        }
        g_string_append(text, i ? ";" : "");
        if (!desk_areas_append_ring(json_node_get_array(ring), text, error))
            return NULL;
    }
    return g_string_free(g_steal_pointer(&text), FALSE);
}

/* Puts areas of a photo, to be undone by whoever asks for it, and answers with all of them. what:
 * freed here. */
static bool desk_areas_put(DeskCall *call, const LfStudyPhoto *photo, GPtrArray *areas, char *what,
                           GError **error)
{
    g_autofree char *words = what;
    g_autoptr(GError) why = NULL;
    LfEdit edit = {.what = words};
    if (!desk_call_name(call, &edit.who, error))
        return false;
    if (lf_study_area_put(call->desk->study, areas, &edit, &why))
        return desk_areas_list(call, photo, error);
    if (g_error_matches(why, LF_ERROR, LF_ERROR_INPUT))
        return desk_fail(error, DESK_CONFLICT, "%s", why->message);
    g_propagate_error(error, g_steal_pointer(&why));
    return false;
}

bool desk_post_areas(DeskCall *call, GError **error)
{
    const char *name, *group = "", *shape_name;
    LfAreaShape shape;
    int64_t photo_id;
    bool there;
    if (!desk_fresh(call->desk, error) ||
        !desk_body_int(call->body, "photo", 1, G_MAXINT64, &photo_id, NULL, error) ||
        !desk_body_text(call->body, "name", &name, NULL, error) ||
        !desk_body_text(call->body, "group", &group, &there, error) ||
        !desk_body_text(call->body, "shape", &shape_name, NULL, error) ||
        !lf_area_shape_parse(shape_name, &shape, error))
        return false;
    const LfStudyPhoto *photo = desk_photo(call->desk, photo_id, error);
    g_autofree char *points = photo ? desk_areas_read_points(call->body, shape, error) : NULL;
    LfArea *area = points ? lf_area_new(photo->name, name, group, shape, points, error) : NULL;
    if (!area)
        return false;
    g_autoptr(GPtrArray) list = lf_area_list_new();
    g_ptr_array_add(list, area);
    return desk_areas_put(call, photo, list, g_strdup_printf("drawing %s", name), error);
}

/* Takes into an area what the object says of it. */
static bool desk_areas_edit(JsonObject *said, LfArea *area, GError **error)
{
    const char *name = NULL, *group = NULL, *shape_name = NULL;
    bool there, shaped = json_object_has_member(said, "points");
    LfAreaShape shape = area->shape;
    if (!desk_body_text(said, "name", &name, &there, error) ||
        !desk_body_text(said, "group", &group, &there, error) ||
        !desk_body_text(said, "shape", &shape_name, &there, error) ||
        (shape_name && !lf_area_shape_parse(shape_name, &shape, error)))
        return false;
    if (name) {
        g_free(area->name);
        area->name = g_strdup(name);
    }
    if (group) {
        g_free(area->group_path);
        area->group_path = g_strdup(group);
    }
    g_autofree char *points = shaped ? desk_areas_read_points(said, shape, error) : NULL;
    return !shaped || (points && lf_area_set_points(area, shape, points, error));
}

bool desk_put_area(DeskCall *call, GError **error)
{
    const LfStudyPhoto *photo;
    g_autoptr(GPtrArray) before = desk_areas_of(call, call->id, &photo, error);
    if (!before)
        return false;
    LfArea *area = lf_area_copy(desk_areas_find(before, call->id));
    g_autoptr(GPtrArray) list = lf_area_list_new();
    g_ptr_array_add(list, area);
    g_autofree char *name = g_strdup(area->name);
    return desk_areas_edit(call->body, area, error) &&
           desk_areas_put(call, photo, list, g_strdup_printf("changing %s", name), error);
}

bool desk_delete_area(DeskCall *call, GError **error)
{
    const LfStudyPhoto *photo;
    g_autoptr(GPtrArray) before = desk_areas_of(call, call->id, &photo, error);
    if (!before)
        return false;
    g_autofree char *what = g_strdup_printf("removing %s", desk_areas_find(before, call->id)->name);
    LfEdit edit = {.what = what};
    return desk_call_name(call, &edit.who, error) &&
           lf_study_area_remove(call->desk->study, &call->id, 1, &edit, error) &&
           desk_areas_list(call, photo, error);
}

/* "photo" and "ids". */
static GArray *desk_areas_ids(DeskCall *call, const LfStudyPhoto **photo, GError **error)
{
    g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(int64_t));
    JsonArray *list;
    int64_t photo_id;
    if (!desk_fresh(call->desk, error) ||
        !desk_body_int(call->body, "photo", 1, G_MAXINT64, &photo_id, NULL, error) ||
        !desk_body_list(call->body, "ids", AREAS_POINTS_MOST, &list, NULL, error) ||
        !(*photo = desk_photo(call->desk, photo_id, error)))
        return NULL;
    for (guint i = 0; i < json_array_get_length(list); i++) {
        JsonNode *node = json_array_get_element(list, i);
        if (!JSON_NODE_HOLDS_VALUE(node) || json_node_get_value_type(node) != G_TYPE_INT64) {
            desk_fail(error, DESK_BAD, "\"ids\" must be a list of numbers of areas.");
            return NULL;
        }
        int64_t id = json_node_get_int(node);
        g_array_append_val(ids, id);
    }
    return g_steal_pointer(&ids);
}

/* The photo's areas with these numbers, as copies; DESK_GONE where one is no more. */
static GPtrArray *desk_areas_pick(DeskCall *call, const LfStudyPhoto *photo, const GArray *ids,
                                  GError **error)
{
    g_autoptr(GPtrArray) all = lf_study_areas(call->desk->study, photo->name, error);
    g_autoptr(GPtrArray) picked = lf_area_list_new();
    for (guint i = 0; all && i < ids->len; i++) {
        const LfArea *area = desk_areas_find(all, g_array_index(ids, int64_t, i));
        if (!area) {
            desk_fail(error, DESK_GONE, "One of these areas is no more.");
            return NULL;
        }
        g_ptr_array_add(picked, lf_area_copy(area));
    }
    return all ? g_steal_pointer(&picked) : NULL;
}

/* "removing oats", "removing 3 areas" */
static char *desk_areas_what(const char *doing, const GPtrArray *areas)
{
    return areas->len == 1
               ? g_strdup_printf("%s %s", doing, ((const LfArea *)areas->pdata[0])->name)
               : g_strdup_printf("%s %u areas", doing, areas->len);
}

bool desk_delete_areas(DeskCall *call, GError **error)
{
    const LfStudyPhoto *photo;
    g_autoptr(GArray) ids = desk_areas_ids(call, &photo, error);
    g_autoptr(GPtrArray) areas = ids ? desk_areas_pick(call, photo, ids, error) : NULL;
    if (!areas)
        return false;
    g_autofree char *what = desk_areas_what("removing", areas);
    LfEdit edit = {.what = what};
    return desk_call_name(call, &edit.who, error) &&
           lf_study_area_remove(call->desk->study, (const int64_t *)(const void *)ids->data,
                                ids->len, &edit, error) &&
           desk_areas_list(call, photo, error);
}

/* Changes several areas in one step: "areas" holds objects with an id and what is to change. */
bool desk_put_areas(DeskCall *call, GError **error)
{
    g_autoptr(GArray) ids = g_array_new(FALSE, FALSE, sizeof(int64_t));
    JsonArray *list;
    int64_t photo_id, id;
    if (!desk_fresh(call->desk, error) ||
        !desk_body_int(call->body, "photo", 1, G_MAXINT64, &photo_id, NULL, error) ||
        !desk_body_list(call->body, "areas", AREAS_POINTS_MOST, &list, NULL, error))
        return false;
    const LfStudyPhoto *photo = desk_photo(call->desk, photo_id, error);
    for (guint i = 0; photo && i < json_array_get_length(list); i++) {
        JsonNode *node = json_array_get_element(list, i);
        if (!JSON_NODE_HOLDS_OBJECT(node))
            return desk_fail(error, DESK_BAD, "\"areas\" must be a list of objects.");
        if (!desk_body_int(json_node_get_object(node), "id", 1, G_MAXINT64, &id, NULL, error))
            return false;
        g_array_append_val(ids, id);
    }
    g_autoptr(GPtrArray) areas = photo ? desk_areas_pick(call, photo, ids, error) : NULL;
    if (!areas)
        return false;
    char *what = desk_areas_what("changing", areas);
    for (guint i = 0; i < areas->len; i++)
        if (!desk_areas_edit(json_array_get_object_element(list, i), areas->pdata[i], error)) {
            g_free(what);
            return false;
        }
    return desk_areas_put(call, photo, areas, what, error);
}

bool desk_post_areas_order(DeskCall *call, GError **error)
{
    const LfStudyPhoto *photo;
    LfEdit edit = {.what = "changing the order"};
    g_autoptr(GArray) ids = desk_areas_ids(call, &photo, error);
    return ids && desk_call_name(call, &edit.who, error) &&
           lf_study_area_order(call->desk->study, photo->name,
                               (const int64_t *)(const void *)ids->data, ids->len, &edit, error) &&
           desk_areas_list(call, photo, error);
}

/* --- copies along a row ----------------------------------------------------------------------- */

static bool desk_areas_taken(const GPtrArray *areas, const char *name)
{
    for (guint i = 0; i < areas->len; i++)
        if (strcmp(((const LfArea *)areas->pdata[i])->name, name) == 0)
            return true;
    return false;
}

/* "oats" -> "oats 2", "oats 3" -> "oats 4": the next that neither list holds. */
static char *desk_areas_count_on(const char *name, const GPtrArray *a, const GPtrArray *b)
{
    gsize end = strlen(name), digits = end;
    while (digits > 0 && g_ascii_isdigit(name[digits - 1]))
        digits--;
    /* A number that is all of the name, or longer than a count, is part of it. */
    bool counts = digits > 0 && digits < end && end - digits <= 6;
    guint64 number = counts ? g_ascii_strtoull(name + digits, NULL, 10) : 1;
    g_autofree char *stem = counts ? g_strndup(name, digits) : g_strconcat(name, " ", NULL);
    while (true) {
        char *next = g_strdup_printf("%s%" G_GUINT64_FORMAT, stem, ++number);
        if (!desk_areas_taken(a, next) && !desk_areas_taken(b, next))
            return next;
        g_free(next);
    }
}

static LfArea *desk_areas_shifted(const LfArea *area, double dx, double dy, char *name)
{
    LfArea *copy = lf_area_copy(area);
    g_free(copy->name);
    copy->name = name;
    copy->id = 0;
    for (gsize i = 0; i < copy->n_points; i++) {
        copy->points[i].x += dx;
        copy->points[i].y += dy;
    }
    return copy;
}

bool desk_post_areas_copy(DeskCall *call, GError **error)
{
    const LfStudyPhoto *photo;
    g_autoptr(GArray) ids = desk_areas_ids(call, &photo, error);
    g_autoptr(GPtrArray) before =
        ids ? lf_study_areas(call->desk->study, photo->name, error) : NULL;
    g_autoptr(GPtrArray) copies = lf_area_list_new();
    int64_t count;
    double dx, dy;
    if (!before || !desk_body_int(call->body, "count", 1, AREAS_COPIES_MOST, &count, NULL, error) ||
        !desk_body_number(call->body, "dx", &dx, NULL, error) ||
        !desk_body_number(call->body, "dy", &dy, NULL, error))
        return false;
    for (int64_t i = 1; i <= count; i++)
        for (guint k = 0; k < ids->len; k++) {
            const LfArea *area = desk_areas_find(before, g_array_index(ids, int64_t, k));
            if (!area)
                return desk_fail(error, DESK_GONE, "One of these areas is no more.");
            g_ptr_array_add(copies,
                            desk_areas_shifted(area, dx * (double)i, dy * (double)i,
                                               desk_areas_count_on(area->name, before, copies)));
        }
    return desk_areas_put(call, photo, copies, g_strdup_printf("copying %u areas", copies->len),
                          error);
}
