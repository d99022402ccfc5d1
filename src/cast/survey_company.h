/* How many of the cells that look like a cell stand where it does. */
#ifndef LF_CAST_SURVEY_COMPANY_H
#define LF_CAST_SURVEY_COMPANY_H

#include "cast/relief.h"

/* By cell of the photo's relief: of all cells of about its colour, the share that is known to stand
 * at about the depth it is taken to, 0..1; half where the photo has no colours. trust: by cell, how
 * far it tells its depth, 0 where it does not. Owned by the caller. */
double *lf_survey_company(const LfPhoto *photo, const double *trust);

#endif
