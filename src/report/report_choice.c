/* The choice of a report in words. */
#include "report/report_choice.h"

#include <math.h>

/* "walk a", "walks a, b"; nothing where there are none. */
static void report_choice_names(GPtrArray *parts, const char *what, const char *const *names)
{
    if (names == NULL || names[0] == NULL)
        return;
    g_autofree char *list = g_strjoinv(", ", (char **)names);
    g_ptr_array_add(parts, g_strdup_printf("%s%s %s", what, names[1] != NULL ? "s" : "", list));
}

static void report_choice_time(GPtrArray *parts, const LfDrawChoice *c)
{
    if (!isnan(c->from_s) && !isnan(c->to_s))
        g_ptr_array_add(parts,
                        g_strdup_printf("seconds %g to %g of each walk", c->from_s, c->to_s));
    else if (!isnan(c->from_s))
        g_ptr_array_add(parts, g_strdup_printf("each walk from second %g on", c->from_s));
    else if (!isnan(c->to_s))
        g_ptr_array_add(parts, g_strdup_printf("each walk up to second %g", c->to_s));
}

/* "a; b; c" */
static char *report_choice_list(const LfDrawChoice *c)
{
    g_autoptr(GPtrArray) parts = g_ptr_array_new_with_free_func(g_free);

    report_choice_names(parts, "group", c->groups);
    report_choice_names(parts, "walk", c->walks);
    if (c->photo != NULL)
        g_ptr_array_add(parts, g_strdup_printf("photo %s", c->photo));
    if (c->span != NULL)
        g_ptr_array_add(parts, g_strdup_printf("parts of walks by the rule %s", c->span));
    report_choice_time(parts, c);
    g_ptr_array_add(parts, NULL);
    return g_strjoinv("; ", (char **)parts->pdata);
}

static bool report_choice_is_part(const LfDrawChoice *c)
{
    return c->span != NULL || !isnan(c->from_s) || !isnan(c->to_s);
}

char *report_choice_text(const ReportData *d)
{
    const LfDrawChoice *c = d->choice;
    const char *doubtful =
        c->doubtful ? "Pictures hold doubtful looks too; the table of what was seen does not." : "";

    if (!d->chosen)
        return c->doubtful ? g_strdup(doubtful) : NULL;
    g_autofree char *list = report_choice_list(c);
    return g_strdup_printf(
        "This report is of a choice: %s. %s Sources and log are those of the whole study.%s%s",
        list,
        report_choice_is_part(c)
            ? "What was seen, pictures and stills are of that time alone; samples by state, by "
              "confidence and data quality are of these walks in whole."
            : "All that follows is of these alone.",
        *doubtful ? " " : "", doubtful);
}

char *report_choice_method(const ReportData *d)
{
    if (!d->chosen)
        return NULL;
    g_autofree char *list = report_choice_list(d->choice);
    return g_strdup_printf("The analysis was confined to: %s. ", list);
}
