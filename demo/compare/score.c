/* How good cast samples are against the truth; see score.h. */
#include "score.h"

#include <math.h>
#include <stdlib.h>

static int score_compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Linear between order statistics: definition 7 of R. J. Hyndman, Y. Fan, "Sample Quantiles in
 * Statistical Packages", The American Statistician 50 (1996) 361. */
static double score_quantile(const GArray *sorted, double q)
{
    if (sorted->len == 0)
        return NAN;
    double at = q * (sorted->len - 1);
    guint i = (guint)at, next = MIN(i + 1, sorted->len - 1);
    double low = g_array_index(sorted, double, i), high = g_array_index(sorted, double, next);
    return low + (at - i) * (high - low);
}

static bool score_near(const LrPairing *p, double tolerance_deg)
{
    return p->same_photo && p->error_px <= tolerance_deg * p->px_per_degree;
}

static bool score_right(const LrPairing *p, double tolerance_deg)
{
    return p->seen == LR_SEEN_VISIBLE && score_near(p, tolerance_deg);
}

/* A cast that can be neither right nor wrong. */
static bool score_idle(const LrPairing *p, double tolerance_deg)
{
    return p->seen == LR_SEEN_HIDDEN || (p->seen == LR_SEEN_BESIDE && score_near(p, tolerance_deg));
}

static void score_count(LrScore *s, const LrPairing *p, double tolerance_deg, GArray *errors)
{
    bool sure = p->cast == LR_CAST_SURE;
    s->samples++;
    if (p->seen == LR_SEEN_AWAY || p->seen == LR_SEEN_BLOCKED ||
        (p->seen == LR_SEEN_BESIDE && !score_near(p, tolerance_deg))) {
        s->off_photo++;
        s->off_photo_sure += sure;
    }
    if (p->seen == LR_SEEN_BLOCKED) {
        s->blocked++;
        s->blocked_sure += sure;
        s->blocked_told += p->cast == LR_CAST_BLOCKED;
    }
    if (p->seen != LR_SEEN_VISIBLE)
        return;
    s->visible++;
    s->visible_blocked += p->cast == LR_CAST_BLOCKED;
    if (!sure)
        return;
    s->visible_sure++;
    s->wrong += !score_right(p, tolerance_deg);
    if (p->same_photo)
        g_array_append_val(errors, p->error_px);
}

typedef struct {
    double confidence;
    bool right;
} ScoreJudged;

/* Area under the curve by ranks, ties at their mean rank (Mann and Whitney). */
static double score_auroc(GArray *judged)
{
    g_array_sort(judged, score_compare); /* the confidence is the first member */
    double rank_sum = 0, rights = 0;
    for (guint i = 0; i < judged->len;) {
        guint end = i;
        double here = 0;
        while (end < judged->len && g_array_index(judged, ScoreJudged, end).confidence ==
                                        g_array_index(judged, ScoreJudged, i).confidence)
            here += g_array_index(judged, ScoreJudged, end++).right;
        rank_sum += here * (i + 1 + end) / 2.0;
        rights += here;
        i = end;
    }
    double wrongs = judged->len - rights;
    if (rights < 1 || wrongs < 1)
        return NAN;
    return (rank_sum - rights * (rights + 1) / 2) / (rights * wrongs);
}

static void score_judge(LrScore *s, const GArray *pairings, double tolerance_deg)
{
    g_autoptr(GArray) judged = g_array_new(FALSE, FALSE, sizeof(ScoreJudged));
    double brier = 0, gap = 0;
    for (guint i = 0; i < pairings->len; i++) {
        const LrPairing *p = &g_array_index(pairings, LrPairing, i);
        if (isnan(p->confidence) || score_idle(p, tolerance_deg))
            continue;
        ScoreJudged j = {p->confidence, score_right(p, tolerance_deg)};
        g_array_append_val(judged, j);
        brier += (j.confidence - j.right) * (j.confidence - j.right);
        int bin = CLAMP((int)(j.confidence * LR_RELIABILITY_BINS), 0, LR_RELIABILITY_BINS - 1);
        s->bin[bin].n++;
        s->bin[bin].right += j.right;
        s->bin[bin].confidence += j.confidence;
    }
    s->judged = judged->len;
    for (int b = 0; b < LR_RELIABILITY_BINS; b++) {
        if (s->bin[b].n == 0)
            continue;
        gap += fabs(s->bin[b].confidence - s->bin[b].right);
        s->bin[b].confidence /= s->bin[b].n;
    }
    s->brier = s->judged ? brier / s->judged : NAN;
    s->calibration_error = s->judged ? gap / s->judged : NAN;
    s->auroc = score_auroc(judged);
}

LrScore lr_score_make(const GArray *pairings, double tolerance_deg)
{
    LrScore s = {0};
    g_autoptr(GArray) errors = g_array_new(FALSE, FALSE, sizeof(double));
    for (guint i = 0; i < pairings->len; i++)
        score_count(&s, &g_array_index(pairings, LrPairing, i), tolerance_deg, errors);
    g_array_sort(errors, score_compare);
    s.median_px = score_quantile(errors, 0.5);
    s.p95_px = score_quantile(errors, 0.95);
    score_judge(&s, pairings, tolerance_deg);
    return s;
}
