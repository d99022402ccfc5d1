/* Where a look meets a relief.
 *
 * The look is followed from before the plane to behind it. At each depth it passes over some place
 * of the photo; if what is seen there stands at that depth, the look ends there. Cells whose depth
 * is not known may stand where their neighbours do or anywhere behind. So what comes out is a
 * distribution over the points of the photo the look may have met: a certain one on the front of a
 * pack, two of them at its edge, a long streak in a gap between packs seen from aside. */
#include <math.h>
#include <string.h>

#include "cast/relief_cells.h"

/* Depths the look is followed through. */
#define RAY_BINS 128
/* Standard error of a cell's depth at the least, in bins: the steps it was found in. */
#define RAY_SIGMA_BINS 0.75
/* A cell that does not tell stands where the nearest one does with this probability, less by a
 * factor of e for each RAY_FADE cells between them, within so many bins; else it stands anywhere
 * behind that. */
#define RAY_SAME 0.75
#define RAY_FADE 3.0
#define RAY_SAME_BINS 2.0
/* What is left of the look when it is given up, and points that hardly count. */
#define RAY_DONE 1e-3
#define RAY_LITTLE 1e-3

/* Spreads outwards, ring by ring, from the cells that tell. */
void lf_relief_guess(LfRelief *relief)
{
    const int n = relief->columns * relief->rows;
    g_autofree int *queue = g_new(int, n);
    int head = 0, tail = 0;
    for (int i = 0; i < n; i++) {
        LfReliefCell *cell = &relief->cells[i];
        cell->guess_cells = cell->touched ? 0 : LF_RELIEF_GUESS_NONE;
        cell->guess_z = cell->touched ? cell->z : 0;
        if (cell->touched)
            queue[tail++] = i;
    }
    while (head < tail) {
        const int i = queue[head++];
        const LfReliefCell *from = &relief->cells[i];
        if (from->guess_cells >= LF_RELIEF_GUESS_NONE - 1)
            continue;
        const int column = i % relief->columns, row = i / relief->columns;
        static const int STEP[4][2] = {{-1, 0}, {1, 0}, {0, -1}, {0, 1}};
        for (int s = 0; s < 4; s++) {
            const int x = column + STEP[s][0], y = row + STEP[s][1];
            if (x < 0 || y < 0 || x >= relief->columns || y >= relief->rows)
                continue;
            LfReliefCell *to = &relief->cells[y * relief->columns + x];
            if (to->guess_cells != LF_RELIEF_GUESS_NONE)
                continue;
            to->guess_cells = (uint8_t)(from->guess_cells + 1);
            to->guess_z = from->guess_z;
            queue[tail++] = y * relief->columns + x;
        }
    }
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

/* Share of the cell's depths that are before z. */
static double ray_before(const Ray *ray, const LfReliefCell *cell, double z)
{
    if (cell->touched) {
        const double floor = RAY_SIGMA_BINS * ray->step;
        return ray_normal_cdf((z - cell->z) / sqrt(MAX(cell->z_variance, floor * floor)));
    }
    const double last = ray->from + RAY_BINS * ray->step;
    if (cell->guess_cells == LF_RELIEF_GUESS_NONE)
        return CLAMP((z - ray->from) / (last - ray->from), 0, 1);
    const double same = RAY_SAME * exp(-cell->guess_cells / RAY_FADE);
    const double behind = MIN(cell->guess_z, last - ray->step);
    return same * ray_normal_cdf((z - cell->guess_z) / (RAY_SAME_BINS * ray->step)) +
           (1 - same) * CLAMP((z - behind) / (last - behind), 0, 1);
}

/* Probability that a look which came as far as z ends before z + step, over this cell. */
static double ray_ends(const Ray *ray, const LfReliefCell *cell, double z)
{
    const double a = ray_before(ray, cell, z), b = ray_before(ray, cell, z + ray->step);
    return a < 1 - 1e-9 ? (b - a) / (1 - a) : 1;
}

/* The same at a photo point: the four cells around share it, as their edges are not known better
 * than half a cell. */
static double ray_ends_at(const Ray *ray, LfPoint photo, double z)
{
    const LfRelief *relief = ray->relief;
    const double x = photo.x / relief->cell_px - 0.5, y = photo.y / relief->cell_px - 0.5;
    const int column = (int)floor(x), row = (int)floor(y);
    double ends = 0;
    for (int dy = 0; dy < 2; dy++)
        for (int dx = 0; dx < 2; dx++) {
            const double weight = fabs(1 - dx - (x - column)) * fabs(1 - dy - (y - row));
            const int c = CLAMP(column + dx, 0, relief->columns - 1);
            const int r = CLAMP(row + dy, 0, relief->rows - 1);
            if (weight > 0)
                ends += weight * ray_ends(ray, &relief->cells[r * relief->columns + c], z);
        }
    return ends;
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

typedef struct {
    LfPoint at;
    double weight; /* probability that the look ends there */
} RayEnd;

static int ray_follow(const Ray *ray, RayEnd ends[RAY_BINS])
{
    double left = 1;
    int n = 0;
    for (int k = 0; k < RAY_BINS && left > RAY_DONE; k++) {
        const double z = ray->from + k * ray->step;
        LfPoint at;
        if (!ray_point(ray, z + ray->step / 2, &at))
            break;
        const double here = left * ray_ends_at(ray, at, z);
        left -= here;
        if (here > RAY_LITTLE)
            ends[n++] = (RayEnd){at, here};
    }
    return n;
}

/* Sums over the ends within `near_px` of a point. */
static double ray_near(const RayEnd *ends, int n, LfPoint at, double near_px, LfPoint *mean)
{
    double sum = 0, x = 0, y = 0;
    for (int i = 0; i < n; i++) {
        if (hypot(ends[i].at.x - at.x, ends[i].at.y - at.y) > near_px)
            continue;
        sum += ends[i].weight;
        x += ends[i].weight * ends[i].at.x;
        y += ends[i].weight * ends[i].at.y;
    }
    if (sum > 0)
        *mean = (LfPoint){x / sum, y / sum};
    return sum;
}

bool lf_relief_ray(const LfRelief *relief, const LfReliefView *view, LfPoint at, double near_px,
                   LfReliefRay *out)
{
    LfMat3 back;
    Ray ray = {.relief = relief,
               .from = LF_RELIEF_FROM * relief->side,
               .step = (LF_RELIEF_TO - LF_RELIEF_FROM) * relief->side / RAY_BINS};
    if (!relief->surveyed || !relief->useful || !lf_mat3_invert(&view->h, &back))
        return false;
    for (int i = 0; i < 3; i++) {
        const double *m = back.m + 3 * i;
        ray.q[i] = m[0] * at.x + m[1] * at.y + m[2];
        ray.s[i] = m[0] * view->h3[0] + m[1] * view->h3[1] + m[2] * view->h3[2];
    }
    RayEnd ends[RAY_BINS];
    const int n = ray_follow(&ray, ends);
    double most = 0;
    LfPoint best = {0, 0};
    for (int i = 0; i < n; i++) {
        LfPoint mean;
        const double sum = ray_near(ends, n, ends[i].at, near_px, &mean);
        if (sum > most) {
            most = sum;
            best = mean;
        }
    }
    if (!(most > 0))
        return false;
    double square = 0, sum = 0;
    for (int i = 0; i < n; i++) {
        const double d = hypot(ends[i].at.x - best.x, ends[i].at.y - best.y);
        if (d > near_px)
            continue;
        square += ends[i].weight * d * d;
        sum += ends[i].weight;
    }
    *out = (LfReliefRay){.photo = best,
                         .variance = sum > 0 ? square / sum / 2 : 0,
                         .elsewhere = CLAMP(1 - sum, 0, 1)};
    return true;
}
