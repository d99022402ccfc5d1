/* Linear equations of least squares. */
#ifndef LF_CAST_SOLVE_H
#define LF_CAST_SOLVE_H

#include <stdbool.h>

/* a x = b by Cholesky's factors; a: n x n, symmetric, row by row, of which the lower triangle is
 * read and overwritten; x: b before, the solution after. False where a is not positive definite. */
bool lf_solve_positive(double *a, double *x, int n);

#endif
