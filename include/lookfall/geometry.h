/* Plane geometry: points, 3x3 mappings, the lens.
 *
 * Pixels: the centre of the top-left pixel is (0, 0), x to the right, y down. Matrices are stored
 * row by row and multiply column vectors: (x', y', w') = M (x, y, 1). A mapping is named
 * dst_from_src. Pure maths, no I/O, every function may be called from any thread. */
#ifndef LOOKFALL_GEOMETRY_H
#define LOOKFALL_GEOMETRY_H

#include <stdbool.h>

#include <lookfall/error.h>

G_BEGIN_DECLS

typedef struct {
    double x, y; /* px */
} LfPoint;

typedef struct {
    double m[9]; /* row by row */
} LfMat3;

/* Symmetric 2x2 covariance, px^2. */
typedef struct {
    double xx, xy, yy;
} LfCov2;

LF_API LfMat3 lf_mat3_identity(void);
LF_API LfMat3 lf_mat3_translation(double dx, double dy);
LF_API LfMat3 lf_mat3_scaling(double sx, double sy);
/* a b: first b, then a. */
LF_API LfMat3 lf_mat3_mul(const LfMat3 *a, const LfMat3 *b);
/* False, and *out untouched, where m is singular to working precision or not finite. */
LF_API bool lf_mat3_invert(const LfMat3 *m, LfMat3 *out);
/* Scales m by a positive number so that |m[8]| = 1 (or its norm to 1 where m[8] is next to
 * nothing). The sign says which side is in front of the horizon and is kept: m[8] = -1 is a mapping
 * whose (0, 0) lies behind it, as in a steep look along a shelf. Products and inverses keep it too.
 * A matrix from elsewhere, whose sign says nothing, must be negated where w < 0 at its own points.
 */
LF_API LfMat3 lf_mat3_normalize(const LfMat3 *m);
/* False where the point lies on or behind the horizon (w <= 0), and where it is not finite. */
LF_API bool lf_mat3_apply(const LfMat3 *m, LfPoint in, LfPoint *out);
/* Derivative of lf_mat3_apply at `in`: jac = {dx'/dx, dx'/dy, dy'/dx, dy'/dy}. */
LF_API bool lf_mat3_jacobian(const LfMat3 *m, LfPoint in, double jac[4]);

/* Homography by weighted least squares on the distance in dst, Gauss-Newton from the linear
 * solution with Hartley's normalisation (R. Hartley, A. Zisserman, "Multiple View Geometry", 2nd
 * ed., algorithms 4.2 and 4.3). n >= 4 points, weights >= 0 or NULL for all one. Where cov is not
 * NULL it takes the 8x8 covariance (row by row) of m[0..7] / m[8] for unit-variance noise
 * on dst; scale it by the noise variance. *dst_from_src is as from lf_mat3_normalize, with the
 * points in front (w > 0). False where the points do not fix a homography: fewer than 4 with a
 * weight, on one line (or all but one), coincident, not finite. */
LF_API bool lf_homography_fit(const LfPoint *dst, const LfPoint *src, const double *weights, int n,
                              LfMat3 *dst_from_src, double cov[64]);

/* Carries the covariance of m[0..7] / m[8] to the point m maps `in` to. */
LF_API bool lf_homography_point_cov(const LfMat3 *m, const double cov[64], LfPoint in, LfCov2 *out);

/* Camera model: pinhole with OpenCV's rational, tangential and thin-prism distortion
 * (k1 k2 p1 p2 k3 k4 k5 k6 s1 s2 s3 s4; OpenCV 4.6 calib3d documentation, "Detailed
 * Description"). n_k is 0, 4, 5, 8 or 12. Frame pixels are those of the picture as shown, after
 * rotation. */
typedef struct {
    int width, height; /* px of the frame this lens is for */
    double fx, fy, cx, cy;
    double k[12];
    int n_k;
    bool calibrated; /* from a camera file; otherwise one degree is width / 82 everywhere */
} LfLens;

/* No distortion; one degree = width / 82 px, in the whole frame. */
LF_API LfLens lf_lens_plain(int width, int height);
/* The same lens for a frame of another size with the same aspect (video scaled down). */
LF_API LfLens lf_lens_scaled(const LfLens *lens, int width, int height);

/* Frame px <-> undistorted frame px (same camera matrix). Undistort is iterative; false where it
 * does not converge to 0.01 px (far outside the calibrated field). The model holds from the centre
 * out to where it first turns back; lf_lens_distort puts points from beyond on their ray, out of
 * the frame, and undistort never answers with such a point. */
LF_API LfPoint lf_lens_distort(const LfLens *lens, LfPoint undistorted);
LF_API bool lf_lens_undistort(const LfLens *lens, LfPoint frame, LfPoint *undistorted);
/* Derivative of lf_lens_distort: {dx/du, dx/dv, dy/du, dy/dv}; the identity beyond the model. */
LF_API void lf_lens_distort_jacobian(const LfLens *lens, LfPoint undistorted, double jac[4]);
/* Visual angle between two undistorted points, degrees: the angle between their rays for a
 * calibrated lens, distance / (width / 82) for a plain one. */
LF_API double lf_lens_angle_deg(const LfLens *lens, LfPoint a, LfPoint b);

G_END_DECLS

#endif
