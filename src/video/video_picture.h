/* The luma plane and the colours of a decoded frame, turned as the frame is shown. */
#ifndef LF_VIDEO_PICTURE_H
#define LF_VIDEO_PICTURE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <lookfall/video.h>

#include <libavutil/frame.h>

/* Scratch memory for conversions, kept from frame to frame. Zeroed at first. */
typedef struct {
    struct SwsContext *to_gray, *to_rgb, *to_yuv;
    uint8_t *plane; /* luma of frames that do not hold it as 8-bit plane */
    uint8_t *turned;
    uint8_t *rgb;
    LfYuv *yuv;                                 /* not yet turned */
    unsigned plane_size, turned_size, rgb_size; /* bytes */
} LfVideoPicture;

void lf_video_picture_clear(LfVideoPicture *picture);

/* Points *luma to 8-bit luma, inside the frame itself where its format and rotation allow, else
 * inside the picture's scratch memory: valid until either changes. The value range is left as it
 * is stored (more than 8 bits are rounded to 8); RGB becomes full-range gray. */
bool lf_video_picture_luma(LfVideoPicture *picture, const AVFrame *frame, int rotation,
                           const uint8_t **luma, ptrdiff_t *stride, GError **error);

/* Packed 8-bit RGB, full range, by the matrix and range the frame is tagged with; rgb takes
 * width * height * 3 bytes. */
bool lf_video_picture_rgb(LfVideoPicture *picture, const AVFrame *frame, int rotation, uint8_t *rgb,
                          GError **error);

/* Whether the frame is stored as 8-bit planes of luma and of half as large differences. */
bool lf_video_picture_is_420(const AVFrame *frame);

/* 8-bit 4:2:0 in the frame's own values, into `yuv`, whose size is that of the frame as shown. */
bool lf_video_picture_yuv(LfVideoPicture *picture, const AVFrame *frame, int rotation, LfYuv *yuv,
                          GError **error);

#endif
