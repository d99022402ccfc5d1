/* Symmetric 3x3 systems, as normal equations are. */
#ifndef LF_CAST_SYMMETRIC3_H
#define LF_CAST_SYMMETRIC3_H

/* Solves a x = b by the adjugate. a and inverse: xx xy xz yy yz zz. a must be positive definite, as
 * it is with a prior in it. */
void lf_symmetric3_solve(const double a[6], const double b[3], double x[3], double inverse[6]);

#endif
