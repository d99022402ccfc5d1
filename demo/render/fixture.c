/* Shelves and signs as textured rectangles; see fixture.h. */
#include "fixture.h"

/* Clear rim around a pack's picture, so that its edge is smoothed by the texture. */
#define FIXTURE_RIM_MM 2.0
#define FIXTURE_BACK_MM 190 /* the back wall stands this far behind the rearmost front */

typedef struct {
    cairo_surface_t *surface;
    cairo_t *cr;
} FixtureSheet;

/* A sheet of w x h mm. */
static FixtureSheet fixture_sheet(double w, double h, double texels_per_mm, cairo_format_t format)
{
    FixtureSheet sheet;
    sheet.surface = cairo_image_surface_create(format, (int)lrint(w * texels_per_mm),
                                               (int)lrint(h * texels_per_mm));
    sheet.cr = cairo_create(sheet.surface);
    cairo_scale(sheet.cr, texels_per_mm, texels_per_mm);
    return sheet;
}

static LrTexture *fixture_sheet_texture(LrWorld *world, FixtureSheet sheet)
{
    cairo_destroy(sheet.cr);
    return lr_world_own(world, lr_texture_take(sheet.surface));
}

static FixtureSheet fixture_pack_sheet(const LrProduct *p, double texels_per_mm)
{
    FixtureSheet sheet =
        fixture_sheet(p->width + 2 * FIXTURE_RIM_MM, p->height + 2 * FIXTURE_RIM_MM, texels_per_mm,
                      CAIRO_FORMAT_ARGB32);
    cairo_translate(sheet.cr, FIXTURE_RIM_MM, FIXTURE_RIM_MM);
    lr_pack_draw(sheet.cr, p);
    return sheet;
}

/* Point of the shelf: mm right of and below its top-left corner, mm behind the edge. */
static LrVec fixture_point(const LrShelfSpec *spec, double x, double y, double z)
{
    LrVec p = lr_vec_along(spec->foot, spec->right, x);
    p.y += y - spec->height;
    return lr_vec_along(p, spec->depth, z);
}

static void fixture_add_front(LrWorld *world, const LrShelfSpec *spec, const LrTexture *texture,
                              double x, double y, double z, double w, double h)
{
    lr_world_add(
        world,
        (LrQuad){fixture_point(spec, x, y, z), spec->right, {0, 1, 0}, w, h, texture, spec->part});
}

/* Every facing copied from one picture of its product, on whole texels: exact repeats. */
static void fixture_paint_goods(cairo_t *cr, const LrShelfSpec *spec, const LrStock *stock)
{
    double s = spec->texels_per_mm;
    for (guint i = 0; i < stock->products->len; i++) {
        const LrProduct *p = &g_array_index(stock->products, LrProduct, i);
        FixtureSheet pack = fixture_pack_sheet(p, s);
        cairo_destroy(pack.cr);
        for (guint k = 0; k < stock->facings->len; k++) {
            const LrFacing *f = &g_array_index(stock->facings, LrFacing, k);
            if (f->product != (int)i)
                continue;
            cairo_save(cr);
            cairo_set_source_rgba(cr, 0, 0, 0, 0.22);
            cairo_rectangle(cr, f->x + 3, f->top + 6, p->width + 2, p->height - 6);
            cairo_fill(cr);
            cairo_identity_matrix(cr);
            cairo_set_source_surface(cr, pack.surface, rint((f->x - FIXTURE_RIM_MM) * s),
                                     rint((f->top - FIXTURE_RIM_MM) * s));
            cairo_paint(cr);
            cairo_restore(cr);
        }
        cairo_surface_destroy(pack.surface);
    }
}

static void fixture_add_flat(LrWorld *world, const LrShelfSpec *spec, const LrStock *stock)
{
    FixtureSheet sheet =
        fixture_sheet(spec->width, spec->height, spec->texels_per_mm, CAIRO_FORMAT_RGB24);
    lr_shelf_draw_back(sheet.cr, spec, stock);
    fixture_paint_goods(sheet.cr, spec, stock);
    for (int board = 0; board < stock->boards; board++)
        lr_shelf_draw_rail(sheet.cr, spec, stock, board);
    lr_shelf_draw_uprights(sheet.cr, spec);
    lr_shelf_draw_plinth(sheet.cr, spec);
    lr_shelf_draw_header(sheet.cr, spec, stock);
    fixture_add_front(world, spec, fixture_sheet_texture(world, sheet), 0, 0, 0, spec->width,
                      spec->height);
}

static LrTexture *fixture_plain(LrWorld *world, LrColour colour, LrColour far)
{
    FixtureSheet sheet = fixture_sheet(16, 64, 1, CAIRO_FORMAT_RGB24);
    cairo_pattern_t *g = cairo_pattern_create_linear(0, 0, 0, 64);
    cairo_pattern_add_color_stop_rgb(g, 0, colour.r, colour.g, colour.b);
    cairo_pattern_add_color_stop_rgb(g, 1, far.r, far.g, far.b);
    cairo_set_source(sheet.cr, g);
    cairo_paint(sheet.cr);
    cairo_pattern_destroy(g);
    return fixture_sheet_texture(world, sheet);
}

/* The sides and the top of a pack with straight walls. */
static void fixture_add_walls(LrWorld *world, const LrShelfSpec *spec, const LrProduct *p,
                              const LrFacing *f, const LrTexture *side, const LrTexture *top)
{
    for (int right = 0; right < 2; right++)
        lr_world_add(world, (LrQuad){fixture_point(spec, f->x + (right ? p->width - 0.5 : 0.5),
                                                   f->top + 0.5, f->z + 0.5),
                                     {0, 1, 0},
                                     spec->depth,
                                     p->height - 0.5,
                                     p->depth,
                                     side,
                                     spec->part});
    lr_world_add(world,
                 (LrQuad){fixture_point(spec, f->x + 0.5, f->top + 0.5, f->z + 0.5), spec->right,
                          spec->depth, p->width - 1, p->depth, top, spec->part});
}

static void fixture_add_packs(LrWorld *world, const LrShelfSpec *spec, const LrStock *stock)
{
    const LrColour black = {0.02, 0.02, 0.02};
    for (guint i = 0; i < stock->products->len; i++) {
        const LrProduct *p = &g_array_index(stock->products, LrProduct, i);
        LrTexture *front = fixture_sheet_texture(world, fixture_pack_sheet(p, spec->texels_per_mm));
        LrTexture *side = NULL, *top = NULL;
        if (p->kind == LR_PACK_BOX) {
            side = fixture_plain(world, lr_colour_mix(p->ground, black, 0.45),
                                 lr_colour_mix(p->ground, black, 0.85));
            top = fixture_plain(world, lr_colour_mix(p->ground, black, 0.15),
                                lr_colour_mix(p->ground, black, 0.6));
        }
        for (guint k = 0; k < stock->facings->len; k++) {
            const LrFacing *f = &g_array_index(stock->facings, LrFacing, k);
            if (f->product != (int)i)
                continue;
            fixture_add_front(world, spec, front, f->x - FIXTURE_RIM_MM, f->top - FIXTURE_RIM_MM,
                              f->z, p->width + 2 * FIXTURE_RIM_MM, p->height + 2 * FIXTURE_RIM_MM);
            if (side)
                fixture_add_walls(world, spec, p, f, side, top);
        }
    }
}

/* A strip of the shelf's front, as high as its part. */
static void fixture_add_strip(LrWorld *world, const LrShelfSpec *spec, FixtureSheet sheet, double y,
                              double h, double z)
{
    fixture_add_front(world, spec, fixture_sheet_texture(world, sheet), 0, y, z, spec->width, h);
}

static FixtureSheet fixture_strip(const LrShelfSpec *spec, double y, double h,
                                  cairo_format_t format)
{
    FixtureSheet sheet = fixture_sheet(spec->width, h, spec->texels_per_mm, format);
    cairo_translate(sheet.cr, 0, -y);
    return sheet;
}

static void fixture_add_deep(LrWorld *world, const LrShelfSpec *spec, const LrStock *stock)
{
    double back = spec->set_back + FIXTURE_BACK_MM;
    FixtureSheet sheet = fixture_sheet(spec->width, spec->height, 1, CAIRO_FORMAT_RGB24);
    lr_shelf_draw_back(sheet.cr, spec, stock);
    fixture_add_strip(world, spec, sheet, 0, spec->height, back);
    fixture_add_packs(world, spec, stock);

    LrTexture *board = fixture_plain(world, (LrColour){0.72, 0.72, 0.7}, (LrColour){0.2, 0.2, 0.2});
    for (int i = 0; i < stock->boards; i++) {
        double y = stock->board_y[i];
        lr_world_add(world, (LrQuad){fixture_point(spec, 0, y + 0.5, 0.5), spec->right, spec->depth,
                                     spec->width, back, board, spec->part});
        sheet = fixture_strip(spec, y, LR_RAIL_MM, CAIRO_FORMAT_RGB24);
        lr_shelf_draw_rail(sheet.cr, spec, stock, i);
        fixture_add_strip(world, spec, sheet, y, LR_RAIL_MM, 0);
    }
    double plinth = spec->height - LR_PLINTH_MM;
    sheet = fixture_strip(spec, plinth, LR_PLINTH_MM, CAIRO_FORMAT_RGB24);
    lr_shelf_draw_plinth(sheet.cr, spec);
    fixture_add_strip(world, spec, sheet, plinth, LR_PLINTH_MM, -0.5);
    sheet = fixture_strip(spec, 0, LR_HEADER_MM, CAIRO_FORMAT_RGB24);
    lr_shelf_draw_header(sheet.cr, spec, stock);
    fixture_add_strip(world, spec, sheet, 0, LR_HEADER_MM, -0.5);

    /* Both uprights, and the side walls behind them. */
    sheet = fixture_strip(spec, LR_HEADER_MM, plinth - LR_HEADER_MM, CAIRO_FORMAT_ARGB32);
    lr_shelf_draw_uprights(sheet.cr, spec);
    fixture_add_strip(world, spec, sheet, LR_HEADER_MM, plinth - LR_HEADER_MM, -1);
    for (int right = 0; right < 2; right++)
        lr_world_add(world, (LrQuad){fixture_point(spec, right ? spec->width : 0, 0, 0),
                                     {0, 1, 0},
                                     spec->depth,
                                     spec->height,
                                     back,
                                     board,
                                     spec->part});
}

void lr_shelf_add(LrWorld *world, const LrShelfSpec *spec)
{
    LrStock *stock = lr_stock_new(spec);
    if (spec->set_back > 0)
        fixture_add_deep(world, spec, stock);
    else
        fixture_add_flat(world, spec, stock);
    lr_stock_free(stock);
}

void lr_shelf_targets(const LrShelfSpec *spec, GArray *points)
{
    LrStock *stock = lr_stock_new(spec);
    for (guint k = 0; k < stock->facings->len; k++) {
        const LrFacing *f = &g_array_index(stock->facings, LrFacing, k);
        const LrProduct *p = &g_array_index(stock->products, LrProduct, f->product);
        LrVec at = fixture_point(spec, f->x + p->width / 2, f->top + p->height / 2, f->z);
        g_array_append_val(points, at);
    }
    lr_stock_free(stock);
}

static int fixture_board(const LrStock *stock, const LrFacing *f)
{
    int board = 0;
    while (board + 1 < stock->boards && f->top >= stock->bay_top[board + 1])
        board++;
    return board;
}

void lr_shelf_places(const LrShelfSpec *spec, GArray *places)
{
    LrStock *stock = lr_stock_new(spec);
    g_autofree int *seen = g_new0(int, stock->products->len + 1);
    for (guint k = 0; k < stock->facings->len; k++) {
        const LrFacing *f = &g_array_index(stock->facings, LrFacing, k);
        const LrProduct *p = &g_array_index(stock->products, LrProduct, f->product);
        double right = f->x + p->width, bottom = f->top + p->height;
        LrPackPlace place = {.name = p->name,
                             .number = ++seen[f->product],
                             .board = fixture_board(stock, f) + 1,
                             .corners = {fixture_point(spec, f->x, f->top, f->z),
                                         fixture_point(spec, right, f->top, f->z),
                                         fixture_point(spec, right, bottom, f->z),
                                         fixture_point(spec, f->x, bottom, f->z)}};
        g_array_append_val(places, place);
    }
    lr_stock_free(stock);
}
