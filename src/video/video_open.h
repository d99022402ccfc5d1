/* Opening a video file: the shared beginning of the index and the reader, so that both see the same
 * stream and the same clock. */
#ifndef LF_VIDEO_OPEN_H
#define LF_VIDEO_OPEN_H

#include <lookfall/video.h>

#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>

/* Where the times of frames come from. */
typedef enum {
    /* Every packet says when it is presented: MP4, MOV, MKV and nearly all others. */
    LF_VIDEO_STAMPS_PRESENTED,
    /* Packets say only when they are decoded (AVI): the file's frames are spaced by the decoding
     * times, and the n-th frame shown gets the n-th decoding time. Decoded in order from a key
     * frame, this needs no knowledge of what is shown when. */
    LF_VIDEO_STAMPS_DECODED,
} LfVideoStamps;

typedef struct {
    char *path;
    AVFormatContext *format;
    AVStream *stream;     /* the scene video; of format */
    const AVCodec *codec; /* its software decoder; static */
    LfVideoStamps stamps;
    bool is_avi;
    /* Frames change their order between file and screen. With LF_VIDEO_STAMPS_DECODED it is then
     * not known how many frames that follow a key frame in the file are shown before it, so only
     * the first key frame is a place to start at. */
    bool reorders;
    LfVideoInfo info;
} LfVideoSource;

bool lf_video_source_open(LfVideoSource *source, const char *path, GError **error);
/* Accepts a source that is zeroed or half open, and leaves it zeroed. */
void lf_video_source_close(LfVideoSource *source);

/* Reads the next packet that is not empty, of the scene video and of other streams whose `discard`
 * the caller has reset (opening sets it). Returns 0, AVERROR_EOF at the end of the file or where it
 * breaks off, or another libav code where it cannot be read on. */
int lf_video_source_read(LfVideoSource *source, AVPacket *packet);

/* Whether the packet is one of the scene video that puts a picture on the screen. */
bool lf_video_source_shows(const LfVideoSource *source, const AVPacket *packet);

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(LfVideoSource, lf_video_source_close)

#endif
