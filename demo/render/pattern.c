/* Patterns that cover a pack, a cloth or a wall; see goods.h. */
#include "goods.h"

#include <math.h>

#include <glib.h>

static void pattern_stripes(cairo_t *cr, double w, double h, double size, double angle)
{
    double reach = hypot(w, h);
    cairo_save(cr);
    cairo_translate(cr, w / 2, h / 2);
    cairo_rotate(cr, angle);
    for (double x = -reach; x < reach; x += size * 2)
        cairo_rectangle(cr, x, -reach, size, 2 * reach);
    cairo_restore(cr);
    cairo_fill(cr);
}

static void pattern_dots(cairo_t *cr, double w, double h, double size)
{
    int row = 0;
    for (double y = 0; y < h + size; y += size * 1.5, row++)
        for (double x = row % 2 * size; x < w + size; x += size * 2) {
            cairo_new_sub_path(cr);
            cairo_arc(cr, x, y, size * 0.45, 0, 2 * G_PI);
        }
    cairo_fill(cr);
}

static void pattern_waves(cairo_t *cr, double w, double h, double size)
{
    cairo_set_line_width(cr, size * 0.45);
    for (double y = 0; y < h + size; y += size * 1.3) {
        cairo_move_to(cr, -size, y);
        for (double x = -size; x < w + size; x += size * 2)
            cairo_curve_to(cr, x + size * 0.7, y - size * 0.9, x + size * 1.3, y + size * 0.9,
                           x + size * 2, y);
        cairo_stroke(cr);
    }
}

static void pattern_rays(cairo_t *cr, double w, double h, double size)
{
    double reach = hypot(w, h);
    int n = (int)(260 / size) / 2 * 2 + 8;
    for (int i = 0; i < n; i++) {
        double a = 2 * G_PI * i / n, b = a + G_PI / n;
        cairo_move_to(cr, w / 2, h * 0.42);
        cairo_line_to(cr, w / 2 + reach * cos(a), h * 0.42 + reach * sin(a));
        cairo_line_to(cr, w / 2 + reach * cos(b), h * 0.42 + reach * sin(b));
        cairo_close_path(cr);
    }
    cairo_fill(cr);
}

static void pattern_checks(cairo_t *cr, double w, double h, double size)
{
    int row = 0;
    for (double y = 0; y < h; y += size, row++)
        for (double x = row % 2 * size; x < w; x += size * 2)
            cairo_rectangle(cr, x, y, size, size);
    cairo_fill(cr);
}

static void pattern_peaks(cairo_t *cr, double w, double h, double size, LrColour colour,
                          LrColour other, LrRng *rng)
{
    for (int layer = 0; layer < 3; layer++) {
        double base = h * (0.45 + 0.2 * layer);
        lr_colour_set(cr, lr_colour_mix(other, colour, 0.35 + 0.3 * layer), 1);
        cairo_move_to(cr, -size, h);
        for (double x = -size; x < w + 3 * size; x += size * 1.6) {
            cairo_line_to(cr, x, base + lr_rng_uniform(rng, 0, size));
            cairo_line_to(cr, x + size * 0.8, base - size * lr_rng_uniform(rng, 0.6, 2.2));
        }
        cairo_line_to(cr, w + 3 * size, h);
        cairo_close_path(cr);
        cairo_fill(cr);
    }
}

static void pattern_leaves(cairo_t *cr, double w, double h, double size, LrRng *rng)
{
    int n = (int)(w * h / (size * size * 2.2)) + 3;
    for (int i = 0; i < n; i++) {
        cairo_save(cr);
        cairo_translate(cr, lr_rng_uniform(rng, 0, w), lr_rng_uniform(rng, 0, h));
        cairo_rotate(cr, lr_rng_uniform(rng, 0, 2 * G_PI));
        cairo_scale(cr, size, size);
        cairo_move_to(cr, -0.7, 0);
        cairo_curve_to(cr, -0.3, -0.5, 0.3, -0.4, 0.7, 0);
        cairo_curve_to(cr, 0.3, 0.4, -0.3, 0.5, -0.7, 0);
        cairo_fill(cr);
        cairo_restore(cr);
    }
}

static void pattern_rings(cairo_t *cr, double w, double h, double size, LrRng *rng)
{
    double cx = w * lr_rng_uniform(rng, 0.1, 0.9), cy = h * lr_rng_uniform(rng, 0.5, 1);
    cairo_set_line_width(cr, size * 0.5);
    for (double r = size; r < hypot(w, h); r += size * 1.2) {
        cairo_new_sub_path(cr);
        cairo_arc(cr, cx, cy, r, 0, 2 * G_PI);
        cairo_stroke(cr);
    }
}

static void pattern_confetti(cairo_t *cr, double w, double h, double size, LrColour colour,
                             LrColour other, LrRng *rng)
{
    int n = (int)(w * h / (size * size)) * 2 + 6;
    for (int i = 0; i < n; i++) {
        lr_colour_set(cr, lr_colour_mix(colour, other, lr_rng_uniform(rng, 0, 0.6)), 1);
        cairo_save(cr);
        cairo_translate(cr, lr_rng_uniform(rng, 0, w), lr_rng_uniform(rng, 0, h));
        cairo_rotate(cr, lr_rng_uniform(rng, 0, G_PI));
        cairo_rectangle(cr, 0, 0, size * lr_rng_uniform(rng, 0.2, 0.6), size * 0.2);
        cairo_fill(cr);
        cairo_restore(cr);
    }
}

static void pattern_plaid(cairo_t *cr, double w, double h, double size, LrColour colour,
                          LrColour other)
{
    for (int pass = 0; pass < 2; pass++) {
        lr_colour_set(cr, pass ? other : colour, pass ? 0.7 : 0.5);
        double wide = pass ? size * 0.15 : size * 0.8, at = pass ? size * 1.35 : 0;
        for (double x = at; x < w; x += size * 2)
            cairo_rectangle(cr, x, 0, wide, h);
        cairo_fill(cr);
        for (double y = at; y < h; y += size * 2)
            cairo_rectangle(cr, 0, y, w, wide);
        cairo_fill(cr);
    }
}

void lr_pattern_draw(cairo_t *cr, LrPatternKind kind, double w, double h, double size,
                     LrColour colour, LrColour other, LrRng *rng)
{
    cairo_save(cr);
    lr_colour_set(cr, colour, 1);
    switch (kind) {
    case LR_PATTERN_STRIPES:
        pattern_stripes(cr, w, h, size, 0);
        break;
    case LR_PATTERN_DIAGONAL:
        pattern_stripes(cr, w, h, size, 0.7);
        break;
    case LR_PATTERN_DOTS:
        pattern_dots(cr, w, h, size);
        break;
    case LR_PATTERN_WAVES:
        pattern_waves(cr, w, h, size);
        break;
    case LR_PATTERN_RAYS:
        pattern_rays(cr, w, h, size);
        break;
    case LR_PATTERN_CHECKS:
        pattern_checks(cr, w, h, size);
        break;
    case LR_PATTERN_PEAKS:
        pattern_peaks(cr, w, h, size, colour, other, rng);
        break;
    case LR_PATTERN_LEAVES:
        pattern_leaves(cr, w, h, size, rng);
        break;
    case LR_PATTERN_RINGS:
        pattern_rings(cr, w, h, size, rng);
        break;
    case LR_PATTERN_CONFETTI:
        pattern_confetti(cr, w, h, size, colour, other, rng);
        break;
    case LR_PATTERN_PLAID:
        pattern_plaid(cr, w, h, size, colour, other);
        break;
    case LR_PATTERN_SPLIT:
    case LR_PATTERN_KINDS:
        cairo_move_to(cr, 0, h * 0.55);
        cairo_curve_to(cr, w * 0.3, h * 0.4, w * 0.7, h * 0.75, w, h * 0.5);
        cairo_line_to(cr, w, h);
        cairo_line_to(cr, 0, h);
        cairo_fill(cr);
        break;
    }
    cairo_restore(cr);
}
