/* Little signs for packs; see goods.h. Each lies within the circle of radius 1 around (0, 0). */
#include "goods.h"

#include <math.h>

#include <glib.h>

static void emblem_disc(cairo_t *cr, double x, double y, double r)
{
    cairo_new_sub_path(cr);
    cairo_arc(cr, x, y, r, 0, 2 * G_PI);
    cairo_fill(cr);
}

static void emblem_star(cairo_t *cr, int points, double inner)
{
    for (int i = 0; i < 2 * points; i++) {
        double a = G_PI * i / points - G_PI / 2, r = i % 2 ? inner : 0.95;
        cairo_line_to(cr, r * cos(a), r * sin(a));
    }
    cairo_close_path(cr);
    cairo_fill(cr);
}

static void emblem_fish(cairo_t *cr, LrColour other)
{
    cairo_move_to(cr, -0.9, 0);
    cairo_curve_to(cr, -0.4, -0.7, 0.3, -0.5, 0.55, -0.05);
    cairo_line_to(cr, 0.95, -0.45);
    cairo_line_to(cr, 0.85, 0);
    cairo_line_to(cr, 0.95, 0.45);
    cairo_line_to(cr, 0.55, 0.05);
    cairo_curve_to(cr, 0.3, 0.5, -0.4, 0.7, -0.9, 0);
    cairo_fill(cr);
    lr_colour_set(cr, other, 1);
    emblem_disc(cr, -0.52, -0.1, 0.09);
    cairo_set_line_width(cr, 0.06);
    for (int i = 0; i < 3; i++) {
        cairo_arc(cr, -0.35 + 0.26 * i, 0, 0.26, -0.9, 0.9);
        cairo_stroke(cr);
    }
}

static void emblem_fruit(cairo_t *cr, LrColour other)
{
    emblem_disc(cr, -0.3, 0.25, 0.55);
    emblem_disc(cr, 0.3, 0.25, 0.55);
    lr_colour_set(cr, other, 1);
    cairo_set_line_width(cr, 0.1);
    cairo_move_to(cr, 0, -0.2);
    cairo_curve_to(cr, 0, -0.5, 0.1, -0.7, 0.25, -0.9);
    cairo_stroke(cr);
    cairo_move_to(cr, 0.15, -0.55);
    cairo_curve_to(cr, 0.4, -0.95, 0.7, -0.8, 0.85, -0.6);
    cairo_curve_to(cr, 0.6, -0.4, 0.4, -0.4, 0.15, -0.55);
    cairo_fill(cr);
}

static void emblem_sprig(cairo_t *cr)
{
    cairo_set_line_width(cr, 0.08);
    cairo_move_to(cr, 0, 0.95);
    cairo_line_to(cr, 0, -0.8);
    cairo_stroke(cr);
    for (int i = 0; i < 7; i++) {
        cairo_save(cr);
        cairo_translate(cr, 0, i < 6 ? 0.6 - 0.45 * (i / 2) : -0.65);
        cairo_rotate(cr, i == 6 ? -G_PI / 2 : i % 2 ? -0.5 : G_PI + 0.5);
        cairo_move_to(cr, 0, 0);
        cairo_curve_to(cr, 0.2, -0.3, 0.5, -0.25, 0.72, 0);
        cairo_curve_to(cr, 0.5, 0.25, 0.2, 0.25, 0, 0);
        cairo_fill(cr);
        cairo_restore(cr);
    }
}

static void emblem_cup(cairo_t *cr)
{
    cairo_move_to(cr, -0.65, -0.1);
    cairo_line_to(cr, 0.45, -0.1);
    cairo_curve_to(cr, 0.45, 0.6, 0.25, 0.85, -0.1, 0.85);
    cairo_curve_to(cr, -0.45, 0.85, -0.65, 0.6, -0.65, -0.1);
    cairo_fill(cr);
    cairo_set_line_width(cr, 0.13);
    cairo_arc(cr, 0.45, 0.2, 0.24, -1.5, 1.9);
    cairo_stroke(cr);
    for (int i = 0; i < 3; i++) {
        double x = -0.42 + 0.32 * i;
        cairo_move_to(cr, x, -0.25);
        cairo_curve_to(cr, x - 0.25, -0.5, x + 0.25, -0.6, x, -0.9);
        cairo_stroke(cr);
    }
}

static void emblem_boat(cairo_t *cr, LrColour other)
{
    cairo_move_to(cr, -0.85, 0.35);
    cairo_line_to(cr, 0.85, 0.35);
    cairo_line_to(cr, 0.5, 0.8);
    cairo_line_to(cr, -0.55, 0.8);
    cairo_close_path(cr);
    cairo_fill(cr);
    cairo_move_to(cr, 0.02, 0.25);
    cairo_line_to(cr, 0.02, -0.9);
    cairo_line_to(cr, 0.75, 0.25);
    cairo_close_path(cr);
    cairo_fill(cr);
    lr_colour_set(cr, other, 1);
    cairo_move_to(cr, -0.06, 0.25);
    cairo_line_to(cr, -0.06, -0.75);
    cairo_line_to(cr, -0.65, 0.25);
    cairo_close_path(cr);
    cairo_fill(cr);
}

static void emblem_flower(cairo_t *cr, int petals, LrColour other)
{
    for (int i = 0; i < petals; i++) {
        cairo_save(cr);
        cairo_rotate(cr, 2 * G_PI * i / petals);
        cairo_scale(cr, 1, 0.55);
        emblem_disc(cr, 0.55, 0, 0.4);
        cairo_restore(cr);
    }
    lr_colour_set(cr, other, 1);
    emblem_disc(cr, 0, 0, 0.28);
}

static void emblem_bird(cairo_t *cr, LrColour other)
{
    cairo_move_to(cr, -0.95, -0.25);
    cairo_line_to(cr, -0.62, -0.42);
    cairo_curve_to(cr, -0.5, -0.75, -0.05, -0.7, 0, -0.3);
    cairo_curve_to(cr, 0.4, -0.2, 0.7, 0.1, 0.95, 0.5);
    cairo_curve_to(cr, 0.3, 0.75, -0.5, 0.7, -0.62, -0.15);
    cairo_close_path(cr);
    cairo_fill(cr);
    lr_colour_set(cr, other, 1);
    emblem_disc(cr, -0.38, -0.36, 0.07);
    cairo_move_to(cr, -0.25, 0.05);
    cairo_curve_to(cr, 0, 0.5, 0.4, 0.5, 0.62, 0.38);
    cairo_curve_to(cr, 0.4, 0.1, 0.1, 0, -0.25, 0.05);
    cairo_fill(cr);
}

static void emblem_hill(cairo_t *cr, LrColour other)
{
    cairo_arc(cr, 0, 0, 0.95, 0, 2 * G_PI);
    cairo_fill(cr);
    cairo_save(cr);
    cairo_arc(cr, 0, 0, 0.85, 0, 2 * G_PI);
    cairo_clip(cr);
    lr_colour_set(cr, other, 1);
    emblem_disc(cr, 0.3, -0.35, 0.22);
    cairo_move_to(cr, -1, 0.7);
    cairo_line_to(cr, -0.3, -0.25);
    cairo_line_to(cr, 0.1, 0.25);
    cairo_line_to(cr, 0.35, 0);
    cairo_line_to(cr, 1, 0.8);
    cairo_line_to(cr, -1, 1);
    cairo_fill(cr);
    cairo_restore(cr);
}

static void emblem_drop(cairo_t *cr, LrColour other)
{
    cairo_move_to(cr, 0, -0.95);
    cairo_curve_to(cr, 0.3, -0.4, 0.65, -0.05, 0.65, 0.3);
    cairo_arc(cr, 0, 0.3, 0.65, 0, G_PI);
    cairo_curve_to(cr, -0.65, -0.05, -0.3, -0.4, 0, -0.95);
    cairo_fill(cr);
    lr_colour_set(cr, other, 1);
    cairo_set_line_width(cr, 0.1);
    cairo_arc(cr, 0, 0.3, 0.42, 1.7, 2.9);
    cairo_stroke(cr);
}

void lr_emblem_draw(cairo_t *cr, int kind, LrColour colour, LrColour other)
{
    cairo_save(cr);
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    cairo_new_path(cr);
    lr_colour_set(cr, colour, 1);
    switch (kind) {
    case 0:
        emblem_star(cr, 12, 0.62);
        lr_colour_set(cr, other, 1);
        emblem_disc(cr, 0, 0, 0.45);
        break;
    case 1:
        emblem_fish(cr, other);
        break;
    case 2:
        emblem_fruit(cr, other);
        break;
    case 3:
        emblem_star(cr, 5, 0.4);
        break;
    case 4:
        emblem_sprig(cr);
        break;
    case 5:
        emblem_cup(cr);
        break;
    case 6:
        emblem_boat(cr, other);
        break;
    case 7:
        emblem_flower(cr, 8, other);
        break;
    case 8:
        emblem_bird(cr, other);
        break;
    case 9:
        emblem_hill(cr, other);
        break;
    case 10:
        emblem_drop(cr, other);
        break;
    default:
        emblem_flower(cr, 5, other);
        break;
    }
    cairo_restore(cr);
}
