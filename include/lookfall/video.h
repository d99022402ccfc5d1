/* Scene videos: frames in presentation order with exact timestamps, as luma planes.
 *
 * Times are integer microseconds of the walk's clock: 0 is the file's start_time (libavformat's
 * AVFormatContext.start_time: the first timestamp of any stream), so that a file whose timestamps
 * begin at 5 s starts at 0 too; LfVideoInfo.stamp_zero_us says which timestamp 0 stands for.
 * Frames are never counted to tell the time. A reader belongs to one thread at a time. */
#ifndef LOOKFALL_VIDEO_H
#define LOOKFALL_VIDEO_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <lookfall/error.h>

G_BEGIN_DECLS

#define LF_NO_TIME INT64_MIN

typedef struct {
    int width, height; /* px as shown, after rotation */
    int rotation; /* degrees clockwise that the stored picture is turned to be shown: 0, 90, 180,
                     270 */
    int64_t stamp_zero_us; /* the file's own timestamp at walk time 0 */
    double frame_rate;     /* average, frames per second; for display only */
    char codec[32];        /* libavcodec's short name */
} LfVideoInfo;

/* Where frames and key frames lie, found by reading packets without decoding. */
typedef struct {
    int64_t *frame_us; /* presentation times, ascending; n_frames of them */
    gsize n_frames;
    int64_t *key_us; /* presentation times of key frames a reader can start at, ascending */
    gsize n_keys;
    int64_t end_us; /* end of the last frame (its time + its duration) */
    bool cut_off;   /* the file ends before its header says it should */
    LfVideoInfo info;
} LfVideoIndex;

/* One frame as shown. luma is borrowed until the next call on the same reader. Full or limited
 * range is left as it is stored. */
typedef struct {
    int64_t t_us;
    int width, height;
    const uint8_t *luma;
    ptrdiff_t stride; /* bytes */
} LfFrame;

typedef struct LfVideo LfVideo;

/* LF_ERROR_INPUT: no such file, not a video, no video stream, no packet of video in it. */
LF_API LfVideoIndex *lf_video_index_new(const char *path, GError **error);
LF_API void lf_video_index_free(LfVideoIndex *index);

/* `threads`: decoder threads, 1 or more. Decoded pictures do not depend on it. */
LF_API LfVideo *lf_video_open(const char *path, int threads, GError **error);
LF_API void lf_video_close(LfVideo *video);
LF_API const LfVideoInfo *lf_video_info(const LfVideo *video);
/* The next call to lf_video_next gives the first frame with t_us >= from_us. key_us must be a key
 * frame time of the index at or before from_us. */
LF_API bool lf_video_seek(LfVideo *video, int64_t key_us, int64_t from_us, GError **error);
/* True with *got = false at the end. A damaged frame inside the file is passed over, and counted in
 * lf_video_damaged. LF_ERROR_INPUT where nothing more can be decoded before the end. */
LF_API bool lf_video_next(LfVideo *video, LfFrame *frame, bool *got, GError **error);
/* Frames that no other is decoded from are passed over from now on (where the container tells their
 * times), which is much quicker in most videos; the others come as ever. What is passed over is
 * counted in lf_video_damaged. */
LF_API void lf_video_set_sparse(LfVideo *video, bool sparse);
LF_API int64_t lf_video_damaged(const LfVideo *video);
/* The last frame given by lf_video_next, as packed 8-bit RGB, as shown; rgb takes width * height *
 * 3 bytes. */
LF_API bool lf_video_last_rgb(LfVideo *video, uint8_t *rgb, GError **error);

/* How YCbCr values stand for colours: code points of ITU-T H.273 (2: not told). All zero: BT.709,
 * limited range. */
typedef struct {
    uint8_t primaries, transfer, matrix;
    bool full_range;
} LfVideoColours;

/* A picture in 8-bit YCbCr 4:2:0: luma of width x height, then blue and red difference of half of
 * each, rounded up. */
typedef struct {
    int width, height; /* px */
    uint8_t *plane[3];
    ptrdiff_t stride[3]; /* bytes */
    LfVideoColours colours;
} LfYuv;

/* Black, in one piece of memory. NULL where there is none to be had. */
LF_API LfYuv *lf_yuv_new(int width, int height);
LF_API void lf_yuv_free(LfYuv *yuv);
/* A part of a picture as a picture of its own; borrows the memory. x and y are even. */
LF_API LfYuv lf_yuv_part(const LfYuv *yuv, int x, int y, int width, int height);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfYuv, lf_yuv_free)

/* The last frame given by lf_video_next, as shown, in the values it is stored in (more than 8 bits
 * are rounded, finer chroma is averaged; RGB becomes BT.709). yuv is of the frame's size; colours
 * are set. */
LF_API bool lf_video_last_yuv(LfVideo *video, LfYuv *yuv, GError **error);

/* The blue and red difference of a frame as shown, in the values they are stored in: half of its
 * size, rounded up. */
typedef struct {
    int width, height; /* px */
    const uint8_t *plane[2];
    ptrdiff_t stride[2]; /* bytes */
} LfChroma;

/* That of the last frame given by lf_video_next, borrowed until the next call on the same reader.
 * LF_ERROR_USAGE: none was given; LF_ERROR_MACHINE: no memory. */
LF_API bool lf_video_last_chroma(LfVideo *video, LfChroma *chroma, GError **error);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfVideoIndex, lf_video_index_free)
G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfVideo, lf_video_close)

/* H.264 in MP4 (or what the file's ending says), from frames with times of one's own (strictly
 * ascending). */
typedef struct {
    int width, height;  /* even */
    double frame_rate;  /* nominal */
    int key_interval;   /* frames between key frames at most */
    int quality;        /* x264's CRF, with fast its QP; 0..51, less is better */
    const char *preset; /* x264's, NULL for "veryfast" */
    bool fast;          /* simpler coding: less work for more bytes */
    int threads;
    int64_t start_us; /* timestamp given to time 0 */
    /* Of lf_video_writer_add_yuv; to be left zero (BT.709) for RGB frames. */
    LfVideoColours colours;
} LfVideoWriterOptions;

typedef struct LfVideoWriter LfVideoWriter;

LF_API LfVideoWriter *lf_video_writer_new(const char *path, const LfVideoWriterOptions *options,
                                          GError **error);
/* Packed 8-bit RGB. */
LF_API bool lf_video_writer_add(LfVideoWriter *writer, int64_t t_us, const uint8_t *rgb,
                                ptrdiff_t stride, GError **error);
/* The same from YCbCr of the options' colours, which is faster: nothing is converted. */
LF_API bool lf_video_writer_add_yuv(LfVideoWriter *writer, int64_t t_us, const LfYuv *yuv,
                                    GError **error);
/* Writes the trailer. The file is whole only when this returned true. */
LF_API bool lf_video_writer_finish(LfVideoWriter *writer, GError **error);
LF_API void lf_video_writer_free(LfVideoWriter *writer);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfVideoWriter, lf_video_writer_free)

G_END_DECLS

#endif
