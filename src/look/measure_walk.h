/* The measures of one walk: pure computation, on what a study holds of it. */
#ifndef LF_LOOK_MEASURE_WALK_H
#define LF_LOOK_MEASURE_WALK_H

#include "look/measure_hit.h"
#include "look/measure_range.h"
#include "look/measure_span.h"
#include "look/measure_time.h"

typedef struct {
    const LookPlan *plan;
    const LookTime *time;
    const LookHits *hits; /* NULL: the walk has no up to date fixations */
    LfMeasureSettings settings;
} LookWalk;

/* The fixations of a span, cut to it, as seen from a target; owned by the caller (GArray of
 * LookStep). *first takes the index of the first of them. */
GArray *look_steps(const LookWalk *walk, const LookSpan *span, gsize target, gsize *first);

/* Rows of every target, in the order of the plan's targets; head is filled but for its times of
 * knowledge. Strings are borrowed. Owned by the caller. */
GArray *look_measures(const LookWalk *walk, const LookSpan *span, const LfMeasureHead *head);
/* LfVisitRow of every target. */
GArray *look_visits(const LookWalk *walk, const LookSpan *span, const LfMeasureHead *head);

#endif
