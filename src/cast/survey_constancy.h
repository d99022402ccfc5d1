/* Which cells of a relief look in every view as the photo foretells: those taken for what stands
 * beside them do not. */
#ifndef LF_CAST_SURVEY_CONSTANCY_H
#define LF_CAST_SURVEY_CONSTANCY_H

#include "cast/pose.h"

/* What one view shows where each cell of the photo's relief is taken to stand. */
typedef struct {
    const LfLens *lens;
    const LfFramePyramid *frame;
    const LfMat3 *frame_from_photo;
    const double *z; /* by cell, photo px; NULL: where the relief takes each to stand */
} LfConstancyView;

/* By cell, how far the view's grey level is from what the photo's foretells, in steps of
 * 1 / LF_CONSTANCY_STEPS grey levels of the photo; LF_CONSTANCY_UNSEEN where it is not in the
 * picture. Owned by the caller; NULL where too little is seen to tell how light it is. Any thread.
 */
#define LF_CONSTANCY_STEPS 4
#define LF_CONSTANCY_UNSEEN 255
uint8_t *lf_constancy_look(const LfPhoto *photo, const LfConstancyView *view);

/* Tells the photo's relief how far each cell is to be trusted, from all views together; rows may
 * be NULL. */
void lf_constancy_vouch(const LfPhoto *photo, uint8_t *const *rows, int n_rows);

/* Takes those cells for part of the back that look in all views more as if they stood there. z: by
 * cell, where that is, near_z for cells that are not in question; others: as rows, seen there. */
void lf_constancy_compare(const LfPhoto *photo, const double *z, uint8_t *const *rows,
                          uint8_t *const *others, int n_rows);

#endif
