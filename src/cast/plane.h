/* Single-channel 8-bit images of the engine, and pyramids of them.
 *
 * A level is a resampling by pixel area: level px = (x + 0.5) * scale - 0.5 of the image it was
 * made from (docs/frames.md). */
#ifndef LF_CAST_PLANE_H
#define LF_CAST_PLANE_H

#include <stdbool.h>
#include <stdint.h>

#include <lookfall/geometry.h>
#include <lookfall/video.h>

#include "shim.h"

typedef struct {
    uint8_t *data; /* packed rows */
    int width, height;
    double scale_x, scale_y; /* plane px per px of the image it stands for */
} LfPlane;

/* Leaves a plane without data on failure (out of memory). Free with lf_plane_clear. */
bool lf_plane_init(LfPlane *plane, int width, int height, double scale_x, double scale_y);
void lf_plane_clear(LfPlane *plane);
LfShimImage lf_plane_view(const LfPlane *plane);

/* Between a plane's px and those of the image it stands for. */
static inline LfPoint lf_plane_from_image(const LfPlane *plane, LfPoint p)
{
    return (LfPoint){(p.x + 0.5) * plane->scale_x - 0.5, (p.y + 0.5) * plane->scale_y - 0.5};
}

static inline LfPoint lf_plane_to_image(const LfPlane *plane, LfPoint p)
{
    return (LfPoint){(p.x + 0.5) / plane->scale_x - 0.5, (p.y + 0.5) / plane->scale_y - 0.5};
}

/* Grey level at p, px of the plane, bilinear; false where that is not inside. */
static inline bool lf_plane_sample(const LfPlane *plane, LfPoint p, double *value)
{
    if (!(p.x >= 0 && p.y >= 0 && p.x < plane->width - 1 && p.y < plane->height - 1))
        return false;
    const int x = (int)p.x, y = (int)p.y;
    const double fx = p.x - x, fy = p.y - y;
    const uint8_t *a = plane->data + y * plane->width + x, *b = a + plane->width;
    *value = (1 - fy) * ((1 - fx) * a[0] + fx * a[1]) + fy * ((1 - fx) * b[0] + fx * b[1]);
    return true;
}

/* The frame pyramid: level 0 is the working image (at most LF_FRAME_WORK_WIDTH px wide), each
 * further one half of the one before. */
#define LF_FRAME_WORK_WIDTH 1100
#define LF_FRAME_LEVELS 4

typedef struct {
    LfPlane level[LF_FRAME_LEVELS];
    LfPlane tint[2]; /* blue and red difference, no larger than the working image */
    bool has_tint;   /* whether they are those of this frame */
} LfFramePyramid;

/* Allocates for frames of this size; the working image is the frame halved until it is no wider
 * than max_work_width. */
bool lf_frame_pyramid_init(LfFramePyramid *pyramid, int width, int height, int max_work_width);
void lf_frame_pyramid_clear(LfFramePyramid *pyramid);
/* luma: of the size given to init. */
bool lf_frame_pyramid_fill(LfFramePyramid *pyramid, const uint8_t *luma, ptrdiff_t stride,
                           int width, int height);
/* After the luma, where colours are wanted. */
bool lf_frame_pyramid_fill_tint(LfFramePyramid *pyramid, const LfChroma *chroma);

#endif
