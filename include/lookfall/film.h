/* Films of a walk: the scene video with gaze and fixations, the photo beside it in step.
 *
 * A film is a new H.264 file without sound. Its frames have the times of the scene video's frames,
 * so that a variable frame rate stays what it is; with a start of its own the film's time 0 is that
 * start. No input file is ever written to. docs/films.md shows what is drawn.
 *
 * Faces: blurring looks for faces with the detectors of OpenCV and errs on the side of blurring,
 * yet it can miss one. Whoever shows a film to others has to look at it first. */
#ifndef LOOKFALL_FILM_H
#define LOOKFALL_FILM_H

#include <lookfall/draw.h>

G_BEGIN_DECLS

/* What a film is at work on. */
typedef enum { LF_FILM_FACES, LF_FILM_FRAMES } LfFilmStep;

typedef struct {
    LfFilmStep step;
    int64_t frames, frames_total; /* of this step; the total is an estimate */
    int64_t video_us;             /* length of what is done */
} LfFilmProgress;

typedef struct {
    const char *walk;    /* its name */
    const char *path;    /* of the film; .mp4, .m4v, .mov or .mkv */
    double from_s, to_s; /* seconds of the walk's clock; NaN for its start and end */
    bool blur_faces;     /* of the scene video */
    bool photo_only;     /* gaze on the still photo, 30 frames a second; no scene video is read */
    bool force;          /* an existing file is replaced, once the film is whole */
    int threads;         /* of the encoder, 1 or more */
    const int *cancel;   /* set to non-zero to stop; may be NULL */
    void (*progress)(const LfFilmProgress *progress, void *data); /* may be NULL */
    void *data;
} LfFilmOptions;

typedef struct {
    int width_px, height_px;
    int64_t frames;
    int64_t video_us;     /* length of the film */
    int64_t damaged;      /* frames of the scene video that could not be decoded */
    int64_t faced_frames; /* frames in which something is blurred */
    bool fixated;         /* fixations were there to be drawn */
    bool wholly_cast;     /* every sample of the film has a result */
    bool interrupted;     /* cancelled: no film was made */
    char *broken;         /* where the scene video breaks off early, as a sentence; or NULL */
} LfFilmReport;

/* LF_ERROR_INPUT: no such walk, nothing of it cast, a span outside of it, a video that is gone or
 * has changed, a film that exists already or would replace an input. LF_ERROR_MACHINE: a full disk;
 * nothing is left of the film then. */
LF_API bool lf_film_make(LfStudy *study, const LfFilmOptions *options, LfFilmReport *report,
                         GError **error);
/* For a report that lf_film_make filled. */
LF_API void lf_film_report_clear(LfFilmReport *report);

typedef struct {
    int64_t t_us;  /* of the frame, walk's clock */
    bool found;    /* something is blurred in it */
    bool fixation; /* it lies in a fixation: the longest one that is settled */
} LfFilmStill;

typedef struct {
    const char *walk;        /* its name */
    const char *photo;       /* only fixations on this one; NULL: on any */
    const LfDrawSpan *spans; /* only these parts of the walk, ascending; none of them: all of it */
    gsize n_spans;
    bool blur_faces;
    int width_px; /* at most */
    int threads;  /* 1 or more */
} LfFilmStillOptions;

/* One frame of the film as JPEG: at a fixation that says much, or in the middle of a walk without
 * any. Faces are blurred as in a film. Errors as lf_film_make. */
LF_API GBytes *lf_film_still(LfStudy *study, const LfFilmStillOptions *options, LfFilmStill *still,
                             GError **error);

G_END_DECLS

#endif
