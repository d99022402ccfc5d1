/* Drawing the walker's own hand and sleeve; see occluder.h. A right hand from behind, fingers up.
 */
#include "goods.h"
#include "occluder.h"

#define HAND_TEXELS_PER_MM 1.6

static void hand_finger(cairo_t *cr, LrColour skin, double x, double y, double length, double width,
                        double lean)
{
    cairo_save(cr);
    cairo_translate(cr, x, y);
    cairo_rotate(cr, lean);
    double r = width / 2;
    cairo_new_path(cr);
    cairo_arc(cr, 0, -length + r, r, G_PI, 2 * G_PI);
    cairo_line_to(cr, r * 1.08, 20);
    cairo_line_to(cr, -r * 1.08, 20);
    cairo_close_path(cr);
    cairo_pattern_t *g = cairo_pattern_create_linear(-r, 0, r, 0);
    LrColour dark = lr_colour_mix(skin, (LrColour){0.25, 0.06, 0.02}, 0.45);
    LrColour light = lr_colour_mix(skin, (LrColour){1, 0.95, 0.9}, 0.25);
    cairo_pattern_add_color_stop_rgb(g, 0, dark.r, dark.g, dark.b);
    cairo_pattern_add_color_stop_rgb(g, 0.35, light.r, light.g, light.b);
    cairo_pattern_add_color_stop_rgb(g, 1, dark.r, dark.g, dark.b);
    cairo_set_source(cr, g);
    cairo_fill(cr);
    cairo_pattern_destroy(g);
    lr_colour_set(cr, dark, 0.6);
    cairo_set_line_width(cr, 0.8);
    for (int joint = 1; joint < 3; joint++)
        for (int line = -1; line <= 1; line++) {
            double jy = -length * joint / 3.0 + line * 2;
            cairo_move_to(cr, -r * 0.6, jy);
            cairo_curve_to(cr, -r * 0.2, jy - 1.5, r * 0.2, jy - 1.5, r * 0.6, jy);
            cairo_stroke(cr);
        }
    lr_colour_set(cr, lr_colour_mix(light, (LrColour){1, 0.8, 0.8}, 0.5), 1);
    cairo_save(cr);
    cairo_translate(cr, 0, -length + r * 1.05);
    cairo_scale(cr, r * 0.62, r * 0.8);
    cairo_arc(cr, 0, 0, 1, 0, 2 * G_PI);
    cairo_restore(cr);
    cairo_fill(cr);
    cairo_restore(cr);
}

static void hand_back(cairo_t *cr, LrColour skin, LrRng *rng)
{
    cairo_save(cr);
    cairo_move_to(cr, 62, 108);
    cairo_curve_to(cr, 90, 84, 140, 84, 160, 110);
    cairo_curve_to(cr, 170, 150, 160, 190, 148, 215);
    cairo_line_to(cr, 150, 330);
    cairo_line_to(cr, 78, 330);
    cairo_line_to(cr, 78, 215);
    cairo_curve_to(cr, 60, 180, 56, 140, 62, 108);
    cairo_close_path(cr);
    cairo_clip(cr);
    LrColour dark = lr_colour_mix(skin, (LrColour){0.25, 0.06, 0.02}, 0.5);
    LrColour light = lr_colour_mix(skin, (LrColour){1, 0.95, 0.9}, 0.2);
    cairo_pattern_t *g = cairo_pattern_create_radial(98, 140, 10, 112, 170, 110);
    cairo_pattern_add_color_stop_rgb(g, 0, light.r, light.g, light.b);
    cairo_pattern_add_color_stop_rgb(g, 0.6, skin.r, skin.g, skin.b);
    cairo_pattern_add_color_stop_rgb(g, 1, dark.r, dark.g, dark.b);
    cairo_set_source(cr, g);
    cairo_paint(cr);
    cairo_pattern_destroy(g);
    for (int i = 0; i < 4; i++) { /* sinews and knuckles */
        double x = 76 + 24 * i;
        lr_colour_set(cr, light, 0.35);
        cairo_set_line_width(cr, 4);
        cairo_move_to(cr, x, 115);
        cairo_line_to(cr, 100 + 6 * i, 205);
        cairo_stroke(cr);
        lr_colour_set(cr, dark, 0.3);
        cairo_arc(cr, x, 112, 7, 0, 2 * G_PI);
        cairo_fill(cr);
    }
    for (int i = 0; i < 260; i++) { /* pores */
        lr_colour_set(cr, lr_rng_chance(rng, 0.5) ? dark : light, 0.25);
        cairo_arc(cr, lr_rng_uniform(rng, 55, 170), lr_rng_uniform(rng, 90, 330), 0.8, 0, 7);
        cairo_fill(cr);
    }
    cairo_restore(cr);
}

static void hand_sleeve(cairo_t *cr, LrRng *rng)
{
    LrColour wool = {lr_rng_uniform(rng, 0.15, 0.7), lr_rng_uniform(rng, 0.15, 0.6),
                     lr_rng_uniform(rng, 0.2, 0.7)};
    LrColour mark = lr_colour_mix(wool, (LrColour){1, 1, 0.9}, 0.5);
    cairo_save(cr);
    cairo_move_to(cr, 62, 285);
    cairo_curve_to(cr, 90, 275, 140, 275, 166, 285);
    cairo_line_to(cr, 205, LR_HAND_H);
    cairo_line_to(cr, 22, LR_HAND_H);
    cairo_close_path(cr);
    cairo_clip(cr);
    lr_colour_set(cr, wool, 1);
    cairo_paint(cr);
    cairo_set_line_width(cr, 2.2);
    for (double y = 285; y < LR_HAND_H; y += 7) /* knitted: rows of small arrows */
        for (double x = 0; x < LR_HAND_W; x += 9) {
            bool band = ((int)(y / 7) + 40) % 16 < 4;
            lr_colour_set(cr, band ? mark : lr_colour_mix(wool, mark, 0.25),
                          lr_rng_uniform(rng, 0.4, 0.9));
            cairo_move_to(cr, x, y);
            cairo_line_to(cr, x + 4.5, y + 6);
            cairo_line_to(cr, x + 9, y);
            cairo_stroke(cr);
        }
    lr_colour_set(cr, lr_colour_mix(wool, (LrColour){0, 0, 0}, 0.35), 0.7);
    for (double x = 62; x < 168; x += 7) /* cuff */
        cairo_rectangle(cr, x, 276, 3, 42);
    cairo_fill(cr);
    cairo_pattern_t *g = cairo_pattern_create_linear(30, 0, 200, 0);
    cairo_pattern_add_color_stop_rgba(g, 0, 0, 0, 0, 0.55);
    cairo_pattern_add_color_stop_rgba(g, 0.4, 1, 1, 1, 0.1);
    cairo_pattern_add_color_stop_rgba(g, 1, 0, 0, 0, 0.6);
    cairo_set_source(cr, g);
    cairo_paint(cr);
    cairo_pattern_destroy(g);
    cairo_restore(cr);
}

LrTexture *lr_hand_draw(LrWorld *owner, uint64_t seed)
{
    static const LrColour skins[] = {
        {0.91, 0.73, 0.60}, {0.78, 0.57, 0.43}, {0.56, 0.38, 0.27}, {0.40, 0.27, 0.19}};
    LrRng rng = lr_rng_new(seed, "hand");
    LrColour skin = skins[lr_rng_int(&rng, 0, 3)];
    cairo_surface_t *surface =
        cairo_image_surface_create(CAIRO_FORMAT_ARGB32, (int)(LR_HAND_W * HAND_TEXELS_PER_MM),
                                   (int)(LR_HAND_H * HAND_TEXELS_PER_MM));
    cairo_t *cr = cairo_create(surface);
    cairo_scale(cr, HAND_TEXELS_PER_MM, HAND_TEXELS_PER_MM);
    hand_finger(cr, skin, 70, 205, 96, 25, -0.75); /* thumb */
    hand_back(cr, skin, &rng);
    static const double lengths[] = {84, 96, 90, 70};
    for (int i = 0; i < 4; i++)
        hand_finger(cr, skin, 76 + 25 * i, 116 + (i == 3 ? 8 : 0), lengths[i], i == 3 ? 19 : 22,
                    -0.08 + 0.06 * i);
    hand_sleeve(cr, &rng);
    cairo_destroy(cr);
    return lr_world_own(owner, lr_texture_take(surface));
}
