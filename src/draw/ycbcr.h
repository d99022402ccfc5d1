/* sRGB to YCbCr by the matrix and range of a video (ITU-T H.273, 8.3), and laying pictures with
 * alpha over 4:2:0 frames. Works on the memory of the caller; no allocation, any thread. */
#ifndef LF_DRAW_YCBCR_H
#define LF_DRAW_YCBCR_H

#include <lookfall/video.h>

/* Packed 8-bit RGB of width x height px into yuv, which is at least that size; yuv->colours say
 * how. */
void lf_ycbcr_from_rgb(const uint8_t *rgb, int width, int height, LfYuv *yuv);

/* Lays a rectangle of a picture of 32-bit words, alpha above premultiplied red, green, blue, over
 * the same rectangle of yuv. x, y even; width and height even or up to the edge. */
void lf_ycbcr_lay(const uint32_t *argb, ptrdiff_t stride_words, int x, int y, int width, int height,
                  LfYuv *yuv);

#endif
