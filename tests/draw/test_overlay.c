/* What films draw: YCbCr against its definition, and tiles that miss nothing. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "draw/overlay.h"
#include "draw/ycbcr.h"

/* ITU-T H.273 (07/2021), 8.3: E'Y = KR R + (1 - KR - KB) G + KB B, E'PB = 0.5 (B - E'Y) / (1 - KB),
 * E'PR = 0.5 (R - E'Y) / (1 - KR); 8-bit codes by equations 20 to 25. */
static void reference(double kr, double kb, bool full, const double rgb[3], double code[3])
{
    const double y = kr * rgb[0] + (1 - kr - kb) * rgb[1] + kb * rgb[2];
    const double pb = 0.5 * (rgb[2] - y) / (1 - kb), pr = 0.5 * (rgb[0] - y) / (1 - kr);
    code[0] = full ? 255 * y : 16 + 219 * y;
    code[1] = 128 + (full ? 255 : 224) * pb;
    code[2] = 128 + (full ? 255 : 224) * pr;
}

static const struct {
    uint8_t matrix;
    double kr, kb;
} MATRICES[] = {{1, 0.2126, 0.0722}, {6, 0.299, 0.114}, {9, 0.2627, 0.0593}, {0, 0.2126, 0.0722}};

static guint32 next(guint32 *state)
{
    *state = *state * 1664525u + 1013904223u; /* Numerical Recipes' constants */
    return *state >> 8;
}

static void test_from_rgb(void **state)
{
    guint32 seed = 5;
    (void)state;
    for (gsize m = 0; m < G_N_ELEMENTS(MATRICES); m++)
        for (int full = 0; full < 2; full++)
            for (int n = 0; n < 200; n++) {
                uint8_t rgb[12];
                double part[3], code[3];
                g_autoptr(LfYuv) yuv = lf_yuv_new(2, 2);
                yuv->colours.matrix = MATRICES[m].matrix;
                yuv->colours.full_range = full;
                for (int c = 0; c < 3; c++) {
                    rgb[c] = (uint8_t)(next(&seed) & 255);
                    part[c] = rgb[c] / 255.0;
                }
                for (int i = 1; i < 4; i++)
                    memcpy(rgb + 3 * i, rgb, 3);
                lf_ycbcr_from_rgb(rgb, 2, 2, yuv);
                reference(MATRICES[m].kr, MATRICES[m].kb, full, part, code);
                for (int c = 0; c < 3; c++)
                    if (fabs(yuv->plane[c][0] - fmin(code[c], 255)) > 0.51)
                        fail_msg("matrix %d, %d %d %d: code %d is %d, not %.2f", MATRICES[m].matrix,
                                 rgb[0], rgb[1], rgb[2], c, yuv->plane[c][0], code[c]);
            }
}

/* Laying over is mixing of codes: the ground keeps 1 - alpha of itself. */
static void test_lay(void **state)
{
    guint32 seed = 9;
    (void)state;
    for (int n = 0; n < 500; n++) {
        const uint32_t a = next(&seed) & 255;
        uint32_t argb[4];
        double part[3], code[3];
        uint8_t ground[3];
        g_autoptr(LfYuv) yuv = lf_yuv_new(2, 2);
        uint32_t word = a << 24;
        for (int c = 0; c < 3; c++) {
            const uint32_t premultiplied = next(&seed) % (a + 1);
            part[c] = premultiplied / 255.0;
            word |= premultiplied << (16 - 8 * c);
            ground[c] = (uint8_t)(16 + next(&seed) % 220);
        }
        for (int i = 0; i < 4; i++) {
            argb[i] = word;
            yuv->plane[0][i / 2 * yuv->stride[0] + i % 2] = ground[0];
        }
        yuv->plane[1][0] = ground[1];
        yuv->plane[2][0] = ground[2];
        lf_ycbcr_lay(argb, 2, 0, 0, 2, 2, yuv);
        reference(0.2126, 0.0722, false, part, code);
        for (int c = 0; c < 3; c++) {
            const double zero = c == 0 ? 16 : 128, alpha = a / 255.0;
            const double want = ground[c] * (1 - alpha) + zero * alpha + code[c] - zero;
            if (fabs(yuv->plane[c][0] - CLAMP(want, 0, 255)) > 1.02)
                fail_msg("alpha %u: code %d is %d, not %.2f", a, c, yuv->plane[c][0], want);
        }
    }
}

/* Whatever is drawn, and be it half outside, is laid whole: what is left on the sheet would show up
 * with the next laying. */
static void draw_shape(LfOverlay *o, int shape)
{
    const LfInk ink = {1, 0.9, 0.2, 0.7};
    const LfPoint line[] = {{-30, 10}, {95.5, 60}, {40, 129}};
    switch (shape) {
    case 0:
        lf_overlay_disc(o, (LfPoint){31.7, 64}, 17.3, ink);
        break;
    case 1:
        lf_overlay_ring(o, (LfPoint){96, 96}, 40, 9, 12, ink);
        break;
    case 2:
        lf_overlay_line(o, line, 3, 7, ink);
        break;
    case 3:
        lf_overlay_shape(o, line, 3, ink);
        break;
    case 4:
        lf_overlay_box(o, (LfBox){-5, 20, 60, 50.5}, 8, ink);
        break;
    case 5:
        lf_overlay_frame(o, (LfBox){10, 10, 90, 70}, 3, ink);
        break;
    default:
        lf_overlay_text(o, 64, 63, 30, true, LF_OVERLAY_MIDDLE, 0, ink, "Quaggy 12");
    }
}

static void test_tiles(void **state)
{
    (void)state;
    for (int shape = 0; shape < 7; shape++) {
        g_autoptr(LfOverlay) o = lf_overlay_new(130, 98);
        g_autoptr(LfYuv) yuv = lf_yuv_new(130, 98), before = lf_yuv_new(130, 98);
        const LfBox all = {0, 0, 130, 98};
        gsize changed = 0;
        draw_shape(o, shape);
        lf_overlay_onto(o, yuv);
        for (int y = 0; y < 98; y++)
            for (int x = 0; x < 130; x++)
                changed += yuv->plane[0][y * yuv->stride[0] + x] !=
                           before->plane[0][y * before->stride[0] + x];
        assert_true(changed > 20);
        /* A clear sheet changes nothing, wherever it is laid. */
        g_autofree uint8_t *kept = g_memdup2(yuv->plane[0], (gsize)(98 * yuv->stride[0]));
        lf_overlay_box(o, all, 0, (LfInk){0, 0, 0, 0}); /* touches every tile */
        lf_overlay_onto(o, yuv);
        assert_memory_equal(kept, yuv->plane[0], (gsize)(98 * yuv->stride[0]));
    }
}

static void test_clip(void **state)
{
    (void)state;
    g_autoptr(LfOverlay) o = lf_overlay_new(128, 96);
    g_autoptr(LfYuv) yuv = lf_yuv_new(128, 96);
    const LfBox box = {40, 30, 20, 10};
    lf_overlay_clip(o, &box);
    lf_overlay_disc(o, (LfPoint){50, 35}, 40, (LfInk){1, 1, 1, 1});
    lf_overlay_onto(o, yuv);
    for (int y = 0; y < 96; y++)
        for (int x = 0; x < 128; x++)
            assert_int_equal(yuv->plane[0][y * yuv->stride[0] + x],
                             x >= 40 && x < 60 && y >= 30 && y < 40 ? 235 : 16);
}

/* Places that no picture has do no harm. */
static void test_far(void **state)
{
    (void)state;
    g_autoptr(LfOverlay) o = lf_overlay_new(64, 48);
    g_autoptr(LfYuv) yuv = lf_yuv_new(64, 48);
    const LfPoint line[] = {{-1e9, 0}, {1e9, NAN}, {INFINITY, 3}};
    lf_overlay_disc(o, (LfPoint){1e30, 5}, 3, (LfInk){1, 1, 1, 1});
    lf_overlay_disc(o, (LfPoint){NAN, 5}, 3, (LfInk){1, 1, 1, 1});
    lf_overlay_line(o, line, 3, 2, (LfInk){1, 1, 1, 1});
    lf_overlay_onto(o, yuv);
    for (int y = 0; y < 48; y++)
        for (int x = 0; x < 64; x++)
            assert_int_equal(yuv->plane[0][y * yuv->stride[0] + x], 16);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_from_rgb), cmocka_unit_test(test_lay), cmocka_unit_test(test_tiles),
        cmocka_unit_test(test_clip),     cmocka_unit_test(test_far),
    };
    return cmocka_run_group_tests_name("draw/overlay", tests, NULL, NULL);
}
