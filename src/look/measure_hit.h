/* Which fixations lie on which targets, and how surely. */
#ifndef LF_LOOK_MEASURE_HIT_H
#define LF_LOOK_MEASURE_HIT_H

#include <lookfall/measure.h>

/* Areas of a study made ready: shared by all walks and threads, read-only. */
typedef struct LookPlan LookPlan;

/* areas: LfArea; photo_ids: for each, its photo's id. The areas are borrowed and must outlive the
 * plan. */
LookPlan *look_plan_new(const GPtrArray *areas, const int64_t *photo_ids);
void look_plan_free(LookPlan *plan);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LookPlan, look_plan_free)
/* LfAreaTarget; borrowed. */
const GPtrArray *look_plan_targets(const LookPlan *plan);
/* Highest level of any target. */
int look_plan_levels(const LookPlan *plan);

enum {
    LOOK_IN = 1,       /* by its own position */
    LOOK_CERTAIN = 2,  /* wherever its uncertainty may put it */
    LOOK_POSSIBLE = 4, /* somewhere its uncertainty may put it */
};
/* No area of the level. */
#define LOOK_NOWHERE (-1)

/* The answers for one walk. */
typedef struct {
    const LfFixation *fixations; /* borrowed */
    gsize n;
    bool *settled; /* of each fixation: on a photo, sure or placed */
    guint8 *flags; /* targets x fixations */
    bool *any;     /* of each target: whether any fixation is possible */
    int *on;       /* (levels + 1) x fixations: index of the smallest target of the level that
                    * holds it, or LOOK_NOWHERE */
} LookHits;

/* radii: how many radii a position may be off. */
LookHits *look_hits_new(const LookPlan *plan, const LfFixation *fixations, gsize n, double radii);
void look_hits_free(LookHits *hits);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LookHits, look_hits_free)

#endif
