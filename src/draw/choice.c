/* What a choice chooses: walks, and parts of walks that marks make. */
#include <lookfall/draw.h>

#include <math.h>
#include <string.h>

#include "look/measure_span.h"

static char *choice_names(const GPtrArray *names)
{
    g_autoptr(GString) text = g_string_new(NULL);
    for (guint i = 0; i < names->len; i++)
        g_string_append_printf(text, "%s%s", i ? ", " : "", (const char *)names->pdata[i]);
    return g_string_free(g_steal_pointer(&text), FALSE);
}

/* Every group asked for must be that of a walk. */
static bool choice_check_groups(const GPtrArray *walks, const char *const *groups, GError **error)
{
    g_autoptr(GHashTable) known = g_hash_table_new(g_str_hash, g_str_equal);
    g_autoptr(GPtrArray) names = g_ptr_array_new();
    for (guint i = 0; i < walks->len; i++) {
        const LfStudyWalk *walk = walks->pdata[i];
        if (walk->group && g_hash_table_add(known, walk->group))
            g_ptr_array_add(names, walk->group);
    }
    for (gsize i = 0; groups && groups[i]; i++) {
        if (g_hash_table_contains(known, groups[i]))
            continue;
        g_autofree char *text = choice_names(names);
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "no walk %sis of a group \"%s\"; %s%s",
                    names->len ? "of the choice " : "", groups[i],
                    names->len ? "groups there are: " : "no walk has a group", text);
        return false;
    }
    return true;
}

static bool choice_check_photo(LfStudy *study, const char *photo, GError **error)
{
    g_autoptr(GPtrArray) photos = photo ? lf_study_photos(study, error) : NULL;
    g_autoptr(GPtrArray) names = g_ptr_array_new();
    bool found = !photo;
    for (guint i = 0; photos && i < photos->len; i++) {
        const LfStudyPhoto *one = photos->pdata[i];
        found = found || strcmp(one->name, photo) == 0;
        g_ptr_array_add(names, one->name);
    }
    if (!found && photos) {
        g_autofree char *known = choice_names(names);
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "there is no photo \"%s\" in the study; it has: %s", photo, known);
    }
    return found;
}

static bool choice_check_marks(LfStudy *study, const LfSpanRule *rule, GError **error)
{
    g_autoptr(GPtrArray) marks = lf_study_mark_names(study, error);
    const char *const wanted[] = {rule->mark, rule->other};
    if (!marks)
        return false;
    for (gsize k = 0; k < G_N_ELEMENTS(wanted); k++) {
        g_autoptr(GPtrArray) names = g_ptr_array_new();
        bool found = !wanted[k];
        for (guint i = 0; i < marks->len; i++) {
            const LfMarkName *mark = marks->pdata[i];
            found = found || strcmp(mark->name, wanted[k]) == 0;
            g_ptr_array_add(names, mark->name);
        }
        if (found)
            continue;
        g_autofree char *known = choice_names(names);
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "there is no mark \"%s\" in the study; %s%s",
                    wanted[k], names->len ? "marks there are: " : "it has none", known);
        return false;
    }
    return true;
}

static bool choice_check_span(LfStudy *study, const char *text, GError **error)
{
    g_autoptr(LfSpanRule) rule = text ? lf_span_rule_parse(text, error) : NULL;
    return !text || (rule && choice_check_marks(study, rule, error));
}

GPtrArray *lf_draw_choice_walks(LfStudy *study, const LfDrawChoice *choice, GError **error)
{
    g_autoptr(GPtrArray) walks = lf_study_walks(study, choice->walks, error);
    if (!walks || !choice_check_groups(walks, choice->groups, error) ||
        !choice_check_photo(study, choice->photo, error) ||
        !choice_check_span(study, choice->span, error))
        return NULL;
    for (guint i = walks->len; i-- > 0;) {
        const LfStudyWalk *walk = walks->pdata[i];
        if (choice->groups && (!walk->group || !g_strv_contains(choice->groups, walk->group)))
            g_ptr_array_remove_index(walks, i);
    }
    return g_steal_pointer(&walks);
}

/* --- parts of a walk -------------------------------------------------------------------------- */

static int choice_order(gconstpointer a, gconstpointer b)
{
    const LfDrawSpan *x = a, *y = b;
    return (x->from_us > y->from_us) - (x->from_us < y->from_us);
}

/* Ascending, and none over another, so that no time counts twice. */
static GArray *choice_join(const GArray *found)
{
    g_autoptr(GArray) all = g_array_new(FALSE, FALSE, sizeof(LfDrawSpan));
    GArray *spans = g_array_new(FALSE, FALSE, sizeof(LfDrawSpan));
    for (guint i = 0; i < found->len; i++) {
        const LookSpan *f = &g_array_index(found, LookSpan, i);
        LfDrawSpan span = {f->from_us, f->to_us};
        if (f->number > 0)
            g_array_append_val(all, span);
    }
    g_array_sort(all, choice_order);
    for (guint i = 0; i < all->len; i++) {
        LfDrawSpan span = g_array_index(all, LfDrawSpan, i);
        LfDrawSpan *last = spans->len ? &g_array_index(spans, LfDrawSpan, spans->len - 1) : NULL;
        if (last && span.from_us <= last->to_us)
            last->to_us = MAX(last->to_us, span.to_us);
        else
            g_array_append_val(spans, span);
    }
    return spans;
}

GArray *lf_draw_choice_spans(LfStudy *study, const LfStudyWalk *walk, const LfDrawChoice *choice,
                             GError **error)
{
    const char *const names[] = {walk->name, NULL};
    const int64_t from_us = isnan(choice->from_s) ? 0 : llround(choice->from_s * 1e6);
    const int64_t to_us = isnan(choice->to_s) ? walk->end_us : llround(choice->to_s * 1e6);
    g_autoptr(GPtrArray) rules = g_ptr_array_new();
    g_autoptr(LfSpanRule) rule = lf_span_rule_parse(choice->span ? choice->span : "walk", error);
    g_autoptr(GPtrArray) marks = rule ? lf_study_marks(study, names, error) : NULL;
    if (!marks)
        return NULL;
    g_ptr_array_add(rules, rule);
    g_autoptr(GArray) found = look_spans(rules, marks, from_us, MIN(to_us, walk->end_us));
    return choice_join(found);
}
