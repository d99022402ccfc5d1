/* Turning pictures by quarter turns, as the file's display matrix asks. */
#ifndef LF_VIDEO_ROTATE_H
#define LF_VIDEO_ROTATE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The clockwise turn (0, 90, 180, 270 degrees) nearest to that of a display matrix (nine numbers as
 * libavutil/display.h lays them out); NULL is no turn. False where the matrix mirrors the picture
 * or is none. */
bool lf_video_rotate_from_matrix(const int32_t *matrix, int *rotation);

/* Turns a picture of width x height pixels of `channels` bytes each (1 or 3) clockwise by
 * `rotation`; for 90 and 270 the result is height x width. The two must not overlap. */
void lf_video_rotate(const uint8_t *src, ptrdiff_t src_stride, int width, int height, int channels,
                     int rotation, uint8_t *dst, ptrdiff_t dst_stride);

#endif
