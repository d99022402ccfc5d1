/* A look at the picture itself: does the frame show at a point what the photo shows there? */
#ifndef LF_CAST_LOOK_H
#define LF_CAST_LOOK_H

#include "cast/pose.h"

/* Half width of the window around a point, px of the working image: 11 px of texture, about a
 * degree of a 1080p frame. */
#define LF_GLIMPSE_REACH 5
#define LF_GLIMPSE_SIDE (2 * LF_GLIMPSE_REACH + 1)

/* The same of the window in which colours are compared. */
#define LF_GLIMPSE_TINT_REACH 2
#define LF_GLIMPSE_TINT_SIDE (2 * LF_GLIMPSE_TINT_REACH + 1)

/* How light maps from the photo to the frame, by the patches that agree around there. */
typedef struct {
    double gain, offset;  /* frame = gain * photo + offset */
    double offset_spread; /* of patches around that line, grey levels */
    double unlike;        /* 1 - zncc^2 of patches that agree, mean */
} LfLightMap;

/* One place of the frame, ready to be compared with many of the photo. */
typedef struct LfGlimpse {
    bool known;                 /* false: nothing can be told there */
    double photo_from_plane[4]; /* photo px per px of the working image */
    LfLightMap light;
    double grey[LF_GLIMPSE_SIDE][LF_GLIMPSE_SIDE];
    LfTintMap tint;
    double colour[LF_GLIMPSE_TINT_SIDE][LF_GLIMPSE_TINT_SIDE][LF_TINT_CHANNELS]; /* NAN outside */
    int left, right, top, bottom; /* the columns and rows of it that lie in the frame */
} LfGlimpse;

/* frame: px as shown; undistorted: the same point. */
void lf_glimpse(LfGlimpse *glimpse, const LfPose *pose, const LfFramePyramid *pyramid,
                const LfLens *lens, LfPoint frame, LfPoint undistorted);

typedef struct {
    double mismatch; /* how much more grey levels differ at the point than in patches that agree:
                      * about 1 where the photo is seen, several where something is in front */
    double missing;  /* 0..2: how much less the frame follows the photo's texture around the point
                      * than  patches that agree do; 0 where the photo has none there */
    double here; /* as mismatch, of the px at the very point: what stands beside it is not asked */
    double tint; /* how far colours at the very point are from the photo's, in the spread that they
                  * have where the photo is seen; 1 where they cannot be told */
} LfLook;

/* at: the point on the photo; larger: how much larger the photo looks there than by the pose (1,
 * unless it has a relief). {1, 0, 1, 1} where it cannot be told. */
LfLook lf_look(const LfGlimpse *glimpse, const LfPhoto *photo, LfPoint at, double larger);

#endif
