/* The page of a report: one HTML file that needs nothing else. */
#include "report/report_page.h"

#include <math.h>
#include <string.h>

#include "report/report_choice.h"
#include "report/report_method.h"
#include "report/report_pictures.h"
#include "report_resource.h"

static const struct {
    LfState state;
    const char *word;
} PAGE_STATES[] = {{LF_STATE_SURE, "sure"},         {LF_STATE_PLACED, "placed"},
                   {LF_STATE_DOUBTFUL, "doubtful"}, {LF_STATE_BLOCKED, "blocked"},
                   {LF_STATE_AWAY, "away"},         {LF_STATE_LOST, "lost"}};

static void report_page_file(GString *html, const char *name)
{
    g_autofree char *path = g_strconcat("/lookfall/report/", name, NULL);
    g_autoptr(GBytes) bytes =
        g_resource_lookup_data(report_get_resource(), path, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
    g_string_append_len(html, g_bytes_get_data(bytes, NULL), (gssize)g_bytes_get_size(bytes));
}

static void report_page_say(GString *html, const char *format, ...) G_GNUC_PRINTF(2, 3);
static void report_page_say(GString *html, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    g_autofree char *text = g_strdup_vprintf(format, list);
    va_end(list);
    report_html_text(html, text);
}

static void report_page_head(const ReportPage *p, GString *html)
{
    g_string_append(html, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                          "<meta name=\"viewport\" content=\"width=device-width, "
                          "initial-scale=1\">\n<title>");
    report_html_text(html, p->title);
    g_string_append(html, "</title>\n<style>\n");
    report_page_file(html, "report.css");
    g_string_append(html, "</style>\n</head>\n<body>\n<header>\n<h1>");
    report_html_text(html, p->title);
    g_string_append(html, "</h1>\n<p class=\"soft\">");
    report_page_say(html, "Gaze on still photos. Made %s with lookfall %s, engine version %d.",
                    p->made_at, LOOKFALL_VERSION, LF_ENGINE_VERSION);
    g_string_append(html, "</p>\n</header>\n<nav aria-label=\"Parts of the report\">\n<ul>\n");
    static const char *const parts[][2] = {
        {"done", "What was done"},        {"seen", "What was seen"}, {"maps", "Pictures"},
        {"quality-part", "Data quality"}, {"method", "Method"},      {"trail", "Sources"}};
    for (gsize i = 0; i < G_N_ELEMENTS(parts); i++)
        g_string_append_printf(html, "<li><a href=\"#%s\">%s</a></li>\n", parts[i][0], parts[i][1]);
    g_string_append(html, "</ul>\n</nav>\n<main>\n");
}

static void report_page_fact(GString *html, const char *name, const char *value, const char *small)
{
    g_string_append(html, "<li><span>");
    report_html_text(html, name);
    g_string_append(html, "</span> <strong>");
    report_html_text(html, value);
    g_string_append(html, "</strong> <small>");
    report_html_text(html, small);
    g_string_append(html, "</small></li>\n");
}

static void report_page_facts(const ReportPage *p, GString *html)
{
    const ReportData *d = p->data;
    const ReportTally *t = &d->total;
    const double gaze = (double)report_data_gaze(t);
    double video_s = 0;

    for (guint i = 0; i < d->walks->len; i++)
        video_s += (double)((LfStudyWalk *)d->walks->pdata[i])->end_us / 1e6;
    const struct {
        const char *name;
        LfState state;
        const char *small;
    } shares[] = {{"Settled by the engine", LF_STATE_SURE, "on a photo, of the samples with gaze"},
                  {"Settled by a person", LF_STATE_PLACED, "placed, of the samples with gaze"},
                  {"Not settled", LF_STATE_DOUBTFUL,
                   d->choice->doubtful ? "doubtful, left out of tables"
                                       : "doubtful, left out of pictures and tables"}};
    g_autofree char *people = g_strdup_printf("%" G_GSIZE_FORMAT, d->people);
    g_autofree char *groups =
        d->groups->len > 1 ? g_strdup_printf(", %u groups", d->groups->len) : g_strdup("");
    g_autofree char *walks =
        g_strdup_printf("%u walk%s%s", d->walks->len, d->walks->len == 1 ? "" : "s", groups);
    g_autofree char *time = g_strdup_printf("%.1f min", video_s / 60);
    g_autofree char *looked =
        g_strdup_printf("%.1f min of gaze", (t->all.s - t->states[LF_STATE_LOST].s) / 60);
    g_string_append(html, "<ul class=\"facts\">\n");
    report_page_fact(html, "People", people, walks);
    report_page_fact(html, "Scene video", time, looked);
    for (gsize i = 0; i < G_N_ELEMENTS(shares); i++) {
        g_autofree char *share =
            gaze > 0
                ? g_strdup_printf("%.1f%%", 100 * (double)t->states[shares[i].state].samples / gaze)
                : g_strdup("none");
        report_page_fact(html, shares[i].name, share, shares[i].small);
    }
    g_string_append(html, "</ul>\n");
}

/* All samples as one bar; the table below says the same in numbers. */
static void report_page_bar(const ReportPage *p, GString *html)
{
    const ReportTally *t = &p->data->total;
    const double all = (double)MAX(1, t->all.samples);

    g_string_append(html, "<div class=\"bar\" aria-hidden=\"true\">");
    for (gsize i = 0; i < G_N_ELEMENTS(PAGE_STATES); i++)
        if (t->states[PAGE_STATES[i].state].samples > 0)
            g_string_append_printf(html, "<span class=\"%s\" style=\"flex: %.4f\">&#160;</span>",
                                   PAGE_STATES[i].word,
                                   (double)t->states[PAGE_STATES[i].state].samples / all);
    if (t->uncast.samples > 0)
        g_string_append_printf(html, "<span class=\"uncast\" style=\"flex: %.4f\">&#160;</span>",
                               (double)t->uncast.samples / all);
    g_string_append(html, "</div>\n<ul class=\"key\">\n");
    for (gsize i = 0; i < G_N_ELEMENTS(PAGE_STATES); i++)
        g_string_append_printf(html, "<li><i class=\"%s\">&#160;</i>%s %.1f%%</li>\n",
                               PAGE_STATES[i].word, PAGE_STATES[i].word,
                               100 * (double)t->states[PAGE_STATES[i].state].samples / all);
    if (t->uncast.samples > 0)
        g_string_append_printf(html, "<li><i class=\"uncast\">&#160;</i>not cast %.1f%%</li>\n",
                               100 * (double)t->uncast.samples / all);
    g_string_append(html, "</ul>\n");
}

static void report_page_done(const ReportPage *p, GString *html)
{
    const ReportData *d = p->data;

    g_autofree char *choice = report_choice_text(d);

    g_string_append(html, "<section id=\"done\">\n<h2>What was done</h2>\n");
    if (choice != NULL) {
        g_string_append(html, "<p class=\"told\">");
        report_html_text(html, choice);
        g_string_append(html, "</p>\n");
    }
    report_page_facts(p, html);
    report_page_bar(p, html);
    if (d->total.uncast.samples > 0)
        g_string_append(html, "<p class=\"told\">Some walks are not wholly cast: their results are "
                              "missing in all that follows.</p>\n");
    if (d->fixation_settings != NULL && d->unfixated->len > 0) {
        g_string_append(html, "<p class=\"told\">");
        report_page_say(html,
                        "%u of %u walks have no fixations that are up to date and are missing "
                        "in pictures and tables of fixations.",
                        d->unfixated->len, d->walks->len);
        g_string_append(html, "</p>\n");
    }
    report_table_html(p->states, html);
    report_table_html(p->confidence, html);
    g_string_append(html, "</section>\n");
}

static void report_page_seen(const ReportPage *p, GString *html)
{
    g_string_append(html, "<section id=\"seen\">\n<h2>What was seen</h2>\n");
    if (p->noticed != NULL) {
        report_table_html(p->noticed, html);
        g_string_append(html,
                        "<p class=\"soft\">Gaze is not thought: that an area was looked at does "
                        "not tell that it was read, understood, liked or wanted, and what lies "
                        "beside the point of gaze is seen too.</p>\n");
    } else {
        g_string_append(html, "<p class=\"told\">There is no table of who noticed what: ");
        report_html_text(html, p->no_noticed);
        g_string_append(html, "</p>\n");
    }
    g_string_append(html, "</section>\n");
}

static void report_page_picture(const ReportPicture *picture, GString *html)
{
    gsize n;
    const guchar *bytes = g_bytes_get_data(picture->bytes, &n);
    g_autofree char *code = g_base64_encode(bytes, n);

    g_string_append(html, "<figure><img alt=\"");
    report_html_text(html, picture->alt);
    g_string_append(html, "\"");
    if (picture->width_px > 0)
        g_string_append_printf(html, " width=\"%d\" height=\"%d\"", picture->width_px,
                               picture->height_px);
    g_string_append_printf(html, " src=\"data:%s;base64,%s\">\n<figcaption>", picture->mime, code);
    report_html_text(html, picture->caption);
    g_string_append(html, "</figcaption></figure>\n");
}

/* Those of a photo, or the stills (NULL). */
static gsize report_page_section(const ReportPage *p, const char *photo, GString *html)
{
    gsize n = 0;
    for (guint i = 0; i < p->pictures->len; i++) {
        const ReportPicture *picture = p->pictures->pdata[i];
        if (g_strcmp0(picture->photo, photo) != 0)
            continue;
        report_page_picture(picture, html);
        n++;
    }
    return n;
}

static void report_page_stills(const ReportPage *p, GString *html)
{
    g_autoptr(GString) stills = g_string_new(NULL);

    if (report_page_section(p, NULL, stills) == 0)
        return;
    g_string_append(html, "<h3>Stills out of the scene videos</h3>\n<p>");
    g_string_append(html, p->show_faces
                              ? "Faces are not blurred: people in these pictures can be recognised."
                              : "Faces that were found are blurred. A detector can miss one: look "
                                "at every still before you give this page to others.");
    g_string_append(html, " The ring is the gaze, the numbers are fixations in their order.</p>\n"
                          "<div class=\"stills\">\n");
    g_string_append_len(html, stills->str, (gssize)stills->len);
    g_string_append(html, "</div>\n");
}

static void report_page_maps(const ReportPage *p, GString *html)
{
    g_string_append(html, "<section id=\"maps\">\n<h2>Pictures</h2>\n");
    for (guint i = 0; i < p->data->photos->len; i++) {
        const LfStudyPhoto *photo = p->data->photos->pdata[i];
        g_string_append(html, "<h3>");
        report_page_say(html, "Photo %s", photo->name);
        g_string_append(html, "</h3>\n");
        if (report_page_section(p, photo->name, html) == 0)
            g_string_append(html, p->data->chosen
                                      ? "<p class=\"told\">Nothing can be drawn for this "
                                        "photo: no fixation of the choice lies on it and is "
                                        "settled.</p>\n"
                                      : "<p class=\"told\">Nothing can be drawn for this "
                                        "photo: no fixation on it is settled.</p>\n");
    }
    report_page_stills(p, html);
    g_string_append(html, "</section>\n");
}

static void report_page_quality(const ReportPage *p, GString *html)
{
    const ReportData *d = p->data;

    g_string_append(html, "<section id=\"quality-part\">\n<h2>Data quality</h2>\n");
    report_table_html(p->quality, html);
    if (d->news->len > 0) {
        g_string_append(html, "<p class=\"told\">Files that are missing or have changed since they "
                              "were read:</p>\n<ul>\n");
        for (guint i = 0; i < d->news->len; i++) {
            const LfStudyFileNews *news = d->news->pdata[i];
            g_autofree char *name = g_path_get_basename(news->path);
            g_autofree char *shown = g_filename_display_name(name);
            g_string_append(html, "<li>");
            report_page_say(html, "%s: %s %s", news->owner, shown,
                            news->missing ? "is missing" : "has changed");
            g_string_append(html, "</li>\n");
        }
        g_string_append(html, "</ul>\n");
    }
    g_string_append(html, "</section>\n");
}

static void report_page_end(const ReportPage *p, GString *html)
{
    g_string_append(html, "<section id=\"method\">\n<h2>Method</h2>\n<p class=\"soft\">Ready to be "
                          "pasted; it tells settings and numbers of this study.</p>\n");
    report_method_html(p->data, p->noticed != NULL, html);
    g_string_append(html, "</section>\n<section id=\"trail\">\n<h2>Sources</h2>\n");
    report_table_html(p->inputs, html);
    report_table_html(p->log, html);
    g_string_append(
        html,
        "<h3>People in recordings</h3>\n<p>Scene videos show people who did not agree to be "
        "filmed, and what participants did. Which recordings, stills and numbers may be kept "
        "and passed on, and for how long, is for the law where you are and for what people "
        "agreed to. Names of walks, participants and files stand in this page as they stand in "
        "the study.</p>\n</section>\n</main>\n<script>\n");
    report_page_file(html, "report.js");
    g_string_append(html, "</script>\n</body>\n</html>\n");
}

char *report_page_html(const ReportPage *page)
{
    GString *html = g_string_new(NULL);

    report_page_head(page, html);
    report_page_done(page, html);
    report_page_seen(page, html);
    report_page_maps(page, html);
    report_page_quality(page, html);
    report_page_end(page, html);
    return g_string_free(html, FALSE);
}
