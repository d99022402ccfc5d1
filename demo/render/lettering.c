/* Text on packs, tags and signs; see goods.h. */
#include "goods.h"

#include <glib.h>
#include <pango/pangocairo.h>

#include <string.h>

/* Text is laid out at this size and scaled, so that it does not depend on hinting. */
#define LETTERS_SIZE 64

const char *lr_letters_missing(void)
{
    static const char *const wanted[] = {"Comfortaa",        "DejaVu Sans", "DejaVu Serif",
                                         "League Spartan",   "Lobster Two", "Old Standard TT",
                                         "Yanone Kaffeesatz"};
    PangoFontFamily **families;
    int n;
    const char *missing = NULL;
    pango_font_map_list_families(pango_cairo_font_map_get_default(), &families, &n);
    for (gsize i = 0; i < G_N_ELEMENTS(wanted) && !missing; i++) {
        bool found = false;
        for (int k = 0; k < n; k++)
            found = found || strcmp(pango_font_family_get_name(families[k]), wanted[i]) == 0;
        if (!found)
            missing = wanted[i];
    }
    g_free(families);
    return missing;
}

static PangoLayout *letters_layout(cairo_t *cr, const char *font, const char *text)
{
    PangoLayout *layout = pango_cairo_create_layout(cr);
    PangoFontDescription *description = pango_font_description_from_string(font);
    pango_font_description_set_absolute_size(description, LETTERS_SIZE * PANGO_SCALE);
    pango_layout_set_font_description(layout, description);
    pango_font_description_free(description);
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(pango_layout_get_context(layout), options);
    cairo_font_options_destroy(options);
    pango_layout_context_changed(layout);
    pango_layout_set_text(layout, text, -1);
    return layout;
}

void lr_letters_fit(cairo_t *cr, const char *font, const char *text, double cx, double cy, double w,
                    double h)
{
    PangoLayout *layout = letters_layout(cr, font, text);
    PangoRectangle ink;
    pango_layout_get_extents(layout, &ink, NULL);
    double iw = MAX(ink.width, 1) / (double)PANGO_SCALE;
    double ih = MAX(ink.height, 1) / (double)PANGO_SCALE;
    double scale = MIN(w / iw, h / ih);
    cairo_save(cr);
    cairo_translate(cr, cx, cy);
    cairo_scale(cr, scale, scale);
    cairo_translate(cr, -ink.x / (double)PANGO_SCALE - iw / 2,
                    -ink.y / (double)PANGO_SCALE - ih / 2);
    pango_cairo_show_layout(cr, layout);
    cairo_restore(cr);
    g_object_unref(layout);
}

void lr_letters_block(cairo_t *cr, double x, double y, double w, int lines, double size, LrRng *rng)
{
    static const char *const words[] = {
        "keep",   "cool",    "and",    "dry",     "best",   "shared", "with",  "friends",
        "stir",   "twice",   "net",    "350 g",   "water",  "oats",   "salt",  "apple",
        "rye",    "berries", "may",    "contain", "traces", "of",     "nuts",  "made",
        "by",     "hand",    "open",   "here",    "per",    "100 g",  "fibre", "6 g",
        "sugars", "4 g",     "energy", "210",     "serve",  "warm",   "lot",   "A7",
    };
    for (int line = 0; line < lines; line++) {
        g_autoptr(GString) text = g_string_new(NULL);
        gsize wanted = (gsize)(w / size * 1.9);
        while (text->len < wanted)
            g_string_append_printf(text, "%s%s", text->len ? " " : "",
                                   words[lr_rng_int(rng, 0, (int)G_N_ELEMENTS(words) - 1)]);
        lr_letters_fit(cr, "DejaVu Sans", text->str, x + w / 2, y + (line + 0.5) * size * 1.45, w,
                       size);
    }
}
