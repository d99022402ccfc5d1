/* Matches between the features of a frame and those of a photo's bank. */
#ifndef LF_CAST_MATCHES_H
#define LF_CAST_MATCHES_H

#include "cast/locate.h"

typedef struct {
    int feature; /* of the frame */
    int bank;    /* of the photo */
    float bits;  /* Hamming distance */
    bool unique; /* no other place of the photo comes near */
} LfMatch;

/* Up to three places of the photo for each feature of the frame, the best first. Owned by the
 * caller (g_free). */
LfMatch *lf_matches_find(const LfPhoto *photo, const LfBank *bank, const LfFrameFeatures *features,
                         int *n);

/* Hypotheses frame_from_photo (undistorted) that groups of matches agree on, the best-supported
 * first: one from the unique matches, further ones from matches that agree in scale, turn and shift
 * (D. Lowe, IJCV 60 (2004) 91-110, section 7.3). Gives their number. */
#define LF_HYPOTHESES_MAX 4

typedef struct {
    LfMat3 frame_from_photo; /* undistorted */
    int inliers;             /* matches that agree */
} LfHypothesis;

int lf_matches_hypotheses(const LfPhoto *photo, const LfBank *bank, const LfFrameFeatures *features,
                          const LfMatch *matches, int n, double frame_diagonal_px,
                          LfHypothesis out[LF_HYPOTHESES_MAX]);

#endif
