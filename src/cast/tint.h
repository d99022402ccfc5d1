/* Colour: does the frame show at a point the colour that the photo has there?
 *
 * Two things of one grey level look alike in luma: a cheek before the grey back of a shelf. Their
 * blue and red differences tell them apart. Another camera under other lamps has other colours, so
 * what the photo's become in this frame is fitted to the places where the two agree. */
#ifndef LF_CAST_TINT_H
#define LF_CAST_TINT_H

#include "cast/photo_bank.h"

#define LF_TINT_CHANNELS 2 /* blue, red difference */
#define LF_TINT_TERMS 4

/* The frame's differences from the photo's and its luma, all less 128, and a constant. */
typedef struct {
    bool known; /* false: nothing can be told from colours */
    double from_photo[LF_TINT_CHANNELS][LF_TINT_TERMS];
    double spread[LF_TINT_CHANNELS]; /* around that, grey levels */
} LfTintMap;

/* A place that photo and frame both show. */
typedef struct {
    LfPoint photo;      /* photo px */
    LfPoint frame;      /* frame px, as shown */
    double photo_scale; /* photo px per px of the frame's working image */
} LfTintPair;

/* Least squares with Cauchy weights; not known where fewer than 12 places tell. */
void lf_tint_fit(LfTintMap *map, const LfTintPair *pairs, int n, const LfPhoto *photo,
                 const LfFramePyramid *frame);

/* Blue and red difference and luma of the photo there, grey levels, at a px of photo_scale photo
 * px. False off the photo, and where it has no colours. */
bool lf_tint_photo(const LfPhoto *photo, LfPoint at, double photo_scale, double out[3]);
/* What the frame should show where the photo has this point, less 128. False off the photo. */
bool lf_tint_expected(const LfTintMap *map, const LfPhoto *photo, LfPoint at, double photo_scale,
                      double out[LF_TINT_CHANNELS]);
/* What it does show, less 128; at: px as shown. False off the frame. */
bool lf_tint_seen(const LfFramePyramid *frame, LfPoint at, double out[LF_TINT_CHANNELS]);
/* Mean square of a difference, in spreads. */
double lf_tint_off2(const LfTintMap *map, const double seen[LF_TINT_CHANNELS],
                    const double expected[LF_TINT_CHANNELS]);

#endif
