/* Inventing products; see goods.h. */
#include "goods.h"

#include <glib.h>

typedef struct {
    LrColour ground, second, accent, ink, pale;
} GoodsPalette;

#define RGB(hex)                                                                                   \
    {                                                                                              \
        (double)((hex) >> 16 & 255) / 255, (double)((hex) >> 8 & 255) / 255,                       \
            (double)((hex)&255) / 255                                                              \
    }

static const GoodsPalette goods_palettes[] = {
    {RGB(0xb8322a), RGB(0x8c1f1d), RGB(0xf2c14e), RGB(0x3a0f0d), RGB(0xfbf1dc)},
    {RGB(0x1f5f8b), RGB(0x174564), RGB(0xf6d55c), RGB(0x0c2233), RGB(0xe9f2f7)},
    {RGB(0x3a7d44), RGB(0x254d32), RGB(0xe9c46a), RGB(0x14281a), RGB(0xf1f5e4)},
    {RGB(0xe8a33d), RGB(0xc9782b), RGB(0x6b2d1a), RGB(0x40200f), RGB(0xfff4de)},
    {RGB(0x6a3d7c), RGB(0x472655), RGB(0xf0a6ca), RGB(0x241230), RGB(0xf6ecf8)},
    {RGB(0x1d7874), RGB(0x0f4c49), RGB(0xee6c4d), RGB(0x08302e), RGB(0xe6f4f1)},
    {RGB(0xf2e8cf), RGB(0xd9c79a), RGB(0xbc4749), RGB(0x38332a), RGB(0xffffff)},
    {RGB(0xe07a8b), RGB(0xb84a62), RGB(0xfff0c9), RGB(0x541c2a), RGB(0xfff2f3)},
    {RGB(0x2b2d42), RGB(0x14152a), RGB(0xd9a441), RGB(0x0a0a14), RGB(0xedf0f4)},
    {RGB(0x8d5a3a), RGB(0x5f3a22), RGB(0xf4d58d), RGB(0x2c180c), RGB(0xfaf0e4)},
    {RGB(0x7fb7be), RGB(0x4d8a92), RGB(0xd3593b), RGB(0x1b3a3e), RGB(0xf4fbfb)},
    {RGB(0xd8e2dc), RGB(0xa9bcb0), RGB(0x2f6f5e), RGB(0x24332c), RGB(0xffffff)},
    {RGB(0xd1495b), RGB(0x30638e), RGB(0xedae49), RGB(0x1c2c3a), RGB(0xfdf6e9)},
    {RGB(0xf4d35e), RGB(0xee964b), RGB(0x0d3b66), RGB(0x0d2a45), RGB(0xfffbea)},
};

static const char *const goods_names[] = {
    "Quillow",   "Brambleby", "Tansel",   "Orrifen",   "Mossgrund", "Plumbelow", "Dovrey",
    "Hazzelin",  "Wuzzle",    "Grumple",  "Pellwick",  "Farrowen",  "Ostermay",  "Kittlebee",
    "Lunvarra",  "Trundel",   "Sorrelby", "Vintrop",   "Umberlee",  "Nockling",  "Jastwin",
    "Ebbeloo",   "Cropsey",   "Zinnerva", "Yarrowin",  "Thistlow",  "Bokkerel",  "Glimpsen",
    "Rumbadil",  "Squerrel",  "Pindlow",  "Wexmoor",   "Fennitree", "Harkaloo",  "Muddelo",
    "Opplestad", "Prunnick",  "Tobbermy", "Velloria",  "Snibbit",   "Larkeny",   "Dunwobble",
    "Corvelle",  "Inglebun",  "Mirrabay", "Hottentop", "Bellwhim",  "Skellop",   "Arbolund",
    "Twillaby",  "Greppel",   "Noodlum",  "Pomvarre",  "Quenby",    "Sundrell",  "Wolloby",
    "Ferrigan",  "Chabblet",  "Kessimo",  "Drummock",
};

static const char *const goods_varieties[] = {
    "oat clusters",     "tomato & dill",  "river herbs",     "plum spread",   "malted biscuits",
    "sea beans",        "roast barley",   "meadow tea",      "pear & ginger", "crisp thins",
    "mild mustard",     "wild rice",      "smoked paprika",  "cloudy apple",  "honey crunch",
    "evening cocoa",    "garden soup",    "pickled carrots", "lemon curd",    "poppy rusks",
    "hazel cream",      "barley noodles", "sour cherries",   "green lentils", "soft caramels",
    "mountain muesli",  "chestnut flour", "fennel seeds",    "elder cordial", "salted kernels",
    "peppermint drops", "yellow peas",
};

static const char *const goods_claims[] = {
    "new!",      "family size", "+20%",      "slow baked", "no added salt", "from the hills",
    "stir well", "3 for 2",     "crunchier", "classic",    "small batch",   "since Tuesday",
};

static const char *const goods_fonts[] = {
    "Lobster Two Bold",     "Comfortaa Bold",           "Yanone Kaffeesatz Bold",
    "Old Standard TT Bold", "League Spartan Bold",      "DejaVu Serif Bold",
    "DejaVu Sans Bold",     "Lobster Two Bold Italic",  "Old Standard TT Italic",
    "Yanone Kaffeesatz",    "League Spartan Semi-Bold",
};

LrColour lr_colour_mix(LrColour a, LrColour b, double s)
{
    return (LrColour){a.r + (b.r - a.r) * s, a.g + (b.g - a.g) * s, a.b + (b.b - a.b) * s};
}

void lr_colour_set(cairo_t *cr, LrColour colour, double alpha)
{
    cairo_set_source_rgba(cr, colour.r, colour.g, colour.b, alpha);
}

static void goods_size(LrProduct *p, LrRng *rng, double max_height)
{
    static const double range[LR_PACK_KINDS][4] = {
        /* narrowest, widest, lowest, highest; mm */
        [LR_PACK_BOX] = {105, 190, 150, 290},  [LR_PACK_CARTON] = {70, 100, 170, 250},
        [LR_PACK_BOTTLE] = {64, 92, 210, 310}, [LR_PACK_CAN] = {66, 100, 85, 125},
        [LR_PACK_JAR] = {70, 98, 95, 155},     [LR_PACK_BAG] = {120, 200, 170, 270},
        [LR_PACK_TUB] = {95, 135, 70, 110},
    };
    const double *r = range[p->kind];
    p->width = lr_rng_uniform(rng, r[0], r[1]);
    p->height = lr_rng_uniform(rng, r[2], MIN(r[3], max_height));
    p->height = MIN(p->height, max_height);
}

LrProduct lr_goods_invent(uint64_t seed, int index, double max_height)
{
    /* A walk through the names with a step that shares no factor with their number, so that none
     * comes twice before all have come. */
    int n_names = (int)G_N_ELEMENTS(goods_names);
    int first = (int)(lr_rng_mix(seed, 1) % (uint64_t)n_names);
    static const int steps[] = {7, 11, 13, 17, 19, 23, 29, 31};
    int step = steps[lr_rng_mix(seed, 2) % G_N_ELEMENTS(steps)];

    LrProduct p = {.seed = lr_rng_mix(seed, 100 + (uint64_t)index)};
    LrRng rng = lr_rng_new(p.seed, "product");
    p.name = goods_names[(first + index * step) % n_names];
    p.kind = (LrPackKind)lr_rng_int(&rng, 0, LR_PACK_KINDS - 1);
    if (p.kind == LR_PACK_BOTTLE && max_height < 215)
        p.kind = LR_PACK_CAN;
    if ((p.kind == LR_PACK_BOX || p.kind == LR_PACK_BAG || p.kind == LR_PACK_CARTON) &&
        max_height < 175)
        p.kind = LR_PACK_JAR;
    goods_size(&p, &rng, max_height);
    p.depth = lr_rng_uniform(&rng, 60, 140);

    const GoodsPalette *c =
        &goods_palettes[lr_rng_int(&rng, 0, (int)G_N_ELEMENTS(goods_palettes) - 1)];
    p.ground = c->ground;
    p.second = c->second;
    p.accent = c->accent;
    p.ink = c->ink;
    p.pale = c->pale;
    if (lr_rng_chance(&rng, 0.25)) {
        p.ground = c->pale;
        p.pale = c->ground;
        p.second = lr_colour_mix(c->pale, c->second, 0.35);
    }
    p.pattern = (LrPatternKind)lr_rng_int(&rng, 0, LR_PATTERN_KINDS - 1);
    p.pattern_size = lr_rng_uniform(&rng, 9, 24);
    p.emblem = lr_rng_int(&rng, 0, LR_EMBLEM_KINDS - 1);
    p.font = goods_fonts[lr_rng_int(&rng, 0, (int)G_N_ELEMENTS(goods_fonts) - 1)];
    p.variety = goods_varieties[lr_rng_int(&rng, 0, (int)G_N_ELEMENTS(goods_varieties) - 1)];
    p.claim = lr_rng_chance(&rng, 0.45)
                  ? goods_claims[lr_rng_int(&rng, 0, (int)G_N_ELEMENTS(goods_claims) - 1)]
                  : NULL;
    p.label = lr_rng_int(&rng, 0, 3);
    p.number = lr_rng_int(&rng, 8, 89) * 10 + (lr_rng_chance(&rng, 0.6) ? 9 : 5);
    return p;
}
