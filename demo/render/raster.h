/* From a world and a camera to a picture: every pixel's ray meets the nearest rectangles.
 *
 * A picture is the mean of several shots, each with the world and the camera of its own instant, in
 * linear light: that is motion blur. Pixels are worked in small tiles; which rectangles can show in
 * a tile is found from the tile's corners, so that most tiles see one rectangle alone. */
#ifndef LOOKFALL_DEMO_RASTER_H
#define LOOKFALL_DEMO_RASTER_H

#include <stdint.h>

#include "lens.h"
#include "world.h"

/* Side of a tile, px. */
#define LR_TILE 16
/* So many shots fit the 32-bit sums of squared 14-bit values. */
#define LR_SHOTS_MAX 16

/* The rays of a lens: normalised coordinates of every pixel, tile by tile. */
typedef struct {
    int width, height; /* px */
    int tiles_x, tiles_y;
    float *x, *y;  /* LR_TILE^2 values per tile, tiles row by row */
    float *bounds; /* x0 x1 y0 y1 of every tile */
} LrRays;

LrRays *lr_rays_new(const LrLens *lens);
void lr_rays_free(LrRays *rays);

/* A rectangle as one shot sees it: with (x, y) the normalised ray, 1/depth is q . (x, y, 1), and
 * level-0 texels are u . (x, y, 1) / 1/depth, likewise v. */
typedef struct {
    float q[3], u[3], v[3];
    float x0, x1, y0, y1; /* bounds of what it covers */
    float width, height;  /* texels */
    float core[4];        /* left, right, top, bottom: texels, nothing shines through inside */
    const LrTexture *texture;
} LrShotQuad;

typedef struct {
    LrShotQuad *quads;
    int n_quads;
    int n_fixed; /* those that do not move come first */
    float soft;
} LrShot;

/* soft: texels are at least this much of a pixel wide, 1 or more; 1 keeps all detail.
 * dx, dy: shift of the rays in normalised units, to spread the shots of one picture over a pixel.
 */
void lr_shot_prepare(LrShot *shot, const LrPose *pose, const LrQuad *const *sets,
                     const gsize *set_sizes, int n_sets, double dx, double dy, double soft);
void lr_shot_clear(LrShot *shot);

/* All shots of one picture. The world at rest needs only as many as the camera's own motion asks
 * for; tiles where somebody moves take more. */
typedef struct {
    const LrShot *calm; /* without what moves */
    int n_calm;
    const LrShot *busy; /* with it */
    int n_busy;         /* 0: nothing moves */
} LrExposure;

/* Of each shot, which rectangles may show in one row of tiles. */
typedef struct {
    int *quads[2 * LR_SHOTS_MAX]; /* of the calm shots, then of the busy ones */
    int n_quads[2 * LR_SHOTS_MAX];
} LrRasterRow;

void lr_raster_row_start(LrRasterRow *row, const LrRays *rays, int tile_row,
                         const LrExposure *exposure);
void lr_raster_row_clear(LrRasterRow *row);

/* Mean of the shots over one tile of the row, linear light 0..1, planes b r g of LR_TILE^2
 * values. */
void lr_raster_tile(const LrRays *rays, int tile, const LrExposure *exposure,
                    const LrRasterRow *row, float out[3][LR_TILE * LR_TILE]);

#endif
