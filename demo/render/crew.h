/* Rendering one picture with several threads. */
#ifndef LOOKFALL_DEMO_CREW_H
#define LOOKFALL_DEMO_CREW_H

#include "expose.h"

/* One picture to be made. */
typedef struct {
    const LrRays *rays;
    LrExposure exposure;
    const LrSensor *sensor;
    double gain;
    uint64_t noise_key;
    uint8_t *rgb; /* packed, rows of 3 * width bytes */
} LrPicture;

typedef struct LrCrew LrCrew;

LrCrew *lr_crew_new(int jobs);
void lr_crew_free(LrCrew *crew);
/* Starts work on a picture, which must live until lr_crew_wait; one at a time. The bytes do not
 * depend on the number of jobs. */
void lr_crew_start(LrCrew *crew, const LrPicture *picture);
void lr_crew_wait(LrCrew *crew);

#endif
