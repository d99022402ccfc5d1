/* The luma plane and the colours of a decoded frame, turned as the frame is shown. */
#include "video/video_picture.h"

#include <libavutil/imgutils.h>
#include <libavutil/intreadwrite.h>
#include <libavutil/mem.h>
#include <libavutil/pixdesc.h>
#include <libswscale/swscale.h>

#include "video/video_error.h"
#include "video/video_rotate.h"

/* swscale may write whole vectors beyond the end of a row. */
enum { VIDEO_PICTURE_ALIGN = 64 };

void lf_video_picture_clear(LfVideoPicture *p)
{
    sws_freeContext(p->to_gray);
    sws_freeContext(p->to_rgb);
    sws_freeContext(p->to_yuv);
    lf_yuv_free(p->yuv);
    av_free(p->plane);
    av_free(p->turned);
    av_free(p->rgb);
    *p = (LfVideoPicture){0};
}

/* Makes the buffer big enough for `height` rows and returns the row length; 0 without memory. */
static int video_picture_reserve(uint8_t **buffer, unsigned *size, int width, int height,
                                 int channels, GError **error)
{
    const int stride = FFALIGN(width * channels, VIDEO_PICTURE_ALIGN);

    av_fast_malloc(buffer, size, (size_t)stride * (size_t)height + VIDEO_PICTURE_ALIGN);
    if (*buffer != NULL)
        return stride;
    lf_video_error_set(error, LF_ERROR_MACHINE, AVERROR(ENOMEM),
                       "There is no memory for a picture of %d x %d px", width, height);
    return 0;
}

/* Where in the frame's memory its luma is, or false where the format has none of its own. */
static bool video_picture_has_luma(const AVFrame *frame, const AVPixFmtDescriptor **format)
{
    const uint64_t none = AV_PIX_FMT_FLAG_RGB | AV_PIX_FMT_FLAG_PAL | AV_PIX_FMT_FLAG_BITSTREAM |
                          AV_PIX_FMT_FLAG_HWACCEL | AV_PIX_FMT_FLAG_BAYER | AV_PIX_FMT_FLAG_FLOAT;

    *format = av_pix_fmt_desc_get(frame->format);
    return *format != NULL && ((*format)->flags & none) == 0 && (*format)->comp[0].depth >= 8 &&
           (*format)->comp[0].depth <= 16 && frame->format != AV_PIX_FMT_XYZ12LE &&
           frame->format != AV_PIX_FMT_XYZ12BE;
}

/* Luma of more than 8 bits, or interleaved with colour, to an 8-bit plane. */
static void video_picture_pack_luma(const AVFrame *frame, const AVPixFmtDescriptor *format,
                                    uint8_t *dst, int dst_stride)
{
    const AVComponentDescriptor *luma = &format->comp[0];
    const bool big_endian = (format->flags & AV_PIX_FMT_FLAG_BE) != 0;
    const int drop = luma->depth - 8; /* bits */
    const unsigned mask = (1U << luma->depth) - 1U, half = drop > 0 ? 1U << (drop - 1) : 0U;

    for (int y = 0; y < frame->height; y++) {
        const uint8_t *s =
            frame->data[luma->plane] + (ptrdiff_t)y * frame->linesize[luma->plane] + luma->offset;
        uint8_t *d = dst + (ptrdiff_t)y * dst_stride;
        if (luma->depth == 8) {
            for (int x = 0; x < frame->width; x++)
                d[x] = s[x * luma->step];
            continue;
        }
        for (int x = 0; x < frame->width; x++, s += luma->step) {
            const unsigned word = big_endian ? AV_RB16(s) : AV_RL16(s);
            const unsigned v = (((word >> luma->shift) & mask) + half) >> drop;
            d[x] = (uint8_t)MIN(v, 255U);
        }
    }
}

static bool video_picture_context(struct SwsContext **context, const AVFrame *frame,
                                  enum AVPixelFormat format, GError **error)
{
    *context = sws_getCachedContext(
        *context, frame->width, frame->height, frame->format, frame->width, frame->height, format,
        SWS_BILINEAR | SWS_ACCURATE_RND | SWS_FULL_CHR_H_INT | SWS_BITEXACT, NULL, NULL, NULL);
    if (*context == NULL) {
        const char *name = av_get_pix_fmt_name(frame->format);
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "Pictures in the pixel format %s cannot be converted.",
                    name != NULL ? name : "of no name");
    }
    return *context != NULL;
}

/* An untagged picture is taken as BT.601 up to standard definition, as BT.709 above (common
 * practice). */
static enum AVColorSpace video_picture_matrix(const AVFrame *frame)
{
    if (frame->colorspace != AVCOL_SPC_UNSPECIFIED)
        return frame->colorspace;
    return frame->width > 1024 || frame->height > 576 ? AVCOL_SPC_BT709 : AVCOL_SPC_SMPTE170M;
}

static bool video_picture_full_range(const AVFrame *frame)
{
    return frame->color_range == AVCOL_RANGE_JPEG || frame->format == AV_PIX_FMT_YUVJ420P ||
           frame->format == AV_PIX_FMT_YUVJ422P || frame->format == AV_PIX_FMT_YUVJ444P ||
           frame->format == AV_PIX_FMT_YUVJ440P || frame->format == AV_PIX_FMT_YUVJ411P;
}

static bool video_picture_scale(struct SwsContext **context, const AVFrame *frame,
                                enum AVPixelFormat format, uint8_t *dst, int stride, GError **error)
{
    const int one = 1 << 16; /* contrast and saturation, 16.16 fixed point */

    if (!video_picture_context(context, frame, format, error))
        return false;
    const int full = frame->color_range == AVCOL_RANGE_JPEG;
    /* Refused for RGB input, which needs no matrix. */
    (void)sws_setColorspaceDetails(*context, sws_getCoefficients((int)video_picture_matrix(frame)),
                                   full, sws_getCoefficients(SWS_CS_DEFAULT), 1, 0, one, one);

    uint8_t *const planes[1] = {dst};
    const int strides[1] = {stride};
    sws_scale(*context, (const uint8_t *const *)frame->data, frame->linesize, 0, frame->height,
              planes, strides);
    return true;
}

bool lf_video_picture_luma(LfVideoPicture *p, const AVFrame *frame, int rotation,
                           const uint8_t **luma, ptrdiff_t *stride, GError **error)
{
    const int width = frame->width, height = frame->height;
    const AVPixFmtDescriptor *format;
    const bool has_luma = video_picture_has_luma(frame, &format);

    if (has_luma && format->comp[0].depth == 8 && format->comp[0].step == 1) {
        *luma = frame->data[format->comp[0].plane] + format->comp[0].offset;
        *stride = frame->linesize[format->comp[0].plane];
    } else {
        const int row = video_picture_reserve(&p->plane, &p->plane_size, width, height, 1, error);
        if (row == 0)
            return false;
        if (has_luma)
            video_picture_pack_luma(frame, format, p->plane, row);
        else if (!video_picture_scale(&p->to_gray, frame, AV_PIX_FMT_GRAY8, p->plane, row, error))
            return false;
        *luma = p->plane;
        *stride = row;
    }
    if (rotation == 0)
        return true;

    const int shown_width = rotation == 180 ? width : height;
    const int shown_height = rotation == 180 ? height : width;
    const int row =
        video_picture_reserve(&p->turned, &p->turned_size, shown_width, shown_height, 1, error);
    if (row == 0)
        return false;
    lf_video_rotate(*luma, *stride, width, height, 1, rotation, p->turned, row);
    *luma = p->turned;
    *stride = row;
    return true;
}

bool lf_video_picture_rgb(LfVideoPicture *p, const AVFrame *frame, int rotation, uint8_t *rgb,
                          GError **error)
{
    const int shown_width = rotation % 180 == 0 ? frame->width : frame->height;
    const int row =
        video_picture_reserve(&p->rgb, &p->rgb_size, frame->width, frame->height, 3, error);

    if (row == 0 || !video_picture_scale(&p->to_rgb, frame, AV_PIX_FMT_RGB24, p->rgb, row, error))
        return false;
    lf_video_rotate(p->rgb, row, frame->width, frame->height, 3, rotation, rgb,
                    (ptrdiff_t)shown_width * 3);
    return true;
}

/* --- YCbCr --- */

/* Into 4:2:0 of the same matrix and range; RGB into BT.709. */
static bool video_picture_to_yuv(LfVideoPicture *p, const AVFrame *frame, bool rgb, LfYuv *yuv,
                                 GError **error)
{
    const int one = 1 << 16; /* contrast and saturation, 16.16 fixed point */
    const int *to = sws_getCoefficients(rgb ? SWS_CS_ITU709 : (int)yuv->colours.matrix);
    const int strides[3] = {(int)yuv->stride[0], (int)yuv->stride[1], (int)yuv->stride[2]};

    if (!video_picture_context(&p->to_yuv, frame, AV_PIX_FMT_YUV420P, error))
        return false;
    (void)sws_setColorspaceDetails(p->to_yuv, to, yuv->colours.full_range || rgb, to,
                                   yuv->colours.full_range, 0, one, one);
    sws_scale(p->to_yuv, (const uint8_t *const *)frame->data, frame->linesize, 0, frame->height,
              yuv->plane, strides);
    return true;
}

static void video_picture_copy_yuv(const AVFrame *frame, LfYuv *yuv)
{
    for (int i = 0; i < 3; i++) {
        const int half = i > 0 ? 1 : 0;
        av_image_copy_plane(yuv->plane[i], (int)yuv->stride[i], frame->data[i], frame->linesize[i],
                            (frame->width + half) >> half, (frame->height + half) >> half);
    }
}

bool lf_video_picture_is_420(const AVFrame *frame)
{
    return frame->format == AV_PIX_FMT_YUV420P || frame->format == AV_PIX_FMT_YUVJ420P;
}

bool lf_video_picture_yuv(LfVideoPicture *p, const AVFrame *frame, int rotation, LfYuv *yuv,
                          GError **error)
{
    const AVPixFmtDescriptor *format = av_pix_fmt_desc_get(frame->format);
    const bool rgb =
        format != NULL && (format->flags & (AV_PIX_FMT_FLAG_RGB | AV_PIX_FMT_FLAG_PAL)) != 0;
    LfYuv *upright = yuv;

    yuv->colours = (LfVideoColours){
        .primaries = rgb ? AVCOL_PRI_BT709 : (uint8_t)frame->color_primaries,
        .transfer = rgb ? AVCOL_TRC_BT709 : (uint8_t)frame->color_trc,
        .matrix = rgb ? AVCOL_SPC_BT709 : (uint8_t)video_picture_matrix(frame),
        .full_range = !rgb && video_picture_full_range(frame),
    };
    if (rotation != 0) {
        if (p->yuv == NULL || p->yuv->width != frame->width || p->yuv->height != frame->height) {
            lf_yuv_free(p->yuv);
            p->yuv = lf_yuv_new(frame->width, frame->height);
        }
        if (p->yuv == NULL) {
            lf_video_error_set(error, LF_ERROR_MACHINE, AVERROR(ENOMEM),
                               "There is no memory for a picture of %d x %d px", frame->width,
                               frame->height);
            return false;
        }
        upright = p->yuv;
        upright->colours = yuv->colours;
    }
    if (lf_video_picture_is_420(frame))
        video_picture_copy_yuv(frame, upright);
    else if (!video_picture_to_yuv(p, frame, rgb, upright, error))
        return false;
    for (int i = 0; i < 3 && rotation != 0; i++) {
        const int half = i > 0 ? 1 : 0;
        lf_video_rotate(upright->plane[i], upright->stride[i], (frame->width + half) >> half,
                        (frame->height + half) >> half, 1, rotation, yuv->plane[i], yuv->stride[i]);
    }
    return true;
}
