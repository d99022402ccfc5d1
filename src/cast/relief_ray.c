/* Where a look meets a relief.
 *
 * The look is followed from before the plane to behind it. At each depth it passes over some place
 * of the photo; if what is seen there stands at that depth, the look ends there. Cells whose depth
 * is not known may stand where their neighbours do or anywhere behind. So what comes out is a
 * distribution over the points of the photo the look may have met: a certain one on the front of a
 * pack, two of them at its edge, a long streak in a gap between packs seen from aside. */
#include <math.h>

#include "cast/relief_cells.h"

/* Depths the look is followed through. */
#define RAY_BINS LF_RELIEF_ENDS
/* Standard error of a cell's depth at the least, in bins: the steps it was found in. */
#define RAY_SIGMA_BINS 0.75
/* How far a cell is to be trusted that tells, by how many of the eight around it tell the same, and
 * one that does not tell; depths are the same within this share of the photo's longer side.
 * Measured on rendered shelves: at the edge of a pack a cell is often taken for the pack though
 * what stands behind shows in it, and a cell that agrees with none around is mostly wrong. */
static const double RAY_TRUST[9] = {0.05, 0.12, 0.42, 0.42, 0.48, 0.67, 0.84, 0.86, 0.95};
#define RAY_TRUST_NEAR 0.35
#define RAY_SAME 0.005
/* What does not stand where it is taken to stands behind that so often, else before it. */
#define RAY_BEHIND 0.8
/* What is left of the look when it is given up, and points that hardly count. */
#define RAY_DONE 1e-3
#define RAY_LITTLE 1e-3

/* Ends within this share of near_px are one surface, of which the likeliest is taken rather than a
 * point between two; an end is as good as at the point within this share of it. */
#define RAY_SURFACE 0.5
#define RAY_WELL_WITHIN 0.7

static const int RAY_AROUND[8][2] = {{-1, 0},  {1, 0},  {0, -1}, {0, 1},
                                     {-1, -1}, {1, -1}, {-1, 1}, {1, 1}};

int lf_relief_same(const LfRelief *relief, int cell)
{
    const int column = cell % relief->columns, row = cell / relief->columns;
    const double z = relief->cells[cell].near_z;
    int same = 0;
    for (int i = 0; i < 8; i++) {
        const LfReliefCell *other =
            lf_relief_cell(relief, column + RAY_AROUND[i][0], row + RAY_AROUND[i][1]);
        same += other && other->touched && fabs(other->z - z) < RAY_SAME * relief->side;
    }
    return same;
}

static double ray_trust(const LfRelief *relief, int cell)
{
    if (relief->cells[cell].vouched > 0)
        return relief->cells[cell].vouched;
    return relief->cells[cell].touched ? RAY_TRUST[lf_relief_same(relief, cell)] : RAY_TRUST_NEAR;
}

/* Spreads outwards, ring by ring, from the cells that tell. */
void lf_relief_weigh(LfRelief *relief)
{
    const int n = relief->columns * relief->rows;
    g_autofree int *queue = g_new(int, n);
    int head = 0, tail = 0;
    for (int i = 0; i < n; i++) {
        LfReliefCell *cell = &relief->cells[i];
        cell->near_z = cell->touched ? cell->z : NAN;
        if (cell->touched)
            queue[tail++] = i;
    }
    while (head < tail) {
        const int i = queue[head++];
        for (int s = 0; s < 4; s++) {
            LfReliefCell *to = lf_relief_cell(relief, i % relief->columns + RAY_AROUND[s][0],
                                              i / relief->columns + RAY_AROUND[s][1]);
            if (!to || isfinite(to->near_z))
                continue;
            to->near_z = relief->cells[i].near_z;
            relief->glance[to - relief->cells] = to->near_z;
            queue[tail++] = (int)(to - relief->cells);
        }
    }
    for (int i = 0; i < n; i++)
        relief->cells[i].trust = ray_trust(relief, i);
}

static double ray_normal_cdf(double x)
{
    return x < -5 ? 0 : x > 5 ? 1 : 0.5 * erfc(-x * G_SQRT2 / 2);
}

typedef struct {
    const LfRelief *relief;
    double from, step; /* of z, photo px */
    double q[3], s[3]; /* the look at depth z: lambda q - z s on the plane */
} Ray;

static bool ray_start(Ray *ray, const LfRelief *relief, const LfReliefView *view, LfPoint at)
{
    LfMat3 back;
    *ray = (Ray){.relief = relief,
                 .from = LF_RELIEF_FROM * relief->side,
                 .step = (LF_RELIEF_TO - LF_RELIEF_FROM) * relief->side / RAY_BINS};
    if (!lf_mat3_invert(&view->h, &back))
        return false;
    for (int i = 0; i < 3; i++) {
        const double *m = back.m + 3 * i;
        ray->q[i] = m[0] * at.x + m[1] * at.y + m[2];
        ray->s[i] = m[0] * view->h3[0] + m[1] * view->h3[1] + m[2] * view->h3[2];
    }
    return true;
}

/* Share of the cell's depths that are before z. */
static double ray_before(const Ray *ray, const LfReliefCell *cell, double z)
{
    const double last = ray->from + RAY_BINS * ray->step, floor = RAY_SIGMA_BINS * ray->step;
    const double at =
        CLAMP(cell->touched ? cell->z : cell->near_z, ray->from + ray->step, last - ray->step);
    const double sigma = cell->touched ? sqrt(MAX(cell->z_variance, floor * floor)) : floor;
    return cell->trust * ray_normal_cdf((z - at) / sigma) +
           (1 - cell->trust) * ((1 - RAY_BEHIND) * CLAMP((z - ray->from) / (at - ray->from), 0, 1) +
                                RAY_BEHIND * CLAMP((z - at) / (last - at), 0, 1));
}

static bool ray_point(const Ray *ray, double z, LfPoint *photo)
{
    const LfReliefCamera *camera = &ray->relief->camera;
    const double lambda = (1 + z * ray->s[2]) / ray->q[2], along = z / camera->distance;
    if (!(lambda > 0) || !(1 + along > 0))
        return false;
    photo->x = (lambda * ray->q[0] - z * ray->s[0] + along * camera->middle.x) / (1 + along);
    photo->y = (lambda * ray->q[1] - z * ray->s[1] + along * camera->middle.y) / (1 + along);
    return isfinite(photo->x) && isfinite(photo->y);
}

/* Cells' edges are known to half a cell: the look is followed as it is, and moved by that. */
static const struct {
    double dx, dy, share; /* cells; of the whole */
} RAY_BESIDE[] = {{0, 0, 0.4}, {-0.5, 0, 0.15}, {0.5, 0, 0.15}, {0, -0.5, 0.15}, {0, 0.5, 0.15}};
#define RAY_BESIDES ((int)G_N_ELEMENTS(RAY_BESIDE))

/* Adds the ends of the look moved by (dx, dy) cells. Cells are wrong together rather than each for
 * itself: what the look has got past so far it gets past over the next cell too, and ends there
 * only as far as that one is more certain to stand before it. */
static void ray_follow(const Ray *ray, const LfPoint at[RAY_BINS], int n, double dx, double dy,
                       double share, double weight[RAY_BINS])
{
    const LfRelief *relief = ray->relief;
    double ended = 0;
    for (int k = 0; k < n && ended < 1 - RAY_DONE; k++) {
        const int column = (int)floor(at[k].x / relief->cell_px + dx);
        const int row = (int)floor(at[k].y / relief->cell_px + dy);
        const LfReliefCell *cell =
            &relief->cells[CLAMP(row, 0, relief->rows - 1) * relief->columns +
                           CLAMP(column, 0, relief->columns - 1)];
        const double by_now = ray_before(ray, cell, ray->from + (k + 1) * ray->step);
        weight[k] += share * MAX(by_now - ended, 0);
        ended = MAX(ended, by_now);
    }
}

static int ray_follow_all(const Ray *ray, LfReliefEnd ends[LF_RELIEF_ENDS])
{
    LfPoint at[RAY_BINS];
    double weight[RAY_BINS] = {0};
    int n = 0, n_ends = 0;
    while (n < RAY_BINS && ray_point(ray, ray->from + (n + 0.5) * ray->step, &at[n]))
        n++;
    for (int b = 0; b < RAY_BESIDES; b++)
        ray_follow(ray, at, n, RAY_BESIDE[b].dx, RAY_BESIDE[b].dy, RAY_BESIDE[b].share, weight);
    for (int k = 0; k < n; k++)
        if (weight[k] > RAY_LITTLE)
            ends[n_ends++] = (LfReliefEnd){at[k], ray->from + (k + 0.5) * ray->step, weight[k]};
    return n_ends;
}

int lf_relief_ray(const LfRelief *relief, const LfReliefView *view, LfPoint at,
                  LfReliefEnd ends[LF_RELIEF_ENDS])
{
    Ray ray;
    if (!relief->surveyed || !relief->useful || !ray_start(&ray, relief, view, at))
        return 0;
    return ray_follow_all(&ray, ends);
}

bool lf_relief_at_depth(const LfRelief *relief, const LfReliefView *view, LfPoint at, double z,
                        LfPoint *photo)
{
    Ray ray;
    return ray_start(&ray, relief, view, at) && ray_point(&ray, z, photo);
}

typedef struct {
    double weight;
    LfPoint mean;
    double z;        /* mean */
    double variance; /* per axis */
} RayNear;

/* The ends within near_px of a point. */
static RayNear ray_near(const LfReliefEnd *ends, int n, LfPoint at, double near_px)
{
    double sum = 0, x = 0, y = 0, z = 0, square = 0;
    for (int i = 0; i < n; i++) {
        const double dx = ends[i].photo.x - at.x, dy = ends[i].photo.y - at.y;
        if (dx * dx + dy * dy > near_px * near_px)
            continue;
        sum += ends[i].weight;
        x += ends[i].weight * dx;
        y += ends[i].weight * dy;
        z += ends[i].weight * ends[i].z;
        square += ends[i].weight * (dx * dx + dy * dy);
    }
    if (!(sum > 0))
        return (RayNear){.mean = at};
    x /= sum;
    y /= sum;
    return (RayNear){sum, {at.x + x, at.y + y}, z / sum, MAX(square / sum - x * x - y * y, 0) / 2};
}

/* Share of the ends that are as good as at the point: all that lie well within near_px, fewer
 * towards it, since the point itself is not known exactly. */
static double ray_right(const LfReliefEnd *ends, int n, LfPoint at, double near_px)
{
    double sum = 0;
    for (int i = 0; i < n; i++) {
        const double off = hypot(ends[i].photo.x - at.x, ends[i].photo.y - at.y) / near_px;
        sum += ends[i].weight * CLAMP((1 - off) / (1 - RAY_WELL_WITHIN), 0, 1);
    }
    return sum;
}

LfReliefMeet lf_relief_meet(const LfReliefEnd *ends, int n, double near_px)
{
    RayNear best = {.mean = ends[0].photo, .z = ends[0].z};
    for (int i = 0; i < n; i++) {
        const RayNear one = ray_near(ends, n, ends[i].photo, RAY_SURFACE * near_px);
        if (one.weight > best.weight)
            best = one;
    }
    return (LfReliefMeet){best.mean, best.z, best.variance,
                          CLAMP(1 - ray_right(ends, n, best.mean, near_px), 0, 1)};
}
