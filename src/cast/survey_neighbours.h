/* How the photos of a study stand to each other, from views that show several. */
#ifndef LF_CAST_SURVEY_NEIGHBOURS_H
#define LF_CAST_SURVEY_NEIGHBOURS_H

#include "cast/survey_views.h"

/* firm: the share of patches from which a photo counts as seen. Fills in the photos' neighbours. */
void lf_survey_neighbours(const LfSurveyViews *views, double firm);
/* Where a photo that was not seen in a view is to be looked for there. */
bool lf_survey_foretell(const LfSurveyViews *views, const LfSurveyView *view, int photo,
                        double firm, LfMat3 *frame_from_photo);

#endif
