/* The cast: gaze of walks onto photos.
 *
 * A walk is cut into chunks at key frames. A chunk is computed by one thread from its own frames
 * alone, so the result is the same for any number of workers and in any order; it is handed to the
 * sink once, whole. Nothing is written here. */
#ifndef LOOKFALL_CAST_H
#define LOOKFALL_CAST_H

#include <stdbool.h>
#include <stdint.h>

#include <lookfall/gaze.h>
#include <lookfall/photo.h>
#include <lookfall/video.h>

G_BEGIN_DECLS

/* Changes whenever results may change: a study redoes what an older engine cast. */
#define LF_ENGINE_VERSION 8
/* Changes with the weights or the features of the confidence model. */
#define LF_CONFIDENCE_VERSION 7
/* The confidence model by its version and the first 12 digits of the SHA-256 of its table of
 * weights, as in "1-0123456789ab". Static. */
LF_API const char *lf_confidence_model(void);

typedef enum {
    LF_STATE_LOST = 0,     /* no gaze in the file */
    LF_STATE_AWAY = 1,     /* on no photo */
    LF_STATE_BLOCKED = 2,  /* on something in front of the photo */
    LF_STATE_DOUBTFUL = 3, /* confidence under the threshold */
    LF_STATE_SURE = 4,
    LF_STATE_PLACED = 5, /* by a person; the engine never gives it */
} LfState;

/* "lost", "away", ... static. */
LF_API const char *lf_state_name(LfState state);

typedef struct {
    double tolerance_deg; /* a cast point is right within this visual angle; default 1 */
    double sure_at;       /* confidence from which a sample is sure; default 0.85 */
} LfCastSettings;

LF_API LfCastSettings lf_cast_settings_default(void);

/* Why a sample is doubtful, as far as one reason stands out. */
typedef enum {
    LF_DOUBT_NONE = 0,
    LF_DOUBT_BLUR = 1,    /* the picture is smeared or the head turned fast */
    LF_DOUBT_FRONT = 2,   /* something may stand in front */
    LF_DOUBT_ALIKE = 3,   /* two places on the photo look alike */
    LF_DOUBT_LITTLE = 4,  /* too little of the photo is in view, or it agrees with little of it */
    LF_DOUBT_CHANGED = 5, /* the shelf has changed since the photo was taken */
    LF_DOUBT_GAP = 6,     /* carried from other frames: the photo was not found in this one */
    LF_DOUBT_DEPTH = 7,   /* things stand at different depths there */
} LfDoubt;

/* "blur", "front", ... static; "" for LF_DOUBT_NONE. */
LF_API const char *lf_doubt_name(LfDoubt doubt);

typedef struct {
    gsize sample; /* index into the walk's samples */
    int photo;    /* index into the photos, or -1 */
    LfState state;
    double x, y;       /* photo px; NaN where there is none */
    double confidence; /* 0..1; NaN where there is none */
    double radius_px;  /* one standard error at the point, photo px; NaN where there is none */
    LfCov2 cov;        /* error ellipse at the point, photo px^2; NaN where there is none */
    LfDoubt doubt;     /* of doubtful and blocked samples; LF_DOUBT_NONE of all others */
} LfSampleCast;

/* Another place on the photo that explains a frame nearly as well: every point of the frame would
 * fall (dx, dy) photo px further. */
typedef struct {
    double dx, dy;
    double strength; /* 0..1: how well, against the pose itself */
} LfRival;
#define LF_RIVALS_MAX 3

typedef struct {
    int64_t t_us; /* walk time of the frame */
    int photo;
    LfMat3 photo_from_frame;       /* from undistorted frame px */
    double confidence;             /* of the mapping at the centre of what is seen of the photo */
    LfRival rivals[LF_RIVALS_MAX]; /* strongest first */
    int n_rivals;
} LfPoseCast;

/* Chunk number c of a walk holds frames and samples with from_us <= t < to_us. The first starts at
 * INT64_MIN and the last ends at INT64_MAX, so that every sample has its chunk. */
typedef struct {
    int64_t key_us; /* key frame to start decoding at */
    int64_t from_us, to_us;
} LfChunkSpan;

/* Chunks of at least min_us (LF_CHUNK_MIN_US) each; never empty. Owned by the caller (g_free). */
#define LF_CHUNK_MIN_US 4000000
LF_API LfChunkSpan *lf_chunks_plan(const LfVideoIndex *index, int64_t min_us, gsize *n);

/* One walk to be cast. All pointers are borrowed while lf_cast_run runs. */
typedef struct {
    const char *video_path;
    LfLens lens;
    const LfGazeSample *samples;
    gsize n_samples;
    const LfChunkSpan *chunks;
    const bool *done; /* n_chunks flags: chunks to leave out; NULL for none */
    gsize n_chunks;
    void *user; /* for the sink */
} LfCastWalk;

typedef struct {
    const LfCastWalk *walk;
    gsize walk_index;
    gsize chunk;
    const LfSampleCast *samples;
    gsize n_samples;
    const LfPoseCast *poses;
    gsize n_poses;
    int64_t frames;  /* frames decoded for this chunk's own span */
    int64_t damaged; /* frames that could not be decoded */
    int64_t end_us;  /* LF_NO_TIME, or where the video broke off inside this chunk */
} LfChunkResult;

/* Called from one thread at a time (never two at once), in any order of chunks. Returning false
 * stops the run with that error. */
typedef bool (*LfChunkSink)(const LfChunkResult *result, void *data, GError **error);
/* Called now and then, from any worker, never two at once. frames: done so far in this run; t_us:
 * walk time of the frame just done, or 0 when a chunk has just been handed over. */
typedef void (*LfCastProgress)(int64_t frames, int64_t t_us, void *data);

/* Looks at some frames of the walks, the same ones each time, and teaches the photos their relief,
 * how far what they show stands behind or before their plane, and how they stand to each other. To
 * be called before the photos are shared; casting works without, but less well on shelves with
 * depth. A walk whose video cannot be decoded is passed over. Gaze is not looked at. jobs: workers.
 */
LF_API bool lf_cast_survey(LfPhoto *const *photos, gsize n_photos, const LfCastWalk *walks,
                           gsize n_walks, int jobs, const int *cancel, GError **error);

/* jobs: workers, 1 or more. A walk that fails (its video cannot be decoded any more) does not stop
 * the others: `failed` (may be NULL) takes one message per failed walk, "index\tsentence", and the
 * run still returns true. cancel may be NULL; polled between frames. */
LF_API bool lf_cast_run(LfPhoto *const *photos, gsize n_photos, const LfCastWalk *walks,
                        gsize n_walks, const LfCastSettings *settings, int jobs, LfChunkSink sink,
                        LfCastProgress progress, void *data, const int *cancel, GPtrArray *failed,
                        GError **error);

G_END_DECLS

#endif
