/* Homography from points, by weighted least squares on the distance in dst.
 *
 * Spaces, numbered as the code passes through them:
 *   1  src px                       as given
 *   2  src normalised = T_s src     centroid 0, mean distance sqrt(2)
 *   3  dst normalised = H (2)       H has H[8] = 1: its w at the centroid, never 0 for points in
 *   4  dst px         = T_d^-1 (3)  front of the horizon
 * T_d scales both axes alike, so least squares in space 3 is least squares in px.
 *
 * Sources: R. Hartley, A. Zisserman, "Multiple View Geometry in Computer Vision", 2nd ed. (HZ):
 * normalisation and linear solution, algorithm 4.2; the cost d(x', Hx)^2, equation 4.6, its
 * Levenberg-Marquardt minimisation, algorithm 4.3 and appendix A6.2; covariance, section 5.2.
 * No heap memory; about 60 multiplications a point and iteration. */
#include <lookfall/geometry.h>

#include <float.h>
#include <math.h>
#include <string.h>

#define N_PARAM 8
/* Steps in normalised parameters below this are rounding: about 1e-7 px in a 2,000 px picture. */
#define STEP_DONE 1e-10
#define MAX_STEPS 30
/* Start and end of Levenberg-Marquardt's damping (common practice; the linear start is close). */
#define DAMPING_START 1e-6
#define DAMPING_MAX 1e8
#define DET_MIN 1e-9
/* A pivot under this share of its diagonal element has no digit left that is not rounding
 * (normal equations square the condition number; 1e-12 leaves room above DBL_EPSILON). */
#define PIVOT_MIN 1e-12

/* p_normalised = scale (p - centre). */
typedef struct {
    double cx, cy, scale;
} HomographyNorm;

/* Normal equations: a (symmetric, full), b, and the weighted sum of squares. */
typedef struct {
    double a[N_PARAM][N_PARAM];
    double b[N_PARAM];
    double cost;
} HomographyNormal;

typedef struct {
    const LfPoint *dst, *src;
    const double *weights; /* NULL for all one */
    int n;
    double weight_scale; /* largest weight becomes one */
    HomographyNorm dst_norm, src_norm;
} HomographyData;

static double homography_weight(const HomographyData *d, int i)
{
    return d->weights ? d->weights[i] * d->weight_scale : 1.0;
}

static LfPoint homography_normalise(const HomographyNorm *t, LfPoint p)
{
    return (LfPoint){(p.x - t->cx) * t->scale, (p.y - t->cy) * t->scale};
}

/* HZ 4.4.4, with weights. False where all points coincide or a coordinate is not finite. */
static bool homography_find_norm(const HomographyData *d, const LfPoint *p, HomographyNorm *t)
{
    double sum = 0, x = 0, y = 0, largest = 0;
    for (int i = 0; i < d->n; i++) {
        double w = homography_weight(d, i);
        if (w > 0) {
            sum += w;
            x += w * p[i].x;
            y += w * p[i].y;
            largest = fmax(largest, fmax(fabs(p[i].x), fabs(p[i].y)));
        }
    }
    t->cx = x / sum;
    t->cy = y / sum;
    double distance = 0;
    for (int i = 0; i < d->n; i++) {
        double w = homography_weight(d, i);
        if (w > 0) {
            distance += w * hypot(p[i].x - t->cx, p[i].y - t->cy);
        }
    }
    distance /= sum;
    t->scale = G_SQRT2 / distance;
    /* Written so that NaN fails; points that differ only by rounding coincide. */
    return isfinite(t->cx) && isfinite(t->cy) && isfinite(t->scale) &&
           distance > 64 * DBL_EPSILON * largest;
}

/* Copies the upper triangle, which the sums fill, to the lower one. */
static void homography_mirror(HomographyNormal *s)
{
    for (int r = 1; r < N_PARAM; r++) {
        for (int c = 0; c < r; c++) {
            s->a[r][c] = s->a[c][r];
        }
    }
}

/* Adds one point's two rows (g, 0, -u h) and (0, g, -v h), right sides ru and rv, weight w.
 * g = (g0, g1, g2), h = (g0, g1). The linear and the non-linear problem share this shape. */
static void homography_add(HomographyNormal *s, const double g[3], double u, double v, double ru,
                           double rv, double w)
{
    for (int r = 0; r < 3; r++) {
        double wg = w * g[r];
        for (int c = r; c < 3; c++) {
            s->a[r][c] += wg * g[c];
        }
        for (int c = 0; c < 2; c++) {
            s->a[r][6 + c] -= wg * u * g[c];
            s->a[3 + r][6 + c] -= wg * v * g[c];
        }
        s->b[r] += wg * ru;
        s->b[3 + r] += wg * rv;
    }
    double uv2 = u * u + v * v, uvr = u * ru + v * rv;
    s->a[6][6] += w * uv2 * g[0] * g[0];
    s->a[6][7] += w * uv2 * g[0] * g[1];
    s->a[7][7] += w * uv2 * g[1] * g[1];
    s->b[6] -= w * uvr * g[0];
    s->b[7] -= w * uvr * g[1];
    s->cost += w * (ru * ru + rv * rv);
}

/* The x and y rows have the same block of g g^T. */
static void homography_finish(HomographyNormal *s)
{
    for (int r = 0; r < 3; r++) {
        for (int c = r; c < 3; c++) {
            s->a[3 + r][3 + c] = s->a[r][c];
        }
    }
    homography_mirror(s);
}

/* Cholesky factor in the lower triangle of l. False where a is singular to working precision. */
static bool homography_factor(double a[N_PARAM][N_PARAM], double damping,
                              double l[N_PARAM][N_PARAM])
{
    memset(l, 0, sizeof(double[N_PARAM][N_PARAM]));
    for (int c = 0; c < N_PARAM; c++) {
        double diagonal = a[c][c] * (1 + damping);
        double pivot = diagonal;
        for (int k = 0; k < c; k++) {
            pivot -= l[c][k] * l[c][k];
        }
        if (!(pivot > PIVOT_MIN * diagonal) || !isfinite(pivot)) {
            return false;
        }
        l[c][c] = sqrt(pivot);
        for (int r = c + 1; r < N_PARAM; r++) {
            double v = a[r][c];
            for (int k = 0; k < c; k++) {
                v -= l[r][k] * l[c][k];
            }
            l[r][c] = v / l[c][c];
        }
    }
    return true;
}

static void homography_solve(double l[N_PARAM][N_PARAM], const double b[N_PARAM], double x[N_PARAM])
{
    for (int r = 0; r < N_PARAM; r++) {
        double v = b[r];
        for (int k = 0; k < r; k++) {
            v -= l[r][k] * x[k];
        }
        x[r] = v / l[r][r];
    }
    for (int r = N_PARAM - 1; r >= 0; r--) {
        double v = x[r];
        for (int k = r + 1; k < N_PARAM; k++) {
            v -= l[k][r] * x[k];
        }
        x[r] = v / l[r][r];
    }
}

/* HZ equation 4.3 with h33 = 1. */
static bool homography_linear(const HomographyData *d, double h[N_PARAM])
{
    HomographyNormal s;
    memset(&s, 0, sizeof s);
    for (int i = 0; i < d->n; i++) {
        double weight = homography_weight(d, i);
        if (weight > 0) {
            LfPoint p = homography_normalise(&d->src_norm, d->src[i]);
            LfPoint q = homography_normalise(&d->dst_norm, d->dst[i]);
            homography_add(&s, (double[3]){p.x, p.y, 1}, q.x, q.y, q.x, q.y, weight);
        }
    }
    homography_finish(&s);
    double l[N_PARAM][N_PARAM];
    if (!homography_factor(s.a, 0, l)) {
        return false;
    }
    homography_solve(l, s.b, h);
    return true;
}

static double homography_w(const double h[N_PARAM], LfPoint p)
{
    return h[6] * p.x + h[7] * p.y + 1;
}

/* Normal equations of the distance in dst around h. Points behind the horizon have no image; they
 * are left out when `start` has them behind already (wrong points that a robust caller has given
 * next to no weight), but a step that puts further ones there is refused. */
static bool homography_normal(const HomographyData *d, const double start[N_PARAM],
                              const double h[N_PARAM], HomographyNormal *s)
{
    memset(s, 0, sizeof *s);
    for (int i = 0; i < d->n; i++) {
        double weight = homography_weight(d, i);
        if (weight <= 0) {
            continue;
        }
        LfPoint p = homography_normalise(&d->src_norm, d->src[i]);
        LfPoint q = homography_normalise(&d->dst_norm, d->dst[i]);
        double w = homography_w(h, p);
        if (homography_w(start, p) <= 0) {
            continue;
        }
        if (!(w > 0)) {
            return false;
        }
        double u = (h[0] * p.x + h[1] * p.y + h[2]) / w;
        double v = (h[3] * p.x + h[4] * p.y + h[5]) / w;
        homography_add(s, (double[3]){p.x / w, p.y / w, 1 / w}, u, v, q.x - u, q.y - v, weight);
    }
    homography_finish(s);
    return isfinite(s->cost);
}

/* Levenberg-Marquardt from h; s is left at the minimum. */
static bool homography_refine(const HomographyData *d, double h[N_PARAM], HomographyNormal *s)
{
    double start[N_PARAM], l[N_PARAM][N_PARAM];
    memcpy(start, h, sizeof start);
    if (!homography_normal(d, start, h, s)) {
        return false;
    }
    double damping = DAMPING_START;
    for (int step = 0; step < MAX_STEPS && damping < DAMPING_MAX; step++) {
        double delta[N_PARAM], next[N_PARAM], largest = 0;
        if (!homography_factor(s->a, damping, l)) {
            return false;
        }
        homography_solve(l, s->b, delta);
        for (int i = 0; i < N_PARAM; i++) {
            next[i] = h[i] + delta[i];
            largest = fmax(largest, fabs(delta[i]));
        }
        HomographyNormal trial;
        if (homography_normal(d, start, next, &trial) && trial.cost <= s->cost) {
            memcpy(h, next, sizeof next);
            *s = trial;
            damping *= 0.1;
        } else {
            damping = fmax(damping, DAMPING_START) * 10;
        }
        if (largest < STEP_DONE) {
            break;
        }
    }
    return true;
}

/* Points on one line in dst give a mapping that flattens the plane. In normalised coordinates H has
 * elements around one, and a view at 89 degrees still a determinant of 1e-2. */
static bool homography_flattens(const double h[N_PARAM])
{
    double det = h[0] * (h[4] - h[5] * h[7]) - h[1] * (h[3] - h[5] * h[6]) +
                 h[2] * (h[3] * h[7] - h[4] * h[6]);
    return !(fabs(det) > DET_MIN);
}

/* m = T_d^-1 H T_s. */
static LfMat3 homography_to_px(const HomographyData *d, const double h[N_PARAM])
{
    const HomographyNorm *s = &d->src_norm, *t = &d->dst_norm;
    LfMat3 src_norm_from_src = {
        {s->scale, 0, -s->scale * s->cx, 0, s->scale, -s->scale * s->cy, 0, 0, 1}};
    LfMat3 dst_from_dst_norm = {{1 / t->scale, 0, t->cx, 0, 1 / t->scale, t->cy, 0, 0, 1}};
    LfMat3 mid = {{h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1}};
    LfMat3 m = lf_mat3_mul(&mid, &src_norm_from_src);
    return lf_mat3_mul(&dst_from_dst_norm, &m);
}

/* Carries (J^T W J)^-1 of the normalised parameters to m[0..7] / m[8] (HZ result 5.10: first
 * order). `raw` is homography_to_px(h), before it is scaled to m[8] = 1. */
static bool homography_covariance(const HomographyData *d, HomographyNormal *s, const LfMat3 *raw,
                                  double cov[64])
{
    double l[N_PARAM][N_PARAM], g[N_PARAM][N_PARAM];
    if (raw->m[8] == 0 || !homography_factor(s->a, 0, l)) {
        return false;
    }
    for (int k = 0; k < N_PARAM; k++) {
        /* Derivative of raw by H[k]: to_px of the unit vector, less to_px of nothing. */
        double unit[N_PARAM] = {0}, zero[N_PARAM] = {0};
        unit[k] = 1;
        LfMat3 with = homography_to_px(d, unit), without = homography_to_px(d, zero);
        double d8 = with.m[8] - without.m[8];
        for (int i = 0; i < N_PARAM; i++) {
            double di = with.m[i] - without.m[i];
            g[i][k] = (di - raw->m[i] / raw->m[8] * d8) / raw->m[8];
        }
    }
    /* Cov = s^2 G (L L^T)^-1 G^T = F F^T with F = s G L^-T, row by row: symmetric and positive by
     * construction. s^2 is unit variance in px, in normalised units and scaled weights. */
    double scale = d->dst_norm.scale * sqrt(d->weight_scale);
    double f[N_PARAM][N_PARAM];
    for (int i = 0; i < N_PARAM; i++) {
        for (int c = 0; c < N_PARAM; c++) {
            double v = scale * g[i][c];
            for (int k = 0; k < c; k++) {
                v -= l[c][k] * f[i][k];
            }
            f[i][c] = v / l[c][c];
        }
    }
    for (int i = 0; i < N_PARAM; i++) {
        for (int j = 0; j < N_PARAM; j++) {
            double v = 0;
            for (int k = 0; k < N_PARAM; k++) {
                v += f[i][k] * f[j][k];
            }
            cov[N_PARAM * i + j] = v;
        }
    }
    return true;
}

bool lf_homography_fit(const LfPoint *dst, const LfPoint *src, const double *weights, int n,
                       LfMat3 *dst_from_src, double cov[64])
{
    HomographyData d = {.dst = dst, .src = src, .weights = weights, .n = n, .weight_scale = 1};
    int used = n;
    if (weights) {
        double largest = 0;
        used = 0;
        for (int i = 0; i < n; i++) {
            if (!(weights[i] >= 0) || !isfinite(weights[i])) {
                return false;
            }
            used += weights[i] > 0;
            largest = fmax(largest, weights[i]);
        }
        d.weight_scale = 1 / largest;
    }
    if (used < 4 || !isfinite(d.weight_scale)) {
        return false;
    }
    if (!homography_find_norm(&d, src, &d.src_norm) ||
        !homography_find_norm(&d, dst, &d.dst_norm)) {
        return false;
    }

    double h[N_PARAM];
    HomographyNormal s;
    if (!homography_linear(&d, h) || !homography_refine(&d, h, &s) || homography_flattens(h)) {
        return false;
    }
    LfMat3 raw = homography_to_px(&d, h);
    if (cov && !homography_covariance(&d, &s, &raw, cov)) {
        return false;
    }
    *dst_from_src = lf_mat3_normalize(&raw);
    return true;
}

bool lf_homography_point_cov(const LfMat3 *m, const double cov[64], LfPoint in, LfCov2 *out)
{
    LfPoint p;
    if (m->m[8] == 0 || !lf_mat3_apply(m, in, &p)) {
        return false;
    }
    double w = (m->m[6] * in.x + m->m[7] * in.y) / m->m[8] + 1;
    double g[3] = {in.x / w, in.y / w, 1 / w};
    double jx[N_PARAM] = {g[0], g[1], g[2], 0, 0, 0, -p.x * g[0], -p.x * g[1]};
    double jy[N_PARAM] = {0, 0, 0, g[0], g[1], g[2], -p.y * g[0], -p.y * g[1]};
    LfCov2 c = {0, 0, 0};
    for (int i = 0; i < N_PARAM; i++) {
        double row_x = 0, row_y = 0;
        for (int j = 0; j < N_PARAM; j++) {
            row_x += cov[N_PARAM * i + j] * jx[j];
            row_y += cov[N_PARAM * i + j] * jy[j];
        }
        c.xx += jx[i] * row_x;
        c.xy += jx[i] * row_y;
        c.yy += jy[i] * row_y;
    }
    if (!isfinite(c.xx) || !isfinite(c.xy) || !isfinite(c.yy)) {
        return false;
    }
    *out = c;
    return true;
}
