/* From tied points to a mapping: as little change of what was known as the ties ask for. Pure
 * geometry. */
#ifndef LF_CAST_TIE_FIX_H
#define LF_CAST_TIE_FIX_H

#include <lookfall/tie.h>

typedef struct {
    LfPoint frame; /* undistorted frame px */
    LfPoint photo; /* photo px */
} LfTiePoint;

/* How the ties of one frame are met. */
typedef enum {
    LF_TIE_ON_PHOTO, /* the frame is moved along the photo first: right when the pose is wrong by a
                      * facing */
    LF_TIE_IN_FRAME, /* the photo is moved in the frame: right when the head moved since the prior
                      */
} LfTieWay;

/* The mapping frame_from_photo (undistorted) that meets the ties: 1 tie shifts the prior, 2 turn
 * and scale it too, 3 change it by an affine map, 4 and more give a homography of their own. prior
 * may be NULL for 2 ties and more: the photo is then taken as seen from the front. False where the
 * points do not fix it, or turn the photo over. */
bool lf_tie_fix(const LfTiePoint *ties, int n, const LfMat3 *prior, LfTieWay way, LfMat3 *out);

/* What is wrong with the ties of one frame, as the end of a sentence; NULL where they will do.
 * Static. */
const char *lf_tie_fault(const LfTiePoint *ties, int n);

/* Largest distance of a tie from where the mapping has it, undistorted frame px; HUGE_VAL where a
 * tie has no place. */
double lf_tie_miss_px(const LfTiePoint *ties, int n, const LfMat3 *frame_from_photo);

#endif
