/* The photo under a picture. */
#include "draw/backdrop.h"

#include <string.h>

#include "paint.h"
#include "shim.h"

/* JPEG inside SVG and PDF: ten times smaller than the lossless form, and the photo is only the
 * ground (common practice). */
#define BACKDROP_QUALITY 88

static const char *const backdrop_names[] = {"photo", "grey", "pale", "dark", NULL};

bool backdrop_known(const char *background)
{
    CanvasColour colour;
    return g_strv_contains(backdrop_names, background) || canvas_colour_parse(background, &colour);
}

/* rgb: packed, in place. */
static void backdrop_tone(guint8 *rgb, gsize n, const char *background)
{
    bool pale = strcmp(background, "pale") == 0, dark = strcmp(background, "dark") == 0;
    if (strcmp(background, "photo") == 0)
        return;
    for (gsize i = 0; i < n; i++) {
        guint8 *p = rgb + 3 * i;
        /* Luma by ITU-R BT.601, as JPEG has it. */
        int grey = (77 * p[0] + 150 * p[1] + 29 * p[2] + 128) >> 8;
        /* Pale and dark keep a little colour, so that packs can be told apart. */
        for (int k = 0; k < 3; k++)
            p[k] = (guint8)(pale   ? 150 + (p[k] + 3 * grey) * 105 / 1020
                            : dark ? (p[k] + 3 * grey) * 95 / 1020
                                   : grey);
    }
}

/* So that SVG and PDF carry the photo as JPEG. */
static void backdrop_attach(Backdrop *backdrop, const guint8 *rgb)
{
    uint8_t *bytes;
    size_t n;
    if (lf_shim_jpeg(rgb, backdrop->width, backdrop->height, BACKDROP_QUALITY, &bytes, &n, NULL) !=
        LF_SHIM_OK)
        return; /* the lossless form serves too */
    if (cairo_surface_set_mime_data(backdrop->surface, CAIRO_MIME_TYPE_JPEG, bytes, n, lf_shim_free,
                                    bytes) != CAIRO_STATUS_SUCCESS)
        lf_shim_free(bytes);
}

/* Pixels as cairo has them; NULL where there is not enough memory. */
static guint8 *backdrop_pixels(const guint8 *rgb, gsize n)
{
    guint8 *pixels = g_try_malloc_n(n, 4);
    for (gsize i = 0; pixels && i < n; i++) {
        guint32 pixel = (guint32)rgb[3 * i] << 16 | (guint32)rgb[3 * i + 1] << 8 | rgb[3 * i + 2];
        memcpy(pixels + 4 * i, &pixel, 4);
    }
    return pixels;
}

/* The toned photo as packed RGB, no larger than width x height, which take its size. */
static guint8 *backdrop_read(const Material *material, int *width, int *height,
                             const char *background, GError **error)
{
    char message[LF_SHIM_MESSAGE];
    uint8_t *rgb;
    int own_width, own_height;
    if (lf_shim_read_rgb(material->path, *width, *height, &rgb, width, height, &own_width,
                         &own_height, message) != LF_SHIM_OK) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s: %s; a picture needs the photo \"%s\" where it was added from, or a plain "
                    "background",
                    material->path, message, material->photo);
        return NULL;
    }
    if (own_width != material->width_px || own_height != material->height_px) {
        lf_shim_free(rgb);
        g_set_error(
            error, LF_ERROR, LF_ERROR_INPUT,
            "%s: %d x %d px, but the photo \"%s\" had %d x %d px when it was added; put the "
            "photo back, or cast again",
            material->path, own_width, own_height, material->photo, material->width_px,
            material->height_px);
        return NULL;
    }
    backdrop_tone(rgb, (gsize)*width * (gsize)*height, background);
    return rgb;
}

Backdrop *backdrop_new(const Material *material, int width, int height, const char *background,
                       GError **error)
{
    g_autoptr(Backdrop) backdrop = g_new0(Backdrop, 1);
    CanvasColour colour;

    if (canvas_colour_parse(background, &colour)) {
        backdrop->plain = true;
        backdrop->colour = colour;
        return g_steal_pointer(&backdrop);
    }
    guint8 *rgb = backdrop_read(material, &width, &height, background, error);
    if (!rgb)
        return NULL;
    backdrop->width = width;
    backdrop->height = height;
    backdrop->pixels = backdrop_pixels(rgb, (gsize)width * (gsize)height);
    if (backdrop->pixels) {
        backdrop->surface = cairo_image_surface_create_for_data(
            backdrop->pixels, CAIRO_FORMAT_RGB24, width, height, 4 * width);
        backdrop_attach(backdrop, rgb);
    }
    lf_shim_free(rgb);
    if (!backdrop->surface || cairo_surface_status(backdrop->surface) != CAIRO_STATUS_SUCCESS) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "a picture of %d x %d px cannot be made",
                    width, height);
        return NULL;
    }
    return g_steal_pointer(&backdrop);
}

void backdrop_free(Backdrop *backdrop)
{
    if (!backdrop)
        return;
    if (backdrop->surface) {
        cairo_surface_finish(backdrop->surface);
        cairo_surface_destroy(backdrop->surface);
    }
    g_free(backdrop->pixels);
    g_free(backdrop);
}

CanvasColour backdrop_mean(const Backdrop *backdrop)
{
    gsize n = (gsize)backdrop->width * (gsize)backdrop->height;
    double sum[3] = {0};
    if (backdrop->plain)
        return backdrop->colour;
    for (gsize i = 0; i < n; i++) {
        guint32 pixel;
        memcpy(&pixel, backdrop->pixels + 4 * i, 4);
        for (int k = 0; k < 3; k++)
            sum[k] += (pixel >> (16 - 8 * k)) & 255;
    }
    double whole = 255.0 * (double)n;
    return (CanvasColour){sum[0] / whole, sum[1] / whole, sum[2] / whole};
}

void backdrop_paint(const Backdrop *backdrop, cairo_t *cr, double x, double y, double width,
                    double height)
{
    cairo_save(cr);
    cairo_translate(cr, x, y);
    if (backdrop->plain) {
        cairo_rectangle(cr, 0, 0, width, height);
        canvas_set(cr, backdrop->colour, 1);
        cairo_fill(cr);
    } else {
        cairo_save(cr);
        cairo_scale(cr, width / backdrop->width, height / backdrop->height);
        cairo_set_source_surface(cr, backdrop->surface, 0, 0);
        /* Beyond the edge there is more of the same, or scaling would let the paper shine through.
         */
        cairo_pattern_set_extend(cairo_get_source(cr), CAIRO_EXTEND_PAD);
        cairo_rectangle(cr, 0, 0, backdrop->width, backdrop->height);
        cairo_fill(cr);
        cairo_restore(cr);
    }
    cairo_rectangle(cr, 0, 0, width, height);
    cairo_set_line_width(cr, 1);
    canvas_set(cr, canvas_rule, 1);
    cairo_stroke(cr);
    cairo_restore(cr);
}
