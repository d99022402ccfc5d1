/* A poster on a stand; see fixture.h. */
#include "fixture.h"

static void sign_draw(cairo_t *cr, const LrSignSpec *spec)
{
    double w = spec->width, h = spec->height;
    LrRng rng = lr_rng_new(spec->seed, "sign");
    LrProduct hero = lr_goods_invent(spec->seed, 0, h * 0.35);
    LrProduct guest = lr_goods_invent(spec->seed, 1, h * 0.35);
    lr_colour_set(cr, hero.pale, 1);
    cairo_paint(cr);
    lr_pattern_draw(cr, LR_PATTERN_RAYS, w, h, 14, lr_colour_mix(hero.pale, hero.accent, 0.35),
                    hero.pale, &rng);
    lr_pattern_draw(cr, LR_PATTERN_PEAKS, w, h * 1.05, 90, hero.second, hero.accent, &rng);
    cairo_rectangle(cr, 0, 0, w, h * 0.2);
    lr_colour_set(cr, hero.ink, 1);
    cairo_fill(cr);
    lr_colour_set(cr, hero.accent, 1);
    lr_letters_fit(cr, "Lobster Two Bold", "Breakfast fair", w / 2, h * 0.085, w * 0.8, h * 0.09);
    lr_colour_set(cr, hero.pale, 1);
    lr_letters_fit(cr, "Comfortaa Bold", "taste before you choose", w / 2, h * 0.165, w * 0.66,
                   h * 0.028);
    const LrProduct *shown[2] = {&hero, &guest};
    for (int i = 0; i < 2; i++) {
        double scale = MIN(w * 0.34 / shown[i]->width, h * 0.4 / shown[i]->height);
        cairo_save(cr);
        cairo_translate(cr, w * (i ? 0.56 : 0.1), h * 0.66 - shown[i]->height * scale);
        cairo_scale(cr, scale, scale);
        lr_pack_draw(cr, shown[i]);
        cairo_restore(cr);
    }
    cairo_save(cr);
    cairo_translate(cr, w * 0.8, h * 0.27);
    cairo_rotate(cr, 0.15);
    cairo_save(cr);
    cairo_scale(cr, w * 0.15, w * 0.15);
    lr_emblem_draw(cr, 0, hero.accent, hero.accent);
    cairo_restore(cr);
    lr_colour_set(cr, hero.ink, 1);
    lr_letters_fit(cr, "DejaVu Sans Bold", "-30%", 0, 0, w * 0.19, h * 0.05);
    cairo_restore(cr);
    lr_colour_set(cr, hero.pale, 0.92);
    cairo_rectangle(cr, w * 0.06, h * 0.72, w * 0.88, h * 0.24);
    cairo_fill(cr);
    lr_colour_set(cr, hero.ink, 1);
    lr_letters_fit(cr, "Old Standard TT Bold", "This week in the hall", w / 2, h * 0.75, w * 0.7,
                   h * 0.03);
    lr_letters_block(cr, w * 0.1, h * 0.785, w * 0.8, (int)(h * 0.16 / 17.5), 12, &rng);
}

void lr_sign_add(LrWorld *world, const LrSignSpec *spec)
{
    double s = spec->texels_per_mm;
    cairo_surface_t *surface = cairo_image_surface_create(
        CAIRO_FORMAT_RGB24, (int)lrint(spec->width * s), (int)lrint(spec->height * s));
    cairo_t *cr = cairo_create(surface);
    cairo_scale(cr, s, s);
    sign_draw(cr, spec);
    cairo_destroy(cr);
    LrVec corner = spec->foot;
    corner.y = -spec->bottom - spec->height;
    lr_world_add(world, (LrQuad){corner,
                                 spec->right,
                                 {0, 1, 0},
                                 spec->width,
                                 spec->height,
                                 lr_world_own(world, lr_texture_take(surface)),
                                 spec->part});

    surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 16, 64);
    cr = cairo_create(surface);
    cairo_set_source_rgb(cr, 0.3, 0.31, 0.33);
    cairo_paint(cr);
    cairo_destroy(cr);
    LrTexture *metal = lr_world_own(world, lr_texture_take(surface));
    for (int leg = 0; leg < 2; leg++) {
        LrVec at = lr_vec_along(spec->foot, spec->right, leg ? spec->width - 70 : 40);
        at.y = -spec->bottom;
        lr_world_add(world,
                     (LrQuad){at, spec->right, {0, 1, 0}, 30, spec->bottom, metal, LR_PART_ROOM});
    }
}
