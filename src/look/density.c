/* Density on a grid that is only as fine as the kernel asks for.
 *
 * A look is spread over 4 x 4 cells by the cubic B-spline, the cells are filtered with a Gaussian
 * (separable, cut at 5 standard deviations), and the surface is read between cells by the cubic
 * B-spline again. Unlike bilinear spreading, a cubic B-spline has the same variance (1/3 cell^2)
 * wherever in its cell the look lies, so both can be taken off the filter's variance and the three
 * together make the kernel asked for. What is left is the splines' fourth cumulant, -1/30 cell^4
 * each, which moves the peak by 1/8 of it over sigma^4, in each direction: 7e-5 at 4 cells per
 * sigma (Edgeworth's series, M. Kendall and A. Stuart, "The Advanced Theory of Statistics", vol. 1,
 * chapter 6). B-splines: M. Unser, IEEE Signal Processing Magazine 16(6), 1999.
 *
 * Looks of different accuracy: kernels form a ladder of variances, each rung 6% above the last, and
 * a look is shared between the two rungs around its own variance so that the mean of theirs is its
 * own. A mixture's peak differs by (6%)^2 / 4 = 9e-4 at most. Wider rungs use coarser grids. */
#include "look/density.h"

#include <math.h>
#include <string.h>

#define DENSITY_RUNG 1.06
#define DENSITY_CUT 5.0 /* standard deviations; beyond lie 6e-7 of the weight */

/* Weights of the four cells around a point at fraction f (0..1) past the second one's centre. */
static void density_spline(double f, double w[4])
{
    double g = 1 - f;
    w[0] = g * g * g / 6;
    w[1] = (4 - 6 * f * f + 3 * f * f * f) / 6;
    w[2] = (4 - 6 * g * g + 3 * g * g * g) / 6;
    w[3] = f * f * f / 6;
}

/* Index i of a row of n cells that is mirrored at both ends without end. */
static int density_mirror(int i, int n)
{
    int period = 2 * n;
    i %= period;
    if (i < 0)
        i += period;
    return i < n ? i : period - 1 - i;
}

/* The cells around a position (in cells, 0 the centre of the first) and their weights. */
static void density_taps(double at, int n, int cell[4], double w[4])
{
    double floor_at = floor(at);
    density_spline(at - floor_at, w);
    for (int k = 0; k < 4; k++)
        cell[k] = density_mirror((int)floor_at - 1 + k, n);
}

static void density_add(double *cells, int nx, int ny, double x, double y, double weight)
{
    int cx[4], cy[4];
    double wx[4], wy[4];
    density_taps(x, nx, cx, wx);
    density_taps(y, ny, cy, wy);
    for (int j = 0; j < 4; j++)
        for (int i = 0; i < 4; i++)
            cells[(gsize)cy[j] * (gsize)nx + (gsize)cx[i]] += weight * wy[j] * wx[i];
}

/* Filters rows of n cells in place; scratch takes n + 2 * reach. */
static void density_filter_row(double *row, gsize step, int n, const double *tap, int reach,
                               double *scratch)
{
    for (int i = -reach; i < n + reach; i++)
        scratch[i + reach] = row[(gsize)density_mirror(i, n) * step];
    for (int i = 0; i < n; i++) {
        const double *s = scratch + i;
        double sum = s[reach] * tap[0];
        for (int k = 1; k <= reach; k++)
            sum += (s[reach - k] + s[reach + k]) * tap[k];
        row[(gsize)i * step] = sum;
    }
}

static bool density_filter_axis(double *cells, gsize rows, gsize row_step, gsize step, int n,
                                double variance)
{
    double sigma = sqrt(variance);
    int reach = MAX(1, (int)ceil(DENSITY_CUT * sigma));
    g_autofree double *tap = g_try_new(double, (gsize)reach + 1);
    g_autofree double *scratch = g_try_new(double, (gsize)n + 2 * (gsize)reach);
    double sum = 0;
    if (!tap || !scratch)
        return false;
    for (int k = 0; k <= reach; k++) {
        tap[k] = exp(-0.5 * k * k / variance);
        sum += k ? 2 * tap[k] : tap[k];
    }
    for (int k = 0; k <= reach; k++)
        tap[k] /= sum;
    for (gsize r = 0; r < rows; r++)
        density_filter_row(cells + r * row_step, step, n, tap, reach, scratch);
    return true;
}

/* Adds a surface on a coarse grid to a finer one, read at the finer one's cells. */
static bool density_gather(const double *from, int from_nx, int from_ny, double *to, int nx, int ny)
{
    g_autofree double *row = g_try_new(double, (gsize)from_nx);
    if (!row)
        return false;
    for (int y = 0; y < ny; y++) {
        int cell[4];
        double w[4];
        density_taps((y + 0.5) * from_ny / ny - 0.5, from_ny, cell, w);
        for (int x = 0; x < from_nx; x++) {
            row[x] = 0;
            for (int k = 0; k < 4; k++)
                row[x] += w[k] * from[(gsize)cell[k] * (gsize)from_nx + (gsize)x];
        }
        for (int x = 0; x < nx; x++) {
            density_taps((x + 0.5) * from_nx / nx - 0.5, from_nx, cell, w);
            for (int k = 0; k < 4; k++)
                to[(gsize)y * (gsize)nx + (gsize)x] += w[k] * row[cell[k]];
        }
    }
    return true;
}

/* A rung of the ladder: its kernel's variance, and its grid while looks are being spread. */
typedef struct {
    double variance_px2;
    int nx, ny;
    double *cells;
} DensityRung;

typedef struct {
    LfDensity *out;
    double cells_per_sigma;
    GArray *rungs; /* DensityRung, from the kernel itself up */
} DensityLadder;

static int density_cells(double size_px, double sigma_px, double cells_per_sigma)
{
    return MAX(1, (int)ceil(size_px / (sigma_px / cells_per_sigma)));
}

/* The rung's grid, made when the first look comes. */
static DensityRung *density_rung(DensityLadder *ladder, guint number)
{
    LfDensity *out = ladder->out;
    for (guint i = ladder->rungs->len; i <= number; i++) {
        double variance = out->sigma_px * out->sigma_px * pow(DENSITY_RUNG, i);
        DensityRung rung = {.variance_px2 = variance};
        rung.nx = density_cells(out->width_px, sqrt(variance), ladder->cells_per_sigma);
        rung.ny = density_cells(out->height_px, sqrt(variance), ladder->cells_per_sigma);
        g_array_append_val(ladder->rungs, rung);
    }
    DensityRung *rung = &g_array_index(ladder->rungs, DensityRung, number);
    if (!rung->cells)
        rung->cells = g_try_malloc0_n((gsize)rung->nx * (gsize)rung->ny, sizeof(double));
    return rung;
}

static bool density_put(DensityLadder *ladder, guint number, const LfDensityPoint *p, double share)
{
    DensityRung *rung = density_rung(ladder, number);
    const LfDensity *out = ladder->out;
    if (!rung->cells)
        return false;
    density_add(rung->cells, rung->nx, rung->ny, (p->x + 0.5) * rung->nx / out->width_px - 0.5,
                (p->y + 0.5) * rung->ny / out->height_px - 0.5, p->weight * share);
    return true;
}

static bool density_spread(DensityLadder *ladder, const LfDensityPoint *points, gsize n)
{
    const LfDensity *out = ladder->out;
    double kernel = out->sigma_px * out->sigma_px;
    /* Between mirrors, a kernel of 1.6 times the photo's size is flat to 2 exp(-pi^2 1.6^2 / 2) =
     * 7e-6 of its mean: wider ones are the same. */
    double widest = 1.6 * MAX(out->width_px, out->height_px);
    for (gsize i = 0; i < n; i++) {
        const LfDensityPoint *p = &points[i];
        if (!(p->weight > 0) || !(p->x >= -0.5 && p->x <= out->width_px - 0.5) ||
            !(p->y >= -0.5 && p->y <= out->height_px - 0.5))
            continue;
        double radius = p->radius_px > 0 ? MIN(p->radius_px, widest) : 0;
        double variance = kernel + radius * radius;
        guint lower = (guint)floor(log(variance / kernel) / log(DENSITY_RUNG));
        double low = kernel * pow(DENSITY_RUNG, lower);
        double share = CLAMP((variance - low) / (low * (DENSITY_RUNG - 1)), 0, 1);
        if ((share < 1 && !density_put(ladder, lower, p, 1 - share)) ||
            (share > 0 && !density_put(ladder, lower + 1, p, share)))
            return false;
    }
    return true;
}

/* Filters one rung and adds it to the result. */
static bool density_settle(LfDensity *out, DensityRung *rung)
{
    double hx = (double)out->width_px / rung->nx, hy = (double)out->height_px / rung->ny;
    double ox = (double)out->width_px / out->nx, oy = (double)out->height_px / out->ny;
    bool same = rung->nx == out->nx && rung->ny == out->ny;
    /* Spread and read on this grid, and read once more on the result's where it is another. */
    double taken_x = hx * hx / 3 + (same ? 0 : hx * hx / 3) + ox * ox / 3;
    double taken_y = hy * hy / 3 + (same ? 0 : hy * hy / 3) + oy * oy / 3;
    gsize nx = (gsize)rung->nx, ny = (gsize)rung->ny;

    if (!density_filter_axis(rung->cells, ny, nx, 1, rung->nx,
                             (rung->variance_px2 - taken_x) / (hx * hx)) ||
        !density_filter_axis(rung->cells, nx, 1, nx, rung->ny,
                             (rung->variance_px2 - taken_y) / (hy * hy)))
        return false;
    for (gsize i = 0; i < nx * ny; i++)
        rung->cells[i] /= hx * hy;
    if (!same)
        return density_gather(rung->cells, rung->nx, rung->ny, out->cell, out->nx, out->ny);
    for (gsize i = 0; i < nx * ny; i++)
        out->cell[i] += rung->cells[i];
    return true;
}

LfDensity *lf_density_new(const LfDensityPoint *points, gsize n, int width_px, int height_px,
                          double sigma_px, double cells_per_sigma)
{
    g_autoptr(LfDensity) out = g_new0(LfDensity, 1);
    out->width_px = width_px;
    out->height_px = height_px;
    out->sigma_px = MAX(sigma_px, LF_DENSITY_SIGMA_MIN_PX);
    out->nx = density_cells(width_px, out->sigma_px, cells_per_sigma);
    out->ny = density_cells(height_px, out->sigma_px, cells_per_sigma);
    out->cell = g_try_malloc0_n((gsize)out->nx * (gsize)out->ny, sizeof(double));
    if (!out->cell)
        return NULL;

    DensityLadder ladder = {out, cells_per_sigma, g_array_new(FALSE, TRUE, sizeof(DensityRung))};
    bool good = density_spread(&ladder, points, n);
    for (guint i = 0; i < ladder.rungs->len; i++) {
        DensityRung *rung = &g_array_index(ladder.rungs, DensityRung, i);
        if (good && rung->cells)
            good = density_settle(out, rung);
        g_clear_pointer(&rung->cells, g_free);
    }
    g_array_unref(ladder.rungs);
    return good ? g_steal_pointer(&out) : NULL;
}

void lf_density_free(LfDensity *density)
{
    if (!density)
        return;
    g_free(density->cell);
    g_free(density);
}

void lf_density_read(const LfDensity *density, int width, int height, float *out)
{
    gsize nx = (gsize)density->nx;
    g_autofree float *row = g_new(float, nx);
    g_autofree int *cell = g_new(int, 4 * (gsize)width);
    g_autofree float *weight = g_new(float, 4 * (gsize)width);
    for (int x = 0; x < width; x++) {
        double w[4];
        density_taps((x + 0.5) * density->nx / width - 0.5, density->nx, cell + 4 * x, w);
        for (int k = 0; k < 4; k++)
            weight[4 * x + k] = (float)w[k];
    }
    for (int y = 0; y < height; y++) {
        int from[4];
        double w[4];
        density_taps((y + 0.5) * density->ny / height - 0.5, density->ny, from, w);
        for (gsize x = 0; x < nx; x++) {
            double sum = 0;
            for (int k = 0; k < 4; k++)
                sum += w[k] * density->cell[(gsize)from[k] * nx + x];
            row[x] = (float)sum;
        }
        float *to = out + (gsize)y * (gsize)width;
        for (int x = 0; x < width; x++) {
            const int *c = cell + 4 * x;
            const float *v = weight + 4 * x;
            to[x] = v[0] * row[c[0]] + v[1] * row[c[1]] + v[2] * row[c[2]] + v[3] * row[c[3]];
        }
    }
}
