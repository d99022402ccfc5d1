/* Drawing one pack from the front; see goods.h. */
#include "goods.h"

#include <math.h>

#include <glib.h>

static void pack_round_rect(cairo_t *cr, double x, double y, double w, double h, double r)
{
    cairo_new_sub_path(cr);
    cairo_arc(cr, x + w - r, y + r, r, -G_PI / 2, 0);
    cairo_arc(cr, x + w - r, y + h - r, r, 0, G_PI / 2);
    cairo_arc(cr, x + r, y + h - r, r, G_PI / 2, G_PI);
    cairo_arc(cr, x + r, y + r, r, G_PI, 3 * G_PI / 2);
    cairo_close_path(cr);
}

static void pack_bag_path(cairo_t *cr, double w, double h)
{
    int teeth = (int)(w / 4);
    cairo_new_sub_path(cr);
    for (int i = 0; i <= teeth; i++)
        cairo_line_to(cr, w * (0.02 + 0.96 * i / teeth), i % 2 ? 0 : 2);
    cairo_curve_to(cr, w * 0.96, h * 0.12, w, h * 0.3, w * 0.985, h * 0.55);
    cairo_curve_to(cr, w, h * 0.8, w * 0.97, h * 0.93, w * 0.98, h);
    for (int i = teeth; i >= 0; i--)
        cairo_line_to(cr, w * (0.02 + 0.96 * i / teeth), i % 2 ? h : h - 2);
    cairo_curve_to(cr, w * 0.03, h * 0.9, 0, h * 0.7, w * 0.015, h * 0.5);
    cairo_curve_to(cr, 0, h * 0.3, w * 0.04, h * 0.1, w * 0.02, 2);
    cairo_close_path(cr);
}

static double pack_bottle_shoulder(const LrProduct *p)
{
    return p->height * 0.36;
}

static void pack_bottle_path(cairo_t *cr, const LrProduct *p)
{
    double w = p->width, h = p->height, neck = w * 0.19, top = h * 0.02,
           s = pack_bottle_shoulder(p);
    cairo_move_to(cr, w / 2 - neck, top);
    cairo_line_to(cr, w / 2 + neck, top);
    cairo_line_to(cr, w / 2 + neck, h * 0.16);
    cairo_curve_to(cr, w / 2 + neck, s * 0.8, w, s * 0.75, w, s);
    cairo_line_to(cr, w, h - 6);
    cairo_curve_to(cr, w, h - 2, w - 3, h, w - 6, h);
    cairo_line_to(cr, 6, h);
    cairo_curve_to(cr, 3, h, 0, h - 2, 0, h - 6);
    cairo_line_to(cr, 0, s);
    cairo_curve_to(cr, 0, s * 0.75, w / 2 - neck, s * 0.8, w / 2 - neck, h * 0.16);
    cairo_close_path(cr);
}

/* The outline, and in *top and *bottom the span of the printed face. */
static void pack_outline(cairo_t *cr, const LrProduct *p, double *top, double *bottom)
{
    double w = p->width, h = p->height;
    *top = 0;
    *bottom = h;
    switch (p->kind) {
    case LR_PACK_BOX:
    case LR_PACK_KINDS:
        pack_round_rect(cr, 0, 0, w, h, 1.5);
        break;
    case LR_PACK_CARTON:
        cairo_move_to(cr, w * 0.12, h * 0.03);
        cairo_line_to(cr, w * 0.88, h * 0.03);
        cairo_line_to(cr, w * 0.88, h * 0.08);
        cairo_line_to(cr, w, h * 0.22);
        cairo_line_to(cr, w, h);
        cairo_line_to(cr, 0, h);
        cairo_line_to(cr, 0, h * 0.22);
        cairo_line_to(cr, w * 0.12, h * 0.08);
        cairo_close_path(cr);
        *top = h * 0.22;
        break;
    case LR_PACK_BOTTLE:
        pack_bottle_path(cr, p);
        *top = pack_bottle_shoulder(p) + 6;
        *bottom = h - 10;
        break;
    case LR_PACK_CAN:
        pack_round_rect(cr, 0, 0, w, h, 4);
        *top = 7;
        *bottom = h - 6;
        break;
    case LR_PACK_JAR:
        pack_round_rect(cr, 0, h * 0.17, w, h * 0.83, 11);
        pack_round_rect(cr, w * 0.05, 0, w * 0.9, h * 0.19, 3);
        *top = h * 0.28;
        *bottom = h * 0.93;
        break;
    case LR_PACK_BAG:
        pack_bag_path(cr, w, h);
        *top = h * 0.07;
        *bottom = h * 0.94;
        break;
    case LR_PACK_TUB:
        cairo_move_to(cr, 0, h * 0.12);
        cairo_line_to(cr, w, h * 0.12);
        cairo_line_to(cr, w * 0.93, h);
        cairo_line_to(cr, w * 0.07, h);
        cairo_close_path(cr);
        pack_round_rect(cr, 0, 0, w, h * 0.16, 3);
        *top = h * 0.18;
        *bottom = h * 0.97;
        break;
    }
}

/* Caps, lids and rims. */
static void pack_closure(cairo_t *cr, const LrProduct *p)
{
    double w = p->width, h = p->height;
    switch (p->kind) {
    case LR_PACK_BOTTLE:
        lr_colour_set(cr, p->accent, 1);
        pack_round_rect(cr, w / 2 - w * 0.23, 0, w * 0.46, h * 0.1, 2);
        cairo_fill(cr);
        cairo_set_source_rgba(cr, 0, 0, 0, 0.25);
        for (double x = w * 0.29; x < w * 0.72; x += 3)
            cairo_rectangle(cr, x, h * 0.015, 1, h * 0.08);
        cairo_fill(cr);
        break;
    case LR_PACK_JAR:
        lr_colour_set(cr, p->accent, 1);
        pack_round_rect(cr, w * 0.05, 0, w * 0.9, h * 0.17, 3);
        cairo_fill(cr);
        cairo_set_source_rgba(cr, 0, 0, 0, 0.3);
        cairo_rectangle(cr, w * 0.05, h * 0.15, w * 0.9, 2.5);
        cairo_fill(cr);
        break;
    case LR_PACK_CAN:
        cairo_set_source_rgb(cr, 0.75, 0.76, 0.78);
        cairo_rectangle(cr, 0, 0, w, 6);
        cairo_rectangle(cr, 0, h - 5, w, 5);
        cairo_fill(cr);
        cairo_set_source_rgba(cr, 0, 0, 0, 0.35);
        cairo_rectangle(cr, 0, 5, w, 1.2);
        cairo_rectangle(cr, 0, h - 6, w, 1.2);
        cairo_fill(cr);
        break;
    case LR_PACK_TUB:
        lr_colour_set(cr, lr_colour_mix(p->accent, p->pale, 0.3), 1);
        pack_round_rect(cr, 0, 0, w, h * 0.16, 3);
        cairo_fill(cr);
        break;
    case LR_PACK_CARTON:
        cairo_set_source_rgba(cr, 0, 0, 0, 0.16);
        cairo_rectangle(cr, w * 0.12, h * 0.03, w * 0.76, h * 0.05);
        cairo_fill(cr);
        cairo_set_source_rgba(cr, 1, 1, 1, 0.22);
        cairo_move_to(cr, w * 0.12, h * 0.08);
        cairo_line_to(cr, w * 0.88, h * 0.08);
        cairo_line_to(cr, w, h * 0.22);
        cairo_line_to(cr, 0, h * 0.22);
        cairo_fill(cr);
        break;
    case LR_PACK_BAG:
        cairo_set_source_rgba(cr, 0, 0, 0, 0.14);
        for (double y = 4; y < h * 0.06; y += 3) {
            cairo_rectangle(cr, 0, y, w, 1);
            cairo_rectangle(cr, 0, h - y - 1, w, 1);
        }
        cairo_fill(cr);
        break;
    case LR_PACK_BOX:
    case LR_PACK_KINDS:
        break;
    }
}

static bool pack_is_round(const LrProduct *p)
{
    return p->kind == LR_PACK_BOTTLE || p->kind == LR_PACK_CAN || p->kind == LR_PACK_JAR;
}

static void pack_shade(cairo_t *cr, const LrProduct *p)
{
    double w = p->width, h = p->height;
    cairo_pattern_t *shade = cairo_pattern_create_linear(0, 0, w, 0);
    if (pack_is_round(p) || p->kind == LR_PACK_TUB) {
        cairo_pattern_add_color_stop_rgba(shade, 0, 0, 0, 0, 0.5);
        cairo_pattern_add_color_stop_rgba(shade, 0.16, 0, 0, 0, 0.12);
        cairo_pattern_add_color_stop_rgba(shade, 0.24, 1, 1, 1, 0.28);
        cairo_pattern_add_color_stop_rgba(shade, 0.34, 1, 1, 1, 0.05);
        cairo_pattern_add_color_stop_rgba(shade, 0.7, 0, 0, 0, 0.08);
        cairo_pattern_add_color_stop_rgba(shade, 1, 0, 0, 0, 0.55);
    } else if (p->kind == LR_PACK_BAG) {
        cairo_pattern_add_color_stop_rgba(shade, 0, 0, 0, 0, 0.3);
        cairo_pattern_add_color_stop_rgba(shade, 0.12, 1, 1, 1, 0.16);
        cairo_pattern_add_color_stop_rgba(shade, 0.5, 0, 0, 0, 0);
        cairo_pattern_add_color_stop_rgba(shade, 0.86, 1, 1, 1, 0.1);
        cairo_pattern_add_color_stop_rgba(shade, 1, 0, 0, 0, 0.35);
    } else {
        cairo_pattern_add_color_stop_rgba(shade, 0, 1, 1, 1, 0.1);
        cairo_pattern_add_color_stop_rgba(shade, 1, 0, 0, 0, 0.12);
    }
    cairo_set_source(cr, shade);
    cairo_rectangle(cr, 0, 0, w, h);
    cairo_fill(cr);
    cairo_pattern_destroy(shade);
    if (p->kind == LR_PACK_BAG) {
        LrRng rng = lr_rng_new(p->seed, "creases");
        cairo_set_line_width(cr, 2);
        for (int i = 0; i < 7; i++) {
            cairo_set_source_rgba(cr, i % 2, i % 2, i % 2, 0.1);
            double x = lr_rng_uniform(&rng, 0, w), y = lr_rng_uniform(&rng, 0, h);
            cairo_move_to(cr, x, y);
            cairo_rel_line_to(cr, lr_rng_uniform(&rng, -30, 30), lr_rng_uniform(&rng, -50, 50));
            cairo_stroke(cr);
        }
    }
}

/* A panel behind the name, so that it reads on any pattern. */
static void pack_panel(cairo_t *cr, const LrProduct *p, double cx, double cy, double w, double h)
{
    lr_colour_set(cr, p->pale, 0.94);
    switch (p->label) {
    case 0:
        pack_round_rect(cr, cx - w / 2, cy - h / 2, w, h, h * 0.2);
        break;
    case 1:
        cairo_save(cr);
        cairo_translate(cr, cx, cy);
        cairo_scale(cr, w / 2, h * 0.62);
        cairo_new_sub_path(cr);
        cairo_arc(cr, 0, 0, 1, 0, 2 * G_PI);
        cairo_restore(cr);
        break;
    case 2:
        cairo_rectangle(cr, cx - p->width, cy - h / 2, 2 * p->width, h);
        break;
    default:
        cairo_move_to(cr, cx - w / 2, cy - h * 0.4);
        cairo_line_to(cr, cx + w / 2, cy - h * 0.55);
        cairo_line_to(cr, cx + w / 2, cy + h * 0.4);
        cairo_line_to(cr, cx - w / 2, cy + h * 0.55);
        cairo_close_path(cr);
        break;
    }
    cairo_fill_preserve(cr);
    lr_colour_set(cr, p->accent, 1);
    cairo_set_line_width(cr, 1.4);
    cairo_stroke(cr);
}

static void pack_print(cairo_t *cr, const LrProduct *p, double top, double bottom, LrRng *rng)
{
    double w = p->width, span = bottom - top, cx = w / 2;
    bool low = span < w * 0.95; /* too low for a sign below the name */
    double name_h = span * (low ? 0.26 : 0.15), name_y = top + span * (low ? 0.34 : 0.26);
    double panel_h = name_h * 1.75;
    pack_panel(cr, p, cx, name_y + name_h * 0.16, w * 0.92, panel_h);
    lr_colour_set(cr, p->ink, 1);
    lr_letters_fit(cr, p->font, p->name, cx, name_y - name_h * 0.04, w * 0.74, name_h * 0.8);
    lr_colour_set(cr, lr_colour_mix(p->ink, p->accent, 0.35), 1);
    lr_letters_fit(cr, "DejaVu Sans", p->variety, cx, name_y + panel_h * 0.42, w * 0.6,
                   name_h * 0.26);

    double r = low ? span * 0.17 : MIN(w * 0.27, span * 0.17);
    double ex = low ? w * 0.3 : cx, ey = top + span * (low ? 0.78 : 0.62);
    cairo_save(cr);
    cairo_translate(cr, ex, ey);
    cairo_scale(cr, r * 1.22, r * 1.22);
    cairo_arc(cr, 0, 0, 1, 0, 2 * G_PI);
    lr_colour_set(cr, p->pale, 0.95);
    cairo_fill(cr);
    cairo_restore(cr);
    cairo_save(cr);
    cairo_translate(cr, ex, ey);
    cairo_scale(cr, r, r);
    lr_emblem_draw(cr, p->emblem, lr_colour_mix(p->ink, p->second, 0.5), p->accent);
    cairo_restore(cr);

    double bx = low ? w * 0.54 : w * 0.1, bw = low ? w * 0.38 : w * 0.8;
    double by = top + span * (low ? 0.66 : 0.86);
    lr_colour_set(cr, lr_colour_mix(p->pale, p->ground, 0.15), 0.9);
    cairo_rectangle(cr, bx - 2, by - 1.5, bw + 4, bottom - by - span * 0.01);
    cairo_fill(cr);
    lr_colour_set(cr, p->ink, 0.9);
    double size = CLAMP(span * 0.02, 1.9, 3.4);
    lr_letters_block(cr, bx, by, bw, (int)((bottom - by - 3) / (size * 1.45)), size, rng);

    if (p->claim) {
        double c = MIN(w * 0.17, span * 0.12);
        cairo_save(cr);
        cairo_translate(cr, w * (low ? 0.82 : 0.8), top + span * (low ? 0.14 : 0.47));
        cairo_rotate(cr, -0.22);
        cairo_save(cr);
        cairo_scale(cr, c * 1.2, c * 1.2);
        lr_emblem_draw(cr, 0, p->accent, p->accent);
        cairo_restore(cr);
        lr_colour_set(cr, p->ink, 1);
        lr_letters_fit(cr, "DejaVu Sans Bold", p->claim, 0, 0, c * 1.35, c * 0.5);
        cairo_restore(cr);
    }
}

void lr_pack_draw(cairo_t *cr, const LrProduct *p)
{
    double w = p->width, h = p->height, top, bottom;
    LrRng rng = lr_rng_new(p->seed, "print");
    cairo_save(cr);
    cairo_new_path(cr);
    pack_outline(cr, p, &top, &bottom);
    cairo_clip(cr);
    lr_colour_set(cr, p->ground, 1);
    cairo_paint(cr);
    if (p->kind == LR_PACK_BOTTLE || p->kind == LR_PACK_JAR) {
        /* The contents show above and below the label. */
        lr_colour_set(cr, lr_colour_mix(p->second, p->accent, 0.25), 1);
        cairo_paint(cr);
        cairo_save(cr);
        cairo_rectangle(cr, 0, top, w, bottom - top);
        cairo_clip(cr);
        lr_colour_set(cr, p->ground, 1);
        cairo_paint(cr);
        lr_pattern_draw(cr, p->pattern, w, h, p->pattern_size, p->second, p->ground, &rng);
        cairo_restore(cr);
    } else {
        lr_pattern_draw(cr, p->pattern, w, h, p->pattern_size, p->second, p->ground, &rng);
    }
    pack_print(cr, p, top, bottom, &rng);
    pack_closure(cr, p);
    pack_shade(cr, p);
    cairo_restore(cr);

    cairo_new_path(cr);
    pack_outline(cr, p, &top, &bottom);
    lr_colour_set(cr, lr_colour_mix(p->ink, p->ground, 0.2), 0.55);
    cairo_set_line_width(cr, 0.7);
    cairo_stroke(cr);
}
