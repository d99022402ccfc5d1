/* Shelves and signs: where goods stand, and how they become textured rectangles. */
#ifndef LOOKFALL_DEMO_FIXTURE_H
#define LOOKFALL_DEMO_FIXTURE_H

#include "goods.h"
#include "world.h"

#define LR_BOARDS_MAX 6

typedef struct {
    LrVec foot;         /* the front's left end on the floor, mm */
    LrVec right, depth; /* unit vectors along the front and into the shelf */
    double width, height;
    int boards;           /* 4..LR_BOARDS_MAX */
    double texels_per_mm; /* of its textures */
    double set_back;      /* packs stand 0 to this far behind the edge, mm; 0: all in one plane */
    double change;        /* share of the facings taken away or swapped since the photo */
    uint64_t seed;
    int part;
    const char *title; /* on the header */
} LrShelfSpec;

/* One pack on a board. */
typedef struct {
    int product;
    double x, top; /* mm from the shelf's left and top edge */
    double z;      /* mm behind the edge */
} LrFacing;

typedef struct {
    GArray *products;              /* LrProduct */
    GArray *facings;               /* LrFacing, left to right, board by board */
    double board_y[LR_BOARDS_MAX]; /* of each board's surface, mm from the top edge */
    double bay_top[LR_BOARDS_MAX]; /* where each bay begins */
    int boards;
    LrColour rail, back, trim;
} LrStock;

#define LR_HEADER_MM 190
#define LR_PLINTH_MM 110
#define LR_RAIL_MM 42
#define LR_UPRIGHT_MM 34

LrStock *lr_stock_new(const LrShelfSpec *spec);
void lr_stock_free(LrStock *stock);

/* Drawing in mm from the shelf's top-left corner. */
void lr_shelf_draw_back(cairo_t *cr, const LrShelfSpec *spec, const LrStock *stock);
void lr_shelf_draw_rail(cairo_t *cr, const LrShelfSpec *spec, const LrStock *stock, int board);
void lr_shelf_draw_header(cairo_t *cr, const LrShelfSpec *spec, const LrStock *stock);
void lr_shelf_draw_plinth(cairo_t *cr, const LrShelfSpec *spec);
void lr_shelf_draw_uprights(cairo_t *cr, const LrShelfSpec *spec);

void lr_shelf_add(LrWorld *world, const LrShelfSpec *spec);

/* A poster on a stand; `foot` is the panel's left end on the floor. */
typedef struct {
    LrVec foot, right;
    double bottom, width, height; /* mm */
    double texels_per_mm;
    uint64_t seed;
    int part;
} LrSignSpec;

void lr_sign_add(LrWorld *world, const LrSignSpec *spec);

/* The front of one pack. */
typedef struct {
    const char *name; /* of its product; static */
    int number;       /* among the packs of that product on this shelf, from 1 */
    int board;        /* from 1, at the top */
    LrVec corners[4]; /* in the world, in order around it */
} LrPackPlace;

/* LrPackPlace of every pack on this shelf. */
void lr_shelf_places(const LrShelfSpec *spec, GArray *places);

/* Points worth looking at: centres of packs on this shelf, in the world. */
void lr_shelf_targets(const LrShelfSpec *spec, GArray *points);

#endif
