/* The method as a paragraph. Nothing in it is invented: a sentence stands only where the study has
 * what it tells. */
#include "report/report_method.h"

#include <math.h>
#include <string.h>

#include <lookfall/measure.h>

#include "report/report_choice.h"
#include "report/report_people.h"
#include "report/report_table.h"

typedef enum {
    METHOD_ORB,
    METHOD_MAGSAC,
    METHOD_FOLLOW,
    METHOD_WILSON,
    METHOD_KAPLAN,
    METHOD_BROOKMEYER,
    METHOD_BOOTSTRAP,
    METHOD_KAPPA,
    METHOD_N
} MethodReference;

static const char *const METHOD_REFERENCES[METHOD_N] = {
    [METHOD_ORB] =
        "E. Rublee, V. Rabaud, K. Konolige, G. Bradski: ORB: an efficient alternative to "
        "SIFT or SURF. ICCV 2011, 2564-2571.",
    [METHOD_MAGSAC] = "D. Barath, J. Noskova, M. Ivashechkin, J. Matas: MAGSAC++, a fast, reliable "
                      "and accurate robust estimator. CVPR 2020, 1304-1312.",
    [METHOD_FOLLOW] = "J. Shi, C. Tomasi: Good features to track. CVPR 1994, 593-600.",
    [METHOD_WILSON] = "E. B. Wilson: Probable inference, the law of succession, and statistical "
                      "inference. Journal of the American Statistical Association 22 (1927), "
                      "209-212.",
    [METHOD_KAPLAN] = "E. L. Kaplan, P. Meier: Nonparametric estimation from incomplete "
                      "observations. Journal of the American Statistical Association 53 (1958), "
                      "457-481.",
    [METHOD_BROOKMEYER] =
        "R. Brookmeyer, J. Crowley: A confidence interval for the median survival "
        "time. Biometrics 38 (1982), 29-41.",
    [METHOD_BOOTSTRAP] = "B. Efron, R. J. Tibshirani: An introduction to the bootstrap. Chapman "
                         "and Hall, 1993.",
    [METHOD_KAPPA] = "J. Cohen: A coefficient of agreement for nominal scales. Educational and "
                     "Psychological Measurement 20 (1960), 37-46.",
};

typedef struct {
    GString *page;
    int numbers[METHOD_N]; /* 0: not cited yet */
    int cited;
} Method;

static void report_method_cite(Method *m, MethodReference reference)
{
    if (m->numbers[reference] == 0)
        m->numbers[reference] = ++m->cited;
    g_string_append_printf(m->page, " [%d]", m->numbers[reference]);
}

static void report_method_say(Method *m, const char *format, ...) G_GNUC_PRINTF(2, 3);
static void report_method_say(Method *m, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    g_autofree char *text = g_strdup_vprintf(format, list);
    va_end(list);
    report_html_text(m->page, text);
}

static const char *report_method_s(gsize n)
{
    return n == 1 ? "" : "s";
}

static void report_method_recording(Method *m, const ReportData *d)
{
    double video_s = 0, low = INFINITY, high = 0;
    gsize calibrated = 0;

    for (guint i = 0; i < d->walks->len; i++) {
        const LfStudyWalk *walk = d->walks->pdata[i];
        const double rate = 1e6 / (double)MAX(1, walk->interval_us);
        video_s += (double)walk->end_us / 1e6;
        low = fmin(low, rate);
        high = fmax(high, rate);
        calibrated += walk->lens.calibrated;
    }
    report_method_say(m,
                      "%" G_GSIZE_FORMAT " participant%s made %u recording%s with head-worn eye "
                      "trackers (%.1f min of scene video; gaze at ",
                      d->people, report_method_s(d->people), d->walks->len,
                      report_method_s(d->walks->len), video_s / 60);
    if (high - low < 0.05 * high)
        report_method_say(m, "%.0f samples per second). ", high);
    else
        report_method_say(m, "%.0f to %.0f samples per second). ", low, high);
    if (calibrated == d->walks->len)
        report_method_say(m, "The scene cameras' lens distortion was taken out by calibration. ");
    else if (calibrated > 0)
        report_method_say(m,
                          "For %" G_GSIZE_FORMAT " of %u recordings the scene camera's lens "
                          "distortion was taken out by calibration. ",
                          calibrated, d->walks->len);
    else
        report_method_say(m, "The scene camera's lens was taken as free of distortion, and one "
                             "degree of visual angle as 1/82 of the frame's width. ");
}

static void report_method_cast(Method *m, const ReportData *d)
{
    report_method_say(
        m,
        "Gaze was mapped onto %u reference photograph%s with lookfall %s (engine "
        "version %d). The photograph was found in frames of the scene video by binary "
        "features",
        d->photos->len, report_method_s(d->photos->len), LOOKFALL_VERSION, LF_ENGINE_VERSION);
    report_method_cite(m, METHOD_ORB);
    report_method_say(m, " and a robust homography");
    report_method_cite(m, METHOD_MAGSAC);
    report_method_say(m, ", then followed from frame to frame on texture points");
    report_method_cite(m, METHOD_FOLLOW);
    report_method_say(
        m,
        " that are matched with the photograph itself, and refined near the gaze. "
        "Each mapped sample carries an estimated probability of lying within %g "
        "degree%s of visual angle of its true place; samples with a probability of %g "
        "or more were accepted. ",
        d->settings.tolerance_deg, d->settings.tolerance_deg == 1 ? "" : "s", d->settings.sure_at);
}

static void report_method_settled(Method *m, const ReportData *d)
{
    const double gaze = (double)MAX(1, report_data_gaze(&d->total));
    const double sure = (double)d->total.states[LF_STATE_SURE].samples / gaze;
    const double placed = (double)d->total.states[LF_STATE_PLACED].samples / gaze;
    const double away = (double)d->total.states[LF_STATE_AWAY].samples / gaze;
    const double blocked = (double)d->total.states[LF_STATE_BLOCKED].samples / gaze;
    const double doubtful = (double)d->total.states[LF_STATE_DOUBTFUL].samples / gaze;

    report_method_say(
        m,
        "Of the samples with gaze %.1f%% were accepted, %.1f%% placed by hand, %.1f%% "
        "off the photographs and %.1f%% on something in front of them; %.1f%% stayed "
        "doubtful and were left out. ",
        100 * sure, 100 * placed, 100 * away, 100 * blocked, 100 * doubtful);
    if (d->reviewers->len > 0)
        report_method_say(m, "%u reviewer%s settled doubtful stretches by hand%s. ",
                          d->reviewers->len, report_method_s(d->reviewers->len),
                          d->chosen ? " (in all of the study)" : "");
    for (guint i = 0; i < d->agreement->len; i++) {
        const LfAgreement *a = d->agreement->pdata[i];
        const bool together = a->first == NULL || d->agreement->len == 1;
        if (!together || a->points == 0)
            continue;
        report_method_say(
            m,
            "Where a second reviewer placed the same stretch without seeing the "
            "first one's answer, the median distance was %.2f degrees (%" G_GINT64_FORMAT
            " stretches)",
            a->median_deg, (gint64)a->points);
        if (isfinite(a->kappa)) {
            report_method_say(m, " and the states agreed with kappa %.2f", a->kappa);
            report_method_cite(m, METHOD_KAPPA);
        }
        report_method_say(m, ". ");
    }
}

/* "name value" lines become "name value, name value". */
static void report_method_fixations(Method *m, const ReportData *d)
{
    if (d->fixation_settings == NULL)
        return;
    g_auto(GStrv) lines = g_strsplit(g_strchomp(d->fixation_settings), "\n", -1);
    g_autofree char *listed = g_strjoinv(", ", lines);
    g_strdelimit(listed, "_", ' ');
    report_method_say(m,
                      "%" G_GSIZE_FORMAT " fixations were found on the photographs after the "
                      "motion of the head had been taken out (%s).",
                      d->fixations, listed);
    if (d->fixation_mixed)
        report_method_say(m, " Some recordings have fixations of other settings.");
    report_method_say(m, " ");
}

static void report_method_measures(Method *m, const ReportData *d)
{
    const LfMeasureSettings measures = lf_measure_settings_default();
    const LfFindingSettings findings = report_people_settings(d);

    report_method_say(m,
                      "An area counts as noticed by a participant if a fixation lies in it. Of "
                      "several recordings of a participant%s the first fixation is sought in one "
                      "after the other, and the mean of the times spent counts. Gaps of more than "
                      "%g s end a visit. Intervals are of %g%%: score intervals for shares",
                      d->choice->span != NULL ? ", or several parts of one," : "", measures.gap_s,
                      100 * findings.level);
    report_method_cite(m, METHOD_WILSON);
    report_method_say(m, ", product-limit medians for the time to the first fixation");
    report_method_cite(m, METHOD_KAPLAN);
    report_method_cite(m, METHOD_BROOKMEYER);
    report_method_say(m, ", with participants who never looked censored at the end of the time in "
                         "which their gaze is known, and bias-corrected bootstrap intervals for "
                         "means");
    report_method_cite(m, METHOD_BOOTSTRAP);
    report_method_say(m, " (%" G_GSIZE_FORMAT " resamples, seed %u).", findings.resamples,
                      findings.seed);
}

/* How densities were made, where the report has any. */
static void report_method_maps(Method *m, const ReportData *d)
{
    static const char *const units[] = {" degrees of visual angle", " mm", " px of the photograph"};
    const LfDrawSettings *s = NULL;

    for (gsize i = 0; i < d->n_pictures && s == NULL; i++)
        if (d->pictures[i].kind == LF_DRAW_HEAT || d->pictures[i].kind == LF_DRAW_FOCUS)
            s = &d->pictures[i];
    if (s == NULL || d->fixation_settings == NULL)
        return;
    report_method_say(
        m,
        "Maps spread each %s by a Gaussian kernel of %g%s (one standard deviation, widened by the "
        "standard error of the position), weighted by %s, %s. ",
        s->samples ? "sample" : "fixation", s->kernel.value,
        s->kernel.unit == LF_DRAW_DEG && s->kernel.value == 1 ? " degree of visual angle"
                                                              : units[s->kernel.unit],
        s->count ? "number" : "duration",
        s->pooled ? "pooled over participants" : "every participant with the same weight");
}

void report_method_html(const ReportData *d, bool noticed, GString *page)
{
    Method m = {.page = page};
    g_autofree char *choice = report_choice_method(d);

    g_string_append(page, "<div class=\"method\">\n<p>");
    report_method_recording(&m, d);
    report_method_cast(&m, d);
    report_method_settled(&m, d);
    report_method_fixations(&m, d);
    report_method_maps(&m, d);
    if (choice != NULL)
        report_method_say(&m, "%s", choice);
    if (noticed)
        report_method_measures(&m, d);
    g_string_append(page, "</p>\n</div>\n<h3>References</h3>\n<ol>\n");
    for (int n = 1; n <= m.cited; n++)
        for (int i = 0; i < METHOD_N; i++)
            if (m.numbers[i] == n) {
                g_string_append(page, "<li>");
                report_html_text(page, METHOD_REFERENCES[i]);
                g_string_append(page, "</li>\n");
            }
    g_string_append(page, "</ol>\n");
}
