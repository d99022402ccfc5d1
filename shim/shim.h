/* A C face over the parts of OpenCV that lookfall uses.
 *
 * Every entry is noexcept: it catches all, returns LF_SHIM_OK or a code, and fills the caller's
 * message buffer (LF_SHIM_MESSAGE bytes, NUL-terminated, may be NULL) on failure. Images cross as
 * pointer, width, height and stride in bytes, one 8-bit channel unless said otherwise. Memory given
 * out is freed with lf_shim_free. All entries may be called from any thread; OpenCV's own thread
 * pool is turned off on first use, so that a worker is one thread and results do not depend on the
 * machine. */
#ifndef LF_SHIM_H
#define LF_SHIM_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
#define LF_SHIM_NOEXCEPT noexcept
extern "C" {
#else
#define LF_SHIM_NOEXCEPT
#endif

#define LF_SHIM_MESSAGE 256

enum {
    LF_SHIM_OK = 0,
    LF_SHIM_BAD_INPUT = 1, /* cannot be read, or no result exists */
    LF_SHIM_NO_MEMORY = 2,
    LF_SHIM_FAILED = 3, /* anything else OpenCV said */
};

typedef struct {
    const uint8_t *data;
    int width, height;
    ptrdiff_t stride;
} LfShimImage;

/* A feature: position in px of the image it was found in, size (diameter, px), direction (degrees,
 * clockwise from x), strength. */
typedef struct {
    float x, y, size, angle, response;
} LfShimFeature;

/* query -> train, with the distance in the descriptor's own unit. */
typedef struct {
    int train;
    float distance;
} LfShimMatch;

void lf_shim_free(void *memory) LF_SHIM_NOEXCEPT;

/* image.cpp ---------------------------------------------------------------------------------- */

/* Luma of a picture file, turned as its EXIF orientation says; packed rows (stride = width). */
int lf_shim_read_gray(const char *path, uint8_t **data, int *width, int *height,
                      char *message) LF_SHIM_NOEXCEPT;
/* Luma, blue and red difference of the same (ITU-T T.871), three planes that are given out. */
int lf_shim_read_ycbcr(const char *path, uint8_t *planes[3], int *width, int *height,
                       char *message) LF_SHIM_NOEXCEPT;
/* The same in colour: packed 8-bit RGB. Where it is larger than max_width x max_height (0: no
 * limit) it is made smaller to fit, with its shape kept; *full_width and *full_height (may be NULL)
 * tell its own size. */
int lf_shim_read_rgb(const char *path, int max_width, int max_height, uint8_t **data, int *width,
                     int *height, int *full_width, int *full_height,
                     char *message) LF_SHIM_NOEXCEPT;
/* The same at exactly this size, whatever its own. */
int lf_shim_read_rgb_sized(const char *path, int width, int height, uint8_t **data,
                           char *message) LF_SHIM_NOEXCEPT;
/* Pixel-area resampling into dst (packed rows): every dst pixel is the mean of what it covers. */
int lf_shim_shrink(const LfShimImage *src, uint8_t *dst, int width, int height,
                   char *message) LF_SHIM_NOEXCEPT;
/* dst(x, y) = src(src_from_dst (x, y)), bilinear after a Gaussian of sigma_x, sigma_y (px of src, 0
 * for none); outside of src: fill. */
int lf_shim_warp(const LfShimImage *src, const double src_from_dst[9], double sigma_x,
                 double sigma_y, uint8_t *dst, int width, int height, int fill,
                 char *message) LF_SHIM_NOEXCEPT;
/* Contrast-limited adaptive histogram equalisation (K. Zuiderveld, Graphics Gems IV, 1994). */
int lf_shim_equalize(const LfShimImage *src, uint8_t *dst, char *message) LF_SHIM_NOEXCEPT;
/* Shift of b against a by phase correlation with a Hanning window (Kuglin and Hines, 1975);
 * response 0..1. Same size. */
int lf_shim_phase_shift(const LfShimImage *a, const LfShimImage *b, double *dx, double *dy,
                        double *response, char *message) LF_SHIM_NOEXCEPT;

/* features.cpp ------------------------------------------------------------------------------- */

/* Corners by the smaller eigenvalue (Shi and Tomasi, CVPR 1994), strongest first, `min_distance` px
 * apart. xy takes 2 * max floats; *n the count. */
int lf_shim_corners(const LfShimImage *image, int max, double quality, double min_distance,
                    float *xy, int *n, char *message) LF_SHIM_NOEXCEPT;

typedef enum {
    LF_SHIM_ORB = 0,  /* 32 bytes, Hamming (Rublee et al., ICCV 2011) */
    LF_SHIM_SIFT = 1, /* 128 bytes, RootSIFT, L2 (Lowe, IJCV 2004; Arandjelovic, CVPR 2012) */
} LfShimKind;

/* Bytes of a descriptor. */
int lf_shim_descriptor_bytes(LfShimKind kind) LF_SHIM_NOEXCEPT;
/* At most max features, the strongest. where: of the image's size, 0 where none is wanted; may be
 * NULL. Both arrays are given out, also where *n is 0. */
int lf_shim_detect(const LfShimImage *image, const LfShimImage *where, LfShimKind kind, int max,
                   LfShimFeature **features, uint8_t **descriptors, int *n,
                   char *message) LF_SHIM_NOEXCEPT;
/* The k nearest of train for each query: matches takes n_query * k, train = -1 where there are
 * fewer. */
int lf_shim_match(LfShimKind kind, const uint8_t *query, int n_query, const uint8_t *train,
                  int n_train, int k, LfShimMatch *matches, char *message) LF_SHIM_NOEXCEPT;

/* fit.cpp ------------------------------------------------------------------------------------ */

/* Robust homography dst_from_src (MAGSAC++, Barath et al., CVPR 2020) with a fixed seed. xy pairs
 * packed; inlier takes n flags. LF_SHIM_BAD_INPUT where none is found. */
int lf_shim_homography(const float *src_xy, const float *dst_xy, int n, double threshold_px,
                       double dst_from_src[9], uint8_t *inlier, int *n_inliers,
                       char *message) LF_SHIM_NOEXCEPT;

#ifdef __cplusplus
}
#endif

#endif
