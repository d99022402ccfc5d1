/* How good cast samples are against the truth: counts, errors, and whether the confidence is one.
 */
#ifndef LOOKFALL_DEMO_SCORE_H
#define LOOKFALL_DEMO_SCORE_H

#include <stdbool.h>

#include <glib.h>

/* Hidden: seen by the walker, but the photo shows something else before it; no cast can be right or
 * wrong there, so such samples are counted and left out of all shares. Beside: floor or wall that
 * the photo shows around what it is of; whether a cast should be there is not asked, so one that is
 * right is left out and one that is wrong counts as off the photo. */
typedef enum {
    LR_SEEN_LOST,
    LR_SEEN_AWAY,
    LR_SEEN_BLOCKED,
    LR_SEEN_VISIBLE,
    LR_SEEN_HIDDEN,
    LR_SEEN_BESIDE,
} LrSeen;

typedef enum {
    LR_CAST_LOST,
    LR_CAST_AWAY,
    LR_CAST_BLOCKED,
    LR_CAST_DOUBTFUL,
    LR_CAST_SURE,
    LR_CAST_STATES,
} LrCastState;

/* One sample, what is true and what was cast. A sample placed by a person counts as sure. */
typedef struct {
    LrSeen seen;
    LrCastState cast;
    bool same_photo;      /* cast onto the photo of the truth */
    double error_px;      /* on that photo; NaN where there is no such distance */
    double px_per_degree; /* there and then */
    double confidence;    /* NaN where there is none */
} LrPairing;

#define LR_RELIABILITY_BINS 10

typedef struct {
    guint samples, visible, off_photo, blocked;
    guint visible_sure;   /* sure among the visible */
    guint wrong;          /* of visible_sure: on another photo, or off by more than the tolerance */
    guint off_photo_sure; /* sure among away and blocked */
    guint blocked_sure;   /* sure among blocked */
    guint blocked_told;   /* blocked among blocked */
    guint visible_blocked;    /* blocked among visible */
    double median_px, p95_px; /* of visible_sure on the right photo; NaN where there are none */
    /* Of all samples with a confidence; right is visible, same photo, within the tolerance. */
    guint judged;
    double brier;             /* G. W. Brier, Monthly Weather Review 78 (1950) 1 */
    double calibration_error; /* expected, over equal-width bins; Guo et al., ICML 2017, eq. 3 */
    double auroc;             /* NaN where all are right or all wrong */
    struct {
        guint n, right;
        double confidence; /* mean */
    } bin[LR_RELIABILITY_BINS];
} LrScore;

/* pairings: GArray of LrPairing. */
LrScore lr_score_make(const GArray *pairings, double tolerance_deg);

#endif
