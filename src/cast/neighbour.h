/* How one photo stands to another that walks have shown beside it.
 *
 * Two shelves of one wall, or a shelf and a sign before it, keep their places while people walk
 * past. So a frame in which one photo is firm tells where the other one must be, however little of
 * that is to be seen, and whichever facing it was taken for. */
#ifndef LF_CAST_NEIGHBOUR_H
#define LF_CAST_NEIGHBOUR_H

#include <stdint.h>

#include <lookfall/geometry.h>

/* Of a photo to one other. m, 4 x 3 by rows, takes a point of the photo, px, to the space of the
 * other: (x, y) along its plane and z behind that, px of it, and w. m[11] = 1. */
typedef struct {
    uint64_t by; /* which other photo (LfPhoto's mark) */
    double m[12];
    double sigma_px; /* how well it foretold views, undistorted frame px */
    int32_t views;   /* by how many it is known */
    int32_t pad;     /* no hole: it is stored as bytes */
} LfNeighbour;
_Static_assert(sizeof(LfNeighbour) == 120, "LfNeighbour is stored as it is");

/* A frame in which both were seen. */
typedef struct {
    LfMat3 by;               /* undistorted frame from the other photo */
    LfMat3 frame_from_photo; /* undistorted frame from this one */
    const LfLens *lens;
    double worth; /* 0..1: how surely both are where they were found */
} LfNeighbourView;

/* Fits m, sigma_px and views to the views, some of which may have a photo in the wrong place;
 * width, height and by_side (the longer one): of the photo and of the other one, px. False, and
 * *out as it was, where too few views agree. */
bool lf_neighbour_fit(const LfNeighbourView *views, int n, int width, int height, double by_side,
                      LfNeighbour *out);

/* Where the photo is seen in a frame that shows the other one so. False where that is no view of a
 * plane. Parts of the photo may be behind the camera: lf_mat3_apply tells. */
bool lf_neighbour_place(const LfNeighbour *neighbour, const LfMat3 *by, const LfLens *lens,
                        LfMat3 *frame_from_photo);

/* Whether all of m are numbers. */
bool lf_neighbour_sound(const double m[12]);

/* A photo as it is seen in a frame. */
typedef struct {
    uint64_t mark;
    const LfMat3 *frame_from_photo; /* undistorted; NULL where it is not firm */
    double worth;                   /* of two that tell the same, the one of more is asked */
} LfNeighbourSeen;

/* Where the worthiest of those seen has a photo with these neighbours. */
typedef struct {
    LfMat3 frame_from_photo;
    const LfNeighbour *neighbour;
    int by; /* index into those seen */
} LfForetold;
bool lf_neighbour_foretell(const LfNeighbour *neighbours, int n, const LfNeighbourSeen *seen,
                           int n_seen, const LfLens *lens, LfForetold *out);

#endif
