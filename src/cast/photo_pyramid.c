/* The photo's half-octave pyramid. */
#include "cast/photo_bank.h"

#include <math.h>
#include <string.h>

/* Smaller levels than this hold no patch. */
#define PYRAMID_MIN_SIDE_PX 24

/* Colours are compared in windows of some px of a frame, in which they are half as fine as luma. */
#define PYRAMID_TINT_FROM 2

/* One level of one plane; the finest takes the plane as it is. */
static bool pyramid_level(LfPlane *level, const LfShimImage *whole, int w, int h)
{
    if (!lf_plane_init(level, w, h, (double)w / whole->width, (double)h / whole->height))
        return false;
    if (w == whole->width && h == whole->height) {
        memcpy(level->data, whole->data, (gsize)w * (gsize)h);
        return true;
    }
    return lf_shim_shrink(whole, level->data, w, h, NULL) == LF_SHIM_OK;
}

bool lf_photo_pyramid_init(LfPhoto *photo, uint8_t *planes[3], int width, int height,
                           GError **error)
{
    bool good = true;
    photo->report.width = width;
    photo->report.height = height;
    for (int i = 0; i < LF_PHOTO_LEVELS && good; i++) {
        double scale = pow(2, -i / 2.0);
        int w = (int)lround(width * scale), h = (int)lround(height * scale);
        if (i > 0 && MIN(w, h) < PYRAMID_MIN_SIDE_PX)
            break;
        good =
            pyramid_level(&photo->level[i], &(LfShimImage){planes[0], width, height, width}, w, h);
        for (int c = 0; c < 2 && good && i >= PYRAMID_TINT_FROM; c++)
            good = pyramid_level(&photo->tint[i][c],
                                 &(LfShimImage){planes[1 + c], width, height, width}, w, h);
        photo->n_levels = i + 1;
    }
    for (int i = 0; i < 3; i++)
        lf_shim_free(planes[i]);
    if (!good)
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "Not enough memory for a photo of %d x %d px.", width, height);
    return good;
}

int lf_photo_level_for(const LfPhoto *photo, double scale)
{
    int level = (int)lround(2 * log2(MAX(scale, 1e-6)));
    return CLAMP(level, 0, photo->n_levels - 1);
}

int lf_photo_tint_level_for(const LfPhoto *photo, double scale)
{
    const int level = lf_photo_level_for(photo, scale);
    return MIN(MAX(level, PYRAMID_TINT_FROM), photo->n_levels - 1);
}
