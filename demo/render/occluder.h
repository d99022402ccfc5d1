/* What comes between the walker and the shelf: passers-by, trolleys, the walker's own hand.
 *
 * All are drawn, of made-up people. Their outlines are the opacity of their textures, so truth
 * knows to a fraction of a pixel what they hide. */
#ifndef LOOKFALL_DEMO_OCCLUDER_H
#define LOOKFALL_DEMO_OCCLUDER_H

#include "path.h"
#include "world.h"

/* The most rectangles at any one time. */
#define LR_OCCLUDERS_MAX 64

typedef struct {
    double persons_per_min, hands_per_min;
    double stop; /* share of the passers-by who stop in front of the shelf */
    double cart; /* share of the passers-by who push a trolley */
} LrTraffic;

typedef struct LrOccluders LrOccluders;

/* The path is borrowed for the life of the result. */
LrOccluders *lr_occluders_new(uint64_t seed, const LrTraffic *traffic, const LrPath *path,
                              double seconds);
void lr_occluders_free(LrOccluders *occluders);
/* Rectangles at time t; `ids` (may be NULL) takes a number for each that it keeps over time. */
gsize lr_occluders_at(const LrOccluders *occluders, double t_s, LrQuad out[LR_OCCLUDERS_MAX],
                      int ids[LR_OCCLUDERS_MAX]);
/* "hand", "person", "trolley". */
const char *lr_occluder_name(int part);

/* The pictures, made to the measures below; drawn by person.c and hand.c. */
typedef struct {
    LrTexture *body, *leg, *arm, *cart; /* owned by the world of the occluders */
    double scale;                       /* of the whole person against the measures */
} LrPersonLook;

#define LR_BODY_W 560.0
#define LR_BODY_H 960.0 /* crown to hip */
#define LR_LEG_W 300.0
#define LR_LEG_H 880.0
#define LR_ARM_W 140.0
#define LR_ARM_H 690.0
#define LR_CART_W 900.0
#define LR_CART_H 980.0
#define LR_HAND_W 260.0
#define LR_HAND_H 820.0

LrPersonLook lr_person_draw(LrWorld *owner, uint64_t seed, bool cart);
LrTexture *lr_hand_draw(LrWorld *owner, uint64_t seed);

#endif
