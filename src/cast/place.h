/* Placing gaze samples: from poses of frames to points on photos at the samples' own times. */
#ifndef LF_CAST_PLACE_H
#define LF_CAST_PLACE_H

#include <lookfall/cast.h>

#include "cast/changed.h"
#include "cast/confidence.h"
#include "cast/window.h"

typedef struct {
    LfSampleCast cast;
    LfEvidence evidence; /* zero where no point was cast */
} LfPlaced;

/* What samples are placed by. All borrowed. */
typedef struct {
    LfWindow *window;
    LfPhoto *const *photos;
    const LfRelief *const *reliefs;  /* one per photo, each may be NULL */
    const LfChanged *const *changed; /* one per photo */
    const LfLens *lens;
    const LfCastSettings *settings;
} LfPlaceScene;

/* The sample lies between the window's frames `number` and `number` + 1 (number - 1 where it comes
 * before the first frame held; the later frame may be missing at the end of a video). */
LfPlaced lf_place_sample(const LfPlaceScene *scene, int64_t number, const LfGazeSample *sample,
                         gsize index);

/* The pose as it is reported. */
LfPoseCast lf_place_pose(const LfPlaceScene *scene, const LfPose *pose, int64_t t_us);

#endif
