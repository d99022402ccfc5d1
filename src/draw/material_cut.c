/* Walks cut down to the spans that marks make. */
#include "draw/material.h"

#include <string.h>

#include "look/measure_span.h"

static bool material_cut_known(LfStudy *study, const LfSpanRule *rule, GError **error)
{
    g_autoptr(GPtrArray) names = lf_study_mark_names(study, error);
    const char *const wanted[] = {rule->mark, rule->other};
    if (!names)
        return false;
    for (gsize k = 0; k < G_N_ELEMENTS(wanted); k++) {
        g_autoptr(GString) known = g_string_new(NULL);
        bool found = !wanted[k];
        for (guint i = 0; i < names->len; i++) {
            const LfMarkName *name = names->pdata[i];
            found = found || strcmp(name->name, wanted[k]) == 0;
            g_string_append_printf(known, "%s%s", i ? ", " : "", name->name);
        }
        if (found)
            continue;
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "there is no mark \"%s\" in the study; %s%s",
                    wanted[k], names->len ? "marks there are: " : "it has none", known->str);
        return false;
    }
    return true;
}

static int material_cut_order(gconstpointer a, gconstpointer b)
{
    const MaterialSpan *x = a, *y = b;
    return (x->from_us > y->from_us) - (x->from_us < y->from_us);
}

/* Ascending, inside the part chosen, and none over another, so that no time counts twice. */
static GArray *material_cut_spans(const GArray *found, const MaterialWalk *walk)
{
    g_autoptr(GArray) all = g_array_new(FALSE, FALSE, sizeof(MaterialSpan));
    GArray *spans = g_array_new(FALSE, FALSE, sizeof(MaterialSpan));
    for (guint i = 0; i < found->len; i++) {
        const LookSpan *f = &g_array_index(found, LookSpan, i);
        MaterialSpan span = {MAX(f->from_us, walk->from_us), MIN(f->to_us, walk->to_us)};
        if (f->number > 0 && span.from_us < span.to_us)
            g_array_append_val(all, span);
    }
    g_array_sort(all, material_cut_order);
    for (guint i = 0; i < all->len; i++) {
        MaterialSpan span = g_array_index(all, MaterialSpan, i);
        MaterialSpan *last =
            spans->len ? &g_array_index(spans, MaterialSpan, spans->len - 1) : NULL;
        if (last && span.from_us <= last->to_us)
            last->to_us = MAX(last->to_us, span.to_us);
        else
            g_array_append_val(spans, span);
    }
    return spans;
}

bool material_cut(LfStudy *study, Material *material, const char *text, GError **error)
{
    g_autoptr(LfSpanRule) rule = lf_span_rule_parse(text, error);
    g_autoptr(GPtrArray) rules = g_ptr_array_new();
    if (!rule || !material_cut_known(study, rule, error))
        return false;
    g_ptr_array_add(rules, rule);
    for (guint i = 0; i < material->walks->len; i++) {
        MaterialWalk *walk = material->walks->pdata[i];
        const char *const names[] = {walk->name, NULL};
        g_autoptr(GPtrArray) marks = lf_study_marks(study, names, error);
        if (!marks)
            return false;
        g_autoptr(GArray) found = look_spans(rules, marks, walk->to_us);
        walk->spans = material_cut_spans(found, walk);
        /* Times are told from the first span's start. */
        if (walk->spans->len > 0)
            walk->from_us = g_array_index(walk->spans, MaterialSpan, 0).from_us;
    }
    return true;
}
