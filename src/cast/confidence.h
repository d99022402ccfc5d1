/* From evidence to a probability: two logistic models on named features (docs/confidence.md), one
 * of the picture and one of depth, both of which must be right. */
#ifndef LF_CAST_CONFIDENCE_H
#define LF_CAST_CONFIDENCE_H

#include <stdbool.h>

/* Everything that speaks for or against one cast point. */
typedef struct {
    double sigma_deg;  /* one standard error of the point */
    double agreement;  /* local, 0..1 */
    double support;    /* local, patches */
    double good_share; /* local, 0..1 */
    double share_good; /* of the whole pose, 0..1 */
    double n_good;     /* of the whole pose */
    double cover;      /* 0..1 */
    double rival;      /* 0..1 */
    double gap_frames; /* frames to the nearest pose: 0 between two poses */
    double motion_deg; /* of the picture between frames */
    double spread_deg; /* of residuals around the pose */
    double shift_deg;  /* local shift taken in */
    double rough_deg;  /* how differently things around the point would shift by their depth */
    double elsewhere;  /* 0..1: that what is seen there stands at another depth and so further off
                        * than the tolerance */
    double mismatch;   /* of grey levels at the point, about 1 where the photo is seen */
    double missing;    /* texture of the photo that the frame does not follow there, 0..2 */
    double tint;       /* how far colours there are off, about 1 where the photo is seen */
} LfEvidence;

/* Features of the picture's model, from its constant on, then those of the depth's, from its own.
 */
enum { LF_CONFIDENCE_DEPTH = 16, LF_CONFIDENCE_FEATURES = 18 };

/* Name of feature i, as in docs/confidence.md; the first of each model is its constant. */
const char *lf_confidence_feature_name(int i);
/* Its weight in the log-odds: of being right, in the depth's model of ending elsewhere. */
double lf_confidence_weight(int i);
/* The numbers the model weighs. tolerance_deg > 0. */
void lf_confidence_features(const LfEvidence *evidence, double tolerance_deg,
                            double out[LF_CONFIDENCE_FEATURES]);
/* Probability, 0..1, that the point lies within the tolerance of the true one. */
double lf_confidence(const LfEvidence *evidence, double tolerance_deg);
/* What depth takes off it, in log-odds. */
double lf_confidence_depth_cost(const LfEvidence *evidence, double tolerance_deg);
/* True where the frame around the point is something else than the photo while the pose is firm. */
bool lf_confidence_blocked(const LfEvidence *evidence);

#endif
