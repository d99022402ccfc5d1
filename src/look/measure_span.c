/* Spans of a walk: what a rule says, and where the walk's marks put it. */
#include "look/measure_span.h"

#include <math.h>
#include <string.h>

#include "look/shown.h"

/* --- rules ------------------------------------------------------------------------------------ */

void lf_span_rule_free(LfSpanRule *rule)
{
    if (!rule)
        return;
    g_free(rule->name);
    g_free(rule->mark);
    g_free(rule->other);
    g_free(rule);
}

static LfSpanRule *measure_span_fault(const char *text, GError **error)
{
    g_autofree char *shown = look_shown(text);
    g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                "\"%s\" is no span; there are walk, mark:NAME, between:NAME,OTHER and "
                "around:NAME,BEFORE,AFTER (seconds)",
                shown);
    return NULL;
}

static bool measure_span_seconds(const char *text, int64_t *us)
{
    char *end;
    double s = g_ascii_strtod(text, &end);
    if (end == text || *end || !(s >= 0 && s <= 1e6))
        return false;
    *us = llround(s * 1e6);
    return true;
}

LfSpanRule *lf_span_rule_parse(const char *text, GError **error)
{
    static const char *const kinds[] = {"walk", "mark:", "between:", "around:"};
    g_autoptr(LfSpanRule) rule = g_new0(LfSpanRule, 1);
    rule->name = g_strdup(text);
    if (strcmp(text, kinds[LF_SPAN_WALK]) == 0)
        return g_steal_pointer(&rule);
    int kind = LF_SPAN_MARK;
    while (kind <= LF_SPAN_AROUND && !g_str_has_prefix(text, kinds[kind]))
        kind++;
    if (kind > LF_SPAN_AROUND)
        return measure_span_fault(text, error);
    rule->kind = (LfSpanKind)kind;
    const char *rest = text + strlen(kinds[kind]);
    /* Names may hold commas; the parts after the last ones are the numbers. */
    g_auto(GStrv) parts = g_strsplit(rest, ",", -1);
    guint n = g_strv_length(parts);
    bool good = n > 0 && *rest;
    if (good && kind == LF_SPAN_MARK) {
        rule->mark = g_strdup(rest);
    } else if (good && kind == LF_SPAN_BETWEEN) {
        good = n == 2 && *parts[0] && *parts[1];
        rule->mark = g_strdup(parts[0]);
        rule->other = g_strdup(good ? parts[1] : "");
    } else if (good) {
        good = n >= 3 && measure_span_seconds(parts[n - 2], &rule->before_us) &&
               measure_span_seconds(parts[n - 1], &rule->after_us) &&
               rule->before_us + rule->after_us > 0;
        if (good) {
            gsize tail = strlen(parts[n - 2]) + strlen(parts[n - 1]) + 2;
            rule->mark = g_strndup(rest, strlen(rest) - tail);
            good = *rule->mark != '\0';
        }
    }
    return good ? g_steal_pointer(&rule) : measure_span_fault(text, error);
}

/* --- where they lie -----------------------------------------------------------------------------
 */

typedef struct {
    GArray *spans;
    const LfSpanRule *rule;
    int number;
    int64_t from_us, to_us; /* the part of the walk that counts */
} SpanWork;

static void measure_span_add(SpanWork *work, int64_t from_us, int64_t to_us)
{
    LookSpan span = {work->rule, work->number + 1, MAX(from_us, work->from_us),
                     MIN(to_us, work->to_us)};
    if (span.from_us >= span.to_us)
        return;
    work->number++;
    g_array_append_val(work->spans, span);
}

/* The start of the first mark of this name after t_us; -1 where there is none. */
static int64_t measure_span_next(const GPtrArray *marks, const char *name, int64_t t_us)
{
    for (guint i = 0; i < marks->len; i++) {
        const LfMark *mark = marks->pdata[i];
        if (mark->from_us > t_us && strcmp(mark->name, name) == 0)
            return mark->from_us;
    }
    return -1;
}

static void measure_span_of_mark(SpanWork *work, const LfMark *mark, const GPtrArray *marks)
{
    const LfSpanRule *rule = work->rule;
    if (rule->kind == LF_SPAN_AROUND) {
        measure_span_add(work, mark->from_us - rule->before_us, mark->to_us + rule->after_us);
    } else if (rule->kind == LF_SPAN_MARK && mark->span) {
        measure_span_add(work, mark->from_us, mark->to_us);
    } else if (rule->kind == LF_SPAN_BETWEEN) {
        int64_t to_us = measure_span_next(marks, rule->other, mark->to_us);
        if (to_us > mark->to_us)
            measure_span_add(work, mark->to_us, to_us);
    }
}

GArray *look_spans(const GPtrArray *rules, const GPtrArray *marks, int64_t from_us, int64_t to_us)
{
    GArray *spans = g_array_new(FALSE, FALSE, sizeof(LookSpan));
    for (guint r = 0; r < rules->len; r++) {
        const LfSpanRule *rule = rules->pdata[r];
        SpanWork work = {spans, rule, 0, from_us, to_us};
        if (rule->kind == LF_SPAN_WALK)
            measure_span_add(&work, from_us, to_us);
        for (guint i = 0; i < marks->len && rule->mark; i++) {
            const LfMark *mark = marks->pdata[i];
            if (strcmp(mark->name, rule->mark) == 0)
                measure_span_of_mark(&work, mark, marks);
        }
        LookSpan none = {.rule = rule};
        if (work.number == 0)
            g_array_append_val(spans, none);
    }
    return spans;
}
