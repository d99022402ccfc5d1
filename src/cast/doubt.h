/* Why a point is doubtful: the one reason that stands out, for the person who has to settle it. */
#ifndef LF_CAST_DOUBT_H
#define LF_CAST_DOUBT_H

#include <lookfall/cast.h>

#include "cast/confidence.h"
#include "cast/pose.h"

/* What tells causes apart that cost the confidence the same. */
typedef struct {
    bool changed;     /* the photo's texture was missing there all the time (changed.h) */
    double displaced; /* 0..1: of the patches around that fail, the share that is seen elsewhere
                       * than expected rather than not at all */
} LfDoubtSigns;

/* Whether the feature of the confidence model has a cause. */
bool lf_doubt_knows(const char *feature);
/* at: undistorted frame px. */
double lf_doubt_displaced(const LfPose *pose, const LfLens *lens, LfPoint at);
/* blocked: the sample's state is blocked rather than doubtful. Never LF_DOUBT_NONE. */
LfDoubt lf_doubt(const LfEvidence *evidence, const LfDoubtSigns *signs, double tolerance_deg,
                 bool blocked);

#endif
