/* Following from ties: a person says where points of a frame lie on the photo, and the engine
 * follows the photo from there through a stretch of the walk.
 *
 * The pose of a tied frame starts from what was known and is moved as little as its ties ask for:
 * one tie shifts it, two turn and scale it as well, three change it by an affine map, four and more
 * fix it whole. It is then refined against the picture, and the refined pose is taken where it
 * still agrees with the ties within about half a degree. From the tied frames the photo is followed
 * forwards and backwards through the stretch. Where it is lost on the way, a find counts only if no
 * look-alike comes near it: it must not jump to the very facing the person ruled out. */
#ifndef LOOKFALL_TIE_H
#define LOOKFALL_TIE_H

#include <lookfall/cast.h>

G_BEGIN_DECLS

/* One point of one frame, tied to its place on the photo. */
typedef struct {
    int64_t t_us;  /* walk time of the frame; any time while it is shown */
    LfPoint frame; /* px of the frame as shown */
    LfPoint photo; /* px of the photo */
} LfTie;

/* done: frames worked on so far, of total. From the calling thread. */
typedef void (*LfTieProgress)(int64_t done, int64_t total, void *data);

/* All pointers are borrowed during the call. */
typedef struct {
    LfPhoto *photo;
    int photo_index; /* put into the results */
    /* Its video, lens, samples and chunks are read; chunks tell the key frames to decode from. */
    const LfCastWalk *walk;
    const LfCastSettings *settings;
    int64_t from_us, to_us; /* the stretch: samples with from_us <= t < to_us */
    const LfTie *ties;      /* at frames of the stretch, in any order */
    gsize n_ties;
    /* The engine's own poses of this photo in and around the stretch, by time: the one nearest to a
     * tied frame is where its pose starts from. Poses of other photos are passed over. */
    const LfPoseCast *priors;
    gsize n_priors;
    int threads;            /* decoder threads, 1 or more */
    LfTieProgress progress; /* may be NULL */
    void *data;
    const int *cancel; /* may be NULL; set to non-zero to stop */
} LfTieTask;

/* What became of a tied frame. */
typedef struct {
    int64_t t_us;            /* of the frame */
    LfMat3 photo_from_frame; /* from undistorted frame px */
    bool refined;            /* against the picture; otherwise as the ties alone have it */
    double miss_deg;         /* largest distance of a tie from its place under the pose */
} LfTiedFrame;

typedef struct {
    LfSampleCast *samples; /* every sample of the stretch, in order, with the state the engine
                            * gives; on this photo or none */
    gsize n_samples;
    LfPoseCast *poses; /* of the stretch's frames in which the photo was followed, by time */
    gsize n_poses;
    LfTiedFrame *frames; /* by time */
    gsize n_frames;
} LfTied;

/* Deterministic: the same task gives the same bytes, whatever `threads` is. Memory does not grow
 * with the stretch but by its results. On a failure *out is empty. LF_ERROR_INPUT, in a sentence
 * for the person who set the ties: no ties; a tie outside of photo, frame or stretch; ties of a
 * frame that fix nothing (the same point twice, all on a line); one tie alone where the photo's
 * size in the frame is not known; the video cannot be read. LF_ERROR_PART: cancelled. */
LF_API bool lf_cast_tied(const LfTieTask *task, LfTied *out, GError **error);
LF_API void lf_tied_clear(LfTied *tied);

G_END_DECLS

#endif
