/* Sequences of areas.
 *
 * On each level a fixation belongs to one target: of those that hold it, the one of the smallest
 * surface, so that a pack counts before the shelf it stands on. */
#include "look/sequence.h"

#include <math.h>

/* On its target for certain, and on no other one of the level in any case. */
static bool sequence_certain(const LookWalk *walk, gsize fixation, int on)
{
    const LookHits *hits = walk->hits;
    const GPtrArray *targets = look_plan_targets(walk->plan);
    int level = ((const LfAreaTarget *)targets->pdata[on])->level;
    if (!(hits->flags[(gsize)on * hits->n + fixation] & LOOK_CERTAIN))
        return false;
    for (guint t = 0; t < targets->len; t++) {
        guint8 flags = hits->flags[t * hits->n + fixation];
        bool there = ((const LfAreaTarget *)targets->pdata[t])->level == level && (int)t != on;
        /* One that holds all of it is larger, and no rival. */
        if (there && flags && !(flags & LOOK_CERTAIN))
            return false;
    }
    return true;
}

static bool sequence_goes_on(const GArray *elements, int on, int before, bool bridged)
{
    return elements->len > 0 && on == before && bridged;
}

GArray *look_sequence(const LookWalk *walk, const LookSpan *span, int level, bool by_visits)
{
    GArray *elements = g_array_new(FALSE, FALSE, sizeof(LookElement));
    const LookHits *hits = walk->hits;
    const int *on = hits->on + (gsize)level * hits->n;
    int64_t gap_us = llround(walk->settings.gap_s * 1e6);
    int before = LOOK_NOWHERE;
    bool unknown = false;
    gsize first;
    g_autoptr(GArray) steps = look_steps(walk, span, 0, &first);
    for (guint i = 0; i < steps->len; i++) {
        const LookStep *step = &g_array_index(steps, LookStep, i);
        gsize fixation = first + i;
        /* Of a fixation that is not settled nobody knows where it was; blocked ones are known to
         * be on none. */
        unknown =
            unknown ||
            (!hits->settled[fixation] && hits->fixations[fixation].state != LF_STATE_BLOCKED) ||
            (i > 0 && look_time_unknown_us(walk->time, step->from_us - step->before_us,
                                           step->from_us) > gap_us);
        if (on[fixation] != LOOK_NOWHERE) {
            bool certain = sequence_certain(walk, fixation, on[fixation]);
            if (by_visits && sequence_goes_on(elements, on[fixation], before, step->bridged)) {
                LookElement *element = &g_array_index(elements, LookElement, elements->len - 1);
                element->to_us = step->to_us;
                element->fixations++;
                element->certain = element->certain && certain;
            } else {
                LookElement element = {.target = on[fixation],
                                       .from_us = step->from_us,
                                       .to_us = step->to_us,
                                       .fixations = 1,
                                       .certain = certain,
                                       .after_unknown = unknown && elements->len > 0};
                g_array_append_val(elements, element);
            }
            unknown = false;
        }
        before = on[fixation];
    }
    return elements;
}

static bool sequence_there(const LookWalk *walk, const LookSpan *span)
{
    return walk->hits && span->number > 0 && look_plan_targets(walk->plan)->len > 0;
}

GArray *look_sequences(const LookWalk *walk, const LookSpan *span, const LfMeasureHead *head)
{
    GArray *rows = g_array_new(FALSE, FALSE, sizeof(LfSequenceRow));
    for (int level = 0; sequence_there(walk, span) && level <= look_plan_levels(walk->plan);
         level++) {
        g_autoptr(GArray) elements = look_sequence(walk, span, level, true);
        for (guint i = 0; i < elements->len; i++) {
            const LookElement *element = &g_array_index(elements, LookElement, i);
            const LfAreaTarget *target = look_plan_targets(walk->plan)->pdata[element->target];
            LfSequenceRow row = {.head = *head,
                                 .level = level,
                                 .number = (int)i + 1,
                                 .code = element->target,
                                 .after_unknown = element->after_unknown,
                                 .photo = target->photo,
                                 .target = target->name,
                                 .element_from_us = element->from_us,
                                 .element_to_us = element->to_us,
                                 .fixations = element->fixations};
            g_array_append_val(rows, row);
        }
    }
    return rows;
}

/* --- transitions ------------------------------------------------------------------------------ */

/* The transitions of one level: of the targets met alone, so that tables stay small. */
typedef struct {
    GArray *states;           /* int: targets met, in the plan's order */
    double *counts, *certain; /* states x states */
    double *met;              /* elements of each state */
    gsize transitions, broken;
} SequenceTable;

static void sequence_table_clear(SequenceTable *table)
{
    g_array_unref(table->states);
    g_free(table->counts);
    g_free(table->certain);
    g_free(table->met);
}

static int sequence_compare(const void *a, const void *b)
{
    return *(const int *)a - *(const int *)b;
}

static gsize sequence_state(const GArray *states, int target)
{
    guint index = 0;
    g_array_binary_search((GArray *)states, &target, sequence_compare, &index);
    return index;
}

static SequenceTable sequence_table(const GArray *elements)
{
    SequenceTable table = {.states = g_array_new(FALSE, FALSE, sizeof(int))};
    for (guint i = 0; i < elements->len; i++)
        g_array_append_val(table.states, g_array_index(elements, LookElement, i).target);
    g_array_sort(table.states, sequence_compare);
    for (guint i = table.states->len; i > 1; i--)
        if (g_array_index(table.states, int, i - 1) == g_array_index(table.states, int, i - 2))
            g_array_remove_index(table.states, i - 1);
    gsize n = table.states->len;
    table.counts = g_new0(double, MAX(n * n, 1));
    table.certain = g_new0(double, MAX(n * n, 1));
    table.met = g_new0(double, MAX(n, 1));
    for (guint i = 0; i < elements->len; i++) {
        const LookElement *to = &g_array_index(elements, LookElement, i);
        gsize state = sequence_state(table.states, to->target);
        table.met[state]++;
        if (i == 0)
            continue;
        if (to->after_unknown) {
            table.broken++;
            continue;
        }
        const LookElement *from = &g_array_index(elements, LookElement, i - 1);
        gsize cell = sequence_state(table.states, from->target) * n + state;
        table.transitions++;
        table.counts[cell]++;
        table.certain[cell] += from->certain && to->certain;
    }
    return table;
}

static void sequence_add_transitions(GArray *rows, const LookWalk *walk, const SequenceTable *table,
                                     const LfMeasureHead *head, int level)
{
    gsize n = table->states->len;
    g_autoptr(LfChain) chain = lf_chain_new(table->counts, n);
    const GPtrArray *targets = look_plan_targets(walk->plan);
    for (gsize cell = 0; cell < n * n; cell++) {
        if (table->counts[cell] == 0)
            continue;
        const LfAreaTarget *from = targets->pdata[g_array_index(table->states, int, cell / n)];
        const LfAreaTarget *to = targets->pdata[g_array_index(table->states, int, cell % n)];
        LfTransitionRow row = {.head = *head,
                               .level = level,
                               .from_photo = from->photo,
                               .from = from->name,
                               .to_photo = to->photo,
                               .to = to->name,
                               .count = (gsize)table->counts[cell],
                               .certain = (gsize)table->certain[cell],
                               .probability = chain->probability[cell]};
        g_array_append_val(rows, row);
    }
}

static void sequence_add_entropy(GArray *rows, const SequenceTable *table,
                                 const LfMeasureHead *head, int level)
{
    gsize n = table->states->len;
    g_autoptr(LfChain) chain = lf_chain_new(table->counts, n);
    LfEntropyRow row = {.head = *head,
                        .level = level,
                        .states = n,
                        .transitions = table->transitions,
                        .broken = table->broken,
                        .filled = chain->filled,
                        .stationary_bit = (double)NAN,
                        .stationary_share = (double)NAN,
                        .transition_bit = (double)NAN,
                        .transition_share = (double)NAN,
                        .visited_bit = (double)NAN,
                        .visited_share = (double)NAN};
    double all = 0;
    for (gsize i = 0; i < n; i++)
        all += table->met[i];
    if (n > 0) {
        row.visited_bit = 0;
        for (gsize i = 0; i < n; i++)
            row.visited_bit -= table->met[i] / all * log2(table->met[i] / all);
        row.visited_bit = fmax(row.visited_bit, 0); /* not -0 */
        row.visited_share = n > 1 ? row.visited_bit / log2((double)n) : (double)NAN;
    }
    if (table->transitions > 0) {
        row.stationary_bit = chain->stationary_bit;
        row.stationary_share = chain->stationary_share;
        row.transition_bit = chain->transition_bit;
        row.transition_share = chain->transition_share;
    }
    g_array_append_val(rows, row);
}

GArray *look_transitions(const LookWalk *walk, const LookSpan *span, const LfMeasureHead *head)
{
    GArray *rows = g_array_new(FALSE, FALSE, sizeof(LfTransitionRow));
    for (int level = 0; sequence_there(walk, span) && level <= look_plan_levels(walk->plan);
         level++) {
        g_autoptr(GArray) elements = look_sequence(walk, span, level, walk->settings.by_visits);
        SequenceTable table = sequence_table(elements);
        sequence_add_transitions(rows, walk, &table, head, level);
        sequence_table_clear(&table);
    }
    return rows;
}

GArray *look_entropies(const LookWalk *walk, const LookSpan *span, const LfMeasureHead *head)
{
    GArray *rows = g_array_new(FALSE, FALSE, sizeof(LfEntropyRow));
    for (int level = 0; sequence_there(walk, span) && level <= look_plan_levels(walk->plan);
         level++) {
        g_autoptr(GArray) elements = look_sequence(walk, span, level, walk->settings.by_visits);
        SequenceTable table = sequence_table(elements);
        sequence_add_entropy(rows, &table, head, level);
        sequence_table_clear(&table);
    }
    return rows;
}
