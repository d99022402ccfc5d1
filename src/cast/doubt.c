/* From evidence to the reason of a doubt.
 *
 * The confidence is that of a sum of weighted features, less what depth takes off (confidence.c).
 * What each of them costs against its usual value in sure samples is laid to the cause it speaks
 * of. Some speak of more than one: patches fail around the gaze where something is in front, but
 * also while the picture is smeared, or where packs stand at many depths; those costs go to what
 * the rest of the evidence shows. */
#include "cast/doubt.h"

#include <math.h>
#include <string.h>

typedef enum {
    DOUBT_OF_PLACE,   /* how the picture agrees around the gaze */
    DOUBT_OF_BACKING, /* how many patches there are around the gaze */
    DOUBT_OF_POSE,    /* how well the whole pose is known */
    DOUBT_OF_RIVAL,
    DOUBT_OF_GAP,
    DOUBT_OF_MOTION,
    DOUBT_OF_DEPTH,
} DoubtSubject;

/* Usual values: medians of sure samples in the training scenes (docs/confidence.md). */
static const struct {
    const char *feature;
    DoubtSubject subject;
    double usual;
} DOUBT_TABLE[] = {
    {"precision", DOUBT_OF_POSE, 1},   {"agreement", DOUBT_OF_PLACE, 0.73},
    {"good_share", DOUBT_OF_PLACE, 1}, {"support", DOUBT_OF_BACKING, 0.45},
    {"pose_share", DOUBT_OF_POSE, 0},  {"pose_points", DOUBT_OF_POSE, 1},
    {"cover", DOUBT_OF_POSE, 1},       {"rival", DOUBT_OF_RIVAL, 0.05},
    {"gap", DOUBT_OF_GAP, 0},          {"motion", DOUBT_OF_MOTION, 0.15},
    {"spread", DOUBT_OF_DEPTH, 0.01},  {"mismatch", DOUBT_OF_PLACE, 0},
    {"unbacked", DOUBT_OF_PLACE, 0},   {"missing", DOUBT_OF_PLACE, 0},
    {"tint", DOUBT_OF_PLACE, 0},
};

/* 0 below `from`, 1 above `to`. */
static double doubt_ramp(double value, double from, double to)
{
    return CLAMP((value - from) / (to - from), 0, 1);
}

static int doubt_row(const char *feature)
{
    for (int i = 0; i < (int)G_N_ELEMENTS(DOUBT_TABLE); i++)
        if (g_str_equal(DOUBT_TABLE[i].feature, feature))
            return i;
    return -1;
}

bool lf_doubt_knows(const char *feature)
{
    return doubt_row(feature) >= 0;
}

/* What each subject costs, in log-odds. */
static void doubt_costs(const LfEvidence *e, double tolerance_deg, double cost[DOUBT_OF_DEPTH + 1])
{
    double x[LF_CONFIDENCE_FEATURES];
    lf_confidence_features(e, tolerance_deg, x);
    cost[DOUBT_OF_DEPTH] = lf_confidence_depth_cost(e, tolerance_deg);
    for (int i = 0; i < LF_CONFIDENCE_DEPTH; i++) {
        const int row = doubt_row(lf_confidence_feature_name(i));
        if (row < 0)
            continue;
        const double loss = lf_confidence_weight(i) * (DOUBT_TABLE[row].usual - x[i]);
        cost[DOUBT_TABLE[row].subject] += MAX(loss, 0);
    }
}

/* Width of the surroundings, degrees: some facings. */
#define DOUBT_AROUND_DEG 3.0
/* A patch is seen from this agreement on, as in follow.c. */
#define DOUBT_AGREE 0.6F

double lf_doubt_displaced(const LfPose *pose, const LfLens *lens, LfPoint at)
{
    const double width = DOUBT_AROUND_DEG * lf_pose_degree_px(lens, at);
    double failing = 0, displaced = 0;
    for (int i = 0; i < pose->n_points; i++) {
        const LfPosePoint *q = &pose->points[i];
        if (q->good)
            continue;
        const double dx = (q->laid.x - at.x) / width, dy = (q->laid.y - at.y) / width;
        const double near = exp(-(dx * dx + dy * dy) / 2);
        failing += near;
        if (q->zncc >= DOUBT_AGREE)
            displaced += near;
    }
    return failing > 0 ? displaced / failing : 0;
}

/* 0..1. A frame of 30 a second is smeared by a quarter to half of what it moves. It is blur that
 * hurts where patches fail all over the picture, and anyway beyond 100 degrees a second. */
static double doubt_smeared(const LfEvidence *e)
{
    if (e->gap_frames > 0)
        return 0;
    return MAX(doubt_ramp(e->motion_deg, 3, 5),
               doubt_ramp(e->motion_deg, 0.6, 2.0) * doubt_ramp(1 - e->share_good, 0.1, 0.4));
}

LfDoubt lf_doubt(const LfEvidence *e, const LfDoubtSigns *signs, double tolerance_deg, bool blocked)
{
    const double smeared = doubt_smeared(e);
    if (blocked) /* the picture there is another one: for what reason? */
        return smeared > 0.5 ? LF_DOUBT_BLUR : signs->changed ? LF_DOUBT_CHANGED : LF_DOUBT_FRONT;
    double cost[DOUBT_OF_DEPTH + 1] = {0}, by[LF_DOUBT_DEPTH + 1] = {0};
    doubt_costs(e, tolerance_deg, cost);
    const double carried = e->gap_frames > 0 ? 1 : 0;
    /* Residuals of flat photos spread by under 0.05 degrees. */
    const double deep =
        MAX(doubt_ramp(hypot(e->spread_deg, e->shift_deg), 0.12, 0.5),
            MAX(doubt_ramp(signs->displaced, 0.2, 0.6), doubt_ramp(e->rough_deg, 0.7, 2)));

    by[LF_DOUBT_ALIKE] = cost[DOUBT_OF_RIVAL];
    by[LF_DOUBT_GAP] = cost[DOUBT_OF_GAP] + carried * cost[DOUBT_OF_POSE];
    by[LF_DOUBT_BLUR] = cost[DOUBT_OF_MOTION] + smeared * cost[DOUBT_OF_POSE];
    const double still = (1 - carried) * (1 - smeared) * cost[DOUBT_OF_POSE];
    by[LF_DOUBT_DEPTH] = cost[DOUBT_OF_DEPTH] + deep * still;
    by[LF_DOUBT_LITTLE] = (1 - deep) * still;

    /* Around the gaze: patches that are there and fail speak of the place, none at all of a pose
     * with too little to rest on. */
    const double failing = e->support > 0.1 ? 1 - e->good_share : 0;
    double place = cost[DOUBT_OF_PLACE] + failing * cost[DOUBT_OF_BACKING];
    by[LF_DOUBT_LITTLE] += (1 - failing) * cost[DOUBT_OF_BACKING];
    by[LF_DOUBT_BLUR] += smeared * place;
    place *= 1 - smeared;
    by[LF_DOUBT_DEPTH] += deep * place;
    place *= 1 - deep;
    by[signs->changed ? LF_DOUBT_CHANGED : LF_DOUBT_FRONT] += place;

    LfDoubt most = LF_DOUBT_LITTLE;
    for (LfDoubt i = LF_DOUBT_BLUR; i <= LF_DOUBT_DEPTH; i++)
        if (by[i] > by[most])
            most = i;
    return most;
}
