/* Textures: premultiplied ARGB pictures with a pyramid in steps of the square root of 2.
 *
 * Texel coordinates of level 0: the picture's top-left corner is (0, 0), texel centres lie at
 * halves. A texel of level k is 2^(k/2) texels of level 0 wide. Read-only once made; shared by
 * threads. */
#ifndef LOOKFALL_DEMO_TEXTURE_H
#define LOOKFALL_DEMO_TEXTURE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cairo.h>

#define LR_TEXTURE_LEVELS 16

typedef struct {
    uint32_t *texels; /* first texel inside the one-texel border that repeats the edge */
    ptrdiff_t stride; /* texels */
    int width, height;
    float per_base; /* texels of this level per texel of level 0 */
} LrLevel;

typedef struct {
    LrLevel level[LR_TEXTURE_LEVELS];
    int n_levels;
    bool opaque; /* no transparent texel */
    /* Left, right, top, bottom of the largest rectangle of level 0 without a transparent texel;
     * empty (all 0) where there is none. */
    int core[4];
} LrTexture;

/* Takes the picture of an ARGB32 or RGB24 image surface, and destroys the surface. */
LrTexture *lr_texture_take(cairo_surface_t *surface);
void lr_texture_free(LrTexture *texture);
/* Opacity 0..1 at a point of level 0. */
double lr_texture_alpha(const LrTexture *texture, double x, double y);

/* Four 8-bit channels of a texel in four 16-bit lanes: blue, red, green, alpha from the lowest. */
static inline uint64_t lr_texture_lanes(uint32_t texel)
{
    return ((uint64_t)(texel & 0xff00ff00u) << 24) | (texel & 0x00ff00ffu);
}

/* Bilinear value in lanes of 8.8 fixed point at texel (xf / 256 - 1, yf / 256 - 1) of the level,
 * centres at integers, inside [-1, width] and [-1, height]. All four lanes are weighted by one
 * multiplication. */
static inline uint64_t lr_texture_at(const LrLevel *level, int xf, int yf)
{
    int fx = xf & 255, fy = yf & 255;
    const uint32_t *t = level->texels + ((yf >> 8) - 1) * level->stride + (xf >> 8) - 1;
    const uint32_t *b = t + level->stride;
    uint64_t w11 = (uint64_t)((fx * fy) >> 8), w01 = (uint64_t)fx - w11, w10 = (uint64_t)fy - w11;
    uint64_t w00 = 256 - (uint64_t)fx - w10;
    return lr_texture_lanes(t[0]) * w00 + lr_texture_lanes(t[1]) * w01 +
           lr_texture_lanes(b[0]) * w10 + lr_texture_lanes(b[1]) * w11;
}

/* The same for x, y in texels of the level. */
static inline uint64_t lr_texture_sample(const LrLevel *level, float x, float y)
{
    /* Both positive, so that truncation is the floor. */
    return lr_texture_at(level, (int)((x + 1) * 256), (int)((y + 1) * 256));
}

#endif
