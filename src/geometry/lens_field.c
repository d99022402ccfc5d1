/* How far out a lens model holds.
 *
 * With u = r^2, the radius of the picture point is g = r N(u) / D(u) with
 *   N = 1 + k1 u + k2 u^2 + k3 u^3,  D = 1 + k4 u + k5 u^2 + k6 u^3
 * and dg/dr = (N D + 2 u (N' D - N D')) / D^2. The numerator is a polynomial P of degree 6 in u
 * whose term in u^(i+j) is n_i d_j (1 + 2 (i - j)). The model is one-to-one from the centre out as
 * long as P > 0 and D > 0.
 *
 * Whether a polynomial is positive on an interval is decided from its Bernstein coefficients,
 * between whose least and greatest its values lie, halving the interval where they disagree
 * (G. Farin, "Curves and Surfaces for CAGD", 5th ed., sections 5.1 and 4.2: convex hull,
 * subdivision). */
#include "geometry/lens_field.h"

#include <math.h>
#include <string.h>

#define MAX_DEGREE 6
/* Halvings before a polynomial that nearly touches zero counts as touching it. */
#define MAX_DEPTH 24
/* A polynomial that begins at 1 and stays above this does not touch zero by any rounding. */
#define LENS_FIELD_PLAIN 1e-6

/* b: Bernstein coefficients of degree n. */
static bool lens_field_positive(const double *b, int n, int depth)
{
    bool all = true;
    for (int i = 0; i <= n; i++) {
        all = all && b[i] > 0;
    }
    if (all) {
        return true;
    }
    if (!(b[0] > 0) || !(b[n] > 0) || depth == MAX_DEPTH) {
        return false;
    }
    double left[MAX_DEGREE + 1], right[MAX_DEGREE + 1];
    memcpy(right, b, sizeof(double) * (size_t)(n + 1));
    for (int k = 0; k <= n; k++) { /* de Casteljau at one half */
        left[k] = right[0];
        for (int i = 0; i < n - k; i++) {
            right[i] = (right[i] + right[i + 1]) / 2;
        }
    }
    return lens_field_positive(left, n, depth + 1) && lens_field_positive(right, n, depth + 1);
}

/* True only if positive on 0 <= u <= end, at once: where all that lowers it at the end together
 * does not use it up, as in the greater part of most pictures. */
static bool lens_field_plainly_positive(const double *c, int n, double end)
{
    double least = c[0], power = end;
    for (int i = 1; i <= n; i++) {
        least += c[i] > 0 ? 0 : c[i] * power; /* NaN stays NaN */
        power *= end;
    }
    return least > LENS_FIELD_PLAIN;
}

/* c: coefficients in u; positive on 0 <= u <= end? */
static bool lens_field_positive_to(const double *c, int n, double end)
{
    if (lens_field_plainly_positive(c, n, end)) {
        return true;
    }
    static const double choose[2][MAX_DEGREE + 1] = {{1, 3, 3, 1}, {1, 6, 15, 20, 15, 6, 1}};
    const double *binomial = choose[n == MAX_DEGREE];
    double b[MAX_DEGREE + 1], power = 1;
    for (int i = 0; i <= n; i++) {
        b[i] = c[i] * power / binomial[i];
        power *= end;
    }
    for (int k = 1; k <= n; k++) { /* b_j = sum over i of C(j, i) / C(n, i) c_i end^i */
        for (int j = n; j >= k; j--) {
            b[j] += b[j - 1];
        }
    }
    return lens_field_positive(b, n, 0);
}

bool lf_lens_field_holds(const LfLens *lens, double r2)
{
    const double *k = lens->k;
    if (!isfinite(r2)) {
        return false;
    }
    double num[4] = {1, k[0], k[1], lens->n_k > 4 ? k[4] : 0};
    if (lens->n_k <= 5) {
        double p[4];
        for (int i = 0; i < 4; i++) {
            p[i] = num[i] * (1 + 2 * i);
        }
        return lens_field_positive_to(p, 3, r2);
    }
    double den[4] = {1, k[5], k[6], k[7]}, p[MAX_DEGREE + 1] = {0};
    for (int i = 0; i < 4; i++) {
        for (int j = 0; j < 4; j++) {
            p[i + j] += num[i] * den[j] * (1 + 2 * (i - j));
        }
    }
    return lens_field_positive_to(den, 3, r2) && lens_field_positive_to(p, MAX_DEGREE, r2);
}
