/* The measures' names, units and definitions, and the settings they depend on. docs/measures.md
 * has the formulas; the words here go into data dictionaries. */
#include <lookfall/measure.h>

#include <math.h>

static const LfMeasureInfo measure_infos[LF_MEASURES] = {
    [LF_MEASURE_NOTICED] = {"noticed", "0 or 1",
                            "1 where at least one fixation lies on the target, else 0"},
    [LF_MEASURE_FIRST_SEEN] = {"first_seen_s", "s",
                               "time to first fixation: from the span's start to the start of the "
                               "first fixation on the target; 0 where one is under way at the "
                               "start"},
    [LF_MEASURE_FIRST_FIXATION] = {"first_fixation_s", "s",
                                   "duration of the first fixation on the target"},
    [LF_MEASURE_FIXATIONS] = {"fixations", "count", "number of fixations on the target"},
    [LF_MEASURE_FIXATION_TOTAL] = {"fixation_total_s", "s",
                                   "sum of the durations of the fixations on the target"},
    [LF_MEASURE_FIXATION_MEAN] = {"fixation_mean_s", "s",
                                  "mean duration of the fixations on the target"},
    [LF_MEASURE_VISITS] = {"visits", "count",
                           "number of visits: runs of fixations on the target that no other "
                           "fixation and no gap longer than the set one parts"},
    [LF_MEASURE_REVISITS] = {"revisits", "count", "visits after the first one"},
    [LF_MEASURE_DWELL] = {"dwell_s", "s",
                          "dwell time: sum of the durations of all visits, each from the start of "
                          "its first fixation to the end of its last"},
    [LF_MEASURE_VISIT_MEAN] = {"visit_mean_s", "s", "mean duration of the visits"},
    [LF_MEASURE_DWELL_SHARE] = {"dwell_share", "0 to 1",
                                "dwell time on the target as a share of that on its whole photo"},
    [LF_MEASURE_ENTRY] = {"entry_order", "rank",
                          "place of the target in the order in which those of its level were first "
                          "seen, from 1; equal where one fixation lies on several"},
    [LF_MEASURE_GLANCES] = {"glances", "count", "number of glances: visits, as ISO 15007 has it"},
    [LF_MEASURE_GLANCE_TOTAL] = {"glance_total_s", "s",
                                 "total glance time: visits with the move of the eye towards the "
                                 "target before each"},
    [LF_MEASURE_GLANCE_MEAN] = {"glance_mean_s", "s", "mean single glance duration"},
    [LF_MEASURE_GLANCE_LONGEST] = {"glance_longest_s", "s", "duration of the longest glance"},
    [LF_MEASURE_GLANCE_RATE] = {"glance_rate_per_min", "1/min", "glances per minute of the span"},
    [LF_MEASURE_GLANCE_SHARE] = {"glance_share", "0 to 1",
                                 "total glance time as a share of the span"},
};

const LfMeasureInfo *lf_measure_info(LfMeasure measure)
{
    return &measure_infos[measure];
}

const char *lf_blank_name(LfBlank blank)
{
    static const char *const names[] = {
        [LF_BLANK_NOT] = "",
        [LF_BLANK_NEVER] = "never looked at",
        [LF_BLANK_UNKNOWN] = "nothing is known of the gaze in the span",
        [LF_BLANK_NO_SPAN] = "no such mark in this walk",
        [LF_BLANK_NO_FIXATED] = "no fixations of the walk as it is now",
    };
    return names[blank];
}

LfMeasureSettings lf_measure_settings_default(void)
{
    /* radii: at a straight edge one position in 44 lies over 2 standard errors on the wrong side
     * (normal distribution). gap_s: longer than a blink, which lasts 0.1 to 0.3 s (common
     * practice). */
    return (LfMeasureSettings){.radii = 2, .gap_s = 0.3, .by_visits = false};
}

bool lf_measure_settings_check(const LfMeasureSettings *settings, GError **error)
{
    if (!(settings->radii >= 0 && settings->radii <= 10)) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "positions may be off by 0 to 10 of their radii, not %g", settings->radii);
        return false;
    }
    if (!(settings->gap_s >= 0 && settings->gap_s <= 10)) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "the gap that ends a visit must be 0 to 10 s, not %g", settings->gap_s);
        return false;
    }
    return true;
}
