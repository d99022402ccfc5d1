/* One patch of the photo, laid into a frame and aligned there.
 *
 * The patch is sampled from the photo through the local affine part of the predicted mapping, so
 * that it looks as it should look in the frame; then its shift is found by inverse-compositional
 * Lucas-Kanade on brightness-normalised values (S. Baker, I. Matthews, "Lucas-Kanade 20 years on",
 * IJCV 56 (2004) 221-255, doi:10.1023/B:VISI.0000011205.11775.fd; zero-mean and unit-norm patches
 * make it blind to gain and offset, so light and exposure do not matter). Coordinates: px of the
 * frame plane the patch is aligned on. */
#ifndef LF_CAST_PATCH_H
#define LF_CAST_PATCH_H

#include "cast/plane.h"

#define LF_PATCH_SIDE 16
#define LF_PATCH_AREA (LF_PATCH_SIDE * LF_PATCH_SIDE)

typedef struct {
    float t[LF_PATCH_AREA];  /* zero mean, unit norm */
    float jx[LF_PATCH_AREA]; /* derivative of the normalised patch by a shift of 1 px */
    float jy[LF_PATCH_AREA];
    double hxx, hxy, hyy;  /* J^T J */
    double mean, contrast; /* grey levels of the photo: mean, standard deviation */
} LfPatch;

typedef struct {
    LfPoint at;            /* where the patch's centre was found */
    double moved_px;       /* from where it was laid */
    double zncc;           /* -1..1, zero-mean normalised cross-correlation there */
    double sigma_px;       /* one standard error of `at` (root mean over directions) */
    double mean, contrast; /* grey levels of the frame there */
} LfPatchFit;

/* centre: in px of `source`; source_from_plane: {dsx/dx, dsx/dy, dsy/dx, dsy/dy}, source px per
 * plane px. blur: plane px over which motion smears the frame during the exposure, {0, 0} for none.
 * False where the patch leaves the source or has next to no texture. */
bool lf_patch_make(LfPatch *patch, const LfPlane *source, LfPoint centre,
                   const double source_from_plane[4], LfPoint blur);
/* False where it leaves the frame, does not converge or walks off by more than max_move_px. */
bool lf_patch_align(const LfPatch *patch, const LfPlane *frame, LfPoint start, double max_move_px,
                    LfPatchFit *fit);

#endif
