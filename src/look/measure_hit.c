/* Fixations against areas and groups.
 *
 * A fixation may lie anywhere in the disc of `radii` radii around its position. On an area it is
 * certain where the whole disc is inside, possible where any of the disc is. The disc against a
 * group is more than the disc against each member: on the common edge of two packs it is certainly
 * on the brand. There 24 points of its rim and 8 halfway are tried; what they miss is narrower than
 * a quarter of the disc. */
#include "look/measure_hit.h"

#include <math.h>
#include <string.h>

#define HIT_RIM 24
#define HIT_HALFWAY 8

typedef struct {
    LfPoint low, high; /* px */
    int64_t photo;
} HitBox;

struct LookPlan {
    const GPtrArray *areas;
    GPtrArray *targets;
    HitBox *boxes;       /* of areas */
    int64_t *photos;     /* of targets */
    double *surface_px2; /* of targets */
    int levels;
};

/* --- plan ---------------------------------------------------------------------------------------
 */

static void hit_plan_targets(LookPlan *plan, const int64_t *photo_ids)
{
    for (guint t = 0; t < plan->targets->len; t++) {
        const LfAreaTarget *target = plan->targets->pdata[t];
        plan->levels = MAX(plan->levels, target->level);
        for (gsize i = 0; i < target->n_areas; i++) {
            plan->photos[t] = photo_ids[target->areas[i]];
            plan->surface_px2[t] += lf_area_surface_px2(plan->areas->pdata[target->areas[i]]);
        }
        for (guint i = 0; target->level < 0 && i < plan->areas->len; i++)
            if (strcmp(((const LfArea *)plan->areas->pdata[i])->photo, target->photo) == 0)
                plan->photos[t] = photo_ids[i];
    }
}

LookPlan *look_plan_new(const GPtrArray *areas, const int64_t *photo_ids)
{
    LookPlan *plan = g_new0(LookPlan, 1);
    plan->areas = areas;
    plan->targets = lf_area_targets(areas);
    plan->boxes = g_new(HitBox, MAX(areas->len, 1));
    plan->photos = g_new0(int64_t, MAX(plan->targets->len, 1));
    plan->surface_px2 = g_new0(double, MAX(plan->targets->len, 1));
    for (guint i = 0; i < areas->len; i++) {
        plan->boxes[i].photo = photo_ids[i];
        lf_area_bounds(areas->pdata[i], &plan->boxes[i].low, &plan->boxes[i].high);
    }
    hit_plan_targets(plan, photo_ids);
    return plan;
}

void look_plan_free(LookPlan *plan)
{
    if (!plan)
        return;
    g_ptr_array_unref(plan->targets);
    g_free(plan->boxes);
    g_free(plan->photos);
    g_free(plan->surface_px2);
    g_free(plan);
}

const GPtrArray *look_plan_targets(const LookPlan *plan)
{
    return plan->targets;
}

int look_plan_levels(const LookPlan *plan)
{
    return plan->levels;
}

/* --- one fixation -------------------------------------------------------------------------------
 */

static bool hit_near(const HitBox *box, const LfFixation *fixation, double off_px)
{
    return box->photo == fixation->photo_id && fixation->x_px >= box->low.x - off_px &&
           fixation->x_px <= box->high.x + off_px && fixation->y_px >= box->low.y - off_px &&
           fixation->y_px <= box->high.y + off_px;
}

static guint8 hit_area(const LfArea *area, LfPoint at, double off_px)
{
    double distance_px = lf_area_distance_px(area, at);
    if (lf_area_contains(area, at))
        return LOOK_IN | LOOK_POSSIBLE | (-distance_px >= off_px ? LOOK_CERTAIN : 0);
    return distance_px < off_px ? LOOK_POSSIBLE : 0;
}

static bool hit_group_holds(const LookPlan *plan, const LfAreaTarget *target, LfPoint at)
{
    for (gsize i = 0; i < target->n_areas; i++) {
        gsize area = target->areas[i];
        const HitBox *box = &plan->boxes[area];
        if (at.x >= box->low.x && at.x <= box->high.x && at.y >= box->low.y &&
            at.y <= box->high.y && lf_area_contains(plan->areas->pdata[area], at))
            return true;
    }
    return false;
}

static bool hit_group_covers(const LookPlan *plan, const LfAreaTarget *target, LfPoint at,
                             double off_px)
{
    for (int i = 0; i < HIT_RIM + HIT_HALFWAY; i++) {
        bool rim = i < HIT_RIM;
        double angle = 2 * G_PI * i / (rim ? HIT_RIM : HIT_HALFWAY);
        double r = rim ? off_px : off_px / 2;
        LfPoint point = {at.x + r * cos(angle), at.y + r * sin(angle)};
        if (!hit_group_holds(plan, target, point))
            return false;
    }
    return true;
}

static guint8 hit_group(const LookPlan *plan, const LfAreaTarget *target, const guint8 *of_areas,
                        LfPoint at, double off_px)
{
    guint8 flags = 0;
    for (gsize i = 0; i < target->n_areas; i++)
        flags |= of_areas[target->areas[i]];
    if ((flags & LOOK_IN) && !(flags & LOOK_CERTAIN) && target->n_areas > 1 &&
        hit_group_covers(plan, target, at, off_px))
        flags |= LOOK_CERTAIN;
    return flags;
}

/* --- a walk -------------------------------------------------------------------------------------
 */

static bool hit_settled(const LfFixation *fixation)
{
    return fixation->photo_id != 0 && isfinite(fixation->x_px) && isfinite(fixation->y_px) &&
           (fixation->state == LF_STATE_SURE || fixation->state == LF_STATE_PLACED);
}

static void hit_note(const LookPlan *plan, LookHits *hits, gsize t, gsize i, guint8 flags)
{
    const LfAreaTarget *target = plan->targets->pdata[t];
    hits->flags[t * hits->n + i] = flags;
    hits->any[t] = hits->any[t] || flags;
    if (!(flags & LOOK_IN) || target->level < 0)
        return;
    int *on = &hits->on[(gsize)target->level * hits->n + i];
    if (*on == LOOK_NOWHERE || plan->surface_px2[t] <= plan->surface_px2[*on])
        *on = (int)t;
}

static void hit_fixation(const LookPlan *plan, LookHits *hits, gsize i, double radii,
                         guint8 *of_areas)
{
    const LfFixation *fixation = &hits->fixations[i];
    LfPoint at = {fixation->x_px, fixation->y_px};
    double off_px = isfinite(fixation->radius_px) ? radii * fixation->radius_px : 0;
    bool found = false;
    for (guint a = 0; a < plan->areas->len; a++) {
        bool near = hit_near(&plan->boxes[a], fixation, off_px);
        of_areas[a] = near ? hit_area(plan->areas->pdata[a], at, off_px) : 0;
        found = found || of_areas[a];
    }
    for (guint t = 0; t < plan->targets->len; t++) {
        const LfAreaTarget *target = plan->targets->pdata[t];
        if (plan->photos[t] != fixation->photo_id || (target->level >= 0 && !found))
            continue;
        guint8 flags = target->level < 0 ? LOOK_IN | LOOK_CERTAIN | LOOK_POSSIBLE
                                         : hit_group(plan, target, of_areas, at, off_px);
        if (flags)
            hit_note(plan, hits, t, i, flags);
    }
}

LookHits *look_hits_new(const LookPlan *plan, const LfFixation *fixations, gsize n, double radii)
{
    LookHits *hits = g_new0(LookHits, 1);
    gsize levels = (gsize)plan->levels + 1;
    g_autofree guint8 *of_areas = g_new0(guint8, MAX(plan->areas->len, 1));
    hits->fixations = fixations;
    hits->n = n;
    hits->settled = g_new0(bool, MAX(n, 1));
    hits->flags = g_new0(guint8, MAX(plan->targets->len * n, 1));
    hits->any = g_new0(bool, MAX(plan->targets->len, 1));
    hits->on = g_new(int, MAX(levels * n, 1));
    for (gsize i = 0; i < levels * n; i++)
        hits->on[i] = LOOK_NOWHERE;
    for (gsize i = 0; i < n; i++) {
        hits->settled[i] = hit_settled(&fixations[i]);
        if (hits->settled[i])
            hit_fixation(plan, hits, i, radii, of_areas);
    }
    return hits;
}

void look_hits_free(LookHits *hits)
{
    if (!hits)
        return;
    g_free(hits->settled);
    g_free(hits->flags);
    g_free(hits->any);
    g_free(hits->on);
    g_free(hits);
}
