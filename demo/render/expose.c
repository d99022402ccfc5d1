/* From light to bytes; see expose.h.
 *
 * Grey levels are the square root of light, as in the textures. On that scale photon noise has the
 * same spread everywhere (the variance-stabilising transform of a Poisson variable), and only the
 * reading noise grows towards black. */
#include "expose.h"

#include <math.h>

#include "rng.h"

#define NOISE_SIZE (1 << 16)
#define TILE_PIXELS (LR_TILE * LR_TILE)

static float expose_noise[NOISE_SIZE + 4 * TILE_PIXELS];

void lr_expose_init(void)
{
    LrRng rng = lr_rng_new(0, "sensor");
    for (gsize i = 0; i < G_N_ELEMENTS(expose_noise); i++)
        expose_noise[i] = (float)CLAMP(lr_rng_normal(&rng), -4, 4);
}

static void expose_plane(const float *light, const float *rx, const float *ry, const float *noise,
                         const LrSensor *sensor, double gain, uint8_t out[TILE_PIXELS])
{
    float fall = (float)sensor->vignetting, shot = (float)sensor->shot_noise;
    float read = (float)sensor->read_noise * 8, scale = (float)(gain * 65025);
    for (int i = 0; i < TILE_PIXELS; i++) {
        float v = 1 + fall * (rx[i] * rx[i] + ry[i] * ry[i]);
        float grey = sqrtf(light[i] * scale) / v;
        grey += noise[i] * (shot + read / (grey + 8)) + 0.5f;
        grey = grey < 0 ? 0 : grey;
        out[i] = (uint8_t)(int)(grey > 255 ? 255 : grey);
    }
}

void lr_expose_tile_row(const LrRays *rays, int tile_row, const LrExposure *exposure,
                        const LrSensor *sensor, double gain, uint64_t noise_key, uint8_t *rgb,
                        ptrdiff_t stride)
{
    static const int plane_of_channel[3] = {1, 2, 0}; /* the raster's planes are b r g */
    LrRasterRow row = {0};
    lr_raster_row_start(&row, rays, tile_row, exposure);
    int top = tile_row * LR_TILE, rows = MIN(LR_TILE, rays->height - top);
    for (int column = 0; column < rays->tiles_x; column++) {
        int tile = tile_row * rays->tiles_x + column;
        float light[3][TILE_PIXELS];
        uint8_t bytes[3][TILE_PIXELS];
        lr_raster_tile(rays, tile, exposure, &row, light);
        uint64_t key = lr_rng_mix(noise_key, (uint64_t)tile);
        for (int c = 0; c < 3; c++) {
            const float *noise = expose_noise + ((key >> (16 * c)) & (NOISE_SIZE - 1));
            gsize at = (gsize)tile * TILE_PIXELS;
            expose_plane(light[plane_of_channel[c]], rays->x + at, rays->y + at, noise, sensor,
                         gain * sensor->tint[c], bytes[c]);
        }
        int left = column * LR_TILE, columns = MIN(LR_TILE, rays->width - left);
        for (int y = 0; y < rows; y++) {
            uint8_t *out = rgb + (top + y) * stride + left * 3;
            for (int x = 0; x < columns; x++)
                for (int c = 0; c < 3; c++)
                    out[3 * x + c] = bytes[c][y * LR_TILE + x];
        }
    }
    lr_raster_row_clear(&row);
}
