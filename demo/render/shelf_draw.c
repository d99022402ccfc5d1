/* Drawing the shelf itself: back, rails with price tags, header, plinth, uprights; see fixture.h.
 */
#include "fixture.h"

static void shelf_gradient(cairo_t *cr, double x, double y, double w, double h, double from,
                           double to)
{
    cairo_pattern_t *g = cairo_pattern_create_linear(0, y, 0, y + h);
    cairo_pattern_add_color_stop_rgba(g, 0, 0, 0, 0, from);
    cairo_pattern_add_color_stop_rgba(g, 1, 0, 0, 0, to);
    cairo_set_source(cr, g);
    cairo_rectangle(cr, x, y, w, h);
    cairo_fill(cr);
    cairo_pattern_destroy(g);
}

void lr_shelf_draw_back(cairo_t *cr, const LrShelfSpec *spec, const LrStock *stock)
{
    lr_colour_set(cr, stock->back, 1);
    cairo_paint(cr);
    /* Perforated sheet metal. */
    cairo_set_source_rgba(cr, 0, 0, 0, 0.35);
    for (double y = LR_HEADER_MM + 12; y < spec->height - LR_PLINTH_MM; y += 25)
        for (double x = 20; x < spec->width; x += 25)
            cairo_rectangle(cr, x, y, 5, 5);
    cairo_fill(cr);
    for (int i = 0; i < stock->boards; i++) {
        double top = stock->bay_top[i], h = stock->board_y[i] - top;
        /* Behind the rail above, which shows when seen from higher or lower. */
        double above = i > 0 ? stock->board_y[i - 1] : 0;
        shelf_gradient(cr, 0, above, spec->width, top - above, 0.65, 0.65);
        shelf_gradient(cr, 0, top, spec->width, h * 0.6, 0.65, 0.2);
        shelf_gradient(cr, 0, top + h * 0.6, spec->width, h * 0.4, 0.2, 0.45);
    }
}

static void shelf_tag(cairo_t *cr, const LrProduct *p, double x, double y, LrRng *rng)
{
    double w = 58, h = 33;
    bool offer = lr_rng_chance(rng, 0.18);
    cairo_rectangle(cr, x, y, w, h);
    if (offer)
        cairo_set_source_rgb(cr, 0.98, 0.87, 0.25);
    else
        cairo_set_source_rgb(cr, 0.97, 0.97, 0.94);
    cairo_fill_preserve(cr);
    cairo_set_source_rgba(cr, 0, 0, 0, 0.5);
    cairo_set_line_width(cr, 0.5);
    cairo_stroke(cr);
    cairo_set_source_rgb(cr, 0.08, 0.08, 0.1);
    g_autofree char *title = g_strdup_printf("%s %s", p->name, p->variety);
    lr_letters_fit(cr, "DejaVu Sans", title, x + w / 2, y + 5, w - 6, 4.2);
    g_autofree char *price = g_strdup_printf("%d.%02d", p->number / 100, p->number % 100);
    lr_letters_fit(cr, "DejaVu Sans Bold", price, x + w * 0.68, y + 18.5, 30, 14);
    g_autofree char *code = g_strdup_printf("%06d", lr_rng_int(rng, 0, 999999));
    lr_letters_fit(cr, "DejaVu Sans", code, x + 13, y + 13, 19, 3.4);
    for (double at = x + 4; at < x + 22;) {
        double bar = lr_rng_uniform(rng, 0.3, 1.1);
        cairo_rectangle(cr, at, y + 17, bar, 10);
        at += bar + lr_rng_uniform(rng, 0.4, 1);
    }
    cairo_fill(cr);
    g_autofree char *unit =
        g_strdup_printf("%.2f / kg", p->number / 100.0 * lr_rng_uniform(rng, 1.5, 4));
    lr_letters_fit(cr, "DejaVu Sans", unit, x + w * 0.68, y + 29.5, 24, 2.8);
}

void lr_shelf_draw_rail(cairo_t *cr, const LrShelfSpec *spec, const LrStock *stock, int board)
{
    double y = stock->board_y[board];
    lr_colour_set(cr, stock->rail, 1);
    cairo_rectangle(cr, 0, y, spec->width, LR_RAIL_MM);
    cairo_fill(cr);
    cairo_set_source_rgba(cr, 1, 1, 1, 0.35);
    cairo_rectangle(cr, 0, y, spec->width, 2.5);
    cairo_fill(cr);
    shelf_gradient(cr, 0, y + LR_RAIL_MM - 8, spec->width, 8, 0, 0.45);

    g_autofree char *stream = g_strdup_printf("tags %d", board);
    LrRng rng = lr_rng_new(spec->seed, stream);
    double free_from = 0;
    int last = -1;
    for (guint i = 0; i < stock->facings->len; i++) {
        const LrFacing *f = &g_array_index(stock->facings, LrFacing, i);
        const LrProduct *p = &g_array_index(stock->products, LrProduct, f->product);
        bool here = f->top + p->height > y - 5 && f->top + p->height < y + 5;
        if (!here || f->product == last || f->x < free_from)
            continue;
        double x = f->x + lr_rng_uniform(&rng, 2, 20);
        x = MIN(x, spec->width - LR_UPRIGHT_MM - 62);
        shelf_tag(cr, p, x, y + 5, &rng);
        free_from = x + 64;
        last = f->product;
    }
}

void lr_shelf_draw_header(cairo_t *cr, const LrShelfSpec *spec, const LrStock *stock)
{
    LrRng rng = lr_rng_new(spec->seed, "header");
    LrColour light = lr_colour_mix(stock->trim, (LrColour){1, 1, 1}, 0.88);
    cairo_save(cr);
    cairo_rectangle(cr, 0, 0, spec->width, LR_HEADER_MM);
    cairo_clip(cr);
    lr_colour_set(cr, stock->trim, 1);
    cairo_paint(cr);
    lr_pattern_draw(cr, LR_PATTERN_WAVES, spec->width, LR_HEADER_MM, 46,
                    lr_colour_mix(stock->trim, light, 0.12), stock->trim, &rng);
    lr_colour_set(cr, light, 1);
    lr_letters_fit(cr, "Lobster Two Bold", spec->title, spec->width / 2, LR_HEADER_MM * 0.47,
                   spec->width * 0.5, LR_HEADER_MM * 0.52);
    for (int side = 0; side < 2; side++)
        for (int i = 0; i < 3; i++) {
            cairo_save(cr);
            double x = 90 + i * 120;
            cairo_translate(cr, side ? spec->width - x : x, LR_HEADER_MM / 2.0);
            cairo_scale(cr, 42, 42);
            lr_emblem_draw(cr, lr_rng_int(&rng, 0, LR_EMBLEM_KINDS - 1), light,
                           lr_colour_mix(stock->trim, light, 0.4));
            cairo_restore(cr);
        }
    cairo_restore(cr);
    shelf_gradient(cr, 0, LR_HEADER_MM - 14, spec->width, 14, 0, 0.4);
}

void lr_shelf_draw_plinth(cairo_t *cr, const LrShelfSpec *spec)
{
    LrRng rng = lr_rng_new(spec->seed, "plinth");
    double y = spec->height - LR_PLINTH_MM;
    cairo_set_source_rgb(cr, 0.24, 0.25, 0.27);
    cairo_rectangle(cr, 0, y, spec->width, LR_PLINTH_MM);
    cairo_fill(cr);
    cairo_set_line_width(cr, 1);
    for (int i = 0; i < 60; i++) { /* scuffs */
        cairo_set_source_rgba(cr, 1, 1, 1, lr_rng_uniform(&rng, 0.03, 0.16));
        cairo_move_to(cr, lr_rng_uniform(&rng, 0, spec->width),
                      y + lr_rng_uniform(&rng, 20, LR_PLINTH_MM - 6));
        cairo_rel_line_to(cr, lr_rng_uniform(&rng, -50, 50), lr_rng_uniform(&rng, -5, 5));
        cairo_stroke(cr);
    }
    shelf_gradient(cr, 0, y, spec->width, LR_PLINTH_MM, 0.35, 0.1);
}

void lr_shelf_draw_uprights(cairo_t *cr, const LrShelfSpec *spec)
{
    for (int side = 0; side < 2; side++) {
        double x = side ? spec->width - LR_UPRIGHT_MM : 0;
        cairo_pattern_t *g = cairo_pattern_create_linear(x, 0, x + LR_UPRIGHT_MM, 0);
        cairo_pattern_add_color_stop_rgb(g, 0, 0.42, 0.43, 0.46);
        cairo_pattern_add_color_stop_rgb(g, 0.35, 0.8, 0.81, 0.83);
        cairo_pattern_add_color_stop_rgb(g, 1, 0.38, 0.39, 0.42);
        cairo_set_source(cr, g);
        cairo_rectangle(cr, x, LR_HEADER_MM, LR_UPRIGHT_MM, spec->height - LR_HEADER_MM);
        cairo_fill(cr);
        cairo_pattern_destroy(g);
        cairo_set_source_rgb(cr, 0.16, 0.16, 0.18);
        for (double y = LR_HEADER_MM + 15; y < spec->height - 20; y += 25) {
            cairo_rectangle(cr, x + 11, y, 3, 13);
            cairo_rectangle(cr, x + 20, y, 3, 13);
        }
        cairo_fill(cr);
    }
}
