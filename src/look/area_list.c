/* Areas being read from a file. */
#include "look/area_list.h"

struct AreaList {
    const LfAreaPhoto *photo;
    GPtrArray *areas;
    GHashTable *places; /* by name */
};

AreaList *area_list_new(const LfAreaPhoto *photo)
{
    AreaList *list = g_new0(AreaList, 1);
    list->photo = photo;
    list->areas = lf_area_list_new();
    list->places = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    return list;
}

void area_list_free(AreaList *list)
{
    if (!list)
        return;
    g_clear_pointer(&list->areas, g_ptr_array_unref);
    g_hash_table_unref(list->places);
    g_free(list);
}

bool area_list_add(AreaList *list, LfArea *area, const char *place, GError **error)
{
    g_ptr_array_add(list->areas, area);
    if (!lf_area_check(area, list->photo->width_px, list->photo->height_px, error))
        return false;
    const char *taken = g_hash_table_lookup(list->places, area->name);
    if (taken) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "the name %s is there already, in %s; names of areas must differ", area->name,
                    taken);
        return false;
    }
    g_hash_table_insert(list->places, g_strdup(area->name), g_strdup(place));
    return true;
}

GPtrArray *area_list_finish(AreaList *list, const char *file, GError **error)
{
    if (list->areas->len > 0)
        return g_steal_pointer(&list->areas);
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: there is no area in it", file);
    return NULL;
}
