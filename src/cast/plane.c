/* Single-channel images and the frame pyramid. */
#include "cast/plane.h"

#include <math.h>
#include <string.h>

bool lf_plane_init(LfPlane *plane, int width, int height, double scale_x, double scale_y)
{
    *plane = (LfPlane){.width = width, .height = height, .scale_x = scale_x, .scale_y = scale_y};
    plane->data = g_try_malloc((gsize)width * (gsize)height);
    return plane->data != NULL;
}

void lf_plane_clear(LfPlane *plane)
{
    g_clear_pointer(&plane->data, g_free);
}

LfShimImage lf_plane_view(const LfPlane *plane)
{
    return (LfShimImage){plane->data, plane->width, plane->height, plane->width};
}

bool lf_frame_pyramid_init(LfFramePyramid *pyramid, int width, int height, int max_work_width)
{
    memset(pyramid, 0, sizeof *pyramid);
    int factor = 1;
    while (width / factor > max_work_width)
        factor *= 2;
    for (int i = 0; i < LF_FRAME_LEVELS; i++, factor *= 2) {
        int w = MAX(width / factor, 1), h = MAX(height / factor, 1);
        if (!lf_plane_init(&pyramid->level[i], w, h, (double)w / width, (double)h / height)) {
            lf_frame_pyramid_clear(pyramid);
            return false;
        }
    }
    return true;
}

void lf_frame_pyramid_clear(LfFramePyramid *pyramid)
{
    for (int i = 0; i < LF_FRAME_LEVELS; i++)
        lf_plane_clear(&pyramid->level[i]);
    for (int c = 0; c < 2; c++)
        lf_plane_clear(&pyramid->tint[c]);
}

static bool frame_pyramid_tint_init(LfFramePyramid *pyramid, const LfChroma *chroma)
{
    const LfPlane *work = &pyramid->level[0];
    const double width = work->width / work->scale_x, height = work->height / work->scale_y;
    int w = chroma->width, h = chroma->height;
    while (w > work->width) {
        w = MAX(w / 2, 1);
        h = MAX(h / 2, 1);
    }
    for (int c = 0; c < 2; c++)
        if (!pyramid->tint[c].data &&
            !lf_plane_init(&pyramid->tint[c], w, h, w / width, h / height))
            return false;
    return true;
}

bool lf_frame_pyramid_fill_tint(LfFramePyramid *pyramid, const LfChroma *chroma)
{
    if (!frame_pyramid_tint_init(pyramid, chroma))
        return false;
    for (int c = 0; c < 2; c++) {
        const LfShimImage from = {chroma->plane[c], chroma->width, chroma->height,
                                  chroma->stride[c]};
        LfPlane *to = &pyramid->tint[c];
        if (lf_shim_shrink(&from, to->data, to->width, to->height, NULL) != LF_SHIM_OK)
            return false;
    }
    pyramid->has_tint = true;
    return true;
}

bool lf_frame_pyramid_fill(LfFramePyramid *pyramid, const uint8_t *luma, ptrdiff_t stride,
                           int width, int height)
{
    LfShimImage from = {luma, width, height, stride};
    pyramid->has_tint = false;
    for (int i = 0; i < LF_FRAME_LEVELS; i++) {
        LfPlane *to = &pyramid->level[i];
        if (i == 0 && to->width == width && to->height == height) {
            for (int y = 0; y < height; y++)
                memcpy(to->data + (gsize)y * (gsize)width, luma + y * stride, (gsize)width);
        } else if (lf_shim_shrink(&from, to->data, to->width, to->height, NULL) != LF_SHIM_OK) {
            return false;
        }
        from = lf_plane_view(to);
    }
    return true;
}
