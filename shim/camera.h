/* OpenCV's calibration files. Part of the C face (shim.h): same return codes, same message buffer.
 */
#ifndef LF_SHIM_CAMERA_H
#define LF_SHIM_CAMERA_H

#include "shim.h"

#ifdef __cplusplus
extern "C" {
#endif

#define LF_SHIM_CAMERA_MAX_K 14

typedef struct {
    int width, height; /* px */
    double matrix[9];  /* row by row */
    double k[LF_SHIM_CAMERA_MAX_K];
    int n_k;
} LfShimCamera;

/* Reads YAML, XML or JSON as cv::FileStorage writes it, also gzip (a name that ends in .gz). The
 * file must exist. Checks that the four entries are there, of the right shape, and not of a fisheye
 * model; whether the numbers make sense is the caller's business. LF_SHIM_BAD_INPUT with a message
 * that continues "FILE: ...". */
int lf_shim_camera_read(const char *path, LfShimCamera *camera, char *message) LF_SHIM_NOEXCEPT;

#ifdef __cplusplus
}
#endif

#endif
