/* Where on a picture do two groups differ? A permutation test on the mass of clusters.
 *
 * E. T. Bullmore et al., IEEE Transactions on Medical Imaging 18(1), 1999; E. Maris, R. Oostenveld,
 * Journal of Neuroscience Methods 164(1), 2007, doi:10.1016/j.jneumeth.2007.03.024. Each person has
 * one map. In every cell Student's t compares the groups; neighbouring cells (by an edge) beyond
 * the t of `cell_p` and of the same sign make a cluster, whose mass is the sum of its |t|. The same
 * is done with the people's labels drawn anew `permutations` times, and a cluster's p is the share
 * of all draws, the true one among them, whose heaviest cluster weighs as much (B. Phipson, G.
 * Smyth, Statistical Applications in Genetics and Molecular Biology 9(1), 2010). So p is corrected
 * over the whole picture. It speaks of a cluster as a whole, not of its edge. */
#ifndef LF_LOOK_CLUSTER_H
#define LF_LOOK_CLUSTER_H

#include <stdbool.h>
#include <stdint.h>

#include <lookfall/error.h>

typedef struct {
    int nx, ny;
    /* people maps of nx * ny cells, one after the other. Paired: map i of the first group and map i
     * of the second are of the same person. */
    const float *first, *second;
    gsize n_first, n_second; /* people: 2 or more each; equal where paired */
    bool paired;             /* labels are drawn by swapping a person's two maps */
    const bool *within;      /* cells that count, or NULL for all; may not depend on the labels */
} LfClusterMaps;

typedef struct {
    double cell_p;    /* two-sided, 0..1; default 0.05 */
    int permutations; /* default 1000 */
    guint32 seed;     /* default 1 */
} LfClusterSettings;

typedef struct {
    int sign; /* +1: the first group has more; -1: the second */
    gsize cells;
    double mass; /* sum of |t| */
    double p;
} LfCluster;

typedef struct {
    int nx, ny;
    double cell_t;       /* |t| from which a cell counts */
    int *cluster_of;     /* for each cell: index of its cluster, or -1 */
    LfCluster *clusters; /* heaviest first */
    gsize n_clusters;
} LfClusters;

/* LF_ERROR_INPUT: a group with fewer than two people. */
LfClusters *lf_clusters_test(const LfClusterMaps *maps, const LfClusterSettings *settings,
                             GError **error);
void lf_clusters_free(LfClusters *clusters);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfClusters, lf_clusters_free)

#endif
