/* Maps of two groups and where they differ. */
#include "draw/difference.h"

#include <math.h>
#include <string.h>

/* The test's grid: cells of a third of a kernel, and no more of them than this. */
#define DIFFERENCE_CELLS_PER_SIGMA 3.0
#define DIFFERENCE_CELLS 20000.0
/* Cells that nearly nobody of either group looked at, against the cell most looked at, are not
 * tested: in the far tails of a kernel t is as large as in its middle. */
#define DIFFERENCE_FLOOR 0.05

void difference_clear(Difference *d)
{
    for (int k = 0; k < 2; k++) {
        g_clear_pointer(&d->group[k].people, g_ptr_array_unref);
        g_clear_pointer(&d->group[k].maps, g_array_unref);
        field_free(d->group[k].mean);
    }
    lf_clusters_free(d->clusters);
    g_free(d->places);
}

/* --- maps ------------------------------------------------------------------------------------- */

/* The part of the material that is one person's in one group; empty where there is none. Walks are
 * borrowed. */
static Material *difference_person(const Material *material, const char *group, const char *person)
{
    Material *part = material_blank(material->photo, material->width_px, material->height_px);
    g_ptr_array_set_free_func(part->walks, NULL);
    for (guint i = 0; i < material->walks->len; i++) {
        MaterialWalk *walk = material->walks->pdata[i];
        if (g_strcmp0(walk->group, group) == 0 && (!person || strcmp(walk->person, person) == 0))
            g_ptr_array_add(part->walks, walk);
    }
    material_count(part);
    return part;
}

static bool difference_map(Difference *d, DifferenceGroup *group, const Material *part,
                           const LfDrawSettings *settings, double kernel_px, GError **error)
{
    g_autoptr(GArray) points = looks_points(part, settings);
    g_autoptr(LfDensity) density =
        lf_density_new((gpointer)points->data, points->len, part->width_px, part->height_px,
                       kernel_px, DIFFERENCE_CELLS_PER_SIGMA);
    gsize cells = (gsize)d->nx * (gsize)d->ny;
    if (!density) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "there is not enough memory for the maps");
        return false;
    }
    g_array_set_size(group->maps, group->maps->len + (guint)cells);
    lf_density_read(density, d->nx, d->ny,
                    &g_array_index(group->maps, float, group->maps->len - (guint)cells));
    return true;
}

static bool difference_group(Difference *d, int number, const Material *material,
                             const LfDrawSettings *settings, double kernel_px, int width,
                             int height, GError **error)
{
    DifferenceGroup *group = &d->group[number];
    group->name = number ? settings->against : settings->choice.groups[0];
    group->people = g_ptr_array_new();
    group->maps = g_array_new(FALSE, FALSE, sizeof(float));
    g_autoptr(Material) all = difference_person(material, group->name, NULL);
    for (guint i = 0; i < all->walks->len; i++) {
        const MaterialWalk *walk = all->walks->pdata[i];
        bool known = false;
        for (guint k = 0; k < group->people->len; k++)
            known = known || strcmp(group->people->pdata[k], walk->person) == 0;
        g_autoptr(Material) part = known ? NULL : difference_person(all, group->name, walk->person);
        if (known || part->n_looks == 0)
            continue;
        g_ptr_array_add(group->people, walk->person);
        if (!difference_map(d, group, part, settings, kernel_px, error))
            return false;
    }
    if (group->people->len < 2) {
        g_autofree char *people = canvas_count(group->people->len, "person", "people");
        g_set_error(
            error, LF_ERROR, LF_ERROR_INPUT,
            "a difference needs two people or more in each group; in \"%s\" %s looked at the "
            "photo \"%s\"",
            group->name, people, material->photo);
        return false;
    }
    group->look_s = all->look_s;
    g_autoptr(LfDensity) density = looks_density(all, settings, kernel_px, error);
    if (!density)
        return false;
    group->mean = looks_field(density, width, height);
    /* Pooled seconds become seconds a person. */
    for (gsize i = 0; settings->pooled && i < (gsize)width * (gsize)height; i++)
        group->mean->value[i] /= (float)group->people->len;
    return true;
}

/* --- the test --------------------------------------------------------------------------------- */

/* Whether people are in both groups: all of them, or none. The second group's maps are put in the
 * order of the first's. */
static bool difference_pairs(Difference *d, GError **error)
{
    const DifferenceGroup *a = &d->group[0];
    DifferenceGroup *b = &d->group[1];
    gsize cells = (gsize)d->nx * (gsize)d->ny;
    g_autoptr(GArray) ordered = g_array_new(FALSE, FALSE, sizeof(float));
    guint both = 0;
    for (guint i = 0; i < a->people->len; i++)
        for (guint k = 0; k < b->people->len; k++)
            if (strcmp(a->people->pdata[i], b->people->pdata[k]) == 0) {
                g_array_append_vals(ordered, &g_array_index(b->maps, float, k *cells),
                                    (guint)cells);
                both++;
            }
    d->paired = both > 0;
    if (both > 0 && (both < a->people->len || both < b->people->len)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%u of the people are in both \"%s\" and \"%s\", others in one of them; a "
                    "difference needs all in both, or none",
                    both, a->name, b->name);
        return false;
    }
    if (d->paired) {
        g_array_unref(b->maps);
        b->maps = g_steal_pointer(&ordered);
    }
    return true;
}

/* Cells where anybody looked to speak of, whatever the group. */
static bool *difference_within(const Difference *d)
{
    gsize cells = (gsize)d->nx * (gsize)d->ny;
    g_autofree double *sum = g_new0(double, cells);
    double most = 0;
    for (int k = 0; k < 2; k++)
        for (guint i = 0; i < d->group[k].maps->len; i++)
            sum[i % cells] += (double)g_array_index(d->group[k].maps, float, i);
    for (gsize c = 0; c < cells; c++)
        most = MAX(most, sum[c]);
    bool *within = g_new(bool, cells);
    for (gsize c = 0; c < cells; c++)
        within[c] = sum[c] > DIFFERENCE_FLOOR * most;
    return within;
}

/* What the clusters amount to: the density over their cells. */
static void difference_amounts(Difference *d, const Material *material)
{
    gsize cells = (gsize)d->nx * (gsize)d->ny;
    double cell_px2 = (double)material->width_px * material->height_px / (double)cells;
    for (int k = 0; k < 2; k++) {
        const DifferenceGroup *g = &d->group[k];
        double scale = (k ? -1 : 1) * cell_px2 / g->people->len;
        for (guint i = 0; i < g->maps->len; i++) {
            int cluster = d->clusters->cluster_of[i % cells];
            if (cluster >= 0)
                d->places[cluster].amount += scale * (double)g_array_index(g->maps, float, i);
        }
    }
}

/* Where the clusters lie. The photo's edge is at -0.5 px. */
static void difference_places(Difference *d, const Material *material)
{
    double w = (double)material->width_px / d->nx, h = (double)material->height_px / d->ny;
    d->places = g_new0(LfDrawPlace, d->clusters->n_clusters + 1);
    for (gsize i = 0; i < d->clusters->n_clusters; i++) {
        const LfCluster *cluster = &d->clusters->clusters[i];
        d->places[i] = (LfDrawPlace){.first_more = cluster->sign > 0,
                                     .holds = i < d->n_held,
                                     .p = cluster->p,
                                     .mass = cluster->mass,
                                     .left_px = INFINITY,
                                     .top_px = INFINITY,
                                     .right_px = -INFINITY,
                                     .bottom_px = -INFINITY,
                                     .area_px2 = (double)cluster->cells * w * h};
    }
    for (int c = 0; c < d->nx * d->ny; c++) {
        int i = d->clusters->cluster_of[c];
        if (i < 0)
            continue;
        LfDrawPlace *place = &d->places[i];
        double n = (double)d->clusters->clusters[i].cells;
        double left = c % d->nx * w - 0.5, top = c / d->nx * h - 0.5;
        place->x_px += (left + w / 2) / n;
        place->y_px += (top + h / 2) / n;
        place->left_px = fmin(place->left_px, left);
        place->top_px = fmin(place->top_px, top);
        place->right_px = fmax(place->right_px, left + w);
        place->bottom_px = fmax(place->bottom_px, top + h);
    }
    difference_amounts(d, material);
}

static bool difference_test(Difference *d, const LfDrawSettings *settings, GError **error)
{
    if (!difference_pairs(d, error))
        return false;
    g_autofree bool *within = difference_within(d);
    LfClusterMaps maps = {.nx = d->nx,
                          .ny = d->ny,
                          .first = (const float *)(gpointer)d->group[0].maps->data,
                          .second = (const float *)(gpointer)d->group[1].maps->data,
                          .n_first = d->group[0].people->len,
                          .n_second = d->group[1].people->len,
                          .paired = d->paired,
                          .within = within};
    LfClusterSettings how = {settings->cell_p, settings->permutations, settings->seed};
    d->clusters = lf_clusters_test(&maps, &how, error);
    if (!d->clusters)
        return false;
    while (d->n_held < d->clusters->n_clusters &&
           d->clusters->clusters[d->n_held].p <= settings->hold_p)
        d->n_held++;
    return true;
}

bool difference_compute(Difference *d, const Material *material, const LfDrawSettings *settings,
                        double kernel_px, int width, int height, GError **error)
{
    double cell_px = kernel_px / DIFFERENCE_CELLS_PER_SIGMA;
    double many = material->width_px / cell_px * material->height_px / cell_px / DIFFERENCE_CELLS;
    cell_px *= many > 1 ? sqrt(many) : 1;
    d->nx = MAX(1, (int)ceil(material->width_px / cell_px));
    d->ny = MAX(1, (int)ceil(material->height_px / cell_px));
    for (int k = 0; k < 2; k++)
        if (!difference_group(d, k, material, settings, kernel_px, width, height, error))
            return false;
    if (!difference_test(d, settings, error))
        return false;
    difference_places(d, material);
    return true;
}
