/* Pictures as JPEG: scaled and encoded in YCbCr, without the way through RGB. */
#include <lookfall/jpeg.h>

#include <libavcodec/avcodec.h>
#include <libavutil/frame.h>
#include <libswscale/swscale.h>

#include "video/video_error.h"

/* libavcodec's quantiser of JPEG runs from 2 (best) to 31; 100 stands for 2 and 50 for 16. */
static int video_jpeg_quantiser(int quality)
{
    return CLAMP(2 + (100 - quality) * 28 / 100, 2, 31);
}

static AVFrame *video_jpeg_frame(enum AVPixelFormat format, int width, int height, GError **error)
{
    AVFrame *frame = av_frame_alloc();
    int status = frame ? 0 : AVERROR(ENOMEM);
    if (frame) {
        frame->format = format;
        frame->width = width;
        frame->height = height;
        frame->color_range = AVCOL_RANGE_JPEG;
        status = av_frame_get_buffer(frame, 0);
    }
    if (status >= 0)
        return frame;
    lf_video_error_set(error, LF_ERROR_MACHINE, status,
                       "There is no memory for a picture of %d x %d px", width, height);
    av_frame_free(&frame);
    return NULL;
}

/* JPEG means full range and the matrix of BT.601 (JFIF; ITU-T T.871). */
static bool video_jpeg_scale(enum AVPixelFormat from, const uint8_t *const planes[],
                             const int strides[], int width, int height, const int *matrix,
                             bool full_range, AVFrame *to, GError **error)
{
    const int one = 1 << 16; /* contrast and saturation, 16.16 fixed point */
    const bool smaller = to->width < width || to->height < height;
    struct SwsContext *context =
        sws_getContext(width, height, from, to->width, to->height, to->format,
                       smaller ? SWS_AREA : SWS_BILINEAR, NULL, NULL, NULL);
    if (!context) {
        lf_video_error_set(error, LF_ERROR_MACHINE, AVERROR(ENOMEM),
                           "A picture of %d x %d px cannot be scaled", width, height);
        return false;
    }
    (void)sws_setColorspaceDetails(context, matrix, full_range, sws_getCoefficients(SWS_CS_ITU601),
                                   1, 0, one, one);
    sws_scale(context, planes, strides, 0, height, to->data, to->linesize);
    sws_freeContext(context);
    return true;
}

static int video_jpeg_open(AVCodecContext *context, const AVCodec *codec, const AVFrame *frame,
                           int quality)
{
    context->width = frame->width;
    context->height = frame->height;
    context->pix_fmt = frame->format;
    context->color_range = AVCOL_RANGE_JPEG;
    context->time_base = (AVRational){1, 25}; /* asked for, and of no use */
    context->flags |= AV_CODEC_FLAG_QSCALE;
    context->global_quality = video_jpeg_quantiser(quality) * FF_QP2LAMBDA;
    context->thread_count = 1;
    return avcodec_open2(context, codec, NULL);
}

static GBytes *video_jpeg_encode(AVFrame *frame, int quality, GError **error)
{
    const AVCodec *codec = avcodec_find_encoder(AV_CODEC_ID_MJPEG);
    AVCodecContext *context = codec ? avcodec_alloc_context3(codec) : NULL;
    AVPacket *packet = av_packet_alloc();
    GBytes *bytes = NULL;
    int status = context && packet ? 0 : AVERROR(ENOMEM);

    if (status >= 0)
        status = video_jpeg_open(context, codec, frame, quality);
    if (status >= 0) {
        frame->quality = context->global_quality;
        status = avcodec_send_frame(context, frame);
    }
    if (status >= 0)
        status = avcodec_receive_packet(context, packet);
    if (status >= 0)
        bytes = g_bytes_new(packet->data, (gsize)packet->size);
    else
        lf_video_error_set(error, LF_ERROR_MACHINE, status, "A picture cannot be encoded");
    av_packet_free(&packet);
    avcodec_free_context(&context);
    return bytes;
}

GBytes *lf_jpeg_from_yuv(const LfYuv *yuv, int width, int height, int quality, GError **error)
{
    lf_video_error_quiet();
    AVFrame *frame = video_jpeg_frame(AV_PIX_FMT_YUVJ420P, width, height, error);
    if (!frame)
        return NULL;
    const uint8_t *const planes[3] = {yuv->plane[0], yuv->plane[1], yuv->plane[2]};
    const int strides[3] = {(int)yuv->stride[0], (int)yuv->stride[1], (int)yuv->stride[2]};
    GBytes *bytes = NULL;
    if (video_jpeg_scale(AV_PIX_FMT_YUV420P, planes, strides, yuv->width, yuv->height,
                         sws_getCoefficients((int)yuv->colours.matrix), yuv->colours.full_range,
                         frame, error))
        bytes = video_jpeg_encode(frame, quality, error);
    av_frame_free(&frame);
    return bytes;
}

GBytes *lf_jpeg_from_rgb(const uint8_t *rgb, ptrdiff_t stride, int width, int height, int quality,
                         GError **error)
{
    lf_video_error_quiet();
    AVFrame *frame = video_jpeg_frame(AV_PIX_FMT_YUVJ444P, width, height, error);
    if (!frame)
        return NULL;
    const uint8_t *const planes[1] = {rgb};
    const int strides[1] = {(int)stride};
    GBytes *bytes = NULL;
    if (video_jpeg_scale(AV_PIX_FMT_RGB24, planes, strides, width, height,
                         sws_getCoefficients(SWS_CS_DEFAULT), true, frame, error))
        bytes = video_jpeg_encode(frame, quality, error);
    av_frame_free(&frame);
    return bytes;
}
