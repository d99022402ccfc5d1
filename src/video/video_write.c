/* Writing videos: packed 8-bit RGB or YCbCr 4:2:0 in, H.264 out (4:2:0; BT.709 and limited range
 * unless the caller's YCbCr is something else).
 *
 * Frames carry times of their own in microseconds, at any spacing. MP4 and MOV keep them exactly
 * (a track and a movie time scale of one million); Matroska keeps whole milliseconds.
 * The file grows under the name PATH.part and takes its own name only when it is whole, so neither
 * an error nor a crash leaves something behind that looks like a finished video, and a file of that
 * name from an earlier run stays until then. */
#include <lookfall/video.h>

#include <errno.h>

#include <glib/gstdio.h>
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/imgutils.h>
#include <libavutil/opt.h>
#include <libswscale/swscale.h>

#include "video/video_error.h"

static const AVRational VIDEO_WRITE_US = {1, 1000000};

struct LfVideoWriter {
    char *path;      /* where the finished file goes */
    char *part_path; /* where it grows */
    AVFormatContext *format;
    AVStream *stream; /* of format */
    AVCodecContext *encoder;
    struct SwsContext *convert;
    AVFrame *frame;
    AVPacket *packet;
    int64_t start_us;
    int64_t last_tick; /* time of the last frame in the stream's own time base */
    int64_t n_frames;
    bool part_exists;
    bool failed; /* nothing more can be added */
};

static bool video_write_check_options(const LfVideoWriterOptions *o, GError **error)
{
    const char *wrong = NULL;

    if (o->width < 2 || o->height < 2 || o->width % 2 != 0 || o->height % 2 != 0)
        wrong = "width and height must be even and at least 2 px";
    else if (!(o->frame_rate >= 0.01 && o->frame_rate <= 1000.0))
        wrong = "the frame rate must lie between 0.01 and 1000 frames per second";
    else if (o->key_interval < 1)
        wrong = "the key frame interval must be at least 1 frame";
    else if (o->quality < 0 || o->quality > 51)
        wrong = "the quality must lie between 0 and 51";
    else if (o->threads < 1)
        wrong = "at least 1 thread is needed";
    else if (o->start_us < 0)
        wrong = "the first timestamp must not be negative";
    if (wrong == NULL)
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "A video cannot be written like this: %s.", wrong);
    return false;
}

/* Other containers cannot hold any time for any frame. */
static const AVOutputFormat *video_write_container(const char *path, GError **error)
{
    const AVOutputFormat *container = av_guess_format(NULL, path, NULL);

    if (container != NULL &&
        (strcmp(container->name, "mp4") == 0 || strcmp(container->name, "mov") == 0 ||
         strcmp(container->name, "ipod") == 0 || strcmp(container->name, "matroska") == 0))
        return container;
    g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                "%s: a video can be written as .mp4, .m4v, .mov or .mkv only.", path);
    return NULL;
}

static bool video_write_open_encoder(LfVideoWriter *w, const LfVideoWriterOptions *o,
                                     GError **error)
{
    const AVCodec *codec = avcodec_find_encoder_by_name("libx264");

    if (codec == NULL) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "%s: this machine's libavcodec has no libx264 encoder; install one that has.",
                    w->path);
        return false;
    }
    w->encoder = avcodec_alloc_context3(codec);
    w->frame = av_frame_alloc();
    w->packet = av_packet_alloc();
    if (w->encoder == NULL || w->frame == NULL || w->packet == NULL) {
        lf_video_error_set(error, LF_ERROR_MACHINE, AVERROR(ENOMEM), "%s: cannot start", w->path);
        return false;
    }

    AVCodecContext *e = w->encoder;
    e->width = o->width;
    e->height = o->height;
    e->pix_fmt = AV_PIX_FMT_YUV420P;
    e->color_range = o->colours.full_range ? AVCOL_RANGE_JPEG : AVCOL_RANGE_MPEG;
    /* libavutil's numbers are those of ITU-T H.273 (libavutil/pixfmt.h). */
    e->colorspace = o->colours.matrix ? o->colours.matrix : AVCOL_SPC_BT709;
    e->color_primaries = o->colours.primaries ? o->colours.primaries : AVCOL_PRI_BT709;
    e->color_trc = o->colours.transfer ? o->colours.transfer : AVCOL_TRC_BT709;
    e->chroma_sample_location = AVCHROMA_LOC_LEFT;
    e->time_base = VIDEO_WRITE_US;
    e->framerate = av_d2q(o->frame_rate, 1000000);
    e->gop_size = o->key_interval;
    e->thread_count = o->threads;
    if (w->format->oformat->flags & AVFMT_GLOBALHEADER)
        e->flags |= AV_CODEC_FLAG_GLOBAL_HEADER;
    /* One QP for all spares the encoder a first look at every frame: a fifth of its work. */
    if (o->fast)
        av_opt_set_int(e->priv_data, "qp", o->quality, 0);
    else
        av_opt_set_double(e->priv_data, "crf", o->quality, 0);

    const char *preset = o->preset != NULL ? o->preset : "veryfast";
    if (av_opt_set(e->priv_data, "preset", preset, 0) < 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "%s: x264 has no preset \"%s\".", w->path,
                    preset);
        return false;
    }

    if (o->fast) {
        e->max_b_frames = 0;
        av_opt_set(e->priv_data, "coder", "cavlc", 0);
        av_opt_set_int(e->priv_data, "weightp", 0, 0);
        /* What costs a tenth of the encoder's time and, on scene videos, saves nothing. */
        av_opt_set(e->priv_data, "x264-params", "partitions=none:8x8dct=0:scenecut=0", 0);
    }

    int status = avcodec_open2(e, codec, NULL);
    if (status < 0) {
        lf_video_error_set(error, LF_ERROR_USAGE, status,
                           "%s: the H.264 encoder refuses %d x %d px with preset \"%s\"", w->path,
                           o->width, o->height, preset);
        return false;
    }

    w->frame->format = e->pix_fmt;
    w->frame->width = e->width;
    w->frame->height = e->height;
    w->frame->color_range = e->color_range;
    w->frame->colorspace = e->colorspace;
    w->frame->color_primaries = e->color_primaries;
    w->frame->color_trc = e->color_trc;
    status = av_frame_get_buffer(w->frame, 0);
    if (status < 0) {
        lf_video_error_set(error, LF_ERROR_MACHINE, status, "%s: cannot start", w->path);
        return false;
    }
    return true;
}

static bool video_write_open_convert(LfVideoWriter *w, GError **error)
{
    const int *bt709 = sws_getCoefficients(SWS_CS_ITU709);
    const int one = 1 << 16; /* swscale's contrast and saturation are 16.16 fixed point */

    w->convert = sws_getContext(w->encoder->width, w->encoder->height, AV_PIX_FMT_RGB24,
                                w->encoder->width, w->encoder->height, AV_PIX_FMT_YUV420P,
                                SWS_BILINEAR | SWS_ACCURATE_RND | SWS_BITEXACT, NULL, NULL, NULL);
    if (w->convert == NULL ||
        sws_setColorspaceDetails(w->convert, bt709, 1, bt709, 0, 0, one, one) < 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "%s: cannot convert RGB to 4:2:0.", w->path);
        return false;
    }
    return true;
}

static bool video_write_open_file(LfVideoWriter *w, GError **error)
{
    g_autofree char *url = g_strconcat("file:", w->part_path, NULL);
    AVDictionary *options = NULL;

    w->stream = avformat_new_stream(w->format, NULL);
    if (w->stream == NULL || avcodec_parameters_from_context(w->stream->codecpar, w->encoder) < 0) {
        lf_video_error_set(error, LF_ERROR_MACHINE, AVERROR(ENOMEM), "%s: cannot start", w->path);
        return false;
    }
    w->stream->time_base = VIDEO_WRITE_US;
    w->stream->avg_frame_rate = w->encoder->framerate;
    w->format->flags |= AVFMT_FLAG_BITEXACT; /* the same frames give the same file */

    int status = avio_open(&w->format->pb, url, AVIO_FLAG_WRITE);
    if (status < 0) {
        lf_video_error_set(error, LF_ERROR_MACHINE, status, "%s cannot be written", w->path);
        return false;
    }
    w->part_exists = true;

    /* MP4 and MOV: the start offset is kept in the movie's time scale, everything else in the
     * track's. The default movie scale of 1000 would round the first timestamp. */
    if (strcmp(w->format->oformat->name, "matroska") != 0) {
        av_dict_set(&options, "movie_timescale", "1000000", 0);
        av_dict_set(&options, "video_track_timescale", "1000000", 0);
    }
    status = avformat_write_header(w->format, &options);
    av_dict_free(&options);
    if (status < 0) {
        lf_video_error_set(error, LF_ERROR_MACHINE, status, "%s cannot be written", w->path);
        return false;
    }
    return true;
}

LfVideoWriter *lf_video_writer_new(const char *path, const LfVideoWriterOptions *options,
                                   GError **error)
{
    lf_video_error_quiet();
    if (!video_write_check_options(options, error))
        return NULL;
    const AVOutputFormat *container = video_write_container(path, error);
    if (container == NULL)
        return NULL;

    g_autoptr(LfVideoWriter) w = g_new0(LfVideoWriter, 1);
    w->path = g_strdup(path);
    w->part_path = g_strconcat(path, ".part", NULL);
    w->start_us = options->start_us;
    w->last_tick = LF_NO_TIME;
    int status = avformat_alloc_output_context2(&w->format, container, NULL, w->part_path);
    if (status < 0) {
        lf_video_error_set(error, LF_ERROR_MACHINE, status, "%s: cannot start", path);
        return NULL;
    }
    if (!video_write_open_encoder(w, options, error) || !video_write_open_convert(w, error) ||
        !video_write_open_file(w, error))
        return NULL;
    return g_steal_pointer(&w);
}

/* Sends a frame, or NULL at the end, and writes all packets that come back. */
static bool video_write_encode(LfVideoWriter *w, const AVFrame *frame, GError **error)
{
    int status = avcodec_send_frame(w->encoder, frame);

    while (status >= 0) {
        status = avcodec_receive_packet(w->encoder, w->packet);
        if (status == AVERROR(EAGAIN) || status == AVERROR_EOF)
            return true;
        if (status < 0)
            break;
        /* Used by the container for the last packet only; the others last until the next. */
        w->packet->duration = av_rescale_q(1, av_inv_q(w->encoder->framerate), VIDEO_WRITE_US);
        w->packet->stream_index = w->stream->index;
        av_packet_rescale_ts(w->packet, VIDEO_WRITE_US, w->stream->time_base);
        status = av_interleaved_write_frame(w->format, w->packet);
    }
    w->failed = true;
    lf_video_error_set(error, LF_ERROR_MACHINE, status, "%s cannot be written further", w->path);
    return false;
}

/* Whether a frame may come now; *tick takes its time in the stream's own time base. */
static bool video_write_may_add(const LfVideoWriter *w, int64_t t_us, int64_t *tick, GError **error)
{
    *tick = av_rescale_q(w->start_us + t_us, VIDEO_WRITE_US, w->stream->time_base);
    if (w->failed) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "%s: writing has already failed or ended.",
                    w->path);
        return false;
    }
    if (t_us < 0 || (w->last_tick != LF_NO_TIME && *tick <= w->last_tick)) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "%s: frame %" G_GINT64_FORMAT " at %.6f s does not come after the one before "
                    "it; the file tells times apart that differ by %g s.",
                    w->path, w->n_frames, (double)t_us / 1e6, av_q2d(w->stream->time_base));
        return false;
    }
    return true;
}

/* Makes the writer's frame ready to be filled: the encoder may still hold the last one. */
static bool video_write_take_frame(LfVideoWriter *w, GError **error)
{
    const int status = av_frame_make_writable(w->frame);
    if (status < 0)
        lf_video_error_set(error, LF_ERROR_MACHINE, status, "%s: cannot add a frame", w->path);
    return status >= 0;
}

static bool video_write_give_frame(LfVideoWriter *w, int64_t t_us, int64_t tick, GError **error)
{
    w->frame->pts = w->start_us + t_us;
    w->last_tick = tick;
    w->n_frames++;
    return video_write_encode(w, w->frame, error);
}

bool lf_video_writer_add(LfVideoWriter *w, int64_t t_us, const uint8_t *rgb, ptrdiff_t stride,
                         GError **error)
{
    int64_t tick;

    if (!video_write_may_add(w, t_us, &tick, error))
        return false;
    if (stride < 3 * (ptrdiff_t)w->encoder->width || stride > INT_MAX) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "%s: a row of %d RGB pixels needs %d bytes.",
                    w->path, w->encoder->width, 3 * w->encoder->width);
        return false;
    }
    if (!video_write_take_frame(w, error))
        return false;
    const uint8_t *const planes[1] = {rgb};
    const int strides[1] = {(int)stride};
    sws_scale(w->convert, planes, strides, 0, w->encoder->height, w->frame->data,
              w->frame->linesize);
    return video_write_give_frame(w, t_us, tick, error);
}

bool lf_video_writer_add_yuv(LfVideoWriter *w, int64_t t_us, const LfYuv *yuv, GError **error)
{
    int64_t tick;

    if (!video_write_may_add(w, t_us, &tick, error))
        return false;
    if (yuv->width != w->encoder->width || yuv->height != w->encoder->height) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE,
                    "%s: a frame of %d x %d px does not fit a video of %d x %d px.", w->path,
                    yuv->width, yuv->height, w->encoder->width, w->encoder->height);
        return false;
    }
    if (!video_write_take_frame(w, error))
        return false;
    for (int i = 0; i < 3; i++) {
        const int half = i > 0 ? 2 : 1;
        av_image_copy_plane(w->frame->data[i], w->frame->linesize[i], yuv->plane[i],
                            (int)yuv->stride[i], yuv->width / half, yuv->height / half);
    }
    return video_write_give_frame(w, t_us, tick, error);
}

bool lf_video_writer_finish(LfVideoWriter *w, GError **error)
{
    if (w->failed || w->n_frames == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_USAGE, "%s: %s.", w->path,
                    w->failed ? "writing has already failed or ended"
                              : "a video needs at least one frame");
        return false;
    }
    if (!video_write_encode(w, NULL, error))
        return false;
    w->failed = true;

    int status = av_write_trailer(w->format);
    /* Only now is it known whether the disk had room for what was still in memory. */
    avio_flush(w->format->pb);
    if (status >= 0)
        status = w->format->pb->error;
    const int close_status = avio_closep(&w->format->pb);
    if (status >= 0)
        status = close_status;
    if (status >= 0 && g_rename(w->part_path, w->path) != 0)
        status = AVERROR(errno);
    if (status < 0) {
        lf_video_error_set(error, LF_ERROR_MACHINE, status, "%s cannot be finished", w->path);
        return false;
    }
    w->part_exists = false;
    return true;
}

void lf_video_writer_free(LfVideoWriter *w)
{
    if (w == NULL)
        return;
    if (w->format != NULL)
        avio_closep(&w->format->pb);
    if (w->part_exists)
        g_unlink(w->part_path);
    avformat_free_context(w->format);
    avcodec_free_context(&w->encoder);
    sws_freeContext(w->convert);
    av_frame_free(&w->frame);
    av_packet_free(&w->packet);
    g_free(w->path);
    g_free(w->part_path);
    g_free(w);
}
