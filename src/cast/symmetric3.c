/* Symmetric 3x3 systems. */
#include "cast/symmetric3.h"

void lf_symmetric3_solve(const double a[6], const double b[3], double x[3], double inverse[6])
{
    const double c0 = a[3] * a[5] - a[4] * a[4], c1 = a[2] * a[4] - a[1] * a[5],
                 c2 = a[1] * a[4] - a[2] * a[3];
    const double det = a[0] * c0 + a[1] * c1 + a[2] * c2;
    inverse[0] = c0 / det;
    inverse[1] = c1 / det;
    inverse[2] = c2 / det;
    inverse[3] = (a[0] * a[5] - a[2] * a[2]) / det;
    inverse[4] = (a[1] * a[2] - a[0] * a[4]) / det;
    inverse[5] = (a[0] * a[3] - a[1] * a[1]) / det;
    x[0] = inverse[0] * b[0] + inverse[1] * b[1] + inverse[2] * b[2];
    x[1] = inverse[1] * b[0] + inverse[3] * b[1] + inverse[4] * b[2];
    x[2] = inverse[2] * b[0] + inverse[4] * b[1] + inverse[5] * b[2];
}
