/* Quarter turns against the definition, pixel by pixel, and display matrices. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>
#include <glib.h>

#include "video/video_rotate.h"

/* Where the shown pixel (x, y) of a picture turned clockwise is stored, by the definition. */
static void rotate_source(int rotation, int width, int height, int x, int y, int *sx, int *sy)
{
    *sx = rotation == 0 ? x : rotation == 90 ? y : rotation == 180 ? width - 1 - x : width - 1 - y;
    *sy = rotation == 0     ? y
          : rotation == 90  ? height - 1 - x
          : rotation == 180 ? height - 1 - y
                            : x;
}

static void rotate_pictures(void **state)
{
    static const int SIZES[][2] = {{1, 1}, {7, 3}, {32, 32}, {33, 65}, {100, 31}, {64, 1}};
    (void)state;

    for (gsize i = 0; i < G_N_ELEMENTS(SIZES); i++) {
        for (int channels = 1; channels <= 3; channels += 2) {
            const int w = SIZES[i][0], h = SIZES[i][1], stride = w * channels + 5;
            g_autofree uint8_t *src = g_malloc((gsize)(stride * h));
            for (int k = 0; k < stride * h; k++)
                src[k] = (uint8_t)(k * 37 + (k >> 7));
            for (int rotation = 0; rotation < 360; rotation += 90) {
                const int dw = rotation % 180 == 0 ? w : h, dh = rotation % 180 == 0 ? h : w;
                const int dst_stride = dw * channels + 3;
                g_autofree uint8_t *dst = g_malloc((gsize)(dst_stride * dh));
                memset(dst, 0xEE, (gsize)(dst_stride * dh));
                lf_video_rotate(src, stride, w, h, channels, rotation, dst, dst_stride);
                for (int y = 0; y < dh; y++) {
                    for (int x = 0; x < dw * channels; x++) {
                        int sx, sy;
                        rotate_source(rotation, w, h, x / channels, y, &sx, &sy);
                        assert_int_equal(dst[y * dst_stride + x],
                                         src[sy * stride + sx * channels + x % channels]);
                    }
                    for (int x = dw * channels; x < dst_stride; x++) /* nothing beyond the row */
                        assert_int_equal(dst[y * dst_stride + x], 0xEE);
                }
            }
        }
    }
}

/* Matrices as in ISO/IEC 14496-12, 6.2.2: 16.16 fixed point, the last column 2.30. The first is
 * the identity; {0, 1, -1, 0} turns clockwise by 90 degrees. */
static void rotate_matrices(void **state)
{
    static const struct {
        int32_t a, b, c, d;
        bool ok;
        int rotation;
    } ROWS[] = {
        {65536, 0, 0, 65536, true, 0},           {0, 65536, -65536, 0, true, 90},
        {-65536, 0, 0, -65536, true, 180},       {0, -65536, 65536, 0, true, 270},
        {56756, 32768, -32768, 56756, true, 0},  /* 30 degrees: the nearest */
        {32768, 56756, -56756, 32768, true, 90}, /* 60 degrees */
        {-65536, 0, 0, 65536, false, 0},         /* mirrored */
        {0, 65536, 65536, 0, false, 0},          {0, 0, 0, 0, false, 0},
    };
    int rotation = -1;
    (void)state;

    for (gsize i = 0; i < G_N_ELEMENTS(ROWS); i++) {
        const int32_t matrix[9] = {ROWS[i].a, ROWS[i].b, 0, ROWS[i].c, ROWS[i].d, 0, 0, 0, 1 << 30};
        assert_int_equal(lf_video_rotate_from_matrix(matrix, &rotation), ROWS[i].ok);
        assert_int_equal(rotation, ROWS[i].rotation);
    }
    assert_true(lf_video_rotate_from_matrix(NULL, &rotation));
    assert_int_equal(rotation, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rotate_pictures),
        cmocka_unit_test(rotate_matrices),
    };
    return cmocka_run_group_tests_name("video/rotate", tests, NULL, NULL);
}
