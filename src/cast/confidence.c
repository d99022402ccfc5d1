/* The confidence model: features, coefficients, and the rule for blocked points. */
#include "cast/confidence.h"

#include <math.h>

#include <lookfall/cast.h>

/* A rival that explains over half as much as a pose that a fifth and more of the picture disagrees
 * with counts like so many equal ones. */
#define CONFIDENCE_CONTESTED 2.0

/* One row per feature: its name and its weight. Trained by tests/bench/train_confidence.py on
 * rendered scenes, split by scene (docs/confidence.md). */
static const struct {
    const char *name;
    double weight;
} CONFIDENCE_TABLE[LF_CONFIDENCE_FEATURES] = {
    {"constant", 0.353},  {"precision", 0.739},  {"agreement", 2.232},   {"good_share", 1.193},
    {"support", 1.190},   {"pose_share", 2.747}, {"pose_points", 0.582}, {"cover", 0.768},
    {"rival", -1.355},    {"gap", -0.866},       {"motion", 0.000},      {"spread", -0.279},
    {"mismatch", -2.269}, {"unbacked", -0.611},  {"missing", -1.871},    {"tint", -2.819},
    {"depth", -1.223},    {"elsewhere", 1.279},
};

const char *lf_confidence_feature_name(int i)
{
    return CONFIDENCE_TABLE[i].name;
}

double lf_confidence_weight(int i)
{
    return CONFIDENCE_TABLE[i].weight;
}

static gpointer confidence_model(gpointer unused)
{
    g_autoptr(GString) table = g_string_new(NULL);
    (void)unused;
    for (int i = 0; i < LF_CONFIDENCE_FEATURES; i++) {
        char digits[G_ASCII_DTOSTR_BUF_SIZE];
        g_string_append_printf(table, "%s %s\n", CONFIDENCE_TABLE[i].name,
                               g_ascii_dtostr(digits, sizeof digits, CONFIDENCE_TABLE[i].weight));
    }
    g_autofree char *sha256 =
        g_compute_checksum_for_string(G_CHECKSUM_SHA256, table->str, (gssize)table->len);
    return g_strdup_printf("%d-%.12s", LF_CONFIDENCE_VERSION, sha256);
}

const char *lf_confidence_model(void)
{
    static GOnce once = G_ONCE_INIT;
    return g_once(&once, confidence_model, NULL);
}

void lf_confidence_features(const LfEvidence *e, double tolerance_deg,
                            double out[LF_CONFIDENCE_FEATURES])
{
    /* Where no patch lies around the point, the pose as a whole has to speak for it. */
    const double known = MIN(e->support, 1);
    out[0] = 1;
    /* More than ten standard errors within the tolerance are as good as ten. */
    out[1] = CLAMP(log10(tolerance_deg / MAX(e->sigma_deg, 1e-4)), -1, 1);
    out[2] = known * e->agreement + (1 - known) * 0.6 * e->share_good;
    out[3] = known * e->good_share + (1 - known) * e->share_good;
    out[4] = MIN(e->support * e->good_share, 1);
    /* Low shares weigh most: half of the patches may be hidden, four fifths hardly ever are. */
    out[5] = log10(CLAMP(e->share_good, 0.1, 1));
    out[6] = log10(1 + MIN(e->n_good, 100)) / 2;
    out[7] = e->cover;
    /* Where nearly all of the picture agrees, a place that explains half of it is no rival; where
     * much does not, it may be the right one. */
    out[8] = e->rival * e->rival + CONFIDENCE_CONTESTED * CLAMP((e->rival - 0.4) / 0.2, 0, 1) *
                                       CLAMP((0.8 - e->share_good) / 0.1, 0, 1);
    out[9] = MIN(e->gap_frames, 6);
    out[10] = MIN(e->motion_deg, 6) / tolerance_deg;
    out[11] = MIN(e->spread_deg + e->shift_deg, 2) / tolerance_deg;
    out[12] = CLAMP(log10(MAX(e->mismatch, 1e-3)), 0, 1.5);
    out[14] = MIN(e->missing, 1.5);
    /* No patch that agrees is near enough to speak against it. */
    out[13] = (1 - MIN(e->support * e->good_share / 0.15, 1)) * (out[12] + out[14]);
    out[15] = CLAMP(log10(MAX(e->tint, 1e-3)), 0, 1.2);
    out[LF_CONFIDENCE_DEPTH] = 1;
    /* Under one in a hundred is next to nothing. */
    const double elsewhere = CLAMP(e->elsewhere, 0.01, 0.9);
    out[LF_CONFIDENCE_DEPTH + 1] = log(elsewhere / (1 - elsewhere));
}

static double confidence_sum(const double x[LF_CONFIDENCE_FEATURES], int from, int to)
{
    double sum = 0;
    for (int i = from; i < to; i++)
        sum += CONFIDENCE_TABLE[i].weight * x[i];
    return sum;
}

/* Log-odds that the picture is right, and the log-odds that depth is not. */
static void confidence_odds(const LfEvidence *evidence, double tolerance_deg, double *picture,
                            double *depth)
{
    double x[LF_CONFIDENCE_FEATURES];
    lf_confidence_features(evidence, tolerance_deg, x);
    *picture = confidence_sum(x, 0, LF_CONFIDENCE_DEPTH);
    *depth = confidence_sum(x, LF_CONFIDENCE_DEPTH, LF_CONFIDENCE_FEATURES);
}

double lf_confidence(const LfEvidence *evidence, double tolerance_deg)
{
    double picture, depth;
    confidence_odds(evidence, tolerance_deg, &picture, &depth);
    return 1 / ((1 + exp(-picture)) * (1 + exp(depth)));
}

double lf_confidence_depth_cost(const LfEvidence *evidence, double tolerance_deg)
{
    double picture, depth;
    confidence_odds(evidence, tolerance_deg, &picture, &depth);
    /* The odds of p (1 - q) against those of p: 1 / p - 1 grows to 1 / (p (1 - q)) - 1. */
    return log1p(exp(depth) * (1 + exp(picture)));
}

/* Rules chosen on the training scenes so that under one visible sample in twenty is called blocked.
 * The pose must be firm; then either no patch agrees where there are some, or the point is unlikely
 * to be within a degree and the picture there is another one. */
bool lf_confidence_blocked(const LfEvidence *e)
{
    if (e->share_good < 0.3 || e->n_good < 20 || e->gap_frames > 0)
        return false;
    if (e->support > 0.3 && e->good_share < 0.25 && e->agreement < 0.4)
        return true;
    /* Where depths differ, a gap between packs looks unlike what was expected too. */
    return lf_confidence(e, 1) < 0.35 && (e->mismatch > 3 || e->missing > 0.6 || e->tint > 2.5) &&
           e->spread_deg < 0.3 && e->rough_deg < 1.5;
}
