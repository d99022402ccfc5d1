/* Density of looks over a photo: every look is a Gaussian, and the photo's edges are mirrors, so
 * that no dwell time leaks out of the picture.
 *
 * Units: photo px (docs/frames.md: the photo reaches from -0.5 to width - 0.5); weights in whatever
 * the caller counts; densities in that per px^2. Equals the Gaussian filter of the weights to 1e-3
 * of its maximum or better (tests/look/test_density.c), and its integral is the sum of the weights.
 */
#ifndef LF_LOOK_DENSITY_H
#define LF_LOOK_DENSITY_H

#include <stdbool.h>

#include <lookfall/error.h>

/* A kernel narrower than this many px of the photo would be finer than any cast. */
#define LF_DENSITY_SIGMA_MIN_PX 2.0

/* One look; its own standard error widens the kernel: variances add. */
typedef struct {
    double x, y;      /* px; on the photo */
    double weight;    /* 0 or more */
    double radius_px; /* one standard error, 0 or more */
} LfDensityPoint;

/* Coefficients of a cubic B-spline surface, one for each cell, row by row. */
typedef struct {
    int nx, ny;              /* cells */
    int width_px, height_px; /* of the photo, which the cells cover exactly */
    double sigma_px;         /* of the kernel itself */
    double *cell;            /* weight per px^2 */
} LfDensity;

/* sigma_px: standard deviation of the kernel, LF_DENSITY_SIGMA_MIN_PX or more. cells_per_sigma: 4
 * for pictures; less where a coarser grid will do (2 is good to 2e-3). Points off the photo are
 * left out. NULL where there is not enough memory. */
LfDensity *lf_density_new(const LfDensityPoint *points, gsize n, int width_px, int height_px,
                          double sigma_px, double cells_per_sigma);
void lf_density_free(LfDensity *density);

/* The density at the centres of width x height boxes that cover the photo; out takes that many. */
void lf_density_read(const LfDensity *density, int width, int height, float *out);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfDensity, lf_density_free)

#endif
