/* Colour maps. */
#include "draw/colour.h"

#include <math.h>

#include "paint.h"

bool colour_map_load(ColourMap *map, LfDrawColours colours, GError **error)
{
    static const LfShimColourMap tables[] = {LF_SHIM_VIRIDIS, LF_SHIM_MAGMA, LF_SHIM_INFERNO,
                                             LF_SHIM_PLASMA, LF_SHIM_CIVIDIS};
    char message[LF_SHIM_MESSAGE];
    uint8_t rgb[768];
    if (lf_shim_colour_map(tables[colours], rgb, message) != LF_SHIM_OK) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "no colour map: %s", message);
        return false;
    }
    for (int i = 0; i < 256; i++)
        map->step[i] =
            (CanvasColour){rgb[3 * i] / 255.0, rgb[3 * i + 1] / 255.0, rgb[3 * i + 2] / 255.0};
    return true;
}

CanvasColour colour_map_at(const ColourMap *map, double share)
{
    return map->step[(int)lround(255 * CLAMP(share, 0, 1))];
}

/* sRGB's transfer function (IEC 61966-2-1). */
static double colour_encode(double linear)
{
    double v = CLAMP(linear, 0, 1);
    return v <= 0.0031308 ? 12.92 * v : 1.055 * pow(v, 1 / 2.4) - 0.055;
}

static double colour_decode(double v)
{
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

/* Oklab: B. Ottosson, "A perceptual color space for image processing", 2020. */
CanvasColour colour_from_oklch(double lightness, double chroma, double hue_deg)
{
    double a = chroma * cos(hue_deg * G_PI / 180), b = chroma * sin(hue_deg * G_PI / 180);
    double l = pow(lightness + 0.3963377774 * a + 0.2158037573 * b, 3);
    double m = pow(lightness - 0.1055613458 * a - 0.0638541728 * b, 3);
    double s = pow(lightness - 0.0894841775 * a - 1.2914855480 * b, 3);
    return (CanvasColour){colour_encode(4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s),
                          colour_encode(-1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s),
                          colour_encode(-0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s)};
}

CanvasColour colour_diverging(double share)
{
    double size = CLAMP(fabs(share), 0, 1);
    return colour_from_oklch(0.95 - 0.43 * size, 0.13 * sqrt(size), share < 0 ? 250 : 50);
}

CanvasColour colour_distinct(gsize number)
{
    /* M. Okabe, K. Ito, "Color Universal Design", 2008; its black is left for letters, and a grey
     * brown takes its place. */
    static const guint8 rgb[COLOUR_DISTINCT][3] = {
        {0, 114, 178}, {230, 159, 0},  {0, 158, 115},  {204, 121, 167},
        {213, 94, 0},  {86, 180, 233}, {240, 228, 66}, {110, 90, 75},
    };
    const guint8 *c = rgb[number % COLOUR_DISTINCT];
    return (CanvasColour){c[0] / 255.0, c[1] / 255.0, c[2] / 255.0};
}

CanvasColour colour_letters_on(CanvasColour c)
{
    double luminance =
        0.2126 * colour_decode(c.r) + 0.7152 * colour_decode(c.g) + 0.0722 * colour_decode(c.b);
    bool white = 1.05 / (luminance + 0.05) > (luminance + 0.05) / 0.05;
    return white ? (CanvasColour){1, 1, 1} : (CanvasColour){0, 0, 0};
}

CanvasColour colour_over(CanvasColour top, double alpha, CanvasColour ground)
{
    return (CanvasColour){alpha * top.r + (1 - alpha) * ground.r,
                          alpha * top.g + (1 - alpha) * ground.g,
                          alpha * top.b + (1 - alpha) * ground.b};
}
