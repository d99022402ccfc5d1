/* Drawing passers-by and their trolleys; see occluder.h. Seen from behind and the side, walking to
 * the right. */
#include "goods.h"
#include "occluder.h"

#define PERSON_TEXELS_PER_MM 1.0

typedef struct {
    LrColour skin, hair, top, top_mark, trousers, shoe;
    LrPatternKind cloth;
    double cloth_size;
    bool long_hair, hat;
    LrRng rng;
} PersonDress;

static cairo_t *person_sheet(double w, double h)
{
    cairo_surface_t *surface = cairo_image_surface_create(
        CAIRO_FORMAT_ARGB32, (int)(w * PERSON_TEXELS_PER_MM), (int)(h * PERSON_TEXELS_PER_MM));
    cairo_t *cr = cairo_create(surface);
    cairo_surface_destroy(surface); /* the context holds it */
    cairo_scale(cr, PERSON_TEXELS_PER_MM, PERSON_TEXELS_PER_MM);
    return cr;
}

static LrTexture *person_take(LrWorld *owner, cairo_t *cr)
{
    cairo_surface_t *surface = cairo_surface_reference(cairo_get_target(cr));
    cairo_destroy(cr);
    return lr_world_own(owner, lr_texture_take(surface));
}

static LrColour person_colour(LrRng *rng, double lo, double hi)
{
    return (LrColour){lr_rng_uniform(rng, lo, hi), lr_rng_uniform(rng, lo, hi),
                      lr_rng_uniform(rng, lo, hi)};
}

static PersonDress person_dress(uint64_t seed)
{
    static const LrColour skins[] = {
        {0.93, 0.76, 0.64}, {0.80, 0.60, 0.46}, {0.58, 0.40, 0.28}, {0.38, 0.25, 0.18}};
    static const LrColour hairs[] = {
        {0.16, 0.11, 0.08}, {0.38, 0.24, 0.13}, {0.66, 0.5, 0.28}, {0.55, 0.54, 0.53}};
    static const LrPatternKind cloths[] = {LR_PATTERN_PLAID, LR_PATTERN_STRIPES, LR_PATTERN_DOTS,
                                           LR_PATTERN_WAVES, LR_PATTERN_CHECKS};
    LrRng rng = lr_rng_new(seed, "person");
    PersonDress d = {.skin = skins[lr_rng_int(&rng, 0, 3)], .hair = hairs[lr_rng_int(&rng, 0, 3)]};
    d.top = person_colour(&rng, 0.15, 0.8);
    d.top_mark = lr_colour_mix(d.top, person_colour(&rng, 0, 1), 0.6);
    d.trousers = person_colour(&rng, 0.1, 0.4);
    d.shoe = person_colour(&rng, 0.05, 0.6);
    d.cloth = cloths[lr_rng_int(&rng, 0, (int)G_N_ELEMENTS(cloths) - 1)];
    d.cloth_size = lr_rng_uniform(&rng, 14, 34);
    d.long_hair = lr_rng_chance(&rng, 0.5);
    d.hat = lr_rng_chance(&rng, 0.25);
    d.rng = rng;
    return d;
}

/* Light from above and the left over the last clip. */
static void person_shade(cairo_t *cr, double w, double h)
{
    cairo_pattern_t *g = cairo_pattern_create_linear(0, 0, w, h * 0.1);
    cairo_pattern_add_color_stop_rgba(g, 0, 0, 0, 0, 0.35);
    cairo_pattern_add_color_stop_rgba(g, 0.3, 1, 1, 1, 0.12);
    cairo_pattern_add_color_stop_rgba(g, 0.65, 0, 0, 0, 0.05);
    cairo_pattern_add_color_stop_rgba(g, 1, 0, 0, 0, 0.45);
    cairo_set_source(cr, g);
    cairo_paint(cr);
    cairo_pattern_destroy(g);
}

/* Weave: fine threads over the last clip. */
static void person_weave(cairo_t *cr, double w, double h, LrRng *rng)
{
    cairo_set_line_width(cr, 1.4);
    for (double y = 0; y < h; y += 4) {
        cairo_set_source_rgba(cr, 0, 0, 0, lr_rng_uniform(rng, 0.02, 0.14));
        cairo_move_to(cr, 0, y);
        cairo_line_to(cr, w, y + lr_rng_uniform(rng, -3, 3));
        cairo_stroke(cr);
    }
    for (int i = 0; i < 12; i++) { /* folds */
        cairo_set_source_rgba(cr, i % 2, i % 2, i % 2, 0.09);
        cairo_set_line_width(cr, lr_rng_uniform(rng, 5, 16));
        double x = lr_rng_uniform(rng, 0, w), y = lr_rng_uniform(rng, 0, h);
        cairo_move_to(cr, x, y);
        cairo_curve_to(cr, x + 30, y + 60, x - 30, y + 90, x + lr_rng_uniform(rng, -70, 70),
                       y + 170);
        cairo_stroke(cr);
    }
}

static void person_torso(cairo_t *cr, PersonDress *d)
{
    cairo_save(cr);
    cairo_move_to(cr, 240, 232);
    cairo_curve_to(cr, 170, 262, 112, 300, 108, 400);
    cairo_curve_to(cr, 104, 560, 138, 760, 142, 958);
    cairo_line_to(cr, 412, 958);
    cairo_curve_to(cr, 424, 760, 452, 560, 440, 410);
    cairo_curve_to(cr, 428, 300, 380, 262, 322, 236);
    cairo_close_path(cr);
    cairo_clip(cr);
    lr_colour_set(cr, d->top, 1);
    cairo_paint(cr);
    lr_pattern_draw(cr, d->cloth, LR_BODY_W, LR_BODY_H, d->cloth_size, d->top_mark, d->top,
                    &d->rng);
    person_weave(cr, LR_BODY_W, LR_BODY_H, &d->rng);
    person_shade(cr, LR_BODY_W, LR_BODY_H);
    cairo_restore(cr);
}

static void person_head(cairo_t *cr, PersonDress *d)
{
    lr_colour_set(cr, lr_colour_mix(d->skin, (LrColour){0, 0, 0}, 0.2), 1);
    cairo_rectangle(cr, 238, 190, 84, 70); /* neck */
    cairo_fill(cr);
    cairo_save(cr);
    cairo_translate(cr, 282, 122);
    cairo_scale(cr, 88, 116);
    cairo_arc(cr, 0, 0, 1, 0, 2 * G_PI);
    cairo_restore(cr);
    lr_colour_set(cr, d->skin, 1);
    cairo_fill(cr);
    cairo_move_to(cr, 362, 96); /* nose */
    cairo_curve_to(cr, 372, 120, 396, 144, 384, 152);
    cairo_line_to(cr, 352, 156);
    cairo_fill(cr);
    cairo_set_source_rgb(cr, 0.12, 0.09, 0.08);
    cairo_arc(cr, 346, 112, 5, 0, 2 * G_PI);
    cairo_fill(cr);
    cairo_arc(cr, 258, 140, 19, 0, 2 * G_PI); /* ear */
    lr_colour_set(cr, lr_colour_mix(d->skin, (LrColour){0.5, 0.1, 0.1}, 0.25), 1);
    cairo_fill(cr);

    cairo_save(cr);
    cairo_move_to(cr, 372, 62);
    cairo_curve_to(cr, 336, -38, 194, -42, 188, 120);
    if (d->long_hair) {
        cairo_curve_to(cr, 180, 230, 176, 300, 200, 350);
        cairo_curve_to(cr, 250, 372, 290, 350, 300, 300);
        cairo_curve_to(cr, 270, 240, 300, 150, 320, 90);
    } else {
        cairo_curve_to(cr, 190, 170, 205, 200, 235, 214);
        cairo_curve_to(cr, 240, 170, 250, 120, 320, 84);
    }
    cairo_close_path(cr);
    cairo_clip(cr);
    lr_colour_set(cr, d->hair, 1);
    cairo_paint(cr);
    cairo_set_line_width(cr, 2.2);
    for (int i = 0; i < 90; i++) {
        double x = lr_rng_uniform(&d->rng, 180, 370);
        lr_colour_set(cr, lr_colour_mix(d->hair, (LrColour){1, 0.9, 0.8}, 0.3), 0.35);
        cairo_move_to(cr, x, 0);
        cairo_curve_to(cr, x - 50, 110, x - 40, 200, x - 30 + lr_rng_uniform(&d->rng, -30, 30),
                       360);
        cairo_stroke(cr);
    }
    cairo_restore(cr);
    if (d->hat) {
        cairo_save(cr);
        cairo_move_to(cr, 186, 92);
        cairo_curve_to(cr, 190, -34, 370, -34, 376, 84);
        cairo_close_path(cr);
        cairo_clip(cr);
        lr_colour_set(cr, d->top_mark, 1);
        cairo_paint(cr);
        lr_pattern_draw(cr, LR_PATTERN_STRIPES, LR_BODY_W, 100, 6, d->trousers, d->top, &d->rng);
        cairo_restore(cr);
        lr_colour_set(cr, lr_colour_mix(d->top_mark, (LrColour){0, 0, 0}, 0.3), 1);
        cairo_rectangle(cr, 182, 76, 198, 24);
        cairo_fill(cr);
    }
}

static LrTexture *person_body(LrWorld *owner, PersonDress *d)
{
    cairo_t *cr = person_sheet(LR_BODY_W, LR_BODY_H);
    person_torso(cr, d);
    person_head(cr, d);
    return person_take(owner, cr);
}

static LrTexture *person_leg(LrWorld *owner, PersonDress *d)
{
    double h = LR_LEG_H + 30;
    cairo_t *cr = person_sheet(LR_LEG_W, h);
    cairo_save(cr);
    cairo_move_to(cr, 4, 2);
    cairo_curve_to(cr, 14, 260, 52, 420, 62, h - 60);
    cairo_line_to(cr, 184, h - 60);
    cairo_curve_to(cr, 196, 480, 246, 300, 256, 2);
    cairo_close_path(cr);
    cairo_clip(cr);
    lr_colour_set(cr, d->trousers, 1);
    cairo_paint(cr);
    person_weave(cr, LR_LEG_W, h, &d->rng);
    person_shade(cr, LR_LEG_W, h);
    cairo_restore(cr);
    cairo_move_to(cr, 58, h - 66);
    cairo_line_to(cr, 184, h - 66);
    cairo_curve_to(cr, 224, h - 40, 290, h - 38, 288, h - 4);
    cairo_line_to(cr, 58, h - 4);
    cairo_close_path(cr);
    lr_colour_set(cr, d->shoe, 1);
    cairo_fill(cr);
    cairo_set_source_rgb(cr, 0.9, 0.9, 0.88);
    cairo_rectangle(cr, 58, h - 14, 230, 10);
    cairo_fill(cr);
    return person_take(owner, cr);
}

static LrTexture *person_arm(LrWorld *owner, PersonDress *d)
{
    cairo_t *cr = person_sheet(LR_ARM_W, LR_ARM_H);
    cairo_save(cr);
    cairo_translate(cr, 72, LR_ARM_H - 70);
    cairo_scale(cr, 38, 62);
    cairo_arc(cr, 0, 0, 1, 0, 2 * G_PI);
    cairo_restore(cr);
    lr_colour_set(cr, lr_colour_mix(d->skin, (LrColour){0, 0, 0}, 0.08), 1);
    cairo_fill(cr);
    cairo_save(cr);
    cairo_move_to(cr, 10, 70);
    cairo_curve_to(cr, 10, -12, 130, -12, 130, 70);
    cairo_line_to(cr, 108, LR_ARM_H - 110);
    cairo_line_to(cr, 36, LR_ARM_H - 110);
    cairo_close_path(cr);
    cairo_clip(cr);
    lr_colour_set(cr, lr_colour_mix(d->top, (LrColour){0, 0, 0}, 0.12), 1);
    cairo_paint(cr);
    lr_pattern_draw(cr, d->cloth, LR_ARM_W, LR_ARM_H, d->cloth_size, d->top_mark, d->top, &d->rng);
    person_weave(cr, LR_ARM_W, LR_ARM_H, &d->rng);
    person_shade(cr, LR_ARM_W, LR_ARM_H);
    cairo_restore(cr);
    return person_take(owner, cr);
}

/* A wire trolley with shopping in it; pushed to the right. */
static LrTexture *person_cart(LrWorld *owner, PersonDress *d)
{
    cairo_t *cr = person_sheet(LR_CART_W, LR_CART_H);
    uint64_t seed = lr_rng_next(&d->rng);
    for (int i = 0; i < 5; i++) {
        LrProduct p = lr_goods_invent(seed, i, 260);
        cairo_save(cr);
        cairo_translate(cr, 130 + i * 135, 545 - p.height + lr_rng_uniform(&d->rng, -40, 10));
        cairo_rotate(cr, lr_rng_uniform(&d->rng, -0.2, 0.2));
        lr_pack_draw(cr, &p);
        cairo_restore(cr);
    }
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_source_rgb(cr, 0.72, 0.73, 0.76);
    cairo_set_line_width(cr, 5);
    for (int i = 0; i <= 16; i++) {
        double s = i / 16.0;
        cairo_move_to(cr, 90 + s * 780, 260 + s * 60);
        cairo_line_to(cr, 150 + s * 660, 580);
    }
    for (int i = 0; i <= 5; i++) {
        double s = i / 5.0;
        cairo_move_to(cr, 90 + s * 60, 260 + s * 320);
        cairo_line_to(cr, 870 - s * 60, 320 + s * 260);
    }
    cairo_stroke(cr);
    cairo_set_line_width(cr, 22);
    cairo_set_source_rgb(cr, 0.45, 0.46, 0.5);
    cairo_move_to(cr, 90, 262);
    cairo_line_to(cr, 200, 860);
    cairo_line_to(cr, 780, 860);
    cairo_stroke(cr);
    lr_colour_set(cr, d->top_mark, 1);
    cairo_set_line_width(cr, 30);
    cairo_move_to(cr, 28, 240);
    cairo_line_to(cr, 100, 262);
    cairo_stroke(cr);
    for (int i = 0; i < 2; i++) {
        cairo_set_source_rgb(cr, 0.1, 0.1, 0.11);
        cairo_arc(cr, i ? 760 : 230, 915, 58, 0, 2 * G_PI);
        cairo_fill(cr);
        cairo_set_source_rgb(cr, 0.6, 0.6, 0.62);
        cairo_arc(cr, i ? 760 : 230, 915, 22, 0, 2 * G_PI);
        cairo_fill(cr);
    }
    return person_take(owner, cr);
}

LrPersonLook lr_person_draw(LrWorld *owner, uint64_t seed, bool cart)
{
    PersonDress d = person_dress(seed);
    LrPersonLook look = {.scale = lr_rng_uniform(&d.rng, 0.9, 1.04)};
    look.body = person_body(owner, &d);
    look.leg = person_leg(owner, &d);
    look.arm = person_arm(owner, &d);
    if (cart)
        look.cart = person_cart(owner, &d);
    return look;
}
