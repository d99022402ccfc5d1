/* Casts that are off by one facing or more: the fault of taking one pack for its neighbour. */
#include "accuracy.h"

#include <math.h>
#include <string.h>

/* A shift is one by facings where it is that of two packs to within so many tolerances. */
#define FACINGS_NEAR 0.35

typedef struct {
    GQuark product;
    LfPoint middle;
} Facing;

/* Middle of "x,y x,y ...". */
static LfPoint facings_middle(const char *points)
{
    g_auto(GStrv) corner = g_strsplit(points, " ", -1);
    LfPoint sum = {0, 0};
    int n = 0;
    for (; corner[n]; n++) {
        const char *comma = strchr(corner[n], ',');
        sum.x += g_ascii_strtod(corner[n], NULL);
        sum.y += comma ? g_ascii_strtod(comma + 1, NULL) : NAN;
    }
    return (LfPoint){sum.x / n, sum.y / n};
}

GArray *accuracy_facings_read(const char *dir, const char *photo)
{
    GArray *out = g_array_new(FALSE, FALSE, sizeof(Facing));
    g_autofree char *path = g_strdup_printf("%s/%s_areas.csv", dir, photo);
    g_autofree char *text = NULL;
    if (!g_file_get_contents(path, &text, NULL, NULL))
        return out; /* a sign has none */
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (int i = 1; lines[i]; i++) {
        g_auto(GStrv) cell = g_strsplit(lines[i], ",", 4);
        if (g_strv_length(cell) < 4 || cell[3][0] != '"')
            continue;
        const Facing one = {g_quark_from_string(cell[1]), facings_middle(cell[3] + 1)};
        g_array_append_val(out, one);
    }
    return out;
}

bool accuracy_shifted(const GArray *facings, LfPoint cast, const TruthPlace *truth,
                      double tolerance_deg)
{
    const Facing *all = (const Facing *)(const void *)facings->data, *from = NULL;
    const double near = FACINGS_NEAR * tolerance_deg * truth->px_per_degree;
    for (guint i = 0; i < facings->len; i++)
        if (!from || hypot(all[i].middle.x - truth->x, all[i].middle.y - truth->y) <
                         hypot(from->middle.x - truth->x, from->middle.y - truth->y))
            from = &all[i];
    for (guint i = 0; i < facings->len; i++) {
        const Facing *to = &all[i];
        if (to != from && to->product == from->product &&
            hypot(cast.x - truth->x - (to->middle.x - from->middle.x),
                  cast.y - truth->y - (to->middle.y - from->middle.y)) < near)
            return true;
    }
    return false;
}
