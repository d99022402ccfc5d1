/* What measures are computed for: areas, the groups they belong to, whole photos. */
#include <lookfall/area.h>

#include <string.h>

static void area_target_free(gpointer data)
{
    LfAreaTarget *target = data;
    g_free(target->photo);
    g_free(target->name);
    g_free(target->areas);
    g_free(target);
}

/* The target of this kind, made where it is not there yet. */
static LfAreaTarget *area_target_find(GPtrArray *targets, GHashTable *known, const char *photo,
                                      const char *name, int level)
{
    g_autofree char *key = g_strdup_printf("%d/%s\n%s", level, photo, name);
    LfAreaTarget *target = g_hash_table_lookup(known, key);
    if (target)
        return target;
    target = g_new0(LfAreaTarget, 1);
    target->photo = g_strdup(photo);
    target->name = g_strdup(name);
    target->level = level;
    g_ptr_array_add(targets, target);
    g_hash_table_insert(known, g_steal_pointer(&key), target);
    return target;
}

static void area_target_hold(LfAreaTarget *target, gsize area)
{
    target->areas = g_renew(gsize, target->areas, target->n_areas + 1);
    target->areas[target->n_areas++] = area;
}

GPtrArray *lf_area_targets(const GPtrArray *areas)
{
    GPtrArray *targets = g_ptr_array_new_with_free_func(area_target_free);
    g_autoptr(GHashTable) known = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    for (guint i = 0; i < areas->len; i++) {
        const LfArea *area = areas->pdata[i];
        area_target_hold(area_target_find(targets, known, area->photo, area->name, 0), i);
    }
    for (guint i = 0; i < areas->len; i++) {
        const LfArea *area = areas->pdata[i];
        const char *end = area->group_path;
        for (int level = 1; *end; level++) {
            end = strchr(end + 1, '/');
            end = end ? end : area->group_path + strlen(area->group_path);
            g_autofree char *path = g_strndup(area->group_path, (gsize)(end - area->group_path));
            area_target_hold(area_target_find(targets, known, area->photo, path, level), i);
        }
    }
    for (guint i = 0; i < areas->len; i++) {
        const LfArea *area = areas->pdata[i];
        area_target_find(targets, known, area->photo, area->photo, -1);
    }
    return targets;
}

char *lf_area_level_name(int level)
{
    if (level <= 0)
        return g_strdup(level == 0 ? "area" : "photo");
    return g_strdup_printf("group %d", level);
}
