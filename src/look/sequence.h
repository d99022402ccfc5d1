/* The sequence of areas a walk went through on one level, and its transitions. */
#ifndef LF_LOOK_SEQUENCE_H
#define LF_LOOK_SEQUENCE_H

#include "look/measure_walk.h"

typedef struct {
    int target; /* index into the plan's targets */
    int64_t from_us, to_us;
    gsize fixations;
    bool certain;       /* of all its fixations: on it and on no other target of the level */
    bool after_unknown; /* what came between it and the element before is not known */
} LookElement;

/* by_visits: an element is a visit, otherwise a fixation. Fixations on no target of the level make
 * no element, but end a visit. Owned by the caller (GArray of LookElement). */
GArray *look_sequence(const LookWalk *walk, const LookSpan *span, int level, bool by_visits);

/* LfSequenceRow of all levels. */
GArray *look_sequences(const LookWalk *walk, const LookSpan *span, const LfMeasureHead *head);
/* LfTransitionRow, and LfEntropyRow, of all levels. */
GArray *look_transitions(const LookWalk *walk, const LookSpan *span, const LfMeasureHead *head);
GArray *look_entropies(const LookWalk *walk, const LookSpan *span, const LfMeasureHead *head);

#endif
