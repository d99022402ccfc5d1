/* From light to bytes: gain, vignetting, noise, encoding. */
#ifndef LOOKFALL_DEMO_EXPOSE_H
#define LOOKFALL_DEMO_EXPOSE_H

#include <stdint.h>

#include "raster.h"

typedef struct {
    double tint[3];    /* gain of red, green, blue */
    double vignetting; /* light falls with (1 + vignetting r^2)^-2, r the normalised radius */
    double shot_noise; /* standard deviation, grey levels, in mid grey */
    double read_noise; /* standard deviation added towards black, grey levels */
} LrSensor;

/* Renders the tiles of one row of tiles into packed RGB. noise_key: one number per picture; the
 * bytes depend on it and on the tile alone. */
void lr_expose_tile_row(const LrRays *rays, int tile_row, const LrExposure *exposure,
                        const LrSensor *sensor, double gain, uint64_t noise_key, uint8_t *rgb,
                        ptrdiff_t stride);
/* Call once before the above, from one thread. */
void lr_expose_init(void);

#endif
