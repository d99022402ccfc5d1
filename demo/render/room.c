/* The aisle around the shelves; see room.h. */
#include "room.h"

#include "fixture.h"

#define ROOM_SHELF_WIDE 2200

static cairo_t *room_sheet(cairo_surface_t **surface, double w, double h, double texels_per_mm)
{
    *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)lrint(w * texels_per_mm),
                                          (int)lrint(h * texels_per_mm));
    cairo_t *cr = cairo_create(*surface);
    cairo_scale(cr, texels_per_mm, texels_per_mm);
    return cr;
}

static LrTexture *room_take(LrWorld *world, cairo_t *cr, cairo_surface_t *surface)
{
    cairo_destroy(cr);
    return lr_world_own(world, lr_texture_take(surface));
}

static void room_add_floor(LrWorld *world, LrRng *rng)
{
    cairo_surface_t *surface;
    double w = 2 * LR_ROOM_HALF, h = LR_ROOM_DEEP;
    cairo_t *cr = room_sheet(&surface, w, h, 0.25);
    for (double y = 0; y < h; y += 400)
        for (double x = 0; x < w; x += 400) {
            double v = lr_rng_uniform(rng, 0.58, 0.66);
            cairo_set_source_rgb(cr, v, v * 0.98, v * 0.93);
            cairo_rectangle(cr, x, y, 400, 400);
            cairo_fill(cr);
            for (int i = 0; i < 14; i++) { /* terrazzo chips */
                double t = lr_rng_uniform(rng, 0.35, 0.9);
                cairo_set_source_rgba(cr, t, t * 0.95, t * 0.88, 0.6);
                cairo_arc(cr, x + lr_rng_uniform(rng, 0, 400), y + lr_rng_uniform(rng, 0, 400),
                          lr_rng_uniform(rng, 5, 14), 0, 2 * G_PI);
                cairo_fill(cr);
            }
        }
    cairo_set_source_rgba(cr, 0.2, 0.2, 0.2, 0.5);
    for (double x = 0; x < w; x += 400)
        cairo_rectangle(cr, x, 0, 5, h);
    for (double y = 0; y < h; y += 400)
        cairo_rectangle(cr, 0, y, w, 5);
    cairo_fill(cr);
    lr_world_add(world, (LrQuad){{-LR_ROOM_HALF, 0, -LR_ROOM_DEEP},
                                 {1, 0, 0},
                                 {0, 0, 1},
                                 w,
                                 h,
                                 room_take(world, cr, surface),
                                 LR_PART_ROOM});
}

static void room_add_ceiling(LrWorld *world)
{
    cairo_surface_t *surface;
    double w = 2 * LR_ROOM_HALF, h = LR_ROOM_DEEP;
    cairo_t *cr = room_sheet(&surface, w, h, 0.2);
    cairo_set_source_rgb(cr, 0.55, 0.56, 0.57);
    cairo_paint(cr);
    cairo_set_source_rgb(cr, 0.36, 0.37, 0.38);
    for (double x = 0; x < w; x += 600)
        cairo_rectangle(cr, x, 0, 20, h);
    for (double y = 0; y < h; y += 600)
        cairo_rectangle(cr, 0, y, w, 20);
    cairo_fill(cr);
    cairo_set_source_rgb(cr, 1, 1, 0.97);
    for (double y = 900; y < h; y += 1200)
        for (double x = 300; x < w; x += 1800)
            cairo_rectangle(cr, x, y, 1200, 160);
    cairo_fill(cr);
    lr_world_add(world, (LrQuad){{-LR_ROOM_HALF, -LR_ROOM_HIGH, -LR_ROOM_DEEP},
                                 {1, 0, 0},
                                 {0, 0, 1},
                                 w,
                                 h,
                                 room_take(world, cr, surface),
                                 LR_PART_ROOM});
}

/* A painted wall with a notice board. `corner` is its top-left corner. */
static void room_add_wall(LrWorld *world, LrRng *rng, LrVec corner, LrVec right, double w, double h)
{
    cairo_surface_t *surface;
    cairo_t *cr = room_sheet(&surface, w, h, 0.4);
    double warm = lr_rng_uniform(rng, 0.9, 1);
    cairo_set_source_rgb(cr, 0.8, 0.8 * warm, 0.76 * warm);
    cairo_paint(cr);
    cairo_set_source_rgba(cr, 0.35, 0.3, 0.3, 0.05);
    for (int i = 0; i < 240; i++) { /* plaster */
        cairo_rectangle(cr, lr_rng_uniform(rng, 0, w), lr_rng_uniform(rng, 0, h), 60, 9);
        cairo_fill(cr);
    }
    cairo_set_source_rgb(cr, 0.25, 0.4, 0.42);
    cairo_rectangle(cr, 0, h * 0.12, w, 60);
    cairo_fill(cr);
    if (h > 1500) {
        for (double x = 300; x + 500 < w; x += lr_rng_uniform(rng, 700, 1300)) {
            LrColour paper = {lr_rng_uniform(rng, 0.7, 1), lr_rng_uniform(rng, 0.7, 0.95),
                              lr_rng_uniform(rng, 0.6, 0.9)};
            LrColour ink = {lr_rng_uniform(rng, 0, 0.5), 0.15, lr_rng_uniform(rng, 0, 0.4)};
            cairo_save(cr);
            cairo_translate(cr, x, h * lr_rng_uniform(rng, 0.3, 0.45));
            cairo_rectangle(cr, 0, 0, 420, 600);
            cairo_clip(cr);
            lr_colour_set(cr, paper, 1);
            cairo_paint(cr);
            lr_pattern_draw(cr, (LrPatternKind)lr_rng_int(rng, 0, LR_PATTERN_KINDS - 1), 420, 600,
                            40, lr_colour_mix(paper, ink, 0.3), paper, rng);
            cairo_translate(cr, 210, 240);
            cairo_scale(cr, 150, 150);
            lr_emblem_draw(cr, lr_rng_int(rng, 0, LR_EMBLEM_KINDS - 1), ink, paper);
            cairo_restore(cr);
        }
    }
    lr_world_add(
        world,
        (LrQuad){corner, right, {0, 1, 0}, w, h, room_take(world, cr, surface), LR_PART_ROOM});
}

static void room_add_shelf(LrWorld *world, uint64_t seed, double foot_x, double foot_z, double side,
                           double width, double height, double texels_per_mm)
{
    static const char *const titles[] = {"Larder & Co.", "Sweet corner",  "Hot & cold drinks",
                                         "For the pan",  "Little things", "From the garden"};
    LrShelfSpec spec = {.foot = {foot_x, 0, foot_z},
                        .right = {side, 0, 0},
                        .depth = {0, 0, side},
                        .width = width,
                        .height = height,
                        .boards = 4 + (int)(lr_rng_mix(seed, 5) % 3),
                        .texels_per_mm = texels_per_mm,
                        .seed = seed,
                        .part = LR_PART_ROOM,
                        .title = titles[lr_rng_mix(seed, 6) % G_N_ELEMENTS(titles)]};
    lr_shelf_add(world, &spec);
}

void lr_room_add(LrWorld *world, uint64_t seed, double x0, double x1, double shelf_height,
                 double texels_per_mm)
{
    double beside = 0.6 * texels_per_mm, opposite = 0.35 * texels_per_mm;
    LrRng rng = lr_rng_new(seed, "room");
    room_add_floor(world, &rng);
    room_add_ceiling(world);

    /* Neighbours to the left and right, then bare wall, and the wall above all. */
    double left = x0 - ROOM_SHELF_WIDE, right = x1 + ROOM_SHELF_WIDE, half = LR_ROOM_HALF;
    room_add_shelf(world, lr_rng_mix(seed, 11), left, 0, 1, ROOM_SHELF_WIDE, shelf_height, beside);
    room_add_shelf(world, lr_rng_mix(seed, 12), x1, 0, 1, ROOM_SHELF_WIDE, shelf_height, beside);
    room_add_wall(world, &rng, lr_vec(-half, -shelf_height, 0), lr_vec(1, 0, 0), left + half,
                  shelf_height);
    room_add_wall(world, &rng, lr_vec(right, -shelf_height, 0), lr_vec(1, 0, 0), half - right,
                  shelf_height);
    room_add_wall(world, &rng, lr_vec(-half, -LR_ROOM_HIGH, 0), lr_vec(1, 0, 0), 2 * half,
                  LR_ROOM_HIGH - shelf_height);

    /* The other side of the aisle, seen when turning round. */
    double deep = -LR_ROOM_DEEP, wide = 2 * half / 4;
    for (int i = 0; i < 4; i++)
        room_add_shelf(world, lr_rng_mix(seed, 20 + (uint64_t)i), half - i * wide, deep, -1, wide,
                       shelf_height, opposite);
    room_add_wall(world, &rng, lr_vec(half, -LR_ROOM_HIGH, deep), lr_vec(-1, 0, 0), 2 * half,
                  LR_ROOM_HIGH - shelf_height);
    room_add_wall(world, &rng, lr_vec(-half, -LR_ROOM_HIGH, deep), lr_vec(0, 0, 1), LR_ROOM_DEEP,
                  LR_ROOM_HIGH);
    room_add_wall(world, &rng, lr_vec(half, -LR_ROOM_HIGH, 0), lr_vec(0, 0, -1), LR_ROOM_DEEP,
                  LR_ROOM_HIGH);
}
