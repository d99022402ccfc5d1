/* Measures and visits of one walk, span by span. docs/measures.md defines them. */
#include "look/measure_walk.h"

#include <math.h>

/* --- steps --------------------------------------------------------------------------------------
 */

/* Index of the first fixation that reaches beyond from_us. */
static gsize measure_first(const LookHits *hits, int64_t from_us)
{
    gsize low = 0, high = hits->n;
    while (low < high) {
        gsize middle = low + (high - low) / 2;
        if (hits->fixations[middle].to_us > from_us)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

GArray *look_steps(const LookWalk *walk, const LookSpan *span, gsize target, gsize *first)
{
    GArray *steps = g_array_new(FALSE, FALSE, sizeof(LookStep));
    const LookHits *hits = walk->hits;
    int64_t gap_us = llround(walk->settings.gap_s * 1e6);
    *first = measure_first(hits, span->from_us);
    for (gsize i = *first; i < hits->n && hits->fixations[i].from_us < span->to_us; i++) {
        const LfFixation *fixation = &hits->fixations[i];
        LookStep step = {
            .from_us = MAX(fixation->from_us, span->from_us),
            .to_us = MIN(fixation->to_us, span->to_us),
            .flags = hits->flags[target * hits->n + i],
        };
        if (i > *first) {
            step.before_us = fixation->from_us - hits->fixations[i - 1].to_us;
            step.bridged = step.before_us <= gap_us;
        }
        g_array_append_val(steps, step);
    }
    return steps;
}

/* --- one row ------------------------------------------------------------------------------------
 */

static LfMeasured measure_blank(void)
{
    return (LfMeasured){(double)NAN, (double)NAN, (double)NAN};
}

static double measure_s(int64_t us)
{
    return (double)us * 1e-6;
}

/* Counts and sums: each fixation more can only add to them. */
static void measure_sums(LfMeasured *values, const LookSum *is, const LookSum *low,
                         const LookSum *high, double span_s)
{
    values[LF_MEASURE_NOTICED] =
        (LfMeasured){is->fixations > 0, low->fixations > 0, high->fixations > 0};
    values[LF_MEASURE_FIXATIONS] =
        (LfMeasured){(double)is->fixations, (double)low->fixations, (double)high->fixations};
    values[LF_MEASURE_FIXATION_TOTAL] = (LfMeasured){
        measure_s(is->fixated_us), measure_s(low->fixated_us), measure_s(high->fixated_us)};
    values[LF_MEASURE_DWELL] =
        (LfMeasured){measure_s(is->dwell_us), measure_s(low->dwell_us), measure_s(high->dwell_us)};
    LfMeasured glance = {measure_s(is->glance_us), measure_s(low->glance_us),
                         measure_s(high->glance_us)};
    values[LF_MEASURE_GLANCE_TOTAL] = glance;
    values[LF_MEASURE_GLANCE_SHARE] =
        (LfMeasured){glance.value / span_s, glance.low / span_s, glance.high / span_s};
}

static void measure_visits(LfMeasured *values, const LookSum *is, const GArray *steps,
                           double span_s)
{
    gsize least, most;
    look_range_visits((const LookStep *)(gpointer)steps->data, steps->len, &least, &most);
    LfMeasured visits = {(double)is->visits, (double)least, (double)most};
    values[LF_MEASURE_VISITS] = values[LF_MEASURE_GLANCES] = visits;
    values[LF_MEASURE_REVISITS] =
        (LfMeasured){fmax(visits.value - 1, 0), fmax(visits.low - 1, 0), fmax(visits.high - 1, 0)};
    values[LF_MEASURE_GLANCE_RATE] = (LfMeasured){
        60 * visits.value / span_s, 60 * visits.low / span_s, 60 * visits.high / span_s};
}

/* Times and means of what was looked at: blank where it was not. */
static void measure_looked(LfMeasured *values, const LookSum *is, const LookSum *low,
                           const LookSum *high, const GArray *list, int64_t from_us)
{
    const LookStep *steps = (const LookStep *)(gpointer)list->data;
    gsize n = list->len;
    double least, most;
    bool looked = is->fixations > 0;
    if (high->fixations == 0)
        return;
    values[LF_MEASURE_FIRST_SEEN] =
        (LfMeasured){looked ? measure_s(steps[is->first].from_us - from_us) : (double)NAN,
                     measure_s(steps[high->first].from_us - from_us),
                     low->first < 0 ? (double)NAN : measure_s(steps[low->first].from_us - from_us)};
    look_range_first_fixation(steps, n, &least, &most);
    values[LF_MEASURE_FIRST_FIXATION] = (LfMeasured){
        looked ? measure_s(steps[is->first].to_us - steps[is->first].from_us) : (double)NAN,
        least * 1e-6, most * 1e-6};
    look_range_fixation_mean(steps, n, &least, &most);
    values[LF_MEASURE_FIXATION_MEAN] =
        (LfMeasured){looked ? measure_s(is->fixated_us) / (double)is->fixations : (double)NAN,
                     least * 1e-6, most * 1e-6};
    look_range_visit_mean(steps, n, false, &least, &most);
    values[LF_MEASURE_VISIT_MEAN] =
        (LfMeasured){looked ? measure_s(is->dwell_us) / (double)is->visits : (double)NAN,
                     least * 1e-6, most * 1e-6};
    look_range_visit_mean(steps, n, true, &least, &most);
    values[LF_MEASURE_GLANCE_MEAN] =
        (LfMeasured){looked ? measure_s(is->glance_us) / (double)is->visits : (double)NAN,
                     least * 1e-6, most * 1e-6};
    values[LF_MEASURE_GLANCE_LONGEST] =
        (LfMeasured){looked ? measure_s(is->longest_glance_us) : (double)NAN,
                     low->fixations ? measure_s(low->longest_glance_us) : (double)NAN,
                     measure_s(high->longest_glance_us)};
}

static void measure_row(const LookWalk *walk, const LookSpan *span, gsize target, LfMeasureRow *row)
{
    LookSum none = {.first = -1}, is = none, low = none, high = none;
    gsize first;
    g_autoptr(GArray) steps = walk->hits->any[target] ? look_steps(walk, span, target, &first)
                                                      : g_array_new(FALSE, FALSE, sizeof(LookStep));
    const LookStep *data = (const LookStep *)(gpointer)steps->data;
    double span_s = measure_s(span->to_us - span->from_us);

    if (steps->len > 0) {
        is = look_sum(data, steps->len, LOOK_IN);
        low = look_sum(data, steps->len, LOOK_CERTAIN);
        high = look_sum(data, steps->len, LOOK_POSSIBLE);
    }
    measure_sums(row->values, &is, &low, &high, span_s);
    measure_visits(row->values, &is, steps, span_s);
    measure_looked(row->values, &is, &low, &high, steps, span->from_us);
    row->blank = is.fixations == 0 ? LF_BLANK_NEVER : LF_BLANK_NOT;
    row->unknown_before_s = measure_s(look_time_unknown_us(
        walk->time, span->from_us, is.first < 0 ? span->to_us : data[is.first].from_us));
}

/* --- across targets -----------------------------------------------------------------------------
 */

/* Places in the order of entry: 1 + how many of the same level were entered before. At the least
 * those that surely came before count, at the most all that may have. */
static void measure_entry(GArray *rows, guint i)
{
    LfMeasureRow *row = &g_array_index(rows, LfMeasureRow, i);
    LfMeasured seen = row->values[LF_MEASURE_FIRST_SEEN];
    LfMeasured place = {1, 1, 1};
    for (guint j = 0; j < rows->len; j++) {
        const LfMeasureRow *other = &g_array_index(rows, LfMeasureRow, j);
        LfMeasured before = other->values[LF_MEASURE_FIRST_SEEN];
        if (j == i || other->level != row->level)
            continue;
        place.value += before.value < seen.value;
        place.low += before.high < seen.low;
        place.high += before.low < seen.high;
    }
    if (isnan(seen.value))
        place.value = (double)NAN;
    if (isnan(seen.low))
        place.low = (double)NAN;
    if (isnan(seen.high))
        place.high = (double)NAN;
    row->values[LF_MEASURE_ENTRY] = place;
}

/* Each visit to an area lies inside one to its photo, so this is 1 at most. */
static void measure_share(GArray *rows, guint i, const LookPlan *plan)
{
    LfMeasureRow *row = &g_array_index(rows, LfMeasureRow, i);
    const GPtrArray *targets = look_plan_targets(plan);
    LfMeasured dwell = row->values[LF_MEASURE_DWELL];
    for (guint j = 0; j < rows->len; j++) {
        const LfAreaTarget *target = targets->pdata[j];
        double all = g_array_index(rows, LfMeasureRow, j).values[LF_MEASURE_DWELL].value;
        if (target->level < 0 && g_strcmp0(target->photo, row->photo) == 0 && all > 0)
            row->values[LF_MEASURE_DWELL_SHARE] =
                (LfMeasured){dwell.value / all, dwell.low / all, dwell.high / all};
    }
}

static LfBlank measure_why_blank(const LookWalk *walk, const LookSpan *span,
                                 const LfKnownTime *time)
{
    if (!walk->hits)
        return LF_BLANK_NO_FIXATED;
    if (span->number == 0)
        return LF_BLANK_NO_SPAN;
    return time->known_s > 0 ? LF_BLANK_NOT : LF_BLANK_UNKNOWN;
}

GArray *look_measures(const LookWalk *walk, const LookSpan *span, const LfMeasureHead *head)
{
    const GPtrArray *targets = look_plan_targets(walk->plan);
    GArray *rows = g_array_sized_new(FALSE, FALSE, sizeof(LfMeasureRow), targets->len);
    LfBlank blank = measure_why_blank(walk, span, &head->time);
    for (guint t = 0; t < targets->len; t++) {
        const LfAreaTarget *target = targets->pdata[t];
        LfMeasureRow row = {.head = *head,
                            .photo = target->photo,
                            .target = target->name,
                            .level = target->level,
                            .unknown_before_s = (double)NAN,
                            .blank = blank};
        for (int m = 0; m < LF_MEASURES; m++)
            row.values[m] = measure_blank();
        if (blank == LF_BLANK_NOT)
            measure_row(walk, span, t, &row);
        g_array_append_val(rows, row);
    }
    for (guint t = 0; t < targets->len && blank == LF_BLANK_NOT; t++) {
        measure_entry(rows, t);
        measure_share(rows, t, walk->plan);
    }
    return rows;
}

/* --- visits -------------------------------------------------------------------------------------
 */

static void measure_target_visits(GArray *rows, const GArray *steps, LfVisitRow visit)
{
    bool on = false;
    visit.number = 0;
    for (guint i = 0; i < steps->len; i++) {
        const LookStep *step = &g_array_index(steps, LookStep, i);
        bool in = step->flags & LOOK_IN;
        double move_s = step->bridged ? measure_s(step->before_us) : 0;
        if (on && !(in && step->bridged))
            g_array_append_val(rows, visit);
        if (in && !(on && step->bridged)) {
            visit.number++;
            visit.visit_from_us = step->from_us;
            visit.glance_s = 0;
            visit.fixations = 0;
            visit.certain = true;
        }
        if (in) {
            visit.visit_to_us = step->to_us;
            visit.glance_s += measure_s(step->to_us - step->from_us) + move_s;
            visit.fixations++;
            visit.certain = visit.certain && (step->flags & LOOK_CERTAIN);
        }
        on = in;
    }
    if (on)
        g_array_append_val(rows, visit);
}

GArray *look_visits(const LookWalk *walk, const LookSpan *span, const LfMeasureHead *head)
{
    const GPtrArray *targets = look_plan_targets(walk->plan);
    GArray *rows = g_array_new(FALSE, FALSE, sizeof(LfVisitRow));
    for (guint t = 0; walk->hits && span->number > 0 && t < targets->len; t++) {
        const LfAreaTarget *target = targets->pdata[t];
        LfVisitRow visit = {
            .head = *head, .photo = target->photo, .target = target->name, .level = target->level};
        gsize first;
        if (!walk->hits->any[t])
            continue;
        g_autoptr(GArray) steps = look_steps(walk, span, t, &first);
        measure_target_visits(rows, steps, visit);
    }
    return rows;
}
