/* Patches: sampled from the photo, aligned in the frame. The hot path of the follower. */
#include "cast/patch.h"

#include <math.h>
#include <string.h>

#include "cast/wide.h"

/* Least standard deviation, grey levels: below it a patch is noise rather than texture (the sensor
 * noise of a dim 8-bit video after H.264; measured on the rendered walks). */
#define PATCH_MIN_CONTRAST 2.5
/* Least relative sharpness in the weaker direction: smaller eigenvalue of J^T J, px^-2. An edge has
 * next to none along itself. */
#define PATCH_MIN_EIGEN 0.004
#define PATCH_MAX_STEPS 12
#define PATCH_DONE_PX 0.02
/* Floor of sigma, plane px: interpolation and compression leave that much even in perfect patches
 * (measured on the rendered walks). */
#define PATCH_SIGMA_FLOOR_PX 0.03

enum {
    PATCH_WIDE = LF_PATCH_SIDE + 2, /* with a border for central differences */
    PATCH_WIDE_AREA = PATCH_WIDE * PATCH_WIDE
};

/* Two pixels beside each other. */
typedef struct {
    uint8_t left, right;
} PatchPair;

/* Samples `wide` from the source with a step of `a` per plane px; false outside of it. */
LF_WIDE_PART bool patch_sample_source(const LfPlane *source, LfPoint centre, const double a[4],
                                      float wide[PATCH_WIDE_AREA])
{
    const double half = (PATCH_WIDE - 1) / 2.0;
    double reach_x = half * (fabs(a[0]) + fabs(a[1]));
    double reach_y = half * (fabs(a[2]) + fabs(a[3]));
    if (!(centre.x - reach_x >= 0 && centre.y - reach_y >= 0 &&
          centre.x + reach_x < source->width - 1 && centre.y + reach_y < source->height - 1))
        return false;
    const int stride = source->width;
    const float step_x = (float)a[0], step_y = (float)a[2];
    int from[PATCH_WIDE_AREA];
    float fx[PATCH_WIDE_AREA], fy[PATCH_WIDE_AREA];
    for (int row = 0; row < PATCH_WIDE; row++) {
        const float x0 = (float)(centre.x - half * a[0] + (row - half) * a[1]);
        const float y0 = (float)(centre.y - half * a[2] + (row - half) * a[3]);
        for (int col = 0; col < PATCH_WIDE; col++) {
            const float x = x0 + (float)col * step_x, y = y0 + (float)col * step_y;
            const int ix = (int)x, iy = (int)y, i = row * PATCH_WIDE + col;
            from[i] = iy * stride + ix;
            fx[i] = x - (float)ix;
            fy[i] = y - (float)iy;
        }
    }
    /* The pixels lie anywhere and are fetched one by one, so that the rest can be done at once. */
    PatchPair top[PATCH_WIDE_AREA], bottom[PATCH_WIDE_AREA];
    for (int i = 0; i < PATCH_WIDE_AREA; i++) {
        const uint8_t *p = source->data + from[i];
        memcpy(&top[i], p, sizeof top[i]);
        memcpy(&bottom[i], p + stride, sizeof bottom[i]);
    }
    for (int i = 0; i < PATCH_WIDE_AREA; i++) {
        const float upper = (float)top[i].left + fx[i] * (float)(top[i].right - top[i].left);
        const float lower =
            (float)bottom[i].left + fx[i] * (float)(bottom[i].right - bottom[i].left);
        wide[i] = upper + fy[i] * (lower - upper);
    }
    return true;
}

/* Smears `wide` along `blur` (plane px): the mean of copies of the source sampled along it. */
LF_WIDE_PART bool patch_sample_blurred(const LfPlane *source, LfPoint centre, const double a[4],
                                       LfPoint blur, float wide[PATCH_WIDE_AREA])
{
    double length = hypot(blur.x, blur.y);
    if (length < 1.5)
        return patch_sample_source(source, centre, a, wide);
    int copies = MIN(2 * (int)ceil(length / 3.0) + 1, 9);
    float one[PATCH_WIDE_AREA];
    for (int i = 0; i < PATCH_WIDE_AREA; i++)
        wide[i] = 0;
    for (int c = 0; c < copies; c++) {
        double along = (c + 0.5) / copies - 0.5;
        LfPoint p = {centre.x + along * (a[0] * blur.x + a[1] * blur.y),
                     centre.y + along * (a[2] * blur.x + a[3] * blur.y)};
        if (!patch_sample_source(source, p, a, one))
            return false;
        for (int i = 0; i < PATCH_WIDE_AREA; i++)
            wide[i] += one[i];
    }
    for (int i = 0; i < PATCH_WIDE_AREA; i++)
        wide[i] /= (float)copies;
    return true;
}

/* Sums run in one lane per column, added up in fixed order at the end: the compiler may use vectors
 * of any width and the result stays the same bits. */
LF_WIDE_PART float patch_lanes(const float lane[LF_PATCH_SIDE])
{
    float sum = 0;
    for (int x = 0; x < LF_PATCH_SIDE; x++)
        sum += lane[x];
    return sum;
}

LF_WIDE bool lf_patch_make(LfPatch *patch, const LfPlane *source, LfPoint centre,
                           const double source_from_plane[4], LfPoint blur)
{
    float wide[PATCH_WIDE_AREA];
    if (!patch_sample_blurred(source, centre, source_from_plane, blur, wide))
        return false;

    float sum[LF_PATCH_SIDE] = {0}, sum_x[LF_PATCH_SIDE] = {0}, sum_y[LF_PATCH_SIDE] = {0};
    for (int y = 0; y < LF_PATCH_SIDE; y++)
        for (int x = 0; x < LF_PATCH_SIDE; x++) {
            const float *w = wide + (y + 1) * PATCH_WIDE + x + 1;
            const int i = y * LF_PATCH_SIDE + x;
            patch->t[i] = w[0];
            patch->jx[i] = (w[1] - w[-1]) * 0.5F;
            patch->jy[i] = (w[PATCH_WIDE] - w[-PATCH_WIDE]) * 0.5F;
            sum[x] += patch->t[i];
            sum_x[x] += patch->jx[i];
            sum_y[x] += patch->jy[i];
        }
    const float mean = patch_lanes(sum) / LF_PATCH_AREA;
    const float mean_x = patch_lanes(sum_x) / LF_PATCH_AREA;
    const float mean_y = patch_lanes(sum_y) / LF_PATCH_AREA;
    float squares[LF_PATCH_SIDE] = {0};
    for (int y = 0; y < LF_PATCH_SIDE; y++)
        for (int x = 0; x < LF_PATCH_SIDE; x++) {
            const int i = y * LF_PATCH_SIDE + x;
            patch->t[i] -= mean;
            squares[x] += patch->t[i] * patch->t[i];
        }
    const float square = patch_lanes(squares);
    patch->mean = (double)mean;
    patch->contrast = sqrt((double)square / LF_PATCH_AREA);
    if (!(patch->contrast >= PATCH_MIN_CONTRAST))
        return false;

    /* With t = (I - mean) / norm: dt = (dI - mean(dI) - t (t . dI)) / norm. */
    const float inverse = 1.0F / sqrtf(square);
    float tx[LF_PATCH_SIDE] = {0}, ty[LF_PATCH_SIDE] = {0};
    for (int y = 0; y < LF_PATCH_SIDE; y++)
        for (int x = 0; x < LF_PATCH_SIDE; x++) {
            const int i = y * LF_PATCH_SIDE + x;
            patch->t[i] *= inverse;
            patch->jx[i] = (patch->jx[i] - mean_x) * inverse;
            patch->jy[i] = (patch->jy[i] - mean_y) * inverse;
            tx[x] += patch->t[i] * patch->jx[i];
            ty[x] += patch->t[i] * patch->jy[i];
        }
    const float along_x = patch_lanes(tx), along_y = patch_lanes(ty);
    float xx[LF_PATCH_SIDE] = {0}, xy[LF_PATCH_SIDE] = {0}, yy[LF_PATCH_SIDE] = {0};
    for (int y = 0; y < LF_PATCH_SIDE; y++)
        for (int x = 0; x < LF_PATCH_SIDE; x++) {
            const int i = y * LF_PATCH_SIDE + x;
            patch->jx[i] -= patch->t[i] * along_x;
            patch->jy[i] -= patch->t[i] * along_y;
            xx[x] += patch->jx[i] * patch->jx[i];
            xy[x] += patch->jx[i] * patch->jy[i];
            yy[x] += patch->jy[i] * patch->jy[i];
        }
    patch->hxx = (double)patch_lanes(xx);
    patch->hxy = (double)patch_lanes(xy);
    patch->hyy = (double)patch_lanes(yy);
    double half_trace = (patch->hxx + patch->hyy) / 2;
    double root = hypot((patch->hxx - patch->hyy) / 2, patch->hxy);
    return half_trace - root >= PATCH_MIN_EIGEN;
}

/* The frame's patch around `at`, not normalised; false where it leaves the frame. */
LF_WIDE_PART bool patch_sample_frame(const LfPlane *frame, LfPoint at, float out[LF_PATCH_AREA])
{
    double left = at.x - (LF_PATCH_SIDE - 1) / 2.0, top = at.y - (LF_PATCH_SIDE - 1) / 2.0;
    if (!(left >= 0 && top >= 0 && left < frame->width - LF_PATCH_SIDE &&
          top < frame->height - LF_PATCH_SIDE))
        return false;
    const int ix = (int)left, iy = (int)top;
    const float fx = (float)(left - ix), fy = (float)(top - iy);
    const float w00 = (1 - fx) * (1 - fy), w10 = fx * (1 - fy), w01 = (1 - fx) * fy, w11 = fx * fy;
    for (int y = 0; y < LF_PATCH_SIDE; y++) {
        const uint8_t *a = frame->data + (iy + y) * frame->width + ix;
        const uint8_t *b = a + frame->width;
        float *o = out + y * LF_PATCH_SIDE;
        for (int x = 0; x < LF_PATCH_SIDE; x++)
            o[x] = w00 * (float)a[x] + w10 * (float)a[x + 1] + w01 * (float)b[x] +
                   w11 * (float)b[x + 1];
    }
    return true;
}

/* Normalises `v` and gives its products with the patch, zncc and J^T v; its mean and contrast go to
 * *light. */
LF_WIDE_PART double patch_compare(const LfPatch *patch, const float v[LF_PATCH_AREA], double *bx,
                                  double *by, LfPatchFit *light)
{
    float sum[LF_PATCH_SIDE] = {0}, square[LF_PATCH_SIDE] = {0}, st[LF_PATCH_SIDE] = {0},
          sx[LF_PATCH_SIDE] = {0}, sy[LF_PATCH_SIDE] = {0};
    for (int y = 0; y < LF_PATCH_SIDE; y++)
        for (int x = 0; x < LF_PATCH_SIDE; x++)
            sum[x] += v[y * LF_PATCH_SIDE + x];
    const float mean = patch_lanes(sum) / LF_PATCH_AREA;
    for (int y = 0; y < LF_PATCH_SIDE; y++)
        for (int x = 0; x < LF_PATCH_SIDE; x++) {
            const int i = y * LF_PATCH_SIDE + x;
            const float d = v[i] - mean;
            square[x] += d * d;
            st[x] += d * patch->t[i];
            sx[x] += d * patch->jx[i];
            sy[x] += d * patch->jy[i];
        }
    const double energy = (double)patch_lanes(square);
    if (!(energy > 1e-3))
        return -2; /* a flat piece of frame compares with nothing */
    const double inverse = 1.0 / sqrt(energy);
    light->mean = (double)mean;
    light->contrast = sqrt(energy / LF_PATCH_AREA);
    *bx = (double)patch_lanes(sx) * inverse;
    *by = (double)patch_lanes(sy) * inverse;
    return (double)patch_lanes(st) * inverse;
}

LF_WIDE bool lf_patch_align(const LfPatch *patch, const LfPlane *frame, LfPoint start,
                            double max_move_px, LfPatchFit *fit)
{
    float v[LF_PATCH_AREA];
    const double det = patch->hxx * patch->hyy - patch->hxy * patch->hxy;
    LfPoint at = start;
    double zncc = -2;
    for (int step = 0; step < PATCH_MAX_STEPS; step++) {
        double bx, by;
        if (!patch_sample_frame(frame, at, v))
            return false;
        zncc = patch_compare(patch, v, &bx, &by, fit);
        if (zncc < -1)
            return false;
        /* J^T t = 0 by construction, so J^T (v - t) = J^T v. */
        double dx = (patch->hyy * bx - patch->hxy * by) / det;
        double dy = (patch->hxx * by - patch->hxy * bx) / det;
        /* Half a patch at most in one go: further the gradient says nothing. */
        double length = sqrt(dx * dx + dy * dy);
        if (length > LF_PATCH_SIDE / 4.0) {
            dx *= LF_PATCH_SIDE / 4.0 / length;
            dy *= LF_PATCH_SIDE / 4.0 / length;
        }
        at.x -= dx;
        at.y -= dy;
        const double off_x = at.x - start.x, off_y = at.y - start.y;
        if (off_x * off_x + off_y * off_y > max_move_px * max_move_px)
            return false;
        if (length < PATCH_DONE_PX)
            break;
    }
    /* Noise of the normalised frame patch, from what is left over: |v - t|^2 = 2 (1 - zncc).
     * Bilinear sampling has averaged it to (2/3)^2 of the pixels' own variance (mean over the
     * sub-pixel phase), but the shift rests on low frequencies, which were not averaged: hence 9/4.
     */
    double noise = 9.0 / 4.0 * 2 * MAX(1 - zncc, 1e-4) / (LF_PATCH_AREA - 4);
    double variance = noise * (patch->hxx + patch->hyy) / det / 2;
    fit->at = at;
    fit->moved_px = hypot(at.x - start.x, at.y - start.y);
    fit->zncc = zncc;
    fit->sigma_px = sqrt(variance + PATCH_SIGMA_FLOOR_PX * PATCH_SIGMA_FLOOR_PX);
    return true;
}
