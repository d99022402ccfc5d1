/* 3x3 mappings of the plane.
 *
 * Matrices are homogeneous and oriented: a point in front of the horizon has w > 0, and products
 * and inverses keep it so (if M p = w q with w > 0, then M^-1 q = p / w). Scaling a matrix by a
 * positive number changes nothing, by a negative one turns front and back around. */
#include <lookfall/geometry.h>

#include <float.h>
#include <math.h>

/* m[8] below this share of the largest element counts as nothing (common practice). */
#define MAT3_TINY 1e-14

static bool mat3_is_finite(const LfMat3 *m)
{
    for (int i = 0; i < 9; i++) {
        if (!isfinite(m->m[i])) {
            return false;
        }
    }
    return true;
}

LfMat3 lf_mat3_identity(void)
{
    return (LfMat3){{1, 0, 0, 0, 1, 0, 0, 0, 1}};
}

LfMat3 lf_mat3_translation(double dx, double dy)
{
    return (LfMat3){{1, 0, dx, 0, 1, dy, 0, 0, 1}};
}

LfMat3 lf_mat3_scaling(double sx, double sy)
{
    return (LfMat3){{sx, 0, 0, 0, sy, 0, 0, 0, 1}};
}

LfMat3 lf_mat3_mul(const LfMat3 *a, const LfMat3 *b)
{
    LfMat3 out;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++) {
            out.m[3 * r + c] = a->m[3 * r] * b->m[c] + a->m[3 * r + 1] * b->m[3 + c] +
                               a->m[3 * r + 2] * b->m[6 + c];
        }
    }
    return out;
}

bool lf_mat3_invert(const LfMat3 *in, LfMat3 *out)
{
    const double *m = in->m;
    if (!mat3_is_finite(in)) {
        return false;
    }
    LfMat3 adj = {{m[4] * m[8] - m[5] * m[7], m[2] * m[7] - m[1] * m[8], m[1] * m[5] - m[2] * m[4],
                   m[5] * m[6] - m[3] * m[8], m[0] * m[8] - m[2] * m[6], m[2] * m[3] - m[0] * m[5],
                   m[3] * m[7] - m[4] * m[6], m[1] * m[6] - m[0] * m[7],
                   m[0] * m[4] - m[1] * m[3]}};
    double det = m[0] * adj.m[0] + m[1] * adj.m[3] + m[2] * adj.m[6];

    /* The six products of the determinant, all taken positive, bound its rounding error. Unlike
     * a comparison with the norm, the ratio does not depend on how rows and columns are scaled,
     * which in a homography between pixels differ by orders of magnitude. */
    double a[9];
    for (int i = 0; i < 9; i++) {
        a[i] = fabs(m[i]);
    }
    double bound = a[0] * (a[4] * a[8] + a[5] * a[7]) + a[1] * (a[5] * a[6] + a[3] * a[8]) +
                   a[2] * (a[3] * a[7] + a[4] * a[6]);
    if (!(fabs(det) > 16 * DBL_EPSILON * bound)) {
        return false;
    }
    for (int i = 0; i < 9; i++) {
        adj.m[i] /= det;
    }
    if (!mat3_is_finite(&adj)) {
        return false;
    }
    *out = adj;
    return true;
}

LfMat3 lf_mat3_normalize(const LfMat3 *m)
{
    double largest = 0, squares = 0;
    for (int i = 0; i < 9; i++) {
        largest = fmax(largest, fabs(m->m[i]));
        squares += m->m[i] * m->m[i];
    }
    double scale = fabs(m->m[8]);
    if (scale <= MAT3_TINY * largest) {
        scale = sqrt(squares);
    }
    LfMat3 out = *m;
    if (scale > 0) {
        for (int i = 0; i < 9; i++) {
            out.m[i] /= scale;
        }
    }
    return out;
}

bool lf_mat3_apply(const LfMat3 *mat, LfPoint in, LfPoint *out)
{
    const double *m = mat->m;
    double w = m[6] * in.x + m[7] * in.y + m[8];
    if (!(w > 0)) {
        return false;
    }
    LfPoint p = {(m[0] * in.x + m[1] * in.y + m[2]) / w, (m[3] * in.x + m[4] * in.y + m[5]) / w};
    if (!isfinite(p.x) || !isfinite(p.y)) {
        return false;
    }
    *out = p;
    return true;
}

bool lf_mat3_jacobian(const LfMat3 *mat, LfPoint in, double jac[4])
{
    const double *m = mat->m;
    LfPoint p;
    if (!lf_mat3_apply(mat, in, &p)) {
        return false;
    }
    double w = m[6] * in.x + m[7] * in.y + m[8];
    jac[0] = (m[0] - p.x * m[6]) / w;
    jac[1] = (m[1] - p.x * m[7]) / w;
    jac[2] = (m[3] - p.y * m[6]) / w;
    jac[3] = (m[4] - p.y * m[7]) / w;
    return isfinite(jac[0]) && isfinite(jac[1]) && isfinite(jac[2]) && isfinite(jac[3]);
}
