/* Faces: OpenCV's cascade detectors, and following a box from picture to picture. Part of the C
 * face (shim.h): same return codes, same message buffer. */
#ifndef LF_SHIM_FACES_H
#define LF_SHIM_FACES_H

#include "shim.h"

#ifdef __cplusplus
extern "C" {
#endif

/* px of the picture, from the corner of its first pixel. */
typedef struct {
    float x, y, w, h;
} LfShimBox;

typedef struct LfShimFaces LfShimFaces;

/* Loads a cascade (Viola and Jones, CVPR 2001) from its XML file. A detector belongs to one thread
 * at a time. */
int lf_shim_faces_new(const char *path, LfShimFaces **faces, char *message) LF_SHIM_NOEXCEPT;
void lf_shim_faces_free(LfShimFaces *faces) LF_SHIM_NOEXCEPT;

/* A face, and how many overlapping finds it was made of: the more, the surer. */
typedef struct {
    LfShimBox box;
    int votes;
} LfShimFace;

/* Faces of at least min_px, at most `max` of them; step: from size to size; neighbours: how many
 * overlapping finds make one. mirrored: in the picture turned over, for a cascade knows profiles of
 * one side alone; boxes are those of the picture as it is. */
int lf_shim_faces_find(LfShimFaces *faces, const LfShimImage *luma, int mirrored, int min_px,
                       double step, int neighbours, LfShimFace *found, int max, int *n,
                       char *message) LF_SHIM_NOEXCEPT;

/* Where the content of `box` in `from` lies in `to`, looked for up to `reach` px around `guess`
 * (same size as box) by normalised correlation; *score -1..1. Both pictures are of the same size.
 */
int lf_shim_follow_box(const LfShimImage *from, const LfShimImage *to, const LfShimBox *box,
                       int reach, LfShimBox *guess, double *score, char *message) LF_SHIM_NOEXCEPT;

#ifdef __cplusplus
}
#endif

#endif
