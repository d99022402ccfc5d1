/* Names and definitions of findings, and their settings. */
#include <lookfall/finding.h>

#include "look/stat.h"

static const LfFindingInfo finding_infos[LF_FINDING_KINDS] = {
    [LF_FINDING_SHARE] = {"share", "share of participants who noticed; Wilson interval"},
    [LF_FINDING_MEDIAN_TIME] = {"median_time",
                                "Kaplan-Meier median of the time to first fixation, s, "
                                "who never looked censored at the end of what is known of their "
                                "gaze; blank where it is not reached"},
    [LF_FINDING_MEAN] = {"mean", "mean over participants; bootstrap interval"},
    [LF_FINDING_MEDIAN] = {"median", "median over participants; bootstrap interval"},
    [LF_FINDING_SHARE_DIFFERENCE] = {"share_difference",
                                     "share in group less share in against; Newcombe interval; p "
                                     "by permutation, exact"},
    [LF_FINDING_ODDS_RATIO] = {"odds_ratio", "odds of noticing in group over those in against; "
                                             "Woolf interval"},
    [LF_FINDING_HAZARD_RATIO] = {"hazard_ratio",
                                 "how much sooner group looks than against: Peto's ratio of "
                                 "hazards, above 1 for sooner"},
    [LF_FINDING_MEAN_DIFFERENCE] = {"mean_difference",
                                    "mean of group less mean of against; percentile bootstrap "
                                    "interval; p by permutation, two-sided"},
    [LF_FINDING_HEDGES_G] = {"hedges_g", "mean_difference in standard deviations, without the bias "
                                         "of small samples"},
    [LF_FINDING_CLIFFS_DELTA] = {"cliffs_delta",
                                 "chance that somebody of group has a higher value than somebody "
                                 "of against, less the chance of a lower one"},
    [LF_FINDING_LOG_RANK] = {"log_rank", "chi-square of the log-rank test between the groups' "
                                         "times to first fixation, and its p"},
    [LF_FINDING_ETA_SQUARED] = {"eta_squared", "share of the sum of squares between the groups; p "
                                               "by permutation, that of F"},
};

const LfFindingInfo *lf_finding_info(LfFindingKind kind)
{
    return &finding_infos[kind];
}

LfFindingSettings lf_finding_settings_default(void)
{
    LfFindingSettings settings = {
        .level = 0.95, .bootstrap = LF_STAT_BCA, .resamples = 5000, .seed = 1};
    static const LfMeasure wanted[] = {
        LF_MEASURE_NOTICED, LF_MEASURE_FIRST_SEEN, LF_MEASURE_FIXATIONS,  LF_MEASURE_FIXATION_MEAN,
        LF_MEASURE_VISITS,  LF_MEASURE_DWELL,      LF_MEASURE_DWELL_SHARE};
    for (gsize i = 0; i < G_N_ELEMENTS(wanted); i++)
        settings.measures[wanted[i]] = true;
    return settings;
}

bool lf_finding_settings_check(const LfFindingSettings *settings, GError **error)
{
    if (!stat_check_level(settings->level, error) ||
        !stat_check_resamples(settings->resamples, error))
        return false;
    for (int i = 0; i < LF_MEASURES; i++)
        if (settings->measures[i])
            return true;
    return stat_fail(error, LF_ERROR_USAGE, "no measure is asked for");
}
