/* Measures: who looked at what, how soon, for how long. docs/measures.md defines every one.
 *
 * A row is one walk x span x target: a target is an area, a group of areas, or a whole photo
 * (LfAreaTarget); a span is the whole walk or a part of it that marks cut out. A value comes with
 * the range that the uncertainty of positions allows. What is not known is NaN, never 0. */
#ifndef LOOKFALL_MEASURE_H
#define LOOKFALL_MEASURE_H

#include <lookfall/area.h>
#include <lookfall/fixation.h>
#include <lookfall/mark.h>

G_BEGIN_DECLS

typedef enum {
    LF_MEASURE_NOTICED,        /* 1 or 0 */
    LF_MEASURE_FIRST_SEEN,     /* time to first fixation, s from the span's start */
    LF_MEASURE_FIRST_FIXATION, /* duration of the first fixation, s */
    LF_MEASURE_FIXATIONS,      /* number */
    LF_MEASURE_FIXATION_TOTAL, /* s */
    LF_MEASURE_FIXATION_MEAN,  /* s */
    LF_MEASURE_VISITS,         /* number */
    LF_MEASURE_REVISITS,       /* number */
    LF_MEASURE_DWELL,          /* total visit duration, s */
    LF_MEASURE_VISIT_MEAN,     /* mean visit duration, s */
    LF_MEASURE_DWELL_SHARE,    /* of the dwell on the photo, 0..1 */
    LF_MEASURE_ENTRY,          /* place in the order of entry, from 1 */
    LF_MEASURE_GLANCES,        /* number */
    LF_MEASURE_GLANCE_TOTAL,   /* s */
    LF_MEASURE_GLANCE_MEAN,    /* mean single glance duration, s */
    LF_MEASURE_GLANCE_LONGEST, /* s */
    LF_MEASURE_GLANCE_RATE,    /* glances per minute of the span */
    LF_MEASURE_GLANCE_SHARE,   /* of the span, 0..1 */
    LF_MEASURES
} LfMeasure;

/* The name of a measure is that of its column in exports: "first_seen_s". */
typedef struct {
    const char *name, *unit, *definition;
} LfMeasureInfo;
/* Static. */
LF_API const LfMeasureInfo *lf_measure_info(LfMeasure measure);

/* NaN: blank. */
typedef struct {
    double value, low, high;
} LfMeasured;

/* How the time of a span divides, s. known = on a photo + blocked, unknown = the rest; together
 * they are the span. */
typedef struct {
    double span_s;
    double on_photo_s; /* sure or placed */
    double blocked_s;  /* on something in front of a photo */
    double away_s, doubtful_s;
    double lost_s;   /* no gaze: blinks, gaps of the recording */
    double uncast_s; /* not cast yet, or out of date */
    double known_s, unknown_s;
    double known_until_s; /* end of the last known time, from the span's start; 0 where none is */
} LfKnownTime;

/* Why a row's values are blank. */
typedef enum {
    LF_BLANK_NOT = 0,
    LF_BLANK_NEVER,      /* not looked at: times and means of it are blank, counts are 0 */
    LF_BLANK_UNKNOWN,    /* nothing is known of the gaze in the span */
    LF_BLANK_NO_SPAN,    /* the walk has no such span: no mark of that name */
    LF_BLANK_NO_FIXATED, /* the walk has no up to date fixations */
} LfBlank;
/* "never looked", "nothing known", ...; "" for LF_BLANK_NOT; static. */
LF_API const char *lf_blank_name(LfBlank blank);

/* Whose row it is, and of what time. */
typedef struct {
    const char *walk;
    const char *participant, *group; /* NULL where not told */
    const char *span;                /* "walk", or as the span was asked for */
    int span_number;                 /* of this rule in this walk, from 1; 0: there is none */
    int64_t from_us, to_us;
    LfKnownTime time;
} LfMeasureHead;

typedef struct {
    LfMeasureHead head;
    const char *photo, *target; /* name of the photo; of the area, group or photo */
    int level;                  /* as LfAreaTarget.level */
    LfMeasured values[LF_MEASURES];
    double unknown_before_s; /* unknown time before the first fixation; of the span where none */
    LfBlank blank;
} LfMeasureRow;

/* --- spans ---------------------------------------------------------------------------------- */

typedef enum {
    LF_SPAN_WALK,    /* the whole walk */
    LF_SPAN_MARK,    /* each mark of this name that is a span */
    LF_SPAN_BETWEEN, /* from each mark of this name to the next one of the other name */
    LF_SPAN_AROUND,  /* around each mark of this name */
} LfSpanKind;

typedef struct {
    LfSpanKind kind;
    char *name;                  /* of the span in rows */
    char *mark, *other;          /* names of marks; NULL where not needed */
    int64_t before_us, after_us; /* AROUND: before the mark's start and after its end */
} LfSpanRule;

/* "walk", "mark:NAME", "between:NAME,OTHER", "around:NAME,BEFORE_S,AFTER_S". LF_ERROR_USAGE for
 * anything else. */
LF_API LfSpanRule *lf_span_rule_parse(const char *text, GError **error);
LF_API void lf_span_rule_free(LfSpanRule *rule);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfSpanRule, lf_span_rule_free)

/* --- settings ------------------------------------------------------------------------------- */

typedef struct {
    double radii;   /* a position may be off by so many of its radii; default 2 */
    double gap_s;   /* a longer gap between two fixations ends a visit; default 0.3 */
    bool by_visits; /* transitions from visit to visit; otherwise from fixation to fixation */
} LfMeasureSettings;

LF_API LfMeasureSettings lf_measure_settings_default(void);
/* LF_ERROR_USAGE names the setting that is out of range. */
LF_API bool lf_measure_settings_check(const LfMeasureSettings *settings, GError **error);

typedef struct {
    const char *const *walks; /* names, NULL-terminated; NULL for all */
    const GPtrArray *spans;   /* LfSpanRule; NULL for the whole walk alone */
    int64_t from_us, to_us;   /* only this part of each walk and of its spans; 0: all of it */
    LfMeasureSettings settings;
    int jobs; /* threads, 1 or more; the result does not depend on it */
} LfMeasureOptions;

/* --- rows out of a study ---------------------------------------------------------------------- */

/* Borrowed during the call; returning false stops with that error. */
typedef bool (*LfMeasureSink)(const LfMeasureRow *row, void *data, GError **error);

/* Walks by name, then spans, then targets. undone (may be NULL) takes the names of walks that have
 * no up to date fixations (their rows are blank) or are not wholly cast. LF_ERROR_INPUT where the
 * study has no area, a mark name does not exist, or no walk has fixations. */
LF_API bool lf_study_measures(LfStudy *study, const LfMeasureOptions *options, LfMeasureSink sink,
                              void *data, GPtrArray *undone, GError **error);

/* A visit to a target. */
typedef struct {
    LfMeasureHead head;
    const char *photo, *target;
    int level;
    int number; /* of this target in this span, from 1 */
    int64_t visit_from_us, visit_to_us;
    double glance_s; /* with the move to the target, where it is seen */
    gsize fixations;
    bool certain; /* the range that positions allow leaves none of its fixations out */
} LfVisitRow;
typedef bool (*LfVisitSink)(const LfVisitRow *row, void *data, GError **error);
/* As lf_study_measures; walks without fixations have no rows. */
LF_API bool lf_study_visits(LfStudy *study, const LfMeasureOptions *options, LfVisitSink sink,
                            void *data, GPtrArray *undone, GError **error);

/* An element of a walk's sequence of areas, on one level. */
typedef struct {
    LfMeasureHead head;
    int level;
    int number;         /* from 1 */
    int code;           /* of the target, the same in all walks of the study */
    bool after_unknown; /* what came between it and the element before is not known */
    const char *photo, *target;
    int64_t element_from_us, element_to_us;
    gsize fixations;
} LfSequenceRow;
typedef bool (*LfSequenceSink)(const LfSequenceRow *row, void *data, GError **error);
LF_API bool lf_study_sequences(LfStudy *study, const LfMeasureOptions *options, LfSequenceSink sink,
                               void *data, GPtrArray *undone, GError **error);

/* A transition that happened, on one level. */
typedef struct {
    LfMeasureHead head;
    int level;
    const char *from_photo, *from;
    const char *to_photo, *to;
    gsize count;
    gsize certain;      /* of these, between fixations whose positions leave no doubt */
    double probability; /* of going there from `from` */
} LfTransitionRow;
typedef bool (*LfTransitionSink)(const LfTransitionRow *row, void *data, GError **error);
LF_API bool lf_study_transitions(LfStudy *study, const LfMeasureOptions *options,
                                 LfTransitionSink sink, void *data, GPtrArray *undone,
                                 GError **error);

/* How ordered the transitions of a walk are, on one level. */
typedef struct {
    LfMeasureHead head;
    int level;
    gsize states, transitions, broken; /* broken: not counted, for what came between is not known */
    gsize filled;                      /* states that were never left */
    double stationary_bit, stationary_share; /* share: of the most there can be */
    double transition_bit, transition_share;
    double visited_bit, visited_share; /* entropy of how often each state was met */
} LfEntropyRow;
typedef bool (*LfEntropySink)(const LfEntropyRow *row, void *data, GError **error);
LF_API bool lf_study_entropies(LfStudy *study, const LfMeasureOptions *options, LfEntropySink sink,
                               void *data, GPtrArray *undone, GError **error);

/* --- transitions and entropy ---------------------------------------------------------------- */

/* A first-order Markov chain of n states. */
typedef struct {
    double *probability; /* n x n, row by row; a row without a transition is NaN */
    double *stationary;  /* n; NaN where there is no single stationary distribution */
    gsize filled;        /* rows without a transition, taken as going anywhere equally often */
    double stationary_bit, transition_bit;     /* entropies; NaN where not defined */
    double stationary_share, transition_share; /* the same over log2 n */
} LfChain;

/* counts: n x n, row by row, from row to column. Owned by the caller (lf_chain_free). */
LF_API LfChain *lf_chain_new(const double *counts, gsize n);
LF_API void lf_chain_free(LfChain *chain);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfChain, lf_chain_free)

/* --- sequences ------------------------------------------------------------------------------ */

/* Least number of insertions, deletions and substitutions that turn one into the other
 * (Levenshtein 1966). */
LF_API gsize lf_sequence_distance(const int *a, gsize n_a, const int *b, gsize n_b);

typedef struct {
    double match, mismatch, gap; /* scores; defaults 1, -1, -1 */
} LfAlignScores;
LF_API LfAlignScores lf_align_scores_default(void);
/* Score of the best global alignment (Needleman and Wunsch 1970), the same gap score for each
 * element left out. */
LF_API double lf_sequence_align(const int *a, gsize n_a, const int *b, gsize n_b,
                                const LfAlignScores *scores);

G_END_DECLS

#endif
