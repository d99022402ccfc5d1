/* Reading videos: frames in presentation order, from the beginning or from a key frame on.
 *
 * Pictures that cannot be decoded because decoding began at a key frame stored before but shown
 * after them are earlier than what was asked for, and never given. */
#include <lookfall/video.h>

#include "video/video_decode.h"
#include "video/video_error.h"
#include "video/video_picture.h"
#include "video/video_time.h"

/* A damaged end longer than this is told as an error: the walk breaks off before its file does. */
enum { VIDEO_READ_TAIL_US = 500000 };

/* Where to look for the way to a key frame when the container's own seeking lands behind it: so
 * much earlier, and at last at the beginning of the file. */
static const int64_t VIDEO_READ_BACK_US[] = {0, 1000000, 4000000, 16000000};

struct LfVideo {
    LfVideoDecoder decoder;
    LfVideoPicture picture;
    LfYuv *colours;  /* of the last frame, where its own memory does not hold them so */
    int64_t held_us; /* time of the decoder's frame, where `held` */
    bool held;       /* the decoder's frame is still to be given */
    bool given;      /* the decoder's frame is the last given */
    bool ended;      /* no more frames, or broken */
};

LfVideo *lf_video_open(const char *path, int threads, GError **error)
{
    g_autoptr(LfVideo) v = g_new0(LfVideo, 1);

    if (!lf_video_decoder_open(&v->decoder, path, threads, error))
        return NULL;
    return g_steal_pointer(&v);
}

void lf_video_close(LfVideo *v)
{
    if (v == NULL)
        return;
    lf_video_decoder_close(&v->decoder);
    lf_video_picture_clear(&v->picture);
    lf_yuv_free(v->colours);
    g_free(v);
}

const LfVideoInfo *lf_video_info(const LfVideo *v)
{
    return &v->decoder.source.info;
}

int64_t lf_video_damaged(const LfVideo *v)
{
    return v->decoder.damaged;
}

void lf_video_set_sparse(LfVideo *v, bool sparse)
{
    v->decoder.sparse = sparse;
}

static bool video_read_give(LfVideo *v, int64_t t_us, LfFrame *frame, GError **error)
{
    const LfVideoInfo *info = lf_video_info(v);
    const AVFrame *decoded = v->decoder.frame;
    const bool upright = info->rotation % 180 == 0;
    const int width = upright ? decoded->width : decoded->height;
    const int height = upright ? decoded->height : decoded->width;

    if (width != info->width || height != info->height) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: at %.3f s the picture changes from %d x %d to %d x %d px; cut the video "
                    "there and add it as two walks.",
                    v->decoder.source.path, (double)t_us / 1e6, info->width, info->height, width,
                    height);
        return false;
    }
    *frame = (LfFrame){.t_us = t_us, .width = width, .height = height};
    if (!lf_video_picture_luma(&v->picture, decoded, info->rotation, &frame->luma, &frame->stride,
                               error)) {
        g_prefix_error(error, "%s: ", v->decoder.source.path);
        return false;
    }
    v->given = true;
    return true;
}

/* The decoder has given all it had: is it the end of the video? */
static bool video_read_end(LfVideo *v, GError **error)
{
    LfVideoDecoder *d = &v->decoder;
    const int64_t tail_us = lf_video_decoder_finish(d);
    const double last_s = d->last_us != LF_NO_TIME   ? (double)d->last_us / 1e6
                          : d->from_us != LF_NO_TIME ? (double)d->from_us / 1e6
                                                     : 0.0;

    v->ended = true;
    if (d->read_status != AVERROR_EOF)
        lf_video_error_set(error, LF_ERROR_INPUT, d->read_status, "%s cannot be read beyond %.3f s",
                           d->source.path, last_s);
    else if (d->first_us == LF_NO_TIME)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: no frame after %.3f s can be decoded.",
                    d->source.path, last_s);
    else if (tail_us > VIDEO_READ_TAIL_US)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: nothing after %.3f s can be decoded; the file is damaged from there on.",
                    d->source.path, last_s);
    else
        return true;
    return false;
}

bool lf_video_next(LfVideo *v, LfFrame *frame, bool *got, GError **error)
{
    int64_t t_us = v->held_us;
    bool good = v->held;

    *got = false;
    v->held = v->given = false;
    while (!good) {
        bool any = false;
        if (v->ended)
            return true;
        if (!lf_video_decoder_next(&v->decoder, &t_us, &good, &any, error)) {
            v->ended = true;
            return false;
        }
        if (!any)
            return video_read_end(v, error);
    }
    if (!video_read_give(v, t_us, frame, error)) {
        v->ended = true;
        return false;
    }
    *got = true;
    return true;
}

bool lf_video_last_rgb(LfVideo *v, uint8_t *rgb, GError **error)
{
    if (!v->given) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "%s: there is no last frame to give in colour.", v->decoder.source.path);
        return false;
    }
    return lf_video_picture_rgb(&v->picture, v->decoder.frame, lf_video_info(v)->rotation, rgb,
                                error);
}

bool lf_video_last_yuv(LfVideo *v, LfYuv *yuv, GError **error)
{
    const LfVideoInfo *info = lf_video_info(v);

    if (!v->given || yuv->width != info->width || yuv->height != info->height) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    v->given ? "%s: its frames are of another size."
                             : "%s: there is no last frame to give in colour.",
                    v->decoder.source.path);
        return false;
    }
    return lf_video_picture_yuv(&v->picture, v->decoder.frame, info->rotation, yuv, error);
}

bool lf_video_last_chroma(LfVideo *v, LfChroma *chroma, GError **error)
{
    const LfVideoInfo *info = lf_video_info(v);
    const AVFrame *frame = v->decoder.frame;

    if (v->given && info->rotation == 0 && lf_video_picture_is_420(frame)) {
        *chroma = (LfChroma){(info->width + 1) / 2,
                             (info->height + 1) / 2,
                             {frame->data[1], frame->data[2]},
                             {frame->linesize[1], frame->linesize[2]}};
        return true;
    }
    if (!v->colours)
        v->colours = lf_yuv_new(info->width, info->height);
    if (!v->colours) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "There is no memory for a picture of %d x %d px.", info->width, info->height);
        return false;
    }
    if (!lf_video_last_yuv(v, v->colours, error))
        return false;
    *chroma = (LfChroma){(info->width + 1) / 2,
                         (info->height + 1) / 2,
                         {v->colours->plane[1], v->colours->plane[2]},
                         {v->colours->stride[1], v->colours->stride[2]}};
    return true;
}

/* Decodes the first frame after the file was set to another place. *reached: decoding began at or
 * before key_us, so that everything from there on is sound. */
static bool video_read_try(LfVideo *v, int64_t key_us, int64_t from_us, bool *reached,
                           GError **error)
{
    bool any = false;

    lf_video_decoder_restart(&v->decoder, from_us);
    if (!lf_video_decoder_next(&v->decoder, &v->held_us, &v->held, &any, error))
        return false;
    *reached = any && v->held_us <= key_us;
    return true;
}

/* The beginning of the file, whatever the container's seeking is worth: by opening it again. */
static bool video_read_reopen(LfVideo *v, GError **error)
{
    LfVideoSource fresh;

    if (!lf_video_source_open(&fresh, v->decoder.source.path, error)) {
        lf_video_source_close(&fresh);
        return false;
    }
    lf_video_source_close(&v->decoder.source);
    v->decoder.source = fresh;
    return true;
}

bool lf_video_seek(LfVideo *v, int64_t key_us, int64_t from_us, GError **error)
{
    LfVideoSource *s = &v->decoder.source;
    const int64_t damaged = v->decoder.damaged; /* what an attempt in vain met does not count */
    bool reached = false;

    if (from_us < key_us) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "%s: frames from %.6f s cannot be reached from the key frame at %.6f s.",
                    s->path, (double)from_us / 1e6, (double)key_us / 1e6);
        return false;
    }
    v->held = v->given = v->ended = false;
    for (gsize i = 0; i < G_N_ELEMENTS(VIDEO_READ_BACK_US) && !reached; i++) {
        const int64_t stamp = lf_video_time_to_stamp(s, key_us - VIDEO_READ_BACK_US[i]);
        v->decoder.damaged = damaged;
        if (avformat_seek_file(s->format, s->stream->index, INT64_MIN, stamp, stamp, 0) >= 0 &&
            !video_read_try(v, key_us, from_us, &reached, error)) {
            v->ended = true;
            return false;
        }
    }
    v->decoder.damaged = reached ? v->decoder.damaged : damaged;
    if (reached ||
        (video_read_reopen(v, error) && video_read_try(v, key_us, from_us, &reached, error)))
        return true;
    v->ended = true;
    return false;
}
