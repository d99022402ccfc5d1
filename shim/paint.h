/* JPEG, and colour maps. Part of the C face (shim.h): same return codes, same message buffer. */
#ifndef LF_SHIM_PAINT_H
#define LF_SHIM_PAINT_H

#include "shim.h"

#ifdef __cplusplus
extern "C" {
#endif

/* JPEG of packed 8-bit RGB; quality 0..100. The bytes are given out. */
int lf_shim_jpeg(const uint8_t *rgb, int width, int height, int quality, uint8_t **bytes, size_t *n,
                 char *message) LF_SHIM_NOEXCEPT;

/* The perceptually uniform maps of S. van der Walt and N. Smith (magma, inferno, plasma, viridis;
 * published for matplotlib 1.5, 2015, under CC0) and cividis (J. Nunez, C. Anderton, R. Renslow,
 * PLOS ONE 13(7), 2018), as OpenCV carries them. */
typedef enum {
    LF_SHIM_VIRIDIS = 0,
    LF_SHIM_MAGMA = 1,
    LF_SHIM_INFERNO = 2,
    LF_SHIM_PLASMA = 3,
    LF_SHIM_CIVIDIS = 4,
} LfShimColourMap;

/* 256 colours from least to most; rgb takes 768 bytes: red, green, blue. */
int lf_shim_colour_map(LfShimColourMap map, uint8_t *rgb, char *message) LF_SHIM_NOEXCEPT;

#ifdef __cplusplus
}
#endif

#endif
