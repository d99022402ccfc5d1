/* Making a report: read, count, draw, write. */
#include <string.h>

#include "report/report_data.h"
#include "report/report_out.h"
#include "report/report_page.h"
#include "report/report_people.h"
#include "report/report_pictures.h"
#include "report/report_tables.h"

static bool report_cancelled(const LfReportOptions *options)
{
    return options->cancel != NULL && g_atomic_int_get(options->cancel);
}

static void report_add_table(ReportOut *out, const ReportTable *table)
{
    if (table == NULL)
        return;
    g_autofree char *name = g_strdup_printf("tables/%s.csv", report_table_name(table));
    char *csv = report_table_csv(table);
    report_out_add(out, name, g_bytes_new_take(csv, strlen(csv)));
}

static void report_add_all(ReportOut *out, const ReportPage *page)
{
    const ReportTable *const tables[] = {page->states,  page->confidence, page->noticed,
                                         page->quality, page->inputs,     page->log};
    char *html = report_page_html(page);

    report_out_add(out, "report.html", g_bytes_new_take(html, strlen(html)));
    if (!report_out_is_folder(out))
        return;
    for (gsize i = 0; i < G_N_ELEMENTS(tables); i++)
        report_add_table(out, tables[i]);
    for (guint i = 0; i < page->pictures->len; i++) {
        const ReportPicture *picture = page->pictures->pdata[i];
        g_autofree char *name = g_strdup_printf("pictures/%s", picture->name);
        report_out_add(out, name, g_bytes_ref(picture->bytes));
    }
}

static bool report_write(ReportOut *out, LfStudy *study, const ReportData *data,
                         const LfReportOptions *options, LfReportResult *result, GError **error)
{
    g_autofree char *why = NULL;
    g_autoptr(GError) failed = NULL;
    g_autoptr(ReportTable) states = report_tables_states(data);
    g_autoptr(ReportTable) confidence = report_tables_confidence(data);
    g_autoptr(ReportTable) quality = report_tables_quality(data);
    g_autoptr(ReportTable) inputs = report_tables_inputs(data);
    g_autoptr(ReportTable) log = report_tables_log(data);
    g_autoptr(ReportTable) noticed =
        report_people_table(study, data, options->threads, &why, &failed);
    if (failed != NULL) {
        g_propagate_error(error, g_steal_pointer(&failed));
        return false;
    }
    g_autoptr(GPtrArray) pictures = report_pictures_make(study, data, options, result, error);
    if (pictures == NULL)
        return false;
    result->interrupted = report_cancelled(options);
    if (result->interrupted)
        return true;
    g_autoptr(GDateTime) now = g_date_time_new_now_utc();
    g_autofree char *made_at = g_date_time_format(now, "%Y-%m-%d %H:%M UTC");
    const ReportPage page = {.data = data,
                             .title = options->title != NULL ? options->title : "Report",
                             .pictures = pictures,
                             .states = states,
                             .confidence = confidence,
                             .quality = quality,
                             .inputs = inputs,
                             .log = log,
                             .noticed = noticed,
                             .no_noticed = why,
                             .made_at = made_at,
                             .show_faces = options->show_faces};
    report_add_all(out, &page);
    return report_out_write(out, &result->files, error);
}

bool lf_report_make(LfStudy *study, const LfReportOptions *options, LfReportResult *result,
                    GError **error)
{
    const LfDrawSettings all[] = {
        lf_draw_settings_default(LF_DRAW_HEAT), lf_draw_settings_default(LF_DRAW_FOCUS),
        lf_draw_settings_default(LF_DRAW_AREAS), lf_draw_settings_default(LF_DRAW_TIMELINE)};
    const bool own = options->n_pictures > 0;

    *result = (LfReportResult){0};
    g_autoptr(ReportOut) out = report_out_new(study, options->out, options->force, error);
    g_autoptr(ReportData) data =
        out != NULL ? report_data_load(study, own ? options->pictures : all,
                                       own ? options->n_pictures : G_N_ELEMENTS(all), error)
                    : NULL;
    return data != NULL && report_write(out, study, data, options, result, error);
}
