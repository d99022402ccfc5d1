/* Findings: what the measures of many walks say about people, target by target.
 *
 * Measure rows go in (lf_study_measures gives them), one estimate a row comes out, with its
 * interval, its p and p adjusted over the targets of its level; or blank with the reason. Several
 * spans of one participant become one value first (lf_finding_rule). Participants are told apart by
 * name; a walk without one is a participant of its own. docs/statistics.md has the rules.
 *
 * Nothing here knows the study. An LfFindings belongs to one thread at a time. */
#ifndef LOOKFALL_FINDING_H
#define LOOKFALL_FINDING_H

#include <lookfall/measure.h>
#include <lookfall/statistics.h>

G_BEGIN_DECLS

typedef enum {
    /* of people */
    LF_FINDING_SHARE,       /* noticed: Wilson */
    LF_FINDING_MEDIAN_TIME, /* first seen: Kaplan-Meier, who never looked is censored */
    LF_FINDING_MEAN,        /* bootstrap */
    LF_FINDING_MEDIAN,
    /* of two groups; the value is that of `group` against that of `against` */
    LF_FINDING_SHARE_DIFFERENCE, /* p: permutation */
    LF_FINDING_ODDS_RATIO,
    LF_FINDING_HAZARD_RATIO,
    LF_FINDING_MEAN_DIFFERENCE, /* p: permutation */
    LF_FINDING_HEDGES_G,
    LF_FINDING_CLIFFS_DELTA,
    /* of two groups or more */
    LF_FINDING_LOG_RANK,    /* p: chi-square */
    LF_FINDING_ETA_SQUARED, /* p: permutation; for more than two groups */
    LF_FINDING_KINDS
} LfFindingKind;

typedef struct {
    const char *name, *definition;
} LfFindingInfo;
/* Static. */
LF_API const LfFindingInfo *lf_finding_info(LfFindingKind kind);
/* How the values of several spans of one participant become one; a static text. */
LF_API const char *lf_finding_rule(LfMeasure measure);

typedef struct {
    bool by_group;              /* also each group by itself, and the groups against each other */
    bool measures[LF_MEASURES]; /* those that are wanted */
    double level;               /* of intervals */
    LfStatBootstrapMethod bootstrap;
    gsize resamples;
    uint32_t seed;
} LfFindingSettings;

/* Noticed, first seen, fixations, mean fixation, visits, dwell and its share; 0.95; BCa; 5,000
 * resamples; seed 1. */
LF_API LfFindingSettings lf_finding_settings_default(void);
/* LF_ERROR_USAGE names the setting that is out of range. */
LF_API bool lf_finding_settings_check(const LfFindingSettings *settings, GError **error);

/* NaN: blank. */
typedef struct {
    const char *photo, *target;
    int level;
    const char *span;
    LfMeasure measure;
    LfFindingKind kind;
    const char *group;    /* NULL: everybody, or all groups against each other */
    const char *against;  /* the other group, or NULL */
    gsize participants;   /* in the group or groups */
    gsize n;              /* of these, with a value; for times: who noticed or was seen not to */
    gsize noticed;        /* of these, who looked at the target */
    double unknown_share; /* of their spans' time: how much nothing is known of */
    double value, low, high;
    double p, p_holm, p_bh;
    bool exact;         /* p by all deals */
    gsize resamples;    /* drawn for this row; 0: none */
    const char *reason; /* why something is blank; "" where nothing is. Interned */
} LfFinding;

typedef struct LfFindings LfFindings;

LF_API LfFindings *lf_findings_new(const LfFindingSettings *settings);
LF_API void lf_findings_free(LfFindings *findings);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfFindings, lf_findings_free)

/* Rows of one participant in the order of their walks. The row is copied. */
LF_API void lf_findings_add(LfFindings *findings, const LfMeasureRow *row);
/* Targets in the order they came in, then measures, everybody, groups, comparisons. Each row draws
 * from a seed of its own, made of settings.seed and the row's names, so that it does not depend on
 * what else is asked for, nor on jobs (threads, 1 or more). Owned by findings, until the next
 * call. */
LF_API const LfFinding *lf_findings_compute(LfFindings *findings, int jobs, gsize *n);

G_END_DECLS

#endif
