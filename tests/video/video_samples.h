/* Small videos of many kinds, made with the ffmpeg command line, and what ffmpeg and ffprobe say
 * about them: the outside reference of the video tests (FFmpeg, https://ffmpeg.org). */
#ifndef VIDEO_SAMPLES_H
#define VIDEO_SAMPLES_H

#include <stdbool.h>
#include <stdint.h>

#include <glib.h>

/* How the test gets the luma plane that a reader should give from ffmpeg's output. */
typedef enum {
    VIDEO_LUMA_8,   /* extractplanes=y: the stored bytes */
    VIDEO_LUMA_10,  /* extractplanes=y: 10 bits, rounded to 8 by the test */
    VIDEO_LUMA_RGB, /* rgb24: gray by BT.601's weights */
} VideoLuma;

typedef struct {
    const char *file;    /* name, unique; the ending chooses the container */
    const char *encoder; /* ffmpeg's name for it; the sample is skipped where it is missing */
    const char *source;  /* a lavfi source, or another sample's file to copy from ("sample:NAME") */
    const char *options; /* of the output */
    const char *input_options; /* or NULL */
    VideoLuma luma;
    gsize min_keys;      /* at least so many key frames must be usable */
    bool hides_key;      /* an edit list hides the key frame that the first frames need */
    bool decoding_times; /* AVI with reordered frames: the n-th frame has the n-th decoding time */
} VideoSample;

extern const VideoSample VIDEO_SAMPLES[];
extern const gsize VIDEO_SAMPLES_N;

/* cmocka group fixtures: a folder of its own for the samples of this program. */
int video_samples_setup(void **state);
int video_samples_teardown(void **state);

/* The folder; valid between the fixtures. */
const char *video_samples_folder(void);
/* The path of a file of that name in the folder; caller frees. */
char *video_samples_path(const char *name);

/* The path of the sample, which is made unless it is there; other programs read it too, and nobody
 * writes to it or beside it. NULL where this ffmpeg has no such encoder; any other failure ends the
 * test. Caller frees. */
char *video_sample_make(const VideoSample *sample);
char *video_sample_make_named(const char *file);

/* Runs a shell command line; fails the test with its output where it fails. Returns stdout. */
char *video_samples_run(const char *format, ...) G_GNUC_PRINTF(1, 2);

/* What ffprobe says of a video; times on the file's own clock, ascending. */
typedef struct {
    int64_t start_us; /* of the file */
    int rotation;     /* of the display, degrees clockwise, 0 to 359; 0 where it names none */
    GArray *times_us; /* int64_t: of all frames shown */
    GArray *keys_us;  /* int64_t: presentation times of all key packets that are shown */
} VideoFacts;

/* Asks once for all of it, since starting ffprobe takes longer than its work. `decoding_times` as
 * of a sample. Caller frees. */
VideoFacts *video_sample_facts(const char *path, bool decoding_times);
void video_facts_free(VideoFacts *facts);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(VideoFacts, video_facts_free)

/* Luma of all frames as shown (rotated), tightly packed, one after the other. */
GBytes *video_sample_luma(const VideoSample *sample, const char *path);

#endif
