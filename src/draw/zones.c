/* Areas of one level. */
#include "draw/zones.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void zones_zone_free(gpointer data)
{
    Zone *zone = data;
    g_free(zone->name);
    g_ptr_array_unref(zone->areas);
    g_free(zone);
}

bool zones_holds(const Zone *zone, LfPoint point)
{
    if (point.x < zone->low.x || point.x > zone->high.x || point.y < zone->low.y ||
        point.y > zone->high.y)
        return false;
    for (guint i = 0; i < zone->areas->len; i++)
        if (lf_area_contains(zone->areas->pdata[i], point))
            return true;
    return false;
}

int zones_at(const Zones *zones, LfPoint point)
{
    for (guint i = zones->zones->len; i-- > 0;)
        if (zones_holds(zones->zones->pdata[i], point))
            return (int)i;
    return -1;
}

static Zone *zones_zone(const Zones *zones, const LfAreaTarget *target)
{
    Zone *zone = g_new0(Zone, 1);
    const char *last = target->level > 0 ? strrchr(target->name, '/') : NULL;
    zone->name = g_strdup(last ? last + 1 : target->name);
    zone->areas = g_ptr_array_new();
    zone->low = (LfPoint){INFINITY, INFINITY};
    zone->high = (LfPoint){-INFINITY, -INFINITY};
    for (gsize i = 0; i < target->n_areas; i++) {
        LfArea *area = zones->list->pdata[target->areas[i]];
        LfPoint low, high;
        lf_area_bounds(area, &low, &high);
        zone->low = (LfPoint){MIN(zone->low.x, low.x), MIN(zone->low.y, low.y)};
        zone->high = (LfPoint){MAX(zone->high.x, high.x), MAX(zone->high.y, high.y)};
        g_ptr_array_add(zone->areas, area);
    }
    zone->middle = (LfPoint){(zone->low.x + zone->high.x) / 2, (zone->low.y + zone->high.y) / 2};
    return zone;
}

static int zones_order(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double zones_median(GArray *values)
{
    guint n = values->len;
    if (n == 0)
        return NAN;
    qsort(values->data, n, sizeof(double), zones_order);
    return (g_array_index(values, double, (n - 1) / 2) + g_array_index(values, double, n / 2)) / 2;
}

/* Time, number, people and first looks of one zone. */
static void zones_count(Zone *zone, const Material *material)
{
    g_autoptr(GHashTable) people = g_hash_table_new(g_str_hash, g_str_equal);
    g_autoptr(GArray) first = g_array_new(FALSE, FALSE, sizeof(double));
    for (guint i = 0; i < material->walks->len; i++) {
        const MaterialWalk *walk = material->walks->pdata[i];
        double first_s = NAN;
        for (guint k = 0; k < walk->looks->len; k++) {
            const MaterialLook *look = &g_array_index(walk->looks, MaterialLook, k);
            if (!look->shown || !zones_holds(zone, (LfPoint){look->x, look->y}))
                continue;
            zone->look_s += look->to_s - look->from_s;
            zone->looks++;
            first_s = isnan(first_s) ? look->from_s : first_s;
        }
        if (isnan(first_s))
            continue;
        g_array_append_val(first, first_s);
        g_hash_table_add(people, walk->person);
    }
    zone->people = g_hash_table_size(people);
    zone->first_s = zones_median(first);
}

static void zones_total(Zones *zones, const Material *material)
{
    for (guint i = 0; i < material->walks->len; i++) {
        const MaterialWalk *walk = material->walks->pdata[i];
        for (guint k = 0; k < walk->looks->len; k++) {
            const MaterialLook *look = &g_array_index(walk->looks, MaterialLook, k);
            if (look->shown && zones_at(zones, (LfPoint){look->x, look->y}) >= 0)
                zones->inside_s += look->to_s - look->from_s;
        }
    }
}

/* Groups of the same last name get their whole paths. */
static void zones_name_apart(Zones *zones, const GPtrArray *targets, int level)
{
    g_autoptr(GHashTable) seen = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    for (guint i = 0; i < zones->zones->len; i++) {
        const char *name = ((Zone *)zones->zones->pdata[i])->name;
        gsize times = GPOINTER_TO_SIZE(g_hash_table_lookup(seen, name));
        g_hash_table_insert(seen, g_strdup(name), GSIZE_TO_POINTER(times + 1));
    }
    for (guint i = 0, k = 0; i < targets->len; i++) {
        const LfAreaTarget *target = targets->pdata[i];
        if (target->level != level)
            continue;
        Zone *zone = zones->zones->pdata[k++];
        if (GPOINTER_TO_SIZE(g_hash_table_lookup(seen, zone->name)) > 1) {
            g_free(zone->name);
            zone->name = g_strdup(target->name);
        }
    }
}

Zones *zones_new(const Material *material, int level, GError **error)
{
    g_autoptr(Zones) zones = g_new0(Zones, 1);
    zones->list = g_ptr_array_new_with_free_func((GDestroyNotify)lf_area_free);
    zones->zones = g_ptr_array_new_with_free_func(zones_zone_free);
    for (guint i = 0; i < material->areas->len; i++) {
        const LfArea *area = material->areas->pdata[i];
        if (strcmp(area->photo, material->photo) == 0)
            g_ptr_array_add(zones->list, lf_area_copy(area));
    }
    if (zones->list->len == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "the photo \"%s\" has no areas; draw some at the desk or import them first",
                    material->photo);
        return NULL;
    }
    g_autoptr(GPtrArray) targets = lf_area_targets(zones->list);
    for (guint i = 0; i < targets->len; i++) {
        const LfAreaTarget *target = targets->pdata[i];
        if (target->level == level)
            g_ptr_array_add(zones->zones, zones_zone(zones, target));
    }
    if (zones->zones->len == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "no area of the photo \"%s\" lies in %d groups; a lower --level, or 0 for the "
                    "areas themselves, has some",
                    material->photo, level);
        return NULL;
    }
    zones_name_apart(zones, targets, level);
    for (guint i = 0; i < zones->zones->len; i++)
        zones_count(zones->zones->pdata[i], material);
    zones_total(zones, material);
    return g_steal_pointer(&zones);
}

void zones_free(Zones *zones)
{
    if (!zones)
        return;
    g_clear_pointer(&zones->zones, g_ptr_array_unref);
    g_clear_pointer(&zones->list, g_ptr_array_unref);
    g_free(zones);
}

static int zones_more_time(gconstpointer a, gconstpointer b, gpointer data)
{
    const Zones *zones = data;
    guint i = *(const guint *)a, k = *(const guint *)b;
    const Zone *x = zones->zones->pdata[i], *y = zones->zones->pdata[k];
    return x->look_s != y->look_s ? (x->look_s > y->look_s ? -1 : 1) : (i > k) - (i < k);
}

guint *zones_by_time(const Zones *zones)
{
    guint n = zones->zones->len, *order = g_new(guint, n + 1);
    for (guint i = 0; i < n; i++)
        order[i] = i;
    g_qsort_with_data(order, (int)n, sizeof *order, zones_more_time, (gpointer)zones);
    return order;
}

void zones_path(const Zone *zone, cairo_t *cr, double x, double y, double scale)
{
    for (guint i = 0; i < zone->areas->len; i++) {
        g_autoptr(LfArea) flat = lf_area_flatten(zone->areas->pdata[i], 0.25 / scale);
        gsize from = 0;
        for (gsize r = 0; r < flat->n_rings; r++) {
            for (gsize k = from; k < flat->ring_ends[r]; k++) {
                double px = x + (flat->points[k].x + 0.5) * scale;
                double py = y + (flat->points[k].y + 0.5) * scale;
                if (k == from)
                    cairo_move_to(cr, px, py);
                else
                    cairo_line_to(cr, px, py);
            }
            cairo_close_path(cr);
            from = flat->ring_ends[r];
        }
    }
}
