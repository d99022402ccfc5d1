/* Errors, shares and calibration of scored samples. */
#include "accuracy.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

Scored accuracy_score(const LfPlaced *placed, const Truth *truth, const GPtrArray *facings,
                      double tolerance_deg)
{
    Scored out = {.placed = *placed,
                  .truth = *truth,
                  .error_px = NAN,
                  .error_deg = NAN,
                  .judged = truth->state != TRUTH_HIDDEN};
    const LfSampleCast *cast = &placed->cast;
    const TruthPlace *at =
        truth->also.photo >= 0 && truth->also.photo == cast->photo ? &truth->also : &truth->at;
    if (cast->photo < 0 || at->photo != cast->photo ||
        (truth->state != TRUTH_VISIBLE && truth->state != TRUTH_BESIDE))
        return out;
    out.error_px = hypot(cast->x - at->x, cast->y - at->y);
    out.error_deg = out.error_px / at->px_per_degree;
    out.shifted = facings && out.error_deg > tolerance_deg &&
                  accuracy_shifted(facings->pdata[cast->photo], (LfPoint){cast->x, cast->y}, at,
                                   tolerance_deg);
    if (truth->state == TRUTH_BESIDE && out.error_deg <= tolerance_deg)
        out.judged = false;
    return out;
}

static int score_order(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double score_quantile(GArray *values, double q)
{
    if (values->len == 0)
        return NAN;
    qsort(values->data, values->len, sizeof(double), score_order);
    return g_array_index(values, double, (guint)(q * (values->len - 1)));
}

/* Expected calibration error over ten bins of equal width (Naeini et al., AAAI 2015), Brier score,
 * and area under the ROC curve as the Mann-Whitney statistic; over samples that got a point. */
typedef struct {
    double ece, brier, auroc;
} Calibration;

typedef struct {
    double p;
    bool right;
} Forecast;

static int score_forecast_order(const void *a, const void *b)
{
    double x = ((const Forecast *)a)->p, y = ((const Forecast *)b)->p;
    return (x > y) - (x < y);
}

static Calibration score_calibration(GArray *forecasts)
{
    double sum_p[10] = {0}, sum_right[10] = {0}, count[10] = {0}, brier = 0, ranks = 0;
    gsize n_right = 0, n = forecasts->len;
    qsort(forecasts->data, n, sizeof(Forecast), score_forecast_order);
    for (gsize i = 0, j; i < n; i = j) {
        double p = g_array_index(forecasts, Forecast, i).p;
        for (j = i; j < n && g_array_index(forecasts, Forecast, j).p <= p; j++)
            ;
        for (gsize k = i; k < j; k++)
            if (g_array_index(forecasts, Forecast, k).right)
                ranks += (double)(i + 1 + j) / 2; /* ties share their mean rank */
    }
    for (gsize i = 0; i < n; i++) {
        const Forecast *f = &g_array_index(forecasts, Forecast, i);
        int bin = CLAMP((int)(f->p * 10), 0, 9);
        sum_p[bin] += f->p;
        sum_right[bin] += f->right;
        count[bin]++;
        brier += (f->p - f->right) * (f->p - f->right);
        n_right += f->right;
    }
    Calibration out = {0};
    for (int b = 0; b < 10; b++)
        out.ece += fabs(sum_p[b] - sum_right[b]) / (double)MAX(n, 1);
    out.brier = brier / (double)MAX(n, 1);
    double wrong = (double)(n - n_right), right = (double)n_right;
    out.auroc = wrong > 0 && right > 0 ? (ranks - right * (right + 1) / 2) / (right * wrong) : NAN;
    return out;
}

void accuracy_table_head(void)
{
    printf("%-14s %8s %7s %8s %8s %8s %8s %9s %9s %9s %9s %7s %7s %7s\n", "scene", "visible",
           "sure", "median", "95%", "wrong", "shifted", "off-photo",
           "blocked:", "visible:", "visible:", "ECE", "Brier", "AUROC");
    printf("%-14s %8s %7s %8s %8s %8s %8s %9s %9s %9s %9s\n", "", "samples", "", "px", "px",
           "of sure", "sure", "sure", "sure", "blocked", "away");
}

void accuracy_table_row(const char *name, const GArray *scored, double tolerance_deg)
{
    gsize visible = 0, sure_visible = 0, sure = 0, wrong = 0, off = 0, off_sure = 0, blocked = 0,
          blocked_sure = 0, shifted = 0, visible_blocked = 0, visible_away = 0;
    g_autoptr(GArray) errors = g_array_new(FALSE, FALSE, sizeof(double));
    g_autoptr(GArray) forecasts = g_array_new(FALSE, FALSE, sizeof(Forecast));
    for (guint i = 0; i < scored->len; i++) {
        const Scored *s = &g_array_index(scored, Scored, i);
        const bool is_sure = s->placed.cast.state == LF_STATE_SURE;
        if (s->truth.state == TRUTH_LOST || !s->judged)
            continue;
        const bool right = s->error_deg <= tolerance_deg;
        sure += is_sure;
        wrong += is_sure && s->truth.state == TRUTH_VISIBLE && !right;
        if (s->truth.state == TRUTH_VISIBLE) {
            shifted += is_sure && s->shifted;
            visible++;
            sure_visible += is_sure;
            visible_blocked += s->placed.cast.state == LF_STATE_BLOCKED;
            visible_away += s->placed.cast.state == LF_STATE_AWAY;
            if (is_sure && isfinite(s->error_px))
                g_array_append_val(errors, s->error_px);
        } else {
            off++;
            off_sure += is_sure;
            if (s->truth.state == TRUTH_BLOCKED) {
                blocked++;
                blocked_sure += is_sure;
            }
        }
        if (isfinite(s->placed.cast.confidence)) {
            Forecast f = {s->placed.cast.confidence, right};
            g_array_append_val(forecasts, f);
        }
    }
    Calibration c = score_calibration(forecasts);
    printf("%-14s %8" G_GSIZE_FORMAT " %6.2f%% %8.2f %8.2f %7.3f%% %8" G_GSIZE_FORMAT
           " %8.2f%% %8.2f%% %8.2f%% %8.2f%% %7.4f %7.4f %7.4f\n",
           name, visible, 100.0 * (double)sure_visible / (double)MAX(visible, 1),
           score_quantile(errors, 0.5), score_quantile(errors, 0.95),
           100.0 * (double)wrong / (double)MAX(sure, 1), shifted,
           100.0 * (double)off_sure / (double)MAX(off, 1),
           100.0 * (double)blocked_sure / (double)MAX(blocked, 1),
           100.0 * (double)visible_blocked / (double)MAX(visible, 1),
           100.0 * (double)visible_away / (double)MAX(visible, 1), c.ece, c.brier, c.auroc);
}

void accuracy_thresholds(const GArray *scored, double tolerance_deg)
{
    static const double AT[] = {0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98};
    printf("tolerance %g degrees\n%10s %16s %16s\n", tolerance_deg, "sure at", "sent to review",
           "wrong of rest");
    for (gsize k = 0; k < G_N_ELEMENTS(AT); k++) {
        gsize points = 0, kept = 0, wrong = 0;
        for (guint i = 0; i < scored->len; i++) {
            const Scored *s = &g_array_index(scored, Scored, i);
            if (s->placed.cast.photo < 0 || !s->judged)
                continue;
            const bool sure =
                s->placed.cast.state != LF_STATE_BLOCKED && s->placed.cast.confidence >= AT[k];
            points++;
            kept += sure;
            wrong += sure && !(s->error_deg <= tolerance_deg);
        }
        printf("%10.2f %15.1f%% %15.2f%%\n", AT[k],
               100.0 * (double)(points - kept) / (double)MAX(points, 1),
               100.0 * (double)wrong / (double)MAX(kept, 1));
    }
}
