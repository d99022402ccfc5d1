/* The world: textured rectangles in space, and the ray that meets them. */
#ifndef LOOKFALL_DEMO_WORLD_H
#define LOOKFALL_DEMO_WORLD_H

#include <stdbool.h>

#include <glib.h>

#include "texture.h"
#include "vec.h"

/* What a rectangle belongs to. Fixtures (a shelf, a sign) count up from LR_PART_FIXTURE. */
enum {
    LR_PART_HAND = -3,
    LR_PART_CART = -2,
    LR_PART_PERSON = -1,
    LR_PART_ROOM = 0,
    LR_PART_FIXTURE = 1,
};

/* A rectangle seen from both sides. Its texture spans it from corner to corner. */
typedef struct {
    LrVec corner;         /* of the texture's (0, 0); mm */
    LrVec u, v;           /* unit vectors along the texture's x and y */
    double width, height; /* mm */
    const LrTexture *texture;
    int part;
} LrQuad;

typedef struct {
    GArray *quads;       /* LrQuad */
    GPtrArray *textures; /* owned LrTexture; a world may show textures that another one owns */
} LrWorld;

typedef struct {
    const LrQuad *quad;
    double distance; /* in units of the ray's direction */
    LrVec point;     /* mm */
} LrHit;

LrWorld *lr_world_new(void);
void lr_world_free(LrWorld *world);
/* Takes the texture; returns it. */
LrTexture *lr_world_own(LrWorld *world, LrTexture *texture);
void lr_world_add(LrWorld *world, LrQuad quad);

/* Nearest rectangle that the ray meets where it is opaque by more than half. */
bool lr_world_cast(const LrQuad *quads, gsize n, LrVec from, LrVec direction, LrHit *hit);
/* Where the ray meets the plane of one rectangle, inside it or not; false where it never does. */
bool lr_quad_plane_hit(const LrQuad *quad, LrVec from, LrVec direction, double *distance);

#endif
