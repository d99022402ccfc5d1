/* Which cells of a relief look in every view as the photo foretells: those taken for what stands
 * beside them do not. */
#ifndef LF_CAST_SURVEY_CONSTANCY_H
#define LF_CAST_SURVEY_CONSTANCY_H

#include "cast/pose.h"

/* A view of a photo. */
typedef struct {
    const LfLens *lens;
    const LfFramePyramid *frame;
    const LfMat3 *frame_from_photo;
} LfConstancyView;

/* How light it is: frame = gain * photo + offset + around, grey levels. */
typedef struct {
    double gain, offset;
    float *around; /* by cell of the photo's relief */
} LfConstancyLight;

/* By cell, how far the view's grey level is from what the photo's foretells, in steps of
 * 1 / LF_CONSTANCY_STEPS grey levels of the photo; LF_CONSTANCY_UNSEEN where it is not in the
 * picture. Owned by the caller; NULL where too little is seen to tell how light it is, which else
 * goes to *light (lf_constancy_light_clear). Any thread. */
#define LF_CONSTANCY_STEPS 4
#define LF_CONSTANCY_UNSEEN 255
uint8_t *lf_constancy_look(const LfPhoto *photo, const LfConstancyView *view,
                           LfConstancyLight *light);
/* The same where each cell would be seen if it stood at z[cell], photo px; cells of NAN are not
 * asked. */
uint8_t *lf_constancy_look_behind(const LfPhoto *photo, const LfConstancyView *view,
                                  const LfConstancyLight *light, const double *z);
void lf_constancy_light_clear(LfConstancyLight *light);

/* Tells the photo's relief how far each cell is to be trusted, from all views together; rows may
 * be NULL. Gives by cell how unlike the photo it is, NAN where too few views show it; owned by the
 * caller. */
double *lf_constancy_vouch(const LfPhoto *photo, uint8_t *const *rows, int n_rows);

/* Takes those cells for part of the back that look in all views more as if they stood there. z:
 * where that is, and rows: as they look there (lf_constancy_look_behind); unlike: as they look
 * where they were taken to stand (lf_constancy_vouch). moved, by cell: whether it was; out. */
void lf_constancy_compare(const LfPhoto *photo, const double *z, const double *unlike,
                          uint8_t *const *rows, int n_rows, bool *moved);

/* Trusts cells anew, but for those that were moved, by how many others of their colour stand where
 * they do. */
void lf_constancy_company(const LfPhoto *photo, const double *unlike, const bool *moved);

#endif
