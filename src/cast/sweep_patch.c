#include "cast/sweep_patch.h"

#include <math.h>
#if defined(__x86_64__) && defined(__GNUC__)
#include <immintrin.h>
#define PATCH_WIDE
#endif

#include "cast/wide.h"

/* Noise of a frame, grey levels: textures no stronger than that agree with nothing. */
#define PATCH_NOISE 2
/* What one is in a patch of unit norm, and a grey level while it is laid: squares of a patch fit 31
 * bits. */
#define PATCH_FINE 4096
#define PATCH_SHADES 16
/* Places compared before their sums are made agreements of. */
#define PATCH_BATCH 64

static void patch_grey(const LfPlane *plane, int halves, int16_t *grey)
{
    const int w = plane->width, right = halves & 1, down = halves >> 1;
    for (int y = 0; y < plane->height; y++) {
        const uint8_t *p = plane->data + y * w;
        const uint8_t *q = y + 1 < plane->height ? p + down * w : p;
        for (int x = 0; x + 1 < w; x++)
            grey[y * w + x] = (int16_t)((p[x] + p[x + right] + q[x] + q[x + right] + 2) / 4);
        grey[y * w + w - 1] = (int16_t)((p[w - 1] + q[w - 1] + 1) / 2);
    }
}

void lf_sweep_frame_init(LfSweepFrame *frame, const LfPlane *plane)
{
    frame->plane = plane;
#ifdef PATCH_WIDE
    frame->wide = __builtin_cpu_supports("avx2");
#else
    frame->wide = false;
#endif
    for (int i = 0; i < LF_SWEEP_HALVES; i++) {
        frame->grey[i] = g_new(int16_t, plane->width * plane->height);
        patch_grey(plane, i, frame->grey[i]);
    }
}

void lf_sweep_frame_clear(LfSweepFrame *frame)
{
    for (int i = 0; i < LF_SWEEP_HALVES; i++)
        g_free(frame->grey[i]);
}

/* --- laying --- */

/* What each px of a patch is mixed from. */
typedef struct {
    int32_t above[LF_SWEEP_AREA], below[LF_SWEEP_AREA]; /* two px each: the right one times 256 */
    int32_t fx[LF_SWEEP_AREA], fy[LF_SWEEP_AREA];       /* of 256 */
} PatchCorners;

static int32_t patch_two(const uint8_t *p)
{
    return p[0] | p[1] << 8;
}

static bool patch_corners(const LfPlane *source, LfPoint centre, const double a[4],
                          PatchCorners *corners)
{
    const double half = (LF_SWEEP_SIDE - 1) / 2.0, one = 1 << 16;
    const double reach_x = half * (fabs(a[0]) + fabs(a[1]));
    const double reach_y = half * (fabs(a[2]) + fabs(a[3]));
    if (!(centre.x - reach_x >= 0 && centre.y - reach_y >= 0 &&
          centre.x + reach_x < source->width - 1 && centre.y + reach_y < source->height - 1))
        return false;
    const int w = source->width, left = (int)(centre.x - reach_x), top = (int)(centre.y - reach_y);
    const uint8_t *origin = source->data + top * w + left;
    const int32_t dx = (int32_t)(a[0] * one), dy = (int32_t)(a[2] * one);
    for (int row = 0, i = 0; row < LF_SWEEP_SIDE; row++) {
        const double v = row - half;
        int32_t x = (int32_t)((centre.x - left - a[0] * half + a[1] * v) * one);
        int32_t y = (int32_t)((centre.y - top - a[2] * half + a[3] * v) * one);
        for (int col = 0; col < LF_SWEEP_SIDE; col++, i++, x += dx, y += dy) {
            const uint8_t *p = origin + (y >> 16) * w + (x >> 16);
            corners->above[i] = patch_two(p);
            corners->below[i] = patch_two(p + w);
            corners->fx[i] = x >> 8 & 255;
            corners->fy[i] = y >> 8 & 255;
        }
    }
    return true;
}

LF_WIDE_PART int32_t patch_mix(int32_t two, int32_t fx)
{
    return (two & 255) * (256 - fx) + (two >> 8) * fx;
}

/* Bilinear, then to zero mean and unit norm. */
LF_WIDE static void patch_blend(const PatchCorners *c, LfSweepPatch *patch)
{
    int32_t grey[LF_SWEEP_AREA], sum = 0, square = 0;
    for (int i = 0; i < LF_SWEEP_AREA; i++) {
        const int32_t above = patch_mix(c->above[i], c->fx[i]);
        const int32_t below = patch_mix(c->below[i], c->fx[i]);
        grey[i] = (above * (256 - c->fy[i]) + below * c->fy[i]) / (65536 / PATCH_SHADES);
        sum += grey[i];
    }
    for (int i = 0; i < LF_SWEEP_AREA; i++) {
        grey[i] -= sum / LF_SWEEP_AREA;
        square += grey[i] * grey[i];
    }
    const float norm =
        PATCH_FINE / sqrtf((float)square + (float)(LF_SWEEP_AREA * PATCH_SHADES * PATCH_SHADES));
    patch->sum = 0;
    /* Within +-PATCH_FINE; the conversion cuts towards zero. */
    for (int i = 0; i < LF_SWEEP_AREA; i++) {
        const int32_t t = (int32_t)((float)grey[i] * norm + (PATCH_FINE + 0.5F)) - PATCH_FINE;
        patch->t[i] = (int16_t)t;
        patch->sum += t;
    }
}

bool lf_sweep_patch_lay(LfSweepPatch *patch, const LfPlane *source, LfPoint centre,
                        const double a[4])
{
    PatchCorners corners;
    if (!patch_corners(source, centre, a, &corners))
        return false;
    patch_blend(&corners, patch);
    return true;
}

/* --- comparing --- */

/* Products of a patch with the picture under it, by place. */
typedef struct {
    int32_t cross[PATCH_BATCH], square[PATCH_BATCH], sum[PATCH_BATCH];
} PatchSums;

static const int16_t *patch_under(const LfSweepFrame *frame, const LfSweepPlace *at)
{
    return frame->grey[(at->x & 1) | (at->y & 1) << 1] + (at->y >> 1) * frame->plane->width +
           (at->x >> 1);
}

static void patch_sums(const LfSweepPatch *patch, const LfSweepFrame *frame,
                       const LfSweepPlace *place, int n, PatchSums *sums)
{
    for (int i = 0; i < n; i++) {
        const int16_t *p = patch_under(frame, &place[i]), *t = patch->t;
        int32_t cross = 0, square = 0, sum = 0;
        for (int row = 0; row < LF_SWEEP_SIDE; row++, p += frame->plane->width, t += LF_SWEEP_SIDE)
            for (int col = 0; col < LF_SWEEP_SIDE; col++) {
                cross += p[col] * t[col];
                square += p[col] * p[col];
                sum += p[col];
            }
        sums->cross[i] = cross;
        sums->square[i] = square;
        sums->sum[i] = sum;
    }
}

#ifdef PATCH_WIDE
/* The sums of a's, of b's and twice of c's four lanes. */
__attribute__((target("avx2"))) static inline __m128i patch_lanes(__m128i a, __m128i b, __m128i c)
{
    const __m128i ab = _mm_add_epi32(_mm_unpacklo_epi32(a, b), _mm_unpackhi_epi32(a, b));
    const __m128i cc = _mm_add_epi32(c, _mm_shuffle_epi32(c, _MM_SHUFFLE(1, 0, 3, 2)));
    return _mm_unpacklo_epi64(_mm_add_epi32(ab, _mm_shuffle_epi32(ab, _MM_SHUFFLE(1, 0, 3, 2))),
                              _mm_add_epi32(cc, _mm_shuffle_epi32(cc, _MM_SHUFFLE(2, 3, 0, 1))));
}

__attribute__((target("avx2"))) static inline __m128i patch_fold(__m256i v)
{
    return _mm_add_epi32(_mm256_castsi256_si128(v), _mm256_extracti128_si256(v, 1));
}

/* As patch_sums: two rows are one register. */
__attribute__((target("avx2"))) static void patch_sums_wide(const LfSweepPatch *patch,
                                                            const LfSweepFrame *frame,
                                                            const LfSweepPlace *place, int n,
                                                            PatchSums *sums)
{
    const int w = frame->plane->width;
    const __m256i one = _mm256_set1_epi16(1);
    for (int i = 0; i < n; i++) {
        const int16_t *p = patch_under(frame, &place[i]);
        __m256i cross = _mm256_setzero_si256(), square = cross, sum = cross;
        for (int row = 0; row < LF_SWEEP_SIDE; row += 2, p += 2 * w) {
            const __m256i a = _mm256_loadu2_m128i((const __m128i *)(const void *)(p + w),
                                                  (const __m128i *)(const void *)p);
            const __m256i b =
                _mm256_loadu_si256((const __m256i *)(const void *)(patch->t + row * LF_SWEEP_SIDE));
            cross = _mm256_add_epi32(cross, _mm256_madd_epi16(a, b));
            square = _mm256_add_epi32(square, _mm256_madd_epi16(a, a));
            sum = _mm256_add_epi32(sum, _mm256_madd_epi16(a, one));
        }
        const __m128i lanes = patch_lanes(patch_fold(cross), patch_fold(square), patch_fold(sum));
        sums->cross[i] = _mm_extract_epi32(lanes, 0);
        sums->square[i] = _mm_extract_epi32(lanes, 1);
        sums->sum[i] = _mm_extract_epi32(lanes, 2);
    }
}
#endif

LF_WIDE static void patch_agree(const PatchSums *sums, int32_t patch_sum, int n, int *agreement)
{
    const float noise = LF_SWEEP_AREA * LF_SWEEP_AREA * PATCH_NOISE * PATCH_NOISE;
    const float one = (float)LF_SWEEP_WHOLE / (PATCH_FINE * LF_SWEEP_SIDE);
    for (int i = 0; i < n; i++) { /* both times area */
        const int32_t cross = LF_SWEEP_AREA * sums->cross[i] - patch_sum * sums->sum[i];
        const int32_t square = LF_SWEEP_AREA * sums->square[i] - sums->sum[i] * sums->sum[i];
        agreement[i] = (int)((float)cross * one / sqrtf((float)square + noise));
    }
}

void lf_sweep_patch_compare(const LfSweepPatch *patch, const LfSweepFrame *frame,
                            const LfSweepPlace *place, int n, int *agreement)
{
    PatchSums sums;
    for (int from = 0; from < n; from += PATCH_BATCH) {
        const int batch = MIN(n - from, PATCH_BATCH);
#ifdef PATCH_WIDE
        if (frame->wide)
            patch_sums_wide(patch, frame, place + from, batch, &sums);
        else
#endif
            patch_sums(patch, frame, place + from, batch, &sums);
        patch_agree(&sums, patch->sum, batch, agreement + from);
    }
}
