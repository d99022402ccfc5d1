/* From packets to decoded frames with walk times, and the count of those that are damaged.
 *
 * A frame's time is the timestamp that its own packet carries through the decoder, so it does not
 * depend on where decoding began (for the exception, AVI, see LfVideoStamps). */
#ifndef LF_VIDEO_DECODE_H
#define LF_VIDEO_DECODE_H

#include "video/video_open.h"

typedef struct {
    LfVideoSource source;
    AVCodecContext *context;
    AVPacket *packet;
    AVFrame *frame; /* the last decoded */

    GArray *waiting;  /* LfVideoWait, ascending, a handful: sent, and not yet come out */
    int64_t first_us; /* the key frame at which decoding began, LF_NO_TIME until it is read */
    int64_t from_us;  /* earlier frames are not wanted; LF_NO_TIME for all */
    int64_t last_us;  /* the last good frame since the beginning or the restart, or LF_NO_TIME */
    int64_t damaged;  /* wanted frames that were damaged, in all */
    bool sparse;      /* pictures that no other one is decoded from are passed over */
    int read_status;  /* 0 while there may be more packets, else libav's code why there are none */
} LfVideoDecoder;

typedef struct {
    int64_t t_us;
    bool whole; /* the container says nothing is missing in the packet */
} LfVideoWait;

bool lf_video_decoder_open(LfVideoDecoder *decoder, const char *path, int threads, GError **error);
/* Accepts a decoder that is zeroed or half open. */
void lf_video_decoder_close(LfVideoDecoder *decoder);

/* To be called whenever the source was set to another place in the file: forgets what is on its
 * way, and wants frames from from_us on. */
void lf_video_decoder_restart(LfVideoDecoder *decoder, int64_t from_us);

/* Decodes the next frame that has a time, in presentation order. *good tells whether it is a whole
 * one that is wanted; *got is false at the end, or where the file cannot be read on. */
bool lf_video_decoder_next(LfVideoDecoder *decoder, int64_t *t_us, bool *good, bool *got,
                           GError **error);

/* At the end: counts what never came out as damaged. Returns how long before the end of what was
 * sent the last good frame is, microseconds. */
int64_t lf_video_decoder_finish(LfVideoDecoder *decoder);

#endif
