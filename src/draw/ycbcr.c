/* sRGB to YCbCr, and alpha over 4:2:0. */
#include "draw/ycbcr.h"

#include <math.h>

/* Weights in 1/65536 for 8-bit RGB, and offsets of 8-bit codes. */
typedef struct {
    int y[3], cb[3], cr[3]; /* red, green, blue */
    int black;              /* code of black in luma */
} YcbcrCode;

/* Pixels looked at together for whether there is anything to lay: two vectors. */
enum { YCBCR_RUN = 8 };
enum { YCBCR_ONE = 65536, YCBCR_HALF = YCBCR_ONE / 2, YCBCR_GREY = 128 };

/* ITU-T H.273 (07/2021), table 4: KR and KB of a matrix code point; BT.709 where it has none. */
static void ycbcr_weights(int matrix, double *kr, double *kb)
{
    static const struct {
        int matrix;
        double kr, kb;
    } table[] = {{1, 0.2126, 0.0722}, {4, 0.30, 0.11},     {5, 0.299, 0.114},   {6, 0.299, 0.114},
                 {7, 0.212, 0.087},   {9, 0.2627, 0.0593}, {10, 0.2627, 0.0593}};

    *kr = 0.2126;
    *kb = 0.0722;
    for (gsize i = 0; i < G_N_ELEMENTS(table); i++)
        if (table[i].matrix == matrix) {
            *kr = table[i].kr;
            *kb = table[i].kb;
        }
}

static YcbcrCode ycbcr_code(const LfVideoColours *colours)
{
    double kr, kb;
    ycbcr_weights(colours->matrix, &kr, &kb);
    const double k[3] = {kr, 1 - kr - kb, kb};
    const double luma = colours->full_range ? 1 : 219.0 / 255;
    const double chroma = colours->full_range ? 1 : 224.0 / 255;
    YcbcrCode code = {.black = colours->full_range ? 0 : 16};

    for (int i = 0; i < 3; i++) {
        const double blue = ((i == 2 ? 1 : 0) - k[i]) / (2 * (1 - kb));
        const double red = ((i == 0 ? 1 : 0) - k[i]) / (2 * (1 - kr));
        code.y[i] = (int)lround(YCBCR_ONE * luma * k[i]);
        code.cb[i] = (int)lround(YCBCR_ONE * chroma * blue);
        code.cr[i] = (int)lround(YCBCR_ONE * chroma * red);
    }
    return code;
}

static int ycbcr_sum(const int weights[3], int r, int g, int b)
{
    return weights[0] * r + weights[1] * g + weights[2] * b;
}

static uint8_t ycbcr_byte(int value)
{
    return (uint8_t)CLAMP(value, 0, 255);
}

void lf_ycbcr_from_rgb(const uint8_t *rgb, int width, int height, LfYuv *yuv)
{
    const YcbcrCode code = ycbcr_code(&yuv->colours);

    for (int y = 0; y < height; y++)
        for (int x = 0; x < width; x++) {
            const uint8_t *p = rgb + 3 * ((ptrdiff_t)y * width + x);
            yuv->plane[0][y * yuv->stride[0] + x] =
                ycbcr_byte(code.black + ((ycbcr_sum(code.y, p[0], p[1], p[2]) + YCBCR_HALF) >> 16));
        }
    for (int y = 0; y < height; y += 2)
        for (int x = 0; x < width; x += 2) {
            int sum[3] = {0, 0, 0}, n = 0;
            for (int v = y; v < MIN(y + 2, height); v++)
                for (int u = x; u < MIN(x + 2, width); u++, n++)
                    for (int c = 0; c < 3; c++)
                        sum[c] += rgb[3 * ((ptrdiff_t)v * width + u) + c];
            const int r = (sum[0] + n / 2) / n, g = (sum[1] + n / 2) / n, b = (sum[2] + n / 2) / n;
            yuv->plane[1][y / 2 * yuv->stride[1] + x / 2] =
                ycbcr_byte(YCBCR_GREY + ((ycbcr_sum(code.cb, r, g, b) + YCBCR_HALF) >> 16));
            yuv->plane[2][y / 2 * yuv->stride[2] + x / 2] =
                ycbcr_byte(YCBCR_GREY + ((ycbcr_sum(code.cr, r, g, b) + YCBCR_HALF) >> 16));
        }
}

/* below * (1 - alpha) + zero * alpha + over, where over is of premultiplied colours. */
static uint8_t ycbcr_over(int below, int alpha, int zero, int over)
{
    return ycbcr_byte((below * (255 - alpha) + zero * alpha + 127) / 255 +
                      ((over + YCBCR_HALF) >> 16));
}

/* One block of 2 x 2 px, or what of it is inside. */
static void ycbcr_lay_block(const YcbcrCode *code, const uint32_t *argb, ptrdiff_t stride, int w,
                            int h, uint8_t *luma, ptrdiff_t luma_stride, uint8_t *cb, uint8_t *cr)
{
    int sum_a = 0, sum_r = 0, sum_g = 0, sum_b = 0;
    const int n = w * h;

    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            const uint32_t p = argb[y * stride + x];
            const int a = (int)(p >> 24), r = (int)(p >> 16 & 255), g = (int)(p >> 8 & 255),
                      b = (int)(p & 255);
            uint8_t *at = luma + y * luma_stride + x;
            if (a == 0)
                continue;
            *at = ycbcr_over(*at, a, code->black, ycbcr_sum(code->y, r, g, b));
            sum_a += a;
            sum_r += r;
            sum_g += g;
            sum_b += b;
        }
    if (sum_a == 0)
        return;
    const int a = (sum_a + n / 2) / n, r = (sum_r + n / 2) / n, g = (sum_g + n / 2) / n,
              b = (sum_b + n / 2) / n;
    *cb = ycbcr_over(*cb, a, YCBCR_GREY, ycbcr_sum(code->cb, r, g, b));
    *cr = ycbcr_over(*cr, a, YCBCR_GREY, ycbcr_sum(code->cr, r, g, b));
}

/* Whether a run of two rows is clear. */
static bool ycbcr_is_clear(const uint32_t *argb, ptrdiff_t stride)
{
    uint32_t any = 0;

    for (int i = 0; i < YCBCR_RUN; i++)
        any |= argb[i] | argb[stride + i];
    return any == 0;
}

void lf_ycbcr_lay(const uint32_t *argb, ptrdiff_t stride, int x, int y, int width, int height,
                  LfYuv *yuv)
{
    const YcbcrCode code = ycbcr_code(&yuv->colours);
    const int end_x = x + width, end_y = y + height;

    for (int v = y; v < end_y; v += 2)
        for (int u = x; u < end_x; u += 2) {
            const uint32_t *p = argb + v * stride + u;
            /* Most of what is drawn on is clear. */
            if (v + 2 <= end_y && u + YCBCR_RUN <= end_x && ycbcr_is_clear(p, stride)) {
                u += YCBCR_RUN - 2;
                continue;
            }
            ycbcr_lay_block(&code, p, stride, MIN(2, end_x - u), MIN(2, end_y - v),
                            yuv->plane[0] + v * yuv->stride[0] + u, yuv->stride[0],
                            yuv->plane[1] + v / 2 * yuv->stride[1] + u / 2,
                            yuv->plane[2] + v / 2 * yuv->stride[2] + u / 2);
        }
}
