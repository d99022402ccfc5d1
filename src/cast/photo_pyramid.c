/* The photo's half-octave pyramid. */
#include "cast/photo_bank.h"

#include <math.h>
#include <string.h>

/* Smaller levels than this hold no patch. */
#define PYRAMID_MIN_SIDE_PX 24

/* Colours are compared in windows of some px of a frame, in which they are half as fine as luma. */
#define PYRAMID_TINT_FROM 2

/* A plane for all of a photo of width x height px, made from `from`. */
static bool pyramid_level(LfPlane *level, const LfShimImage *from, int w, int h, int width,
                          int height)
{
    if (!lf_plane_init(level, w, h, (double)w / width, (double)h / height))
        return false;
    if (w == from->width && h == from->height) {
        memcpy(level->data, from->data, (gsize)w * (gsize)h);
        return true;
    }
    return lf_shim_shrink(from, level->data, w, h, NULL) == LF_SHIM_OK;
}

/* One level of all planes. Colours of the smaller ones are made from the largest that has them. */
static bool pyramid_levels(LfPhoto *photo, int i, uint8_t *const planes[3], int w, int h)
{
    const int width = photo->report.width, height = photo->report.height;
    const LfShimImage luma = {planes[0], width, height, width};
    if (!pyramid_level(&photo->level[i], &luma, w, h, width, height))
        return false;
    for (int c = 0; c < 2 && i >= PYRAMID_TINT_FROM; c++) {
        const LfShimImage from = i == PYRAMID_TINT_FROM
                                     ? (LfShimImage){planes[1 + c], width, height, width}
                                     : lf_plane_view(&photo->tint[PYRAMID_TINT_FROM][c]);
        if (!pyramid_level(&photo->tint[i][c], &from, w, h, width, height))
            return false;
    }
    return true;
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
        good = pyramid_levels(photo, i, planes, w, h);
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
