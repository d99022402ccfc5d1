/* The difference of two groups: their maps and the test on them. */
#ifndef LF_DRAW_DIFFERENCE_H
#define LF_DRAW_DIFFERENCE_H

#include "draw/looks.h"
#include "look/cluster.h"

/* One group: its people's maps on the test's grid, and the mean of them as points of a density. */
typedef struct {
    const char *name;
    GPtrArray *people; /* names, of the walks */
    GArray *maps;      /* float, people * cells, weight per px^2 */
    Field *mean;       /* of its people, as it is drawn */
    double look_s;
} DifferenceGroup;

typedef struct {
    int nx, ny;
    DifferenceGroup group[2];
    LfClusters *clusters;
    gsize n_held;        /* that hold: the first of the clusters */
    LfDrawPlace *places; /* of each cluster */
    bool paired;
} Difference;

void difference_clear(Difference *difference);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Difference, difference_clear)

/* Maps of every person, the means of both groups as fields of width x height, and the clusters.
 * LF_ERROR_INPUT where a group has fewer than two people, or some people are in both. */
bool difference_compute(Difference *difference, const Material *material,
                        const LfDrawSettings *settings, double kernel_px, int width, int height,
                        GError **error);

#endif
