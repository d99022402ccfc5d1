/* Textures and their pyramids; see texture.h. */
#include "texture.h"

#include <math.h>
#include <string.h>

#include <glib.h>

static LrLevel texture_level_new(int width, int height, double per_base)
{
    ptrdiff_t stride = width + 3; /* border left, and two right so that x = width may be read */
    uint32_t *block = g_new0(uint32_t, (gsize)stride * (gsize)(height + 3));
    return (LrLevel){block + stride + 1, stride, width, height, (float)per_base};
}

static void texture_level_border(LrLevel *level)
{
    int w = level->width, h = level->height;
    for (int y = 0; y < h; y++) {
        uint32_t *row = level->texels + y * level->stride;
        row[-1] = row[0];
        row[w] = row[w + 1] = row[w - 1];
    }
    gsize bytes = (gsize)level->stride * sizeof(uint32_t);
    uint32_t *first = level->texels - 1;
    memcpy(first - level->stride, first, bytes);
    for (int y = h; y < h + 2; y++)
        memcpy(first + y * level->stride, first + (h - 1) * level->stride, bytes);
}

/* Mean over the box [x0, x1) x [y0, y1) of texels, edges counted by the share inside. */
static uint32_t texture_box_mean(const LrLevel *src, double x0, double y0, double x1, double y1)
{
    double sum[4] = {0}, area = 0;
    x1 = MIN(x1, src->width);
    y1 = MIN(y1, src->height);
    for (int y = (int)y0; y < y1; y++) {
        double wy = MIN(y + 1, y1) - MAX(y, y0);
        for (int x = (int)x0; x < x1; x++) {
            double w = wy * (MIN(x + 1, x1) - MAX(x, x0));
            uint32_t t = src->texels[y * src->stride + x];
            for (int c = 0; c < 4; c++)
                sum[c] += w * ((t >> (8 * c)) & 255);
            area += w;
        }
    }
    uint32_t out = 0;
    for (int c = 0; c < 4; c++)
        out |= (uint32_t)(sum[c] / area + 0.5) << (8 * c);
    return out;
}

static void texture_shrink(const LrLevel *src, LrLevel *dst, double step)
{
    for (int y = 0; y < dst->height; y++)
        for (int x = 0; x < dst->width; x++)
            dst->texels[y * dst->stride + x] =
                texture_box_mean(src, x * step, y * step, (x + 1) * step, (y + 1) * step);
}

/* The common case of texture_shrink: a step of exactly two. */
static void texture_halve(const LrLevel *src, LrLevel *dst)
{
    for (int y = 0; y < dst->height; y++) {
        /* The border repeats the edge, so a last odd row or column is simply taken twice. */
        const uint32_t *a = src->texels + 2 * y * src->stride, *b = a + src->stride;
        uint32_t *out = dst->texels + y * dst->stride;
        for (int x = 0; x < dst->width; x++) {
            uint64_t sum = lr_texture_lanes(a[2 * x]) + lr_texture_lanes(a[2 * x + 1]) +
                           lr_texture_lanes(b[2 * x]) + lr_texture_lanes(b[2 * x + 1]) +
                           0x0002000200020002u;
            sum = (sum >> 2) & 0x00ff00ff00ff00ffu;
            out[x] = (uint32_t)(sum & 0x00ff00ffu) | (uint32_t)((sum >> 24) & 0xff00ff00u);
        }
    }
}

/* The largest opaque rectangle: row by row, the heights of opaque columns ending there, and the
 * largest rectangle under that skyline with a stack of rising columns. */
static void texture_find_core(LrTexture *texture)
{
    const LrLevel *base = &texture->level[0];
    int w = base->width, h = base->height, most = 0;
    g_autofree int *high = g_new0(int, w + 1);
    g_autofree int *stack = g_new(int, w + 1);
    for (int y = 0; y < h; y++) {
        int n = 0;
        for (int x = 0; x <= w; x++) {
            if (x < w)
                high[x] = base->texels[y * base->stride + x] >> 24 == 255 ? high[x] + 1 : 0;
            while (n > 0 && high[stack[n - 1]] >= high[x]) {
                int top = high[stack[--n]], left = n > 0 ? stack[n - 1] + 1 : 0;
                if (top * (x - left) > most) {
                    const int core[4] = {left, x, y + 1 - top, y + 1};
                    most = top * (x - left);
                    memcpy(texture->core, core, sizeof core);
                }
            }
            stack[n++] = x;
        }
    }
}

LrTexture *lr_texture_take(cairo_surface_t *surface)
{
    cairo_surface_flush(surface);
    int w = cairo_image_surface_get_width(surface), h = cairo_image_surface_get_height(surface);
    int bytes = cairo_image_surface_get_stride(surface);
    const uint8_t *data = cairo_image_surface_get_data(surface);
    uint32_t solid = cairo_image_surface_get_format(surface) == CAIRO_FORMAT_RGB24 ? 0xff000000 : 0;
    g_assert(data && w > 1 && h > 1);

    LrTexture *texture = g_new0(LrTexture, 1);
    texture->opaque = true;
    texture->level[0] = texture_level_new(w, h, 1);
    for (int y = 0; y < h; y++) {
        uint32_t *row = texture->level[0].texels + y * texture->level[0].stride;
        memcpy(row, data + (gsize)y * (gsize)bytes, (gsize)w * sizeof(uint32_t));
        for (int x = 0; x < w; x++) {
            row[x] |= solid;
            texture->opaque = texture->opaque && row[x] >> 24 == 255;
        }
    }
    texture_level_border(&texture->level[0]);
    texture->n_levels = 1;
    for (int k = 1; k < LR_TEXTURE_LEVELS; k++) {
        double pitch = pow(2, k / 2.0);
        int lw = (int)ceil(w / pitch - 1e-9), lh = (int)ceil(h / pitch - 1e-9);
        if (MIN(lw, lh) < 2)
            break;
        LrLevel *level = &texture->level[k];
        *level = texture_level_new(lw, lh, 1 / pitch);
        if (k == 1)
            texture_shrink(&texture->level[0], level, pitch);
        else
            texture_halve(&texture->level[k - 2], level);
        texture_level_border(level);
        texture->n_levels++;
    }
    cairo_surface_destroy(surface);
    if (texture->opaque) {
        texture->core[1] = w;
        texture->core[3] = h;
    } else {
        texture_find_core(texture);
    }
    return texture;
}

void lr_texture_free(LrTexture *texture)
{
    if (!texture)
        return;
    for (int k = 0; k < texture->n_levels; k++)
        g_free(texture->level[k].texels - texture->level[k].stride - 1);
    g_free(texture);
}

double lr_texture_alpha(const LrTexture *texture, double x, double y)
{
    const LrLevel *level = &texture->level[0];
    double tx = CLAMP(x - 0.5, -1, level->width), ty = CLAMP(y - 0.5, -1, level->height);
    return (double)(lr_texture_sample(level, (float)tx, (float)ty) >> 48) / 65280.0;
}
