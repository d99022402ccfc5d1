/* The invented shelf and its visitors. */
#include "draw/scene.h"

#include <math.h>
#include <stdio.h>

void scene_photo(const char *path, int width, int height)
{
    g_autofree guint8 *rgb = g_malloc((gsize)3 * (gsize)width * (gsize)height);
    static const guint8 pack[6][3] = {{196, 84, 60}, {72, 118, 158},  {226, 190, 96},
                                      {96, 140, 92}, {150, 104, 146}, {228, 222, 208}};
    for (int y = 0; y < height; y++)
        for (int x = 0; x < width; x++) {
            int column = x * 12 / width, row = y * 4 / height;
            double u = x * 12.0 / width - column, v = y * 4.0 / height - row;
            guint8 *p = rgb + 3 * ((gsize)y * (gsize)width + (gsize)x);
            bool board = v > 0.88, gap = u < 0.08 || u > 0.92 || v < 0.12;
            const guint8 *c = pack[(column * 5 / 2 + row * 3) % 6];
            double shade = board ? 0.55 : gap ? 0.22 : 0.75 + 0.25 * sin(3.1 * u);
            for (int k = 0; k < 3; k++)
                p[k] = (guint8)(board || gap ? 220 * shade : c[k] * shade);
            if (!board && !gap && hypot(u - 0.5, (v - 0.5) * 1.6) < 0.18)
                p[0] = p[1] = p[2] = 245;
        }
    FILE *file = fopen(path, "wb");
    g_assert_nonnull(file);
    fprintf(file, "P6\n%d %d\n255\n", width, height);
    g_assert_cmpuint(fwrite(rgb, 3, (gsize)width * (gsize)height, file), ==,
                     (gsize)width * (gsize)height);
    fclose(file);
}

/* Normal by the sum of twelve (common practice): enough for a picture, the same everywhere. */
static double scene_normal(GRand *rand)
{
    double sum = -6;
    for (int i = 0; i < 12; i++)
        sum += g_rand_double(rand);
    return sum;
}

static void scene_walk(Material *material, GRand *rand, int number, int fixations)
{
    static const LfPoint place[] = {{0.21, 0.37}, {0.29, 0.38}, {0.54, 0.62},
                                    {0.71, 0.15}, {0.79, 0.61}, {0.13, 0.86}};
    g_autofree char *name = g_strdup_printf("w%02d", number);
    g_autofree char *person = g_strdup_printf("p%02d", number);
    bool second = number % 2 == 0;
    MaterialWalk *walk =
        material_add_walk(material, name, person, second ? "new layout" : "control");
    double t = 0.2, size = material->width_px;
    gsize at = (gsize)g_rand_int_range(rand, 0, G_N_ELEMENTS(place));
    for (int i = 0; i < fixations; i++) {
        if (g_rand_double(rand) < 0.4)
            at = (gsize)g_rand_int_range(rand, 0, G_N_ELEMENTS(place));
        if (second && g_rand_double(rand) < 0.35)
            at = 4;
        double kind = g_rand_double(rand), length = 0.12 + 0.5 * pow(g_rand_double(rand), 2);
        MaterialLook look = {.from_s = t,
                             .to_s = t + length,
                             .shown = kind < 0.8,
                             .state = kind < 0.8   ? LF_STATE_SURE
                                      : kind < 0.9 ? LF_STATE_DOUBTFUL
                                                   : LF_STATE_AWAY};
        look.x = look.shown ? (place[at].x + 0.02 * scene_normal(rand)) * size : NAN;
        look.y = look.shown
                     ? CLAMP(place[at].y * material->height_px + 0.02 * scene_normal(rand) * size,
                             0, material->height_px - 1)
                     : NAN;
        look.radius_px = look.shown ? size * (kind < 0.7 ? 0.002 : 0.012) : NAN;
        g_array_append_val(walk->looks, look);
        walk->time_s[look.state] += length;
        t += length + 0.04;
        walk->time_s[LF_STATE_AWAY] += 0.03;
        walk->time_s[LF_STATE_LOST] += 0.01;
    }
    walk->interval_s = 0.01;
    walk->to_us = (int64_t)llround(t * 1e6);
}

Material *scene_material(const char *photo_path, int width, int height, int people, int fixations,
                         guint32 seed)
{
    Material *material = material_blank("shelf", width, height);
    g_autoptr(GRand) rand = g_rand_new_with_seed(seed);
    material->path = g_strdup(photo_path);
    material->width_mm = 1200;
    material->px_per_deg = width / 40.0;
    for (int i = 1; i <= people; i++)
        scene_walk(material, rand, i, fixations);
    material_count(material);
    return material;
}

GPtrArray *scene_areas(int width, int height)
{
    static const char *const shelf[] = {"top shelf", "upper shelf", "lower shelf", "bottom shelf"};
    static const char *const maker[] = {"Morrow", "Tilde & Vane", "Oxbow"};
    static const char *const thing[] = {"crispbread", "oat biscuits with candied orange peel",
                                        "rusks", "pretzels"};
    GPtrArray *areas = lf_area_list_new();
    for (int i = 0; i < 48; i++) {
        int row = i / 12, column = i % 12;
        double x = column * width / 12.0 + 0.08 * width / 12, w = 0.84 * width / 12;
        double y = row * height / 4.0 + 0.12 * height / 4, h = 0.76 * height / 4;
        g_autofree char *name = g_strdup_printf("%s %d g", thing[i % 4], 100 + 25 * i);
        g_autofree char *group = g_strdup_printf("%s/%s", shelf[row], maker[column / 4]);
        g_autofree char *points = g_strdup_printf("%.0f,%.0f %.0f,%.0f %.0f,%.0f %.0f,%.0f", x, y,
                                                  x + w, y, x + w, y + h, x, y + h);
        GError *error = NULL;
        LfArea *area = lf_area_new("shelf", name, group, LF_AREA_RECT, points, &error);
        g_assert_no_error(error);
        g_ptr_array_add(areas, area);
    }
    return areas;
}
