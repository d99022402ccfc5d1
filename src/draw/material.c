/* Material by hand, and sums over it. */
#include "draw/material.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void material_walk_free(gpointer data)
{
    MaterialWalk *walk = data;
    g_free(walk->name);
    g_free(walk->person);
    g_free(walk->group);
    g_clear_pointer(&walk->spans, g_array_unref);
    g_array_unref(walk->looks);
    g_free(walk);
}

Material *material_blank(const char *photo, int width_px, int height_px)
{
    Material *material = g_new0(Material, 1);
    material->photo = g_strdup(photo);
    material->width_px = width_px;
    material->height_px = height_px;
    material->width_mm = material->px_per_deg = NAN;
    material->walks = g_ptr_array_new_with_free_func(material_walk_free);
    material->undone = g_ptr_array_new_with_free_func(g_free);
    return material;
}

void material_free(Material *material)
{
    if (!material)
        return;
    g_free(material->photo);
    g_free(material->path);
    g_ptr_array_unref(material->walks);
    g_ptr_array_unref(material->undone);
    g_clear_pointer(&material->areas, g_ptr_array_unref);
    g_free(material);
}

MaterialWalk *material_add_walk(Material *material, const char *name, const char *person,
                                const char *group)
{
    MaterialWalk *walk = g_new0(MaterialWalk, 1);
    walk->name = g_strdup(name);
    walk->person = g_strdup(person ? person : name);
    walk->group = g_strdup(group);
    walk->looks = g_array_new(FALSE, FALSE, sizeof(MaterialLook));
    g_ptr_array_add(material->walks, walk);
    return walk;
}

/* --- sums ------------------------------------------------------------------------------------- */

double material_shown(const MaterialWalk *walk, bool count)
{
    double sum = 0;
    for (guint i = 0; i < walk->looks->len; i++) {
        const MaterialLook *look = &g_array_index(walk->looks, MaterialLook, i);
        if (look->shown)
            sum += count ? 1 : look->to_s - look->from_s;
    }
    return sum;
}

void material_count(Material *material)
{
    g_autoptr(GHashTable) people = g_hash_table_new(g_str_hash, g_str_equal);
    material->n_walks = material->n_looks = 0;
    material->look_s = 0;
    for (guint i = 0; i < material->walks->len; i++) {
        const MaterialWalk *walk = material->walks->pdata[i];
        double looks = material_shown(walk, true);
        if (looks == 0)
            continue;
        material->n_walks++;
        material->n_looks += (gsize)looks;
        material->look_s += material_shown(walk, false);
        g_hash_table_add(people, walk->person);
    }
    material->n_people = g_hash_table_size(people);
}

static double material_time(const Material *material, LfState from, LfState to)
{
    double sum = 0;
    for (guint i = 0; i < material->walks->len; i++) {
        const MaterialWalk *walk = material->walks->pdata[i];
        for (int state = (int)from; state <= (int)to; state++)
            sum += walk->time_s[state];
    }
    return sum;
}

double material_gaze_s(const Material *material)
{
    return material_time(material, LF_STATE_AWAY, LF_STATE_PLACED);
}

double material_unsettled_s(const Material *material)
{
    double sum = material_time(material, LF_STATE_DOUBTFUL, LF_STATE_DOUBTFUL);
    for (guint i = 0; i < material->walks->len; i++)
        sum += ((const MaterialWalk *)material->walks->pdata[i])->uncast_s;
    return sum;
}

double material_lost_s(const Material *material)
{
    return material_time(material, LF_STATE_LOST, LF_STATE_LOST);
}

gsize *material_people(const Material *material, gsize *n_people)
{
    g_autoptr(GHashTable) number = g_hash_table_new(g_str_hash, g_str_equal);
    gsize *person = g_new(gsize, material->walks->len + 1);
    for (guint i = 0; i < material->walks->len; i++) {
        MaterialWalk *walk = material->walks->pdata[i];
        if (!g_hash_table_contains(number, walk->person))
            g_hash_table_insert(number, walk->person, GSIZE_TO_POINTER(g_hash_table_size(number)));
        person[i] = GPOINTER_TO_SIZE(g_hash_table_lookup(number, walk->person));
    }
    *n_people = g_hash_table_size(number);
    return person;
}

bool material_length_px(const Material *material, const LfDrawLength *length, const char *what,
                        double *px, GError **error)
{
    double scale = length->unit == LF_DRAW_PX   ? 1
                   : length->unit == LF_DRAW_MM ? material->width_px / material->width_mm
                                                : material->px_per_deg;
    if (isnan(scale)) {
        if (length->unit == LF_DRAW_MM)
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "the real width of the photo \"%s\" is not known, so the %s cannot be in "
                        "mm; give it in deg or px, or add the photo with --width-mm",
                        material->photo, what);
        else
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "no frame tells from how far the photo \"%s\" was looked at, so the %s "
                        "cannot be in degrees; give it in px or mm",
                        material->photo, what);
        return false;
    }
    *px = length->value * scale;
    return true;
}
