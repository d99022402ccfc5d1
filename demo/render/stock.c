/* Which goods stand where on a shelf; see fixture.h. */
#include "fixture.h"

/* Room between the highest pack and the board above. */
#define STOCK_AIR_MM 26

static const LrColour stock_rails[] = {
    {0.80, 0.16, 0.16}, {0.10, 0.36, 0.62}, {0.16, 0.46, 0.26},
    {0.30, 0.30, 0.33}, {0.85, 0.55, 0.10}, {0.86, 0.86, 0.84},
};

static void stock_bays(LrStock *stock, const LrShelfSpec *spec, LrRng *rng)
{
    double room = spec->height - LR_HEADER_MM - LR_PLINTH_MM, share[LR_BOARDS_MAX], sum = 0;
    for (int i = 0; i < stock->boards; i++)
        sum += share[i] = lr_rng_uniform(rng, 0.88, 1.12);
    double y = LR_HEADER_MM;
    for (int i = 0; i < stock->boards; i++) {
        stock->bay_top[i] = y;
        y += room * share[i] / sum;
        stock->board_y[i] = y - LR_RAIL_MM;
    }
}

static void stock_fill_board(LrStock *stock, const LrShelfSpec *spec, int board, LrRng *rng)
{
    double left = LR_UPRIGHT_MM + 6, right = spec->width - LR_UPRIGHT_MM - 6;
    double floor_y = stock->board_y[board];
    double high = floor_y - stock->bay_top[board] - STOCK_AIR_MM, x = left;
    while (x < right - 60) {
        LrProduct p = lr_goods_invent(spec->seed, (int)stock->products->len, high);
        int facings = lr_rng_int(rng, 3, p.width > 130 ? 4 : 7);
        double gap = lr_rng_uniform(rng, 2, 6);
        bool stacks = p.kind == LR_PACK_CAN || p.kind == LR_PACK_JAR || p.kind == LR_PACK_TUB;
        int stacked = stacks ? CLAMP((int)(high / p.height), 1, 3) : 1;
        double z = lr_rng_uniform(rng, 0, spec->set_back);
        int placed = 0;
        for (; placed < facings && x + p.width < right; placed++, x += p.width + gap) {
            double jitter = lr_rng_normal(rng) * 1.2, back = lr_rng_uniform(rng, -12, 12);
            for (int level = 0; level < stacked; level++) {
                LrFacing f = {(int)stock->products->len,
                              x + CLAMP(jitter, -2.5, 2.5) + level * lr_rng_normal(rng) * 0.5,
                              floor_y - (level + 1) * p.height,
                              spec->set_back > 0 ? CLAMP(z + back, 1, spec->set_back) : 0};
                g_array_append_val(stock->facings, f);
            }
        }
        if (placed == 0)
            break;
        g_array_append_val(stock->products, p);
        x += lr_rng_uniform(rng, 4, 16);
    }
}

/* Another day: some facings are sold, some hold another product of about the same size. */
static void stock_change(LrStock *stock, const LrShelfSpec *spec)
{
    LrRng rng = lr_rng_new(spec->seed, "change");
    int n = (int)stock->products->len;
    for (int i = 0; i < n; i++) {
        LrProduct *old = &g_array_index(stock->products, LrProduct, i);
        if (!lr_rng_chance(&rng, spec->change))
            continue;
        if (lr_rng_chance(&rng, 0.6)) {
            LrProduct other = lr_goods_invent(spec->seed ^ 0x5eedu, i, old->height);
            other.width = old->width;
            other.height = old->height;
            other.kind = old->kind;
            *old = other;
            continue;
        }
        int keep = lr_rng_int(&rng, 0, 1), seen = 0;
        for (guint f = 0; f < stock->facings->len;) {
            bool sold = g_array_index(stock->facings, LrFacing, f).product == i && seen++ >= keep;
            if (sold)
                g_array_remove_index(stock->facings, f);
            else
                f++;
        }
    }
}

LrStock *lr_stock_new(const LrShelfSpec *spec)
{
    LrRng rng = lr_rng_new(spec->seed, "stock");
    LrStock *stock = g_new0(LrStock, 1);
    stock->products = g_array_new(FALSE, FALSE, sizeof(LrProduct));
    stock->facings = g_array_new(FALSE, FALSE, sizeof(LrFacing));
    stock->boards = CLAMP(spec->boards, 1, LR_BOARDS_MAX);
    stock->rail = stock_rails[lr_rng_int(&rng, 0, (int)G_N_ELEMENTS(stock_rails) - 1)];
    double light = lr_rng_uniform(&rng, 0.62, 0.85);
    stock->back = (LrColour){light, light * lr_rng_uniform(&rng, 0.95, 1), light * 0.95};
    stock->trim = lr_colour_mix(stock->rail, (LrColour){0.05, 0.05, 0.08}, 0.35);
    stock_bays(stock, spec, &rng);
    for (int board = 0; board < stock->boards; board++)
        stock_fill_board(stock, spec, board, &rng);
    if (spec->change > 0)
        stock_change(stock, spec);
    return stock;
}

void lr_stock_free(LrStock *stock)
{
    if (!stock)
        return;
    g_array_unref(stock->products);
    g_array_unref(stock->facings);
    g_free(stock);
}
