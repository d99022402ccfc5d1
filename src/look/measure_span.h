/* Spans of one walk. */
#ifndef LF_LOOK_MEASURE_SPAN_H
#define LF_LOOK_MEASURE_SPAN_H

#include <lookfall/measure.h>

typedef struct {
    const LfSpanRule *rule; /* borrowed */
    int number;             /* from 1; 0: the walk has no such span, and no times follow */
    int64_t from_us, to_us; /* inside the walk */
} LookSpan;

/* LookSpan of every rule (LfSpanRule), in their order, cut to the part from_us..to_us of the walk;
 * marks: LfMark of this walk, by time. A rule that finds nothing there has one span of number 0. */
GArray *look_spans(const GPtrArray *rules, const GPtrArray *marks, int64_t from_us, int64_t to_us);

#endif
