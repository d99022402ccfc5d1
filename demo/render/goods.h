/* Invented goods: what a product looks like and how its pack is drawn.
 *
 * Every name, sign and word is made up for this program. Drawing is in millimetres: the caller
 * scales the cairo context. */
#ifndef LOOKFALL_DEMO_GOODS_H
#define LOOKFALL_DEMO_GOODS_H

#include <cairo.h>

#include "rng.h"

typedef struct {
    double r, g, b; /* 0..1 */
} LrColour;

typedef enum {
    LR_PACK_BOX,
    LR_PACK_CARTON,
    LR_PACK_BOTTLE,
    LR_PACK_CAN,
    LR_PACK_JAR,
    LR_PACK_BAG,
    LR_PACK_TUB,
    LR_PACK_KINDS,
} LrPackKind;

typedef enum {
    LR_PATTERN_STRIPES,
    LR_PATTERN_DIAGONAL,
    LR_PATTERN_DOTS,
    LR_PATTERN_WAVES,
    LR_PATTERN_RAYS,
    LR_PATTERN_CHECKS,
    LR_PATTERN_PEAKS,
    LR_PATTERN_LEAVES,
    LR_PATTERN_RINGS,
    LR_PATTERN_CONFETTI,
    LR_PATTERN_PLAID,
    LR_PATTERN_SPLIT,
    LR_PATTERN_KINDS,
} LrPatternKind;

#define LR_EMBLEM_KINDS 12

/* One product: all its facings look the same. */
typedef struct {
    LrPackKind kind;
    double width, height, depth; /* mm */
    LrColour ground, second, accent, ink, pale;
    LrPatternKind pattern;
    double pattern_size; /* mm */
    int emblem;
    const char *font;
    const char *name, *variety, *claim; /* static */
    int label;                          /* how the parts are arranged, 0..3 */
    int number;                         /* price in cents */
    uint64_t seed;
} LrProduct;

/* `index`: names do not repeat among products of one seed with different indexes. max_height: room
 * on the board, mm. */
LrProduct lr_goods_invent(uint64_t seed, int index, double max_height);
/* Draws the pack with its top-left corner at (0, 0). */
void lr_pack_draw(cairo_t *cr, const LrProduct *product);

/* Fills the clip region, or the box (0, 0, w, h), with a pattern. */
void lr_pattern_draw(cairo_t *cr, LrPatternKind kind, double w, double h, double size,
                     LrColour colour, LrColour other, LrRng *rng);
/* A sign within the circle of radius 1 around (0, 0). */
void lr_emblem_draw(cairo_t *cr, int kind, LrColour colour, LrColour other);

/* A line of text whose box is centred on (cx, cy), as large as fits into w x h. `font`: a Pango
 * font description without a size. */
void lr_letters_fit(cairo_t *cr, const char *font, const char *text, double cx, double cy, double w,
                    double h);
/* Small print: a block of invented words from (x, y), lines of `size` mm. */
void lr_letters_block(cairo_t *cr, double x, double y, double w, int lines, double size,
                      LrRng *rng);

/* Name of a font that is not installed, or NULL: pictures are the same only with the same fonts. */
const char *lr_letters_missing(void);

LrColour lr_colour_mix(LrColour a, LrColour b, double share_of_b);
void lr_colour_set(cairo_t *cr, LrColour colour, double alpha);

#endif
