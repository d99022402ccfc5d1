/* Reading and counting for the report. */
#include "report/report_data.h"

#include <math.h>
#include <string.h>

#include <lookfall/fixation.h>

const double report_bands[REPORT_BANDS] = {0.5, 0.8, 0.9, 0.95, 0.99, 1};

const char *report_data_person(const LfStudyWalk *walk)
{
    return walk->participant != NULL ? walk->participant : walk->name;
}

gsize report_data_gaze(const ReportTally *t)
{
    return t->all.samples - t->states[LF_STATE_LOST].samples - t->uncast.samples;
}

static void report_data_count(ReportCount *count, gsize n, double interval_s)
{
    count->samples += n;
    count->s += (double)n * interval_s;
}

static void report_data_add(ReportTally *to, const ReportTally *from)
{
    const ReportCount *f = &from->all;
    to->all = (ReportCount){to->all.samples + f->samples, to->all.s + f->s};
    f = &from->uncast;
    to->uncast = (ReportCount){to->uncast.samples + f->samples, to->uncast.s + f->s};
    for (int i = 0; i <= LF_STATE_PLACED; i++) {
        to->states[i].samples += from->states[i].samples;
        to->states[i].s += from->states[i].s;
        to->engine[i].samples += from->engine[i].samples;
        to->engine[i].s += from->engine[i].s;
    }
    for (int i = 0; i < REPORT_BANDS; i++) {
        to->bands[i].samples += from->bands[i].samples;
        to->bands[i].s += from->bands[i].s;
        to->band_sum[i] += from->band_sum[i];
    }
}

typedef struct {
    ReportData *data;
    guint walk; /* the one the last sample was of */
} ReportSink;

static ReportWalk *report_data_walk(ReportSink *sink, const char *name)
{
    const ReportData *d = sink->data;
    for (guint i = 0; i < d->walks->len; i++) {
        ReportWalk *walk = &d->each[(sink->walk + i) % d->walks->len];
        if (strcmp(walk->walk->name, name) == 0) {
            sink->walk = (sink->walk + i) % d->walks->len;
            return walk;
        }
    }
    return NULL;
}

static bool report_data_sample(const LfStudySample *sample, void *data,
                               G_GNUC_UNUSED GError **error)
{
    ReportWalk *walk = report_data_walk(data, sample->walk);
    if (walk == NULL)
        return true;
    ReportTally *t = &walk->tally;
    const double interval_s = (double)walk->walk->interval_us / 1e6;
    const double confidence = sample->result.confidence;

    report_data_count(&t->all, 1, interval_s);
    if (!sample->cast) {
        report_data_count(&t->uncast, 1, interval_s);
        return true;
    }
    report_data_count(&t->states[sample->result.state], 1, interval_s);
    if ((sample->result.state == LF_STATE_SURE || sample->result.state == LF_STATE_DOUBTFUL) &&
        isfinite(confidence)) {
        int band = 0;
        while (band + 1 < REPORT_BANDS && confidence >= report_bands[band])
            band++;
        report_data_count(&t->bands[band], 1, interval_s);
        t->band_sum[band] += confidence;
    }
    return true;
}

static bool report_data_fixations(const LfStudyFixations *fixations, void *data,
                                  G_GNUC_UNUSED GError **error)
{
    ReportSink *sink = data;
    ReportData *d = sink->data;
    ReportWalk *walk = report_data_walk(sink, fixations->walk);

    if (walk == NULL)
        return true;
    for (gsize i = 0; i < fixations->n; i++)
        walk->fixations += fixations->fixations[i].photo != NULL;
    d->fixations += walk->fixations;
    if (d->fixation_settings == NULL)
        d->fixation_settings = g_strdup(fixations->settings);
    else if (strcmp(d->fixation_settings, fixations->settings) != 0)
        d->fixation_mixed = true;
    return true;
}

static void report_data_names(ReportData *d)
{
    g_autoptr(GHashTable) people = g_hash_table_new(g_str_hash, g_str_equal);

    d->groups = g_ptr_array_new_with_free_func(g_free);
    for (guint i = 0; i < d->walks->len; i++) {
        const LfStudyWalk *walk = d->walks->pdata[i];
        g_hash_table_add(people, (gpointer)report_data_person(walk));
        if (walk->group != NULL &&
            !g_ptr_array_find_with_equal_func(d->groups, walk->group, g_str_equal, NULL))
            g_ptr_array_add(d->groups, g_strdup(walk->group));
    }
    d->people = g_hash_table_size(people);
}

static bool report_data_count_all(ReportData *d, LfStudy *study, GError **error)
{
    const char *const *names = (const char *const *)d->names;
    ReportSink sink = {d, 0};
    g_autoptr(GError) why = NULL;

    d->each = g_new0(ReportWalk, MAX(1, d->walks->len));
    for (guint i = 0; i < d->walks->len; i++)
        d->each[i].walk = d->walks->pdata[i];
    if (!lf_study_export_samples(study, names, report_data_sample, &sink, NULL, error))
        return false;
    d->unfixated = g_ptr_array_new_with_free_func(g_free);
    if (!lf_study_fixations(study, names, report_data_fixations, &sink, d->unfixated, &why) &&
        !g_error_matches(why, LF_ERROR, LF_ERROR_INPUT)) {
        g_propagate_error(error, g_steal_pointer(&why));
        return false;
    }
    for (guint i = 0; i < d->walks->len; i++) {
        ReportWalk *walk = &d->each[i];
        for (int s = 0; s <= LF_STATE_PLACED; s++)
            report_data_count(&walk->tally.engine[s], (gsize)walk->walk->states[s],
                              (double)walk->walk->interval_us / 1e6);
        report_data_add(&d->total, &walk->tally);
    }
    return true;
}

/* --- the choice --- */

static bool report_data_photos(ReportData *d, LfStudy *study, GError **error)
{
    d->photos = lf_study_photos(study, error);
    for (guint i = d->photos != NULL ? d->photos->len : 0; i-- > 0;) {
        const LfStudyPhoto *photo = d->photos->pdata[i];
        if (d->choice->photo != NULL && strcmp(photo->name, d->choice->photo) != 0)
            g_ptr_array_remove_index(d->photos, i);
    }
    return d->photos != NULL;
}

/* Some walk has to have time in the choice. */
static bool report_data_any_time(const ReportData *d, LfStudy *study, GError **error)
{
    if (isnan(d->choice->from_s) && isnan(d->choice->to_s) && d->choice->span == NULL)
        return true;
    for (guint i = 0; i < d->walks->len; i++) {
        g_autoptr(GArray) spans = lf_draw_choice_spans(study, d->walks->pdata[i], d->choice, error);
        if (spans == NULL || spans->len > 0)
            return spans != NULL;
    }
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "no walk has any time in this choice of walks and times");
    return false;
}

static bool report_data_choose(ReportData *d, LfStudy *study, GError **error)
{
    const LfDrawChoice *c = d->choice;

    d->chosen = c->photo != NULL || c->walks != NULL || c->groups != NULL || c->span != NULL ||
                !isnan(c->from_s) || !isnan(c->to_s);
    d->walks = lf_draw_choice_walks(study, c, error);
    if (d->walks == NULL || !report_data_photos(d, study, error) ||
        !report_data_any_time(d, study, error))
        return false;
    if (c->walks == NULL && c->groups == NULL)
        return true;
    d->names = g_new0(char *, d->walks->len + 1);
    for (guint i = 0; i < d->walks->len; i++)
        d->names[i] = g_strdup(((LfStudyWalk *)d->walks->pdata[i])->name);
    return true;
}

ReportData *report_data_load(LfStudy *study, const LfDrawSettings *pictures, gsize n_pictures,
                             GError **error)
{
    g_autoptr(ReportData) d = g_new0(ReportData, 1);

    d->pictures = pictures;
    d->n_pictures = n_pictures;
    d->choice = &pictures[0].choice;
    if (!lf_study_settings(study, &d->settings, error) || !report_data_choose(d, study, error) ||
        !(d->inputs = lf_study_inputs(study, error)) || !(d->log = lf_study_log(study, error)) ||
        !(d->news = lf_study_file_news(study, error)) ||
        !(d->reviewers = lf_study_reviewers(study, error)) ||
        !(d->agreement = lf_study_agreement(study, error)))
        return NULL;
    report_data_names(d);
    return report_data_count_all(d, study, error) ? g_steal_pointer(&d) : NULL;
}

void report_data_free(ReportData *d)
{
    if (d == NULL)
        return;
    GPtrArray *const lists[] = {d->walks,     d->photos,    d->inputs, d->log,      d->news,
                                d->reviewers, d->agreement, d->groups, d->unfixated};
    for (gsize i = 0; i < G_N_ELEMENTS(lists); i++)
        if (lists[i] != NULL)
            g_ptr_array_unref(lists[i]);
    g_strfreev(d->names);
    g_free(d->each);
    g_free(d->fixation_settings);
    g_free(d);
}
