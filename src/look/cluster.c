/* The permutation test on cluster masses.
 *
 * Sums over all people do not change when labels are drawn anew, so that a draw only has to add up
 * the first group's maps: with S and Q the sums of all values and of all squares in a cell, and a
 * the sum of the first group's, the sum of squares within the groups is
 * Q - a^2 / n1 - (S - a)^2 / n2. Paired, the same holds for the differences under changes of sign.
 */
#include "look/cluster.h"

#include <math.h>
#include <string.h>

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

/* Two masses count as equal within this share: sums of the same numbers in another order. */
#define CLUSTER_EQUAL 1e-9

typedef struct {
    const LfClusterMaps *maps;
    gsize cells, people; /* people: maps to be labelled; paired: pairs */
    const float **map;   /* one for each of them; paired: differences */
    float *differences;
    double *sum, *square; /* over all, for each cell */
    double *part;         /* signed or first group's sum of this draw */
    double *t;
    int *cluster_of;
    int *queue;
    double cell_t;
} ClusterWork;

static void cluster_work_clear(ClusterWork *w)
{
    g_free(w->map);
    g_free(w->differences);
    g_free(w->sum);
    g_free(w->square);
    g_free(w->part);
    g_free(w->t);
    g_free(w->cluster_of);
    g_free(w->queue);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(ClusterWork, cluster_work_clear)

static void cluster_work_init(ClusterWork *w, const LfClusterMaps *maps)
{
    w->maps = maps;
    w->cells = (gsize)maps->nx * (gsize)maps->ny;
    w->people = maps->paired ? maps->n_first : maps->n_first + maps->n_second;
    w->map = g_new(const float *, w->people);
    if (maps->paired) {
        w->differences = g_new(float, w->people * w->cells);
        for (gsize i = 0; i < w->people * w->cells; i++)
            w->differences[i] = maps->first[i] - maps->second[i];
    }
    for (gsize p = 0; p < w->people; p++) {
        if (maps->paired)
            w->map[p] = w->differences + p * w->cells;
        else if (p < maps->n_first)
            w->map[p] = maps->first + p * w->cells;
        else
            w->map[p] = maps->second + (p - maps->n_first) * w->cells;
    }
    w->sum = g_new0(double, w->cells);
    w->square = g_new0(double, w->cells);
    w->part = g_new(double, w->cells);
    w->t = g_new(double, w->cells);
    w->cluster_of = g_new(int, w->cells);
    w->queue = g_new(int, w->cells);
    for (gsize p = 0; p < w->people; p++)
        for (gsize c = 0; c < w->cells; c++) {
            double v = w->map[p][c];
            w->sum[c] += v;
            w->square[c] += v * v;
        }
}

/* weight[p]: 1 or 0 for a member of the first group or the second; paired 1 or -1. */
static void cluster_t(ClusterWork *w, const float *weight)
{
    memset(w->part, 0, w->cells * sizeof *w->part);
    for (gsize p = 0; p < w->people; p++) {
        const float *map = w->map[p];
        if (weight[p] > 0)
            for (gsize c = 0; c < w->cells; c++)
                w->part[c] += map[c];
        else if (weight[p] < 0)
            for (gsize c = 0; c < w->cells; c++)
                w->part[c] -= map[c];
    }
    double n1 = (double)w->maps->n_first, n2 = (double)w->maps->n_second;
    double df = w->maps->paired ? n1 - 1 : n1 + n2 - 2;
    double scale = w->maps->paired ? 1 / n1 : 1 / n1 + 1 / n2;
    for (gsize c = 0; c < w->cells; c++) {
        double a = w->part[c], difference, within;
        if (w->maps->paired) {
            difference = a / n1;
            within = w->square[c] - a * a / n1;
        } else {
            double b = w->sum[c] - a;
            difference = a / n1 - b / n2;
            within = w->square[c] - a * a / n1 - b * b / n2;
        }
        bool counts = !w->maps->within || w->maps->within[c];
        /* Next to nothing is left of the squares where all people have the same value. */
        bool varies = within > 1e-12 * w->square[c];
        w->t[c] = counts && varies ? difference / sqrt(within / df * scale) : 0;
    }
}

static int cluster_sign(const ClusterWork *w, int cell)
{
    return w->t[cell] >= w->cell_t ? 1 : w->t[cell] <= -w->cell_t ? -1 : 0;
}

/* The cluster that grows from one cell. */
static LfCluster cluster_grow(ClusterWork *w, int seed, int number)
{
    LfCluster cluster = {.sign = cluster_sign(w, seed)};
    int nx = w->maps->nx, n = (int)w->cells, length = 0;
    w->queue[length++] = seed;
    w->cluster_of[seed] = number;
    while (length > 0) {
        int cell = w->queue[--length];
        const int next[4] = {cell % nx > 0 ? cell - 1 : -1, cell % nx < nx - 1 ? cell + 1 : -1,
                             cell - nx, cell + nx < n ? cell + nx : -1};
        cluster.cells++;
        cluster.mass += fabs(w->t[cell]);
        for (int k = 0; k < 4; k++)
            if (next[k] >= 0 && w->cluster_of[next[k]] < 0 &&
                cluster_sign(w, next[k]) == cluster.sign) {
                w->cluster_of[next[k]] = number;
                w->queue[length++] = next[k];
            }
    }
    return cluster;
}

/* All clusters of the t at hand; found may be NULL. The heaviest mass, 0 for none. */
static double cluster_find(ClusterWork *w, GArray *found)
{
    double heaviest = 0;
    int number = 0;
    for (gsize c = 0; c < w->cells; c++)
        w->cluster_of[c] = -1;
    for (int c = 0; c < (int)w->cells; c++) {
        if (w->cluster_of[c] >= 0 || cluster_sign(w, c) == 0)
            continue;
        LfCluster cluster = cluster_grow(w, c, number++);
        heaviest = MAX(heaviest, cluster.mass);
        if (found)
            g_array_append_val(found, cluster);
    }
    return heaviest;
}

/* Draws labels and counts, for each cluster, the draws whose heaviest weighs as much. */
static void cluster_permute(ClusterWork *w, const LfClusterSettings *settings, GArray *found,
                            float *weight)
{
    g_autofree int *reached = g_new0(int, found->len + 1);
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    gsl_rng_set(rng, settings->seed);
    for (int i = 0; i < settings->permutations; i++) {
        if (w->maps->paired)
            for (gsize p = 0; p < w->people; p++)
                weight[p] = gsl_rng_uniform(rng) < 0.5 ? 1 : -1;
        else
            gsl_ran_shuffle(rng, weight, w->people, sizeof *weight);
        cluster_t(w, weight);
        double heaviest = cluster_find(w, NULL);
        for (guint k = 0; k < found->len; k++)
            if (heaviest >= g_array_index(found, LfCluster, k).mass * (1 - CLUSTER_EQUAL))
                reached[k]++;
    }
    gsl_rng_free(rng);
    for (guint k = 0; k < found->len; k++)
        g_array_index(found, LfCluster, k).p = (1.0 + reached[k]) / (1.0 + settings->permutations);
}

static int cluster_heavier(gconstpointer a, gconstpointer b, gpointer data)
{
    const LfCluster *clusters = data;
    double x = clusters[*(const int *)a].mass, y = clusters[*(const int *)b].mass;
    return x > y ? -1 : x < y ? 1 : *(const int *)a - *(const int *)b;
}

/* Heaviest first, and the cells' numbers with them. */
static LfClusters *cluster_result(const ClusterWork *w, GArray *found, int *cluster_of)
{
    LfClusters *out = g_new0(LfClusters, 1);
    g_autofree int *order = g_new(int, found->len + 1);
    g_autofree int *rank = g_new(int, found->len + 1);
    for (int i = 0; i < (int)found->len; i++)
        order[i] = i;
    g_qsort_with_data(order, (int)found->len, sizeof *order, cluster_heavier, found->data);
    out->nx = w->maps->nx;
    out->ny = w->maps->ny;
    out->cell_t = w->cell_t;
    out->n_clusters = found->len;
    out->clusters = g_new0(LfCluster, found->len);
    for (int i = 0; i < (int)found->len; i++) {
        out->clusters[i] = g_array_index(found, LfCluster, order[i]);
        rank[order[i]] = i;
    }
    for (gsize c = 0; c < w->cells; c++)
        if (cluster_of[c] >= 0)
            cluster_of[c] = rank[cluster_of[c]];
    out->cluster_of = cluster_of;
    return out;
}

LfClusters *lf_clusters_test(const LfClusterMaps *maps, const LfClusterSettings *settings,
                             GError **error)
{
    if (maps->n_first < 2 || maps->n_second < 2) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "a comparison needs at least two people in each group");
        return NULL;
    }
    g_auto(ClusterWork) work = {0};
    cluster_work_init(&work, maps);
    double n1 = (double)maps->n_first, n2 = (double)maps->n_second;
    work.cell_t = gsl_cdf_tdist_Pinv(1 - settings->cell_p / 2, maps->paired ? n1 - 1 : n1 + n2 - 2);

    g_autofree float *weight = g_new(float, work.people);
    for (gsize p = 0; p < work.people; p++)
        weight[p] = maps->paired || p < maps->n_first ? 1 : 0;
    g_autoptr(GArray) found = g_array_new(FALSE, TRUE, sizeof(LfCluster));
    cluster_t(&work, weight);
    cluster_find(&work, found);
    int *cluster_of = g_memdup2(work.cluster_of, work.cells * sizeof(int));
    if (found->len > 0)
        cluster_permute(&work, settings, found, weight);
    return cluster_result(&work, found, cluster_of);
}

void lf_clusters_free(LfClusters *clusters)
{
    if (!clusters)
        return;
    g_free(clusters->cluster_of);
    g_free(clusters->clusters);
    g_free(clusters);
}
