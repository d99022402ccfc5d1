/* The scene camera's lens: pinhole with OpenCV's five distortion coefficients.
 *
 * Written for the renderer alone, so that truth never rests on the code that is measured against
 * it. Normalised coordinates are x/z and y/z in the camera frame; pixels have their centres at
 * integers. */
#ifndef LOOKFALL_DEMO_LENS_H
#define LOOKFALL_DEMO_LENS_H

#include <stdbool.h>

typedef struct {
    int width, height;     /* px */
    double fx, fy, cx, cy; /* px */
    double k[5];           /* k1 k2 p1 p2 k3 */
    double reach;          /* largest radius, normalised, up to which distortion grows with it */
} LrLens;

/* A lens that sees `field_deg` from left to right before distortion. */
LrLens lr_lens_new(int width, int height, double field_deg, const double k[5]);
/* Normalised to frame px. */
void lr_lens_project(const LrLens *lens, double x, double y, double *px, double *py);
/* Frame px to normalised, to 1e-12; false outside the range where the lens is one to one. */
bool lr_lens_ray(const LrLens *lens, double px, double py, double *x, double *y);

#endif
