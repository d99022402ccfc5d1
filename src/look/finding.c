/* Findings: estimates for everybody and for each group, comparisons of the groups, and p adjusted
 * over the targets of a level. */
#include <lookfall/finding.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "look/finding_people.h"
#include "look/finding_topic.h"

struct LfFindings {
    LfFindingSettings settings;
    LookPeople *everybody;
    LookPeople *grouped; /* NULL unless by_group */
    GArray *all;         /* LfFinding of the last computation */
};

LfFindings *lf_findings_new(const LfFindingSettings *settings)
{
    LfFindings *findings = g_new0(LfFindings, 1);
    findings->settings = *settings;
    findings->everybody = look_people_new(false);
    findings->grouped = settings->by_group ? look_people_new(true) : NULL;
    findings->all = g_array_new(FALSE, FALSE, sizeof(LfFinding));
    return findings;
}

void lf_findings_free(LfFindings *findings)
{
    if (!findings)
        return;
    look_people_free(findings->everybody);
    look_people_free(findings->grouped);
    g_array_unref(findings->all);
    g_free(findings);
}

void lf_findings_add(LfFindings *findings, const LfMeasureRow *row)
{
    look_people_add(findings->everybody, row);
    if (findings->grouped)
        look_people_add(findings->grouped, row);
}

/* --- groups ----------------------------------------------------------------------------------- */

static gint finding_compare_names(gconstpointer a, gconstpointer b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* Different names, in their order; borrowed from people. */
static GPtrArray *finding_groups(const LookPeople *people)
{
    GPtrArray *groups = g_ptr_array_new();
    const GPtrArray *persons = people ? look_people_persons(people) : NULL;
    for (guint i = 0; persons && i < persons->len; i++) {
        const LookPerson *person = persons->pdata[i];
        if (person->group &&
            !g_ptr_array_find_with_equal_func(groups, person->group, g_str_equal, NULL))
            g_ptr_array_add(groups, person->group);
    }
    g_ptr_array_sort(groups, finding_compare_names);
    return groups;
}

/* --- work, topic by topic --------------------------------------------------------------------- */

typedef struct {
    const LfFindings *findings;
    const GPtrArray *groups;
    GArray **rows; /* of each topic */
    guint n_topics;
    gint next; /* atomic */
} FindingRun;

static gpointer finding_worker(gpointer data)
{
    FindingRun *run = data;
    for (;;) {
        guint topic = (guint)g_atomic_int_add(&run->next, 1);
        if (topic >= run->n_topics)
            return NULL;
        run->rows[topic] = look_topic_findings(run->findings->everybody, run->findings->grouped,
                                               topic, run->groups, &run->findings->settings);
    }
}

static void finding_work(FindingRun *run, int jobs)
{
    g_autoptr(GPtrArray) threads = g_ptr_array_new();
    for (int i = 1; i < jobs; i++) {
        GThread *thread = g_thread_try_new("finding", finding_worker, run, NULL);
        if (thread)
            g_ptr_array_add(threads, thread);
    }
    finding_worker(run);
    for (guint i = 0; i < threads->len; i++)
        g_thread_join(threads->pdata[i]);
}

/* --- many targets ----------------------------------------------------------------------------- */

/* Tests that are one family differ in nothing but their target. */
static int finding_family(const LfFinding *a, const LfFinding *b)
{
    int order = strcmp(a->span, b->span);
    order = order ? order : a->level - b->level;
    order = order ? order : (int)a->measure - (int)b->measure;
    return order ? order : (int)a->kind - (int)b->kind;
}

static gint finding_compare_family(gconstpointer a, gconstpointer b)
{
    return finding_family(*(const LfFinding *const *)a, *(const LfFinding *const *)b);
}

static void finding_adjust_family(LfFinding *const *tests, guint n)
{
    g_autofree double *p = g_new(double, n);
    g_autofree double *holm = g_new(double, n);
    g_autofree double *bh = g_new(double, n);
    for (guint i = 0; i < n; i++)
        p[i] = tests[i]->p;
    /* p are between 0 and 1: nothing can fail */
    if (!lf_stat_holm(p, n, holm, NULL) || !lf_stat_benjamini_hochberg(p, n, bh, NULL))
        return;
    for (guint i = 0; i < n; i++) {
        tests[i]->p_holm = holm[i];
        tests[i]->p_bh = bh[i];
    }
}

static void finding_adjust(GArray *all)
{
    g_autoptr(GPtrArray) tests = g_ptr_array_new();
    for (guint i = 0; i < all->len; i++) {
        LfFinding *finding = &g_array_index(all, LfFinding, i);
        if (!isnan(finding->p))
            g_ptr_array_add(tests, finding);
    }
    g_ptr_array_sort(tests, finding_compare_family);
    for (guint i = 0, end; i < tests->len; i = end) {
        for (end = i + 1; end < tests->len; end++)
            if (finding_family(tests->pdata[i], tests->pdata[end]) != 0)
                break;
        finding_adjust_family((LfFinding *const *)(gpointer)(tests->pdata + i), end - i);
    }
}

const LfFinding *lf_findings_compute(LfFindings *findings, int jobs, gsize *n)
{
    g_autoptr(GPtrArray) groups = finding_groups(findings->grouped);
    guint n_topics = look_people_topics(findings->everybody)->len;
    g_autofree GArray **rows = g_new0(GArray *, n_topics + 1);
    FindingRun run = {findings, groups, rows, n_topics, 0};
    finding_work(&run, jobs);
    g_array_set_size(findings->all, 0);
    for (guint i = 0; i < n_topics; i++) {
        g_array_append_vals(findings->all, rows[i]->data, rows[i]->len);
        g_array_unref(rows[i]);
    }
    finding_adjust(findings->all);
    *n = findings->all->len;
    return (const LfFinding *)(gpointer)findings->all->data;
}
