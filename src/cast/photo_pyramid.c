/* The photo's half-octave pyramid. */
#include "cast/photo_bank.h"

#include <math.h>
#include <string.h>

/* Smaller levels than this hold no patch. */
#define PYRAMID_MIN_SIDE_PX 24

bool lf_photo_pyramid_init(LfPhoto *photo, uint8_t *luma, int width, int height, GError **error)
{
    const LfShimImage whole = {luma, width, height, width};
    bool good = true;
    photo->report.width = width;
    photo->report.height = height;
    for (int i = 0; i < LF_PHOTO_LEVELS && good; i++) {
        double scale = pow(2, -i / 2.0);
        int w = (int)lround(width * scale), h = (int)lround(height * scale);
        if (i > 0 && MIN(w, h) < PYRAMID_MIN_SIDE_PX)
            break;
        LfPlane *level = &photo->level[i];
        good = lf_plane_init(level, w, h, (double)w / width, (double)h / height);
        if (good && i == 0)
            memcpy(level->data, luma, (gsize)w * (gsize)h);
        else if (good)
            good = lf_shim_shrink(&whole, level->data, w, h, NULL) == LF_SHIM_OK;
        photo->n_levels = i + 1;
    }
    lf_shim_free(luma);
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
