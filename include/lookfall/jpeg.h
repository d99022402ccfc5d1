/* Pictures as JPEG, for a browser. Any thread. */
#ifndef LOOKFALL_JPEG_H
#define LOOKFALL_JPEG_H

#include <lookfall/video.h>

G_BEGIN_DECLS

/* A frame (or a part of one: lf_yuv_part) scaled to width x height px. quality: 1 to 100, about as
 * other programs count it. LF_ERROR_MACHINE without memory. */
LF_API GBytes *lf_jpeg_from_yuv(const LfYuv *yuv, int width, int height, int quality,
                                GError **error);
/* Packed 8-bit RGB; colour at full resolution, for still pictures with fine print. */
LF_API GBytes *lf_jpeg_from_rgb(const uint8_t *rgb, ptrdiff_t stride, int width, int height,
                                int quality, GError **error);

G_END_DECLS

#endif
