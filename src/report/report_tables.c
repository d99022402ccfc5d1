/* The report's tables of what is in the study and how good it is. */
#include "report/report_tables.h"

#include <math.h>

static double report_tables_part(gsize n, gsize of)
{
    return of > 0 ? (double)n / (double)of : NAN;
}

ReportTable *report_tables_states(const ReportData *d)
{
    static const char *const meanings[] = {
        [LF_STATE_LOST] = "the gaze file has no gaze",
        [LF_STATE_AWAY] = "on no photo",
        [LF_STATE_BLOCKED] = "on something in front of a photo",
        [LF_STATE_DOUBTFUL] = "on a photo, confidence under the threshold",
        [LF_STATE_SURE] = "on a photo, accepted by the engine",
        [LF_STATE_PLACED] = "on a photo, placed by a person",
    };
    static const LfState order[] = {LF_STATE_SURE,    LF_STATE_PLACED, LF_STATE_DOUBTFUL,
                                    LF_STATE_BLOCKED, LF_STATE_AWAY,   LF_STATE_LOST};
    const ReportTally *t = &d->total;
    ReportTable *table =
        report_table_new("states", "Gaze samples by state",
                         "As the engine left them, and with what people decided on top of it.");

    report_table_column(table, REPORT_TEXT, "State", "state");
    report_table_column(table, REPORT_TEXT, "Meaning", "meaning");
    report_table_column(table, REPORT_NUMBER, "By the engine", "engine_samples");
    report_table_column(table, REPORT_NUMBER, "After review", "samples");
    report_table_column(table, REPORT_NUMBER, "Time, s", "time_s");
    report_table_column(table, REPORT_SHARE, "Share", "share");
    for (gsize i = 0; i < G_N_ELEMENTS(order); i++) {
        const LfState s = order[i];
        report_table_text(table, lf_state_name(s));
        report_table_text(table, meanings[s]);
        report_table_number(table, (double)t->engine[s].samples, 0);
        report_table_number(table, (double)t->states[s].samples, 0);
        report_table_number(table, t->states[s].s, 1);
        report_table_number(table, report_tables_part(t->states[s].samples, t->all.samples), 1);
    }
    if (t->uncast.samples > 0) {
        report_table_text(table, "not cast");
        report_table_text(table, "no result of today's inputs and settings");
        report_table_number(table, (double)t->uncast.samples, 0);
        report_table_number(table, (double)t->uncast.samples, 0);
        report_table_number(table, t->uncast.s, 1);
        report_table_number(table, report_tables_part(t->uncast.samples, t->all.samples), 1);
    }
    return table;
}

ReportTable *report_tables_confidence(const ReportData *d)
{
    const ReportTally *t = &d->total;
    gsize all = 0;
    ReportTable *table = report_table_new(
        "confidence", "Samples that the engine put on a photo, by confidence",
        "The confidence is the estimated probability that the point lies within the study's "
        "tolerance. Its mean is the share of right points to be expected in the row.");

    for (int i = 0; i < REPORT_BANDS; i++)
        all += t->bands[i].samples;
    report_table_column(table, REPORT_TEXT, "Confidence", "confidence");
    report_table_column(table, REPORT_NUMBER, "Samples", "samples");
    report_table_column(table, REPORT_NUMBER, "Time, s", "time_s");
    report_table_column(table, REPORT_SHARE, "Share", "share");
    report_table_column(table, REPORT_NUMBER, "Mean confidence", "mean_confidence");
    for (int i = 0; i < REPORT_BANDS; i++) {
        g_autofree char *band =
            g_strdup_printf("%.2f to %.2f", i > 0 ? report_bands[i - 1] : 0, report_bands[i]);
        report_table_text(table, band);
        report_table_number(table, (double)t->bands[i].samples, 0);
        report_table_number(table, t->bands[i].s, 1);
        report_table_number(table, report_tables_part(t->bands[i].samples, all), 1);
        report_table_number(
            table, t->bands[i].samples > 0 ? t->band_sum[i] / (double)t->bands[i].samples : NAN, 3);
    }
    return table;
}

static void report_tables_quality_row(ReportTable *table, const ReportWalk *walk)
{
    const LfStudyWalk *w = walk->walk;
    const ReportTally *t = &walk->tally;
    const gsize gaze = report_data_gaze(t);

    report_table_text(table, w->name);
    report_table_text(table, w->participant);
    report_table_text(table, w->group);
    report_table_number_told(table, (double)w->end_us / 1e6, 1,
                             w->cut_off ? "breaks off early" : NULL);
    report_table_number(table, 1e6 / (double)MAX(1, w->interval_us), 1);
    report_table_number(table, (double)w->samples, 0);
    report_table_number(table, report_tables_part((gsize)w->lost, (gsize)w->samples), 1);
    report_table_number(table, (double)w->outside, 0);
    report_table_number(table, report_tables_part(t->states[LF_STATE_SURE].samples, gaze), 1);
    report_table_number(table, report_tables_part(t->states[LF_STATE_PLACED].samples, gaze), 1);
    report_table_number(table, report_tables_part(t->states[LF_STATE_DOUBTFUL].samples, gaze), 1);
    report_table_number(table, report_tables_part(t->states[LF_STATE_BLOCKED].samples, gaze), 1);
    report_table_number(table, report_tables_part(t->states[LF_STATE_AWAY].samples, gaze), 1);
    report_table_number_told(table, (double)walk->fixations, 0,
                             t->uncast.samples > 0 ? "not wholly cast" : NULL);
}

ReportTable *report_tables_quality(const ReportData *d)
{
    ReportTable *table = report_table_new(
        "quality", "Walks",
        "Lost: of all samples. Outside: samples before the start "
        "or after the end of the video. The "
        "shares from sure to away are of the samples with gaze. Fixations: on photos.");

    report_table_column(table, REPORT_TEXT, "Walk", "walk");
    report_table_column(table, REPORT_TEXT, "Participant", "participant");
    report_table_column(table, REPORT_TEXT, "Group", "group");
    report_table_column(table, REPORT_NUMBER, "Length, s", "length_s");
    report_table_column(table, REPORT_NUMBER, "Rate, Hz", "rate_hz");
    report_table_column(table, REPORT_NUMBER, "Samples", "samples");
    report_table_column(table, REPORT_SHARE, "Lost", "lost_share");
    report_table_column(table, REPORT_NUMBER, "Outside", "outside");
    report_table_column(table, REPORT_SHARE, "Sure", "sure_share");
    report_table_column(table, REPORT_SHARE, "Placed", "placed_share");
    report_table_column(table, REPORT_SHARE, "Doubtful", "doubtful_share");
    report_table_column(table, REPORT_SHARE, "Blocked", "blocked_share");
    report_table_column(table, REPORT_SHARE, "Away", "away_share");
    report_table_column(table, REPORT_NUMBER, "Fixations", "fixations");
    for (guint i = 0; i < d->walks->len; i++)
        report_tables_quality_row(table, &d->each[i]);
    return table;
}

ReportTable *report_tables_inputs(const ReportData *d)
{
    ReportTable *table = report_table_new("inputs", "Input files",
                                          "As they were when they were last read into the study.");

    report_table_column(table, REPORT_TEXT, "Of", "of");
    report_table_column(table, REPORT_TEXT, "File", "role");
    report_table_column(table, REPORT_CODE, "Name", "name");
    report_table_column(table, REPORT_NUMBER, "Bytes", "bytes");
    report_table_column(table, REPORT_CODE, "SHA-256", "sha256");
    for (guint i = 0; i < d->inputs->len; i++) {
        const LfStudyInput *input = d->inputs->pdata[i];
        /* The folder may tell more of whoever made the study than a reader needs to know. */
        g_autofree char *name = g_path_get_basename(input->path);
        g_autofree char *shown = g_filename_display_name(name);
        report_table_text(table, input->owner);
        report_table_text(table, input->role);
        report_table_text(table, shown);
        report_table_number(table, (double)input->bytes, 0);
        report_table_text(table, input->sha256);
    }
    return table;
}

ReportTable *report_tables_log(const ReportData *d)
{
    ReportTable *table = report_table_new("log", "What was done, by whom and when", NULL);

    report_table_column(table, REPORT_TEXT, "When (UTC)", "at");
    report_table_column(table, REPORT_TEXT, "Who", "who");
    report_table_column(table, REPORT_TEXT, "Version", "program");
    report_table_column(table, REPORT_NUMBER, "Engine", "engine");
    report_table_column(table, REPORT_TEXT, "What", "action");
    report_table_column(table, REPORT_CODE, "Detail", "detail");
    for (guint i = 0; i < d->log->len; i++) {
        const LfStudyEvent *event = d->log->pdata[i];
        report_table_text(table, event->at);
        report_table_text(table, event->who);
        report_table_text(table, event->program);
        report_table_number(table, (double)event->engine, 0);
        report_table_text(table, event->action);
        report_table_text(table, event->detail);
    }
    return table;
}
