/* The range of a measure over everything that positions allow. */
#ifndef LF_LOOK_MEASURE_RANGE_H
#define LF_LOOK_MEASURE_RANGE_H

#include <lookfall/measure.h>

/* A fixation of a span, seen from one target. */
typedef struct {
    int64_t from_us, to_us; /* inside the span */
    int64_t before_us;      /* from the end of the fixation before it; 0 for the first */
    bool bridged;           /* there is one, no further away than the gap that ends a visit */
    guint8 flags;           /* LOOK_IN, LOOK_CERTAIN, LOOK_POSSIBLE */
} LookStep;

/* What a choice of fixations adds up to. */
typedef struct {
    int64_t fixated_us, dwell_us, glance_us, longest_glance_us;
    int64_t first; /* index of the first step chosen; -1: none */
    gsize fixations, visits;
} LookSum;

/* The steps that have this flag. */
LookSum look_sum(const LookStep *steps, gsize n, guint8 flag);

/* Steps that are certain are always chosen, those that are possible may be; all others never. */
void look_range_visits(const LookStep *steps, gsize n, gsize *least, gsize *most);
/* Mean over the fixations chosen, of which there must be one; NaN where none is possible. */
void look_range_fixation_mean(const LookStep *steps, gsize n, double *low_us, double *high_us);
void look_range_first_fixation(const LookStep *steps, gsize n, double *low_us, double *high_us);
/* Mean over the visits: of their durations, or as glances, with the move towards them. */
void look_range_visit_mean(const LookStep *steps, gsize n, bool glances, double *low_us,
                           double *high_us);

#endif
