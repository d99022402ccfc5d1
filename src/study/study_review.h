/* What the files of this folder share about stretches and placements. */
#ifndef LF_STUDY_REVIEW_H
#define LF_STUDY_REVIEW_H

#include <lookfall/placement.h>

#include "study/study_walk.h"

/* --- which placements hold (study_overlay.c) --- */

/* The walk's files that placements were made on, as text; owned by the caller. NULL with
 * LF_ERROR_INPUT where there is no such walk. */
char *study_overlay_inputs(LfStudy *study, int64_t walk, GError **error);

/* A sample that a placement lies on. */
typedef struct {
    int64_t t_us, placement;
    LfPlace place;
} StudyOverlay;

/* StudyOverlay of from_us <= t < to_us, by time, one for each sample: the newest that holds. For a
 * blind reviewer those of their own; owned by the caller. */
GArray *study_overlay_load(LfStudy *study, const LfReviewer *reviewer, int64_t walk,
                           int64_t from_us, int64_t to_us, GError **error);
/* The one at t_us, or NULL. *at is where to look from, and only moves on. */
const StudyOverlay *study_overlay_at(const GArray *overlay, guint *at, int64_t t_us);

/* --- current results (study_current.c) --- */

/* Raised whenever the same results would make other stretches. */
#define STUDY_STRETCH_VERSION 1

typedef struct {
    int64_t from_us, to_us;
} StudyCurrent;

/* StudyCurrent of the chunks whose results are of today's inputs and settings, ascending; owned by
 * the caller. source (may be NULL) takes a text that changes when they do. */
GArray *study_current_chunks(LfStudy *study, const char *head, const StudyWalk *walk, char **source,
                             GError **error);
/* Moves *at on to the first that does not end before t_us; true where it holds t_us. */
bool study_current_at(const GArray *chunks, guint *at, int64_t t_us);

/* --- inside the caller's transaction --- */

/* Counts a change of the review and gives its number (study_stretch.c). */
bool study_review_bump(LfStudy *study, int64_t *version, GError **error);
/* Counts again what is left of the stretches of a walk that overlap from_us <= t < to_us. touched:
 * all of them get the new version, otherwise those with another count. *settled (may be NULL) takes
 * how many of them have nothing left now and had before. */
bool study_stretch_recount(LfStudy *study, int64_t walk, int64_t from_us, int64_t to_us,
                           bool touched, int64_t *settled, GError **error);

/* lf_study_span inside the caller's transaction (study_span.c). */
LfSpan *study_span_load(LfStudy *study, const LfReviewer *reviewer, int64_t walk, int64_t from_us,
                        int64_t to_us, GError **error);

void study_placement_free(gpointer placement);
/* LfPlacement that touch the span, newest first (study_placement.c). */
GPtrArray *study_placement_list(LfStudy *study, const LfReviewer *reviewer, int64_t walk,
                                int64_t from_us, int64_t to_us, GError **error);

/* --- from a decision to what is placed (study_decide.c) --- */

/* LfTiedPlace of the samples that a decision places, none of them lost; NULL with LF_ERROR_USAGE
 * where it makes no sense. Owned by the caller. */
GArray *study_decide_places(const LfSpan *span, const LfStretch *stretch,
                            const LfDecision *decision, GError **error);
/* "accept" and so on; static. */
const char *study_decide_kind(LfDecisionKind kind);
/* What was said, as JSON; owned by the caller. */
char *study_decide_detail(const LfDecision *decision);

#endif
