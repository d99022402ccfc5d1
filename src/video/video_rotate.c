/* Turning pictures by quarter turns, as the file's display matrix asks. */
#include "video/video_rotate.h"

#include <math.h>
#include <string.h>

#include <glib.h>
#include <libavutil/display.h>

/* Pixels of a square block: the rows of both pictures that it touches stay in the first-level
 * cache. Measured for a quarter turn of 1920 x 1080 px: 0.43 ms, against 0.53 ms with 8 and 0.65 ms
 * with 32. */
enum { VIDEO_ROTATE_BLOCK = 16 };

bool lf_video_rotate_from_matrix(const int32_t *matrix, int *rotation)
{
    *rotation = 0;
    if (matrix == NULL)
        return true;

    /* Layout (libavutil/display.h): x' = a x + c y, y' = b x + d y with a, b at 0, 1 and c, d at
     * 3, 4. A negative determinant mirrors. */
    const double det =
        (double)matrix[0] * (double)matrix[4] - (double)matrix[1] * (double)matrix[3];
    const double counterclockwise_deg = av_display_rotation_get(matrix);
    if (!(det > 0.0) || !isfinite(counterclockwise_deg))
        return false;
    const long quarters = lround(-counterclockwise_deg / 90.0);
    *rotation = (int)((quarters % 4 + 4) % 4) * 90;
    return true;
}

/* One block of a quarter turn: dst(x, y) = src(at + x * step_x + y * step_y). */
static inline void video_rotate_block(const uint8_t *src, ptrdiff_t step_x, ptrdiff_t step_y,
                                      uint8_t *dst, ptrdiff_t dst_stride, int width, int height,
                                      int channels)
{
    for (int y = 0; y < height; y++) {
        const uint8_t *s = src + y * step_y;
        uint8_t *d = dst + y * dst_stride;
        for (int x = 0; x < width; x++, s += step_x, d += channels)
            for (int c = 0; c < channels; c++)
                d[c] = s[c];
    }
}

void lf_video_rotate(const uint8_t *src, ptrdiff_t src_stride, int width, int height, int channels,
                     int rotation, uint8_t *dst, ptrdiff_t dst_stride)
{
    const int dst_width = rotation % 180 == 0 ? width : height;
    const int dst_height = rotation % 180 == 0 ? height : width;
    ptrdiff_t step_x = channels, step_y = src_stride; /* in src, for a step in dst */

    switch (rotation) {
    case 90: /* the left column, from below, becomes the top row */
        src += (height - 1) * src_stride;
        step_x = -src_stride;
        step_y = channels;
        break;
    case 180:
        src += (height - 1) * src_stride + (ptrdiff_t)(width - 1) * channels;
        step_x = -channels;
        step_y = -src_stride;
        break;
    case 270: /* the right column, from above, becomes the top row */
        src += (ptrdiff_t)(width - 1) * channels;
        step_x = src_stride;
        step_y = -channels;
        break;
    default:
        for (int y = 0; y < height; y++)
            memcpy(dst + y * dst_stride, src + y * src_stride, (size_t)width * (size_t)channels);
        return;
    }

    for (int y = 0; y < dst_height; y += VIDEO_ROTATE_BLOCK) {
        for (int x = 0; x < dst_width; x += VIDEO_ROTATE_BLOCK) {
            const uint8_t *s = src + x * step_x + y * step_y;
            uint8_t *d = dst + y * dst_stride + (ptrdiff_t)x * channels;
            const int w = MIN(VIDEO_ROTATE_BLOCK, dst_width - x);
            const int h = MIN(VIDEO_ROTATE_BLOCK, dst_height - y);
            if (channels == 1) /* a constant: the inner loop over channels falls away */
                video_rotate_block(s, step_x, step_y, d, dst_stride, w, h, 1);
            else
                video_rotate_block(s, step_x, step_y, d, dst_stride, w, h, channels);
        }
    }
}
