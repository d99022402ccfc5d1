/* Review: stretches the engine was unsure of, and what people say about them.
 *
 * A stretch is a run of doubtful samples. A placement is a reviewer's word on some of its samples;
 * it lies on top of the engine's results, which are never changed, and can be lifted. Of several on
 * one sample the newest holds. docs/desk.md tells what each kind of decision does.
 *
 * A reviewer may be blind: then they see the engine's results and their own placements alone, and
 * what they place counts for the agreement of reviewers only.
 *
 * Errors are as in study.h; every call that changes something is one transaction. */
#ifndef LOOKFALL_PLACEMENT_H
#define LOOKFALL_PLACEMENT_H

#include <lookfall/study.h>
#include <lookfall/tie.h>

G_BEGIN_DECLS

/* Why a stretch is to be reviewed: the reasons of LfDoubt, and two that the engine does not doubt.
 */
typedef enum {
    LF_REASON_UNCLEAR = LF_DOUBT_NONE, /* no single reason stands out */
    /* LF_DOUBT_BLUR and so on have their own numbers */
    LF_REASON_BLOCKED = 32, /* the engine says that something stands in front */
    LF_REASON_UNSEEN = 33,  /* no photo found in frames between those where one was */
} LfReason;

/* "blur", ..., "unclear", "blocked", "unseen"; NULL for what is none. static. */
LF_API const char *lf_reason_name(int reason);
/* -1 for what is none. */
LF_API int lf_reason_from_name(const char *name);

typedef struct {
    int64_t id;
    int64_t walk, photo; /* ids; photo 0: on none */
    int64_t from_us, to_us;
    int reason;          /* LfDoubt or LfReason */
    int64_t samples;     /* with gaze */
    int64_t left;        /* of these, without a placement that holds */
    int64_t interval_us; /* what a sample stands for: the walk's median */
    double confidence;   /* mean of its samples; NaN where there is none */
    int64_t version;     /* of LfReview, when a placement on it last changed */
} LfStretch;

/* Who looks. */
typedef struct {
    const char *name; /* NULL: nobody in particular */
    bool blind;
} LfReviewer;

/* Works out the stretches of walks that were cast since; at most `most` walks (0: all), so that a
 * caller with something else to do can go on in steps. *left: walks still to be done. Walks that
 * are up to date cost next to nothing. */
LF_API bool lf_study_stretches_refresh(LfStudy *study, int most, int *left, GError **error);
/* LfStretch, by walk and time; owned by the caller. For a blind reviewer `left` counts their own
 * placements, and stretches on which they placed something with open eyes are left out. */
LF_API GArray *lf_study_stretches(LfStudy *study, const LfReviewer *reviewer, GError **error);
/* One of them; *found false where there is none of that number any more. */
LF_API bool lf_study_stretch(LfStudy *study, const LfReviewer *reviewer, int64_t id,
                             LfStretch *stretch, bool *found, GError **error);
/* A number that changes with every change of stretches and placements by anybody. */
LF_API bool lf_study_review_version(LfStudy *study, int64_t *version, GError **error);
/* A number that changes when another program, or another LfStudy, has written to the study. */
LF_API bool lf_study_changes(LfStudy *study, int64_t *number, GError **error);
/* Seconds a stretch took of late: by the reviewer, or anybody where they settled fewer than five or
 * have no name; pauses over two minutes are left out. NaN where too few were settled. */
LF_API bool lf_study_review_pace(LfStudy *study, const LfReviewer *reviewer, double *seconds,
                                 GError **error);

/* --- a span of a walk ----------------------------------------------------------------------- */

/* Where a sample falls. */
typedef struct {
    LfState state;
    int64_t photo; /* id; 0: on none */
    double x, y, radius_px;
} LfPlace;

typedef struct {
    int64_t t_us;
    LfPoint gaze_px; /* on the frame as shown; NaN where lost */
    bool lost;
    bool cast;     /* false: no result of today's inputs and settings, and `guess` is not set */
    LfPlace guess; /* the engine's */
    double confidence;
    LfCov2 cov;
    LfDoubt doubt;
    LfPlace now;       /* with placements on top */
    int64_t placement; /* that `now` comes from; 0: none */
} LfSpanSample;

typedef struct {
    int64_t photo;   /* id */
    LfPoseCast pose; /* pose.photo is not set */
} LfSpanPose;

typedef struct {
    int64_t from_us, to_us;
} LfTimeSpan;

typedef struct {
    int64_t id, walk;
    int64_t from_us, to_us;
    char *kind;     /* "accept", "rival", "point", "tie", "away", "blocked" */
    char *detail;   /* JSON */
    char *who, *at; /* at: ISO 8601, UTC */
    bool blind, lifted;
    int64_t samples;
} LfPlacement;

typedef struct {
    GArray *samples;       /* LfSpanSample */
    GArray *poses;         /* LfSpanPose, by time and photo */
    GArray *fixations;     /* LfTimeSpan: those that touch it, as last computed */
    GPtrArray *placements; /* LfPlacement that touch it, newest first, lifted ones too */
} LfSpan;

/* What is known of from_us <= t < to_us; poses and fixations reach one step beyond. */
LF_API LfSpan *lf_study_span(LfStudy *study, const LfReviewer *reviewer, int64_t walk,
                             int64_t from_us, int64_t to_us, GError **error);
LF_API void lf_span_free(LfSpan *span);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfSpan, lf_span_free)

/* State (with placements on top) and the engine's confidence (NaN where there is none) of a sample
 * that is cast or placed. */
typedef void (*LfGlance)(int64_t t_us, LfState state, double confidence, bool placed, void *data);
/* The same of a span of any length, sample by sample, and nothing else: for a walk at a glance. */
LF_API bool lf_study_glance(LfStudy *study, const LfReviewer *reviewer, int64_t walk,
                            int64_t from_us, int64_t to_us, LfGlance glance, void *data,
                            GError **error);

/* LfPlacement of a walk, newest first. */
LF_API GPtrArray *lf_study_placements(LfStudy *study, const LfReviewer *reviewer, int64_t walk,
                                      GError **error);

/* Rivals of a span's poses gathered: how far everything would move. */
typedef struct {
    int64_t photo;
    double dx, dy;   /* photo px; mean of those gathered */
    double strength; /* their mean */
    int frames;      /* that have it */
} LfSpanRival;
#define LF_SPAN_RIVALS_MAX 6

/* Strongest first (by strength times frames), of poses within from_us <= t < to_us, without those
 * that a person would take for the same place as a stronger one; returns how many. */
LF_API int lf_span_rivals(const LfSpan *span, int64_t from_us, int64_t to_us,
                          LfSpanRival rivals[LF_SPAN_RIVALS_MAX]);

/* When the frames of a walk are shown, ascending. From the study, or, for studies that do not have
 * them yet, from the video, and then kept. key_us: where decoding can start. */
LF_API LfVideoIndex *lf_study_frames(LfStudy *study, int64_t walk, GError **error);

/* --- decisions ------------------------------------------------------------------------------ */

typedef enum {
    LF_DECIDE_ACCEPT,  /* the engine's guess, as it stands */
    LF_DECIDE_RIVAL,   /* shifted by a rival */
    LF_DECIDE_POINT,   /* the gaze at t_us falls on (x, y) */
    LF_DECIDE_TIE,     /* as the engine followed it from tied points */
    LF_DECIDE_AWAY,    /* on no photo */
    LF_DECIDE_BLOCKED, /* on something in front of it */
} LfDecisionKind;

typedef enum {
    LF_SCOPE_STRETCH,
    LF_SCOPE_FIXATION, /* the one at t_us; LF_ERROR_USAGE where there is none */
    LF_SCOPE_SAMPLE,   /* the one nearest to t_us */
} LfScope;

typedef enum {
    LF_MOVE_AUTO,  /* over a stretch SHIFT where the engine has a point at t_us, else STILL */
    LF_MOVE_SHIFT, /* the engine's points all move as the one at t_us does */
    LF_MOVE_STILL, /* all samples take the one point */
} LfMove;

typedef struct {
    int64_t t_us;
    LfPlace place;
} LfTiedPlace;

typedef struct {
    int64_t stretch;
    int64_t version; /* of the stretch as the reviewer saw it */
    LfDecisionKind kind;
    LfScope scope;
    int64_t t_us;            /* for POINT and the smaller scopes */
    int64_t photo;           /* id, for POINT */
    double x, y, radius_px;  /* photo px, for POINT; radius_px NaN where not known */
    LfMove move;             /* for POINT */
    int rival;               /* for RIVAL: index into lf_span_rivals of the stretch */
    const LfTiedPlace *tied; /* for TIE, by time; borrowed */
    gsize n_tied;
    const char *said; /* JSON kept with the placement; NULL: what stands above */
} LfDecision;

typedef enum {
    LF_DECIDED,
    LF_DECIDED_GONE,    /* the stretch is no more; nothing was done */
    LF_DECIDED_CHANGED, /* somebody else decided on it since; nothing was done */
} LfDecided;

/* True with *decided other than LF_DECIDED where things have changed meanwhile. LF_ERROR_USAGE
 * where the decision makes no sense, in a sentence for the reviewer. */
LF_API bool lf_study_decide(LfStudy *study, const LfReviewer *reviewer, const LfDecision *decision,
                            LfDecided *decided, int64_t *placement, GError **error);

/* --- following from ties -------------------------------------------------------------------- */

/* What the engine needs to follow a photo from tied points through a stretch (tie.h). Holds copies:
 * once made it knows no study, and may be run in any thread, once. */
typedef struct LfStudyTie LfStudyTie;
/* LF_ERROR_INPUT where photo or video are not what the study was cast with. */
LF_API LfStudyTie *lf_study_tie_new(LfStudy *study, const LfStretch *stretch, int64_t photo,
                                    const LfTie *ties, gsize n, GError **error);
LF_API void lf_study_tie_free(LfStudyTie *tie);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfStudyTie, lf_study_tie_free)
/* As lf_cast_tied. */
LF_API bool lf_study_tie_run(LfStudyTie *tie, int threads, LfTieProgress progress, void *data,
                             const int *cancel, LfTied *out, GError **error);
/* A sample of the result as it is placed. */
LF_API LfTiedPlace lf_study_tie_place(const LfStudyTie *tie, const LfSampleCast *sample);

/* --- going back ----------------------------------------------------------------------------- */

/* A step that can be undone or done again. */
typedef struct {
    int64_t placement; /* 0: there is none */
    bool lifts;        /* it lifted the placement; otherwise it made it */
    char kind[16];
    int64_t walk, from_us, to_us;
    int64_t stretch; /* one of today that overlaps; 0: none */
    char at[32];
} LfReviewStep;

/* What undo and redo would do next. */
LF_API bool lf_study_review_steps(LfStudy *study, const LfReviewer *reviewer, LfReviewStep *undo,
                                  LfReviewStep *redo, GError **error);
/* Goes one step of the reviewer's own back or forth; step->placement is 0 where there is none. */
LF_API bool lf_study_review_undo(LfStudy *study, const LfReviewer *reviewer, LfReviewStep *step,
                                 GError **error);
LF_API bool lf_study_review_redo(LfStudy *study, const LfReviewer *reviewer, LfReviewStep *step,
                                 GError **error);
/* Lifts a placement, anybody's; LF_DECIDED_GONE where there is none that could be lifted. */
LF_API bool lf_study_lift(LfStudy *study, const LfReviewer *reviewer, int64_t placement,
                          LfDecided *decided, GError **error);
/* Names of all who ever placed, in order; char *. */
LF_API GPtrArray *lf_study_reviewers(LfStudy *study, GError **error);
/* Whose placements hold on from_us <= t < to_us of a walk; char *. */
LF_API GPtrArray *lf_study_placed_by(LfStudy *study, const LfReviewer *reviewer, int64_t walk,
                                     int64_t from_us, int64_t to_us, GError **error);

/* --- agreement ------------------------------------------------------------------------------ */

/* Two reviewers on the same samples: the first whose word holds, the second blind. A pair is a run
 * of samples on which one placement of each lies. */
typedef struct {
    char *first, *second; /* both NULL in the row of all together */
    int64_t pairs, samples;
    int64_t points; /* pairs with both on the same photo and a known angle between them */
    double median_deg, p95_deg; /* of their distances, mean over the samples of a pair; NaN: none */
    double same_state;          /* share of pairs with the same state: a photo, away, or blocked */
    double kappa;               /* Cohen's; NaN where it is not defined (all the same state) */
    double kappa_low, kappa_high; /* its 95% interval */
} LfAgreement;

/* LfAgreement of each pair of reviewers, and of all where there is more than one pair. */
LF_API GPtrArray *lf_study_agreement(LfStudy *study, GError **error);

G_END_DECLS

#endif
