/* The back of a shelf: the plane that much of what stands deep in a photo lies in. */
#ifndef LF_CAST_SURVEY_BACK_H
#define LF_CAST_SURVEY_BACK_H

#include "cast/relief.h"

/* z = z0 + by_x * (x - middle) + by_y * (y - middle), all photo px; middle: of the photo. */
typedef struct {
    double z0, by_x, by_y;
} LfReliefBack;

/* From the cells that are trusted. False where too few of them lie in one plane behind the rest. */
bool lf_survey_back(const LfRelief *relief, LfReliefBack *back);
double lf_survey_back_at(const LfRelief *relief, const LfReliefBack *back, int cell);

#endif
