/* Fixations: when the eye rested, and on what.
 *
 * Two parts. The first is pure computation on one recording: a direction of gaze for each sample
 * goes in, an event for each sample and the list of fixations come out. The second runs it over the
 * walks of a study, with the motion of the head taken out by the poses, stores the fixations, and
 * gives them out again as long as they are up to date. docs/fixations.md defines every step.
 *
 * Angles are degrees of visual angle, times microseconds of the walk's clock. A sample stands for
 * the time from its own t_us up to the next sample's; so a fixation reaches from from_us up to, not
 * including, to_us. Between two fixations at least as much time is left as the saccade between them
 * takes, also where samples are too coarse to show it. */
#ifndef LOOKFALL_FIXATION_H
#define LOOKFALL_FIXATION_H

#include <lookfall/study.h>

G_BEGIN_DECLS

/* Raised whenever the same gaze and settings may give other fixations. */
#define LF_FIXATION_VERSION 1

/* --- detection ------------------------------------------------------------------------------ */

typedef struct {
    int64_t t_us;        /* strictly ascending */
    double x_deg, y_deg; /* of any origin: only differences count; NaN where lost */
    bool lost;
    bool moving; /* the head's motion is still in it: its noise is measured apart */
} LfDirection;

typedef enum {
    LF_EVENT_LOST = 0, /* no gaze */
    LF_EVENT_FIXATION = 1,
    LF_EVENT_SACCADE = 2,
    LF_EVENT_OTHER = 3, /* the eye's ringing after a saccade, and what is too short */
} LfEvent;

/* "lost", "fixation", "saccade", "other"; static. */
LF_API const char *lf_event_name(LfEvent event);

typedef enum {
    LF_FIXATION_VELOCITY = 0,   /* a fixation is what lies between saccades */
    LF_FIXATION_DISPERSION = 1, /* a fixation is where gaze stays together */
} LfFixationMethod;

typedef struct {
    LfFixationMethod method;
    double noise_factor; /* a threshold lies so many standard deviations of the noise above 0 */
    double smooth_ms;    /* velocity: span over which speed is measured */
    double peak_deg_s;   /* velocity: the threshold of a saccade's peak is never below this ... */
    double peak_most_deg_s; /* ... nor above this */
    double edge_share;      /* velocity: threshold of a saccade's ends, as a share of the peak's */
    double ringing_ms;      /* velocity: how long after a saccade the eye may ring */
    double dispersion_deg;  /* dispersion: width + height of a fixation without noise */
    double bridge_ms;       /* a gap up to this long does not end a fixation */
    double merge_ms;        /* fixations at most this far apart in time ... */
    double merge_deg;       /* ... and in space are one */
    double min_fixation_ms; /* shorter ones are dropped */
} LfFixationSettings;

LF_API LfFixationSettings lf_fixation_settings_default(void);
/* LF_ERROR_USAGE names the setting that is out of range. */
LF_API bool lf_fixation_settings_check(const LfFixationSettings *settings, GError **error);
/* "name value" lines with all digits, the same for the same settings; owned by the caller. */
LF_API char *lf_fixation_settings_text(const LfFixationSettings *settings);

/* A run of samples. */
typedef struct {
    gsize first, end;       /* samples first <= i < end */
    int64_t from_us, to_us; /* to_us: at most of sample `end`, or one interval after the last one
                             * before a hole in the recording */
    double x_deg, y_deg;    /* mean direction */
    gsize samples;          /* with gaze */
} LfFixationSpan;

typedef struct {
    LfEvent *events; /* one for each sample */
    LfFixationSpan *fixations;
    gsize n_fixations;
    int64_t interval_us; /* median time between samples */
    /* What was worked out and used; the second of each for samples with the head's motion in. NaN
     * where there was nothing to work it out from, or no use for it. */
    double noise_deg_s[2]; /* velocity: standard deviation of one axis outside saccades */
    double peak_deg_s[2];
    double smooth_ms;
    double noise_deg; /* dispersion: standard deviation of one axis of direction */
    double dispersion_deg;
} LfFixations;

/* No sample with gaze is an answer too: no fixations. LF_ERROR_INPUT where times do not ascend or a
 * direction is not finite though it is not lost; LF_ERROR_USAGE as lf_fixation_settings_check. */
LF_API LfFixations *lf_fixations_find(const LfDirection *directions, gsize n,
                                      const LfFixationSettings *settings, GError **error);
LF_API void lf_fixations_free(LfFixations *fixations);
/* What was worked out and used, as "name value" lines; owned by the caller. */
LF_API char *lf_fixations_used_text(const LfFixations *fixations);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfFixations, lf_fixations_free)

/* --- in a study ----------------------------------------------------------------------------- */

typedef struct {
    int64_t from_us, to_us;
    int64_t photo_id;  /* 0: on none */
    const char *photo; /* its name; NULL: on none */
    LfState state;     /* of most of its samples: away, blocked, doubtful, sure or placed */
    double x_px, y_px; /* mean of its samples on the photo; NaN where it is on none */
    double radius_px;  /* one standard error of that mean; NaN where it is on none */
    gsize samples;     /* gaze samples in it that are not lost */
} LfFixation;

typedef struct {
    const char *const *walks; /* names, NULL-terminated; NULL for all */
    LfFixationSettings settings;
    int jobs;          /* workers, 1 or more; the result does not depend on it */
    const int *cancel; /* set to non-zero to stop after the walk in work; may be NULL */
    /* From the calling thread; may be NULL. */
    void (*progress)(gsize done, gsize total, void *data);
    void *data;
} LfStudyFixateOptions;

typedef struct {
    gsize walks;       /* asked for */
    gsize walks_done;  /* of these, with up to date fixations now */
    gsize walks_new;   /* of these, computed in this run */
    int64_t fixations; /* in the walks done */
    gsize otherwise;   /* walks of the study whose fixations were found with other settings */
    bool interrupted;
    GPtrArray *uncast; /* char *: names of walks that are not cast, and so have none */
    GPtrArray *partly; /* char *: names of walks that are not wholly cast */
    GPtrArray *failed; /* char *: one sentence for each other walk without fixations */
} LfStudyFixateReport;

/* Finds the fixations of what is cast, walk by walk, each in one transaction. What is up to date
 * with these settings is left as it is. On an error report holds what was done. */
LF_API bool lf_study_fixate(LfStudy *study, const LfStudyFixateOptions *options,
                            LfStudyFixateReport *report, GError **error);
LF_API void lf_study_fixate_report_clear(LfStudyFixateReport *report);

/* The fixations of one walk, in time order. */
typedef struct {
    const char *walk;
    int time_decimals;    /* as LfStudySample */
    const char *settings; /* text of lf_fixation_settings_text */
    const char *used;     /* text of lf_fixations_used_text */
    const LfFixation *fixations;
    gsize n;
} LfStudyFixations;

/* Borrowed during the call; returning false stops with that error. */
typedef bool (*LfStudyFixationSink)(const LfStudyFixations *walk, void *data, GError **error);

/* Walk by walk, by name. Fixations of samples that have changed since (cast anew, placed) are never
 * given out: undone (may be NULL) takes the names of walks without up to date fixations.
 * LF_ERROR_INPUT where no walk has any. */
LF_API bool lf_study_fixations(LfStudy *study, const char *const *walks, LfStudyFixationSink sink,
                               void *data, GPtrArray *undone, GError **error);

G_END_DECLS

#endif
