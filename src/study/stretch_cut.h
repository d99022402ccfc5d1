/* From the results of a walk to its stretches: no SQL, so that it can be tested alone. */
#ifndef LF_STUDY_STRETCH_CUT_H
#define LF_STUDY_STRETCH_CUT_H

#include <lookfall/placement.h>

/* A sample's result, as far as stretches need it. */
typedef struct {
    int64_t t_us;
    int64_t photo;    /* id; 0: none */
    float confidence; /* NaN where there is none */
    guint8 state, doubt;
    bool unseen; /* away, with no pose near, between frames that have one */
} StretchSample;

/* Samples ascending. Appends LfStretch (walk, id, left and version unset) to `stretches`, by kind
 * (doubtful, blocked, unseen), each in the order of time. */
void stretch_cut(const StretchSample *samples, gsize n, int64_t interval_us, GArray *stretches);

#endif
