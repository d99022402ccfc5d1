/* What a report is made of, read and counted once. */
#ifndef LF_REPORT_DATA_H
#define LF_REPORT_DATA_H

#include <lookfall/draw.h>
#include <lookfall/placement.h>
#include <lookfall/report.h>
#include <lookfall/trail.h>

/* Upper ends of the bands of confidence; the last one holds 1 too. */
enum { REPORT_BANDS = 6 };
extern const double report_bands[REPORT_BANDS];

/* Samples, and their time: each stands for the median interval of its walk. */
typedef struct {
    gsize samples;
    double s;
} ReportCount;

typedef struct {
    ReportCount all;
    ReportCount states[LF_STATE_PLACED + 1]; /* with placements on top */
    ReportCount engine[LF_STATE_PLACED + 1]; /* as the engine left them */
    ReportCount uncast;
    ReportCount bands[REPORT_BANDS]; /* on a photo, of the engine, by confidence */
    double band_sum[REPORT_BANDS];   /* of the confidences */
} ReportTally;

typedef struct {
    const LfStudyWalk *walk; /* of walks */
    ReportTally tally;
    gsize fixations; /* on photos */
} ReportWalk;

typedef struct {
    const LfDrawSettings *pictures; /* borrowed; all of one choice */
    gsize n_pictures;
    const LfDrawChoice *choice; /* that of the pictures */
    bool chosen;                /* it leaves something out */
    GPtrArray *walks;           /* LfStudyWalk, of the choice; so are all counts */
    char **names;               /* of walks; NULL where all are in */
    GPtrArray *photos;          /* LfStudyPhoto, of the choice */
    GPtrArray *inputs;          /* LfStudyInput */
    GPtrArray *log;             /* LfStudyEvent */
    GPtrArray *news;            /* LfStudyFileNews */
    GPtrArray *reviewers, *agreement;
    GPtrArray *groups; /* char *: names of the groups there are, in order */
    LfCastSettings settings;
    ReportWalk *each; /* one for each walk */
    ReportTally total;
    gsize people; /* participants; a walk of nobody in particular is a person of its own */
    gsize fixations;
    char *fixation_settings; /* text, of the first walk with fixations; NULL: there are none */
    bool fixation_mixed;     /* walks have fixations of different settings */
    GPtrArray *unfixated;    /* char *: walks without up to date fixations */
} ReportData;

/* pictures: at least one. */
ReportData *report_data_load(LfStudy *study, const LfDrawSettings *pictures, gsize n_pictures,
                             GError **error);
void report_data_free(ReportData *data);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ReportData, report_data_free)

/* The participant, or the walk's name where none is told. */
const char *report_data_person(const LfStudyWalk *walk);
/* Samples with gaze that are cast. */
gsize report_data_gaze(const ReportTally *tally);

#endif
