/* The study: one SQLite file that holds everything but the videos and photos themselves.
 *
 * A study points to its photos, videos, gaze and camera files by path and checksum, keeps a copy of
 * the gaze samples and of the photos' feature banks, and takes the results of the cast chunk by
 * chunk. No input file is ever written to. docs/study.md describes the tables.
 *
 * Errors: unless said otherwise a call gives LF_ERROR_INPUT for a bad file, name or value, and
 * LF_ERROR_MACHINE where the disk is full, read-only or locked by another program for longer than
 * 20 s; the study is then as it was before the call.
 *
 * Threads: an LfStudy belongs to one thread at a time; open one for each thread.
 *
 * Lists are GPtrArray that free what they hold: release them with g_ptr_array_unref. Strings are
 * UTF-8, paths are in the file system's own encoding. Times are microseconds of the walk's clock.
 */
#ifndef LOOKFALL_STUDY_H
#define LOOKFALL_STUDY_H

#include <stdbool.h>
#include <stdint.h>

#include <lookfall/cast.h>

G_BEGIN_DECLS

typedef struct LfStudy LfStudy;

/* One sentence worth telling the user; borrowed during the call. */
typedef void (*LfStudyNote)(const char *sentence, void *data);

typedef enum {
    LF_STUDY_READ,  /* works on a read-only disk too */
    LF_STUDY_WRITE, /* LF_ERROR_MACHINE where the file cannot be written */
} LfStudyAccess;

/* A new, empty study, open for writing. An existing file is never replaced (LF_ERROR_INPUT). */
LF_API LfStudy *lf_study_create(const char *path, const LfCastSettings *settings, GError **error);
/* LF_ERROR_INPUT: no such file, no study, or made by a newer lookfall. A study of an older version
 * is brought up to date when opened for writing; reading it asks for that first. */
LF_API LfStudy *lf_study_open(const char *path, LfStudyAccess access, GError **error);
LF_API void lf_study_close(LfStudy *study);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfStudy, lf_study_close)

/* Changed settings make every earlier result stale: the next cast redoes it. */
LF_API bool lf_study_settings(LfStudy *study, LfCastSettings *settings, GError **error);
LF_API bool lf_study_set_settings(LfStudy *study, const LfCastSettings *settings, GError **error);
/* LF_ERROR_USAGE where a setting is out of range: tolerance_deg over 0 and up to 20, sure_at over 0
 * and up to 1. */
LF_API bool lf_study_settings_check(const LfCastSettings *settings, GError **error);

/* --- photos --------------------------------------------------------------------------------- */

typedef struct {
    int64_t id;
    char *name;
    char *path;      /* where the picture is now, or where it was last seen */
    char *sha256;    /* hex */
    double width_mm; /* real width of what is shown; NaN where not told */
    LfPhotoReport report;
} LfStudyPhoto;

/* width_mm: NaN where not known. report may be NULL. A new photo makes every earlier result stale,
 * since any frame may show it. */
LF_API bool lf_study_photo_add(LfStudy *study, const char *name, const char *image, double width_mm,
                               LfPhotoReport *report, GError **error);
/* Whether something new may take the place of the file: false with an error where it is the study
 * itself or a photo, video, gaze or camera file of it, by whatever name. */
LF_API bool lf_study_spares(LfStudy *study, const char *path, GError **error);
/* LfStudyPhoto, in the order they were added. */
LF_API GPtrArray *lf_study_photos(LfStudy *study, GError **error);
/* Also removes every result that was cast with the photo among the candidates. */
LF_API bool lf_study_photo_remove(LfStudy *study, const char *name, GError **error);

/* --- walks ---------------------------------------------------------------------------------- */

/* What the times of a gaze file count from. */
typedef enum {
    LF_CLOCK_AUTO,  /* START, unless STAMP brings clearly more samples inside the video */
    LF_CLOCK_START, /* 0 is the video's start */
    LF_CLOCK_STAMP, /* the same clock as the video file's own timestamps */
} LfClock;

/* What the user says about a walk. All strings are borrowed; NULL where not told. */
typedef struct {
    const char *name; /* needed */
    const char *participant, *group;
    const char *video, *gaze; /* needed */
    const char *camera;
    LfGazeFormat format;
    LfClock clock;
} LfWalkInput;

/* Reads and checks the files, then adds the walk. Notes tell of samples outside the video, of the
 * clock taken where it matters, and of a video that is cut off. LF_ERROR_INPUT also where more than
 * half of the samples lie outside a whole video, or all of them outside any. */
LF_API bool lf_study_walk_add(LfStudy *study, const LfWalkInput *input, LfStudyNote note,
                              void *data, GError **error);

/* A walk that could not be imported. */
typedef struct {
    gsize index; /* into the inputs */
    char *sentence;
} LfWalkFault;

/* Called after each input is read, from the calling thread. */
typedef void (*LfWalkImportProgress)(gsize done, gsize total, void *data);

/* Adds all inputs in one transaction, or none: each one that fails is added to faults (a GPtrArray
 * made by lf_walk_faults_new), in order, and the call returns false with LF_ERROR_INPUT. jobs: how
 * many files to read at once. check_only: looks for faults alone, and adds nothing in any case. */
LF_API bool lf_study_walk_import(LfStudy *study, const LfWalkInput *inputs, gsize n, int jobs,
                                 bool check_only, LfStudyNote note, LfWalkImportProgress progress,
                                 void *data, GPtrArray *faults, GError **error);
LF_API GPtrArray *lf_walk_faults_new(void);

typedef struct {
    int64_t id;
    char *name;
    char *participant, *group;           /* NULL where not told */
    char *video, *gaze, *camera;         /* paths as LfStudyPhoto.path; camera NULL where none */
    int width_px, height_px;             /* of the frame as shown */
    LfLens lens;                         /* of the frame as shown */
    int64_t frames;                      /* in the video */
    int64_t end_us;                      /* end of the video */
    bool cut_off;                        /* the video ends before its header says it should */
    int64_t samples, lost, outside;      /* gaze samples; with no gaze; outside the video */
    gsize chunks, chunks_cast;           /* chunks_cast: with results of today's inputs, settings */
    int64_t interval_us;                 /* median time between samples */
    int64_t states[LF_STATE_PLACED + 1]; /* samples by state, of the chunks cast */
} LfStudyWalk;

/* LfStudyWalk, by name. names: a NULL-terminated choice of walks, or NULL for all; LF_ERROR_INPUT
 * where one does not exist. */
LF_API GPtrArray *lf_study_walks(LfStudy *study, const char *const *names, GError **error);
LF_API bool lf_study_walk_remove(LfStudy *study, const char *name, GError **error);

/* An input that is not where or what it was, by size and time of change alone. */
typedef struct {
    char *owner; /* "photo shelf", "walk w01" */
    char *path;
    bool missing; /* otherwise changed since it was last read */
} LfStudyFileNews;

/* LfStudyFileNews of all inputs; nothing is read but the folder entries. */
LF_API GPtrArray *lf_study_file_news(LfStudy *study, GError **error);

/* --- cast ----------------------------------------------------------------------------------- */

typedef struct {
    int64_t frames, frames_total;     /* of this run */
    int64_t video_us, video_total_us; /* the same as length of video */
} LfStudyProgress;

typedef struct {
    const char *const *walks; /* names, NULL-terminated; NULL for all */
    int jobs;                 /* workers, 1 or more */
    const int *cancel;        /* set to non-zero to stop after what is in work; may be NULL */
    LfStudyNote note;         /* may be NULL */
    void (*progress)(const LfStudyProgress *progress,
                     void *data); /* from any worker; may be NULL */
    void *data;
} LfStudyCastOptions;

typedef struct {
    gsize walks;              /* asked for */
    gsize walks_done;         /* of these, wholly cast now */
    gsize chunks, chunks_due; /* cast in this run, of those that were due */
    int64_t frames, damaged;  /* decoded in this run; that could not be decoded */
    int64_t video_us;         /* length of the video cast in this run */
    bool interrupted;
    GPtrArray *failed;       /* char *: one sentence for each walk that could not be cast */
    GPtrArray *short_videos; /* char *: one sentence for each video that breaks off early */
} LfStudyCastReport;

/* Casts what is not cast yet with today's inputs and settings. Inputs whose size or time of change
 * differ are checksummed, and what depends on a changed one is redone. A chunk is written in one
 * transaction, so that a run that ends in any way loses at most the chunks in work. A walk that
 * cannot be cast is listed and does not stop the others. On an error report holds what was done. */
LF_API bool lf_study_cast(LfStudy *study, const LfStudyCastOptions *options,
                          LfStudyCastReport *report, GError **error);
/* For a report that lf_study_cast filled. */
LF_API void lf_study_cast_report_clear(LfStudyCastReport *report);

/* --- export --------------------------------------------------------------------------------- */

typedef struct {
    const char *walk;
    int64_t t_us;
    int time_decimals;   /* decimals of a second that tell this walk's samples apart, 4 to 6 */
    LfPoint gaze_px;     /* on the frame as shown, as in the gaze file; NaN where lost */
    bool cast;           /* false: no result yet, and nothing below is set */
    const char *photo;   /* NULL: on none */
    LfSampleCast result; /* result.photo and result.sample are not set */
} LfStudySample;

typedef struct {
    const char *walk;
    const char *photo;
    LfPoseCast pose; /* pose.photo is not set */
} LfStudyPose;

/* Borrowed during the call; returning false stops the export with that error. */
typedef bool (*LfStudySampleSink)(const LfStudySample *sample, void *data, GError **error);
typedef bool (*LfStudyPoseSink)(const LfStudyPose *pose, void *data, GError **error);

/* Every gaze sample of the walks (by name; in time order), whether cast or not. Results of inputs
 * or settings that have changed since count as not cast. LF_ERROR_INPUT where nothing at all is
 * cast. undone (may be NULL) takes the names of walks that are not wholly cast. */
LF_API bool lf_study_export_samples(LfStudy *study, const char *const *walks,
                                    LfStudySampleSink sink, void *data, GPtrArray *undone,
                                    GError **error);
/* Every pose, in the same order and under the same rules. */
LF_API bool lf_study_export_poses(LfStudy *study, const char *const *walks, LfStudyPoseSink sink,
                                  void *data, GPtrArray *undone, GError **error);

G_END_DECLS

#endif
