/* Linear equations of least squares (G. Golub, C. Van Loan, Matrix Computations, 4.2). */
#include "cast/solve.h"

#include <math.h>

bool lf_solve_positive(double *a, double *x, int n)
{
    for (int j = 0; j < n; j++)
        for (int i = j; i < n; i++) {
            double sum = a[i * n + j];
            for (int k = 0; k < j; k++)
                sum -= a[i * n + k] * a[j * n + k];
            if (i == j && !(sum > 0))
                return false;
            a[i * n + j] = i == j ? sqrt(sum) : sum / a[j * n + j];
        }
    for (int i = 0; i < n; i++) {
        for (int k = 0; k < i; k++)
            x[i] -= a[i * n + k] * x[k];
        x[i] /= a[i * n + i];
    }
    for (int i = n - 1; i >= 0; i--) {
        for (int k = i + 1; k < n; k++)
            x[i] -= a[k * n + i] * x[k];
        x[i] /= a[i * n + i];
    }
    return true;
}
