/* The inside of an LfPhoto: pyramid, corners to follow, features to locate, self-similarity.
 *
 * All positions are px of the photo. Read-only once made. */
#ifndef LF_CAST_PHOTO_BANK_H
#define LF_CAST_PHOTO_BANK_H

#include <lookfall/photo.h>

#include "cast/neighbour.h"
#include "cast/plane.h"

/* Half-octave pyramid: level i is the photo at 2^(-i/2). */
#define LF_PHOTO_LEVELS 13
/* Corners are kept for whole octaves 0..LF_PHOTO_OCTAVES-1: those to follow where one px of the
 * plane they are followed on covers about 2^octave px of the photo. */
#define LF_PHOTO_OCTAVES 6
#define LF_PHOTO_CORNERS 2400 /* per octave at most */
#define LF_PHOTO_SHIFTS 12
/* Other photos whose place is kept. */
#define LF_PHOTO_NEIGHBOURS 8

typedef struct {
    float x, y;
} LfCorner; /* strongest first within an octave */

typedef struct {
    float x, y;    /* place */
    float size;    /* diameter of what the descriptor sees, photo px */
    float angle;   /* direction, degrees */
    uint8_t view;  /* 0 for the photo as it is, others seen from aside */
    uint8_t alike; /* another place of the photo looks like this one */
} LfBankFeature;

/* Features of a photo with their descriptors, lf_shim_descriptor_bytes each. */
typedef struct {
    LfShimKind kind;
    LfBankFeature *features;
    uint8_t *descriptors;
    int n;
    int n_upright; /* the first so many are of the photo as it is, view 0 */
} LfBank;

/* A shift by which parts of the photo repeat (facings), photo px. */
typedef struct {
    float dx, dy;
    float share; /* of the alike features that repeat by it */
} LfPhotoShift;

struct LfPhoto {
    LfPlane level[LF_PHOTO_LEVELS];
    LfPlane tint[LF_PHOTO_LEVELS][2]; /* blue and red difference; none at the finest levels */
    int n_levels;
    LfCorner *corners[LF_PHOTO_OCTAVES];
    int n_corners[LF_PHOTO_OCTAVES];
    LfBank features; /* ORB */
    LfPhotoShift shifts[LF_PHOTO_SHIFTS];
    int n_shifts;
    LfPhotoReport report;
    GBytes *bytes;           /* the bank as stored */
    struct LfRelief *relief; /* what walks have told so far: where each chunk starts */
    LfNeighbour neighbours[LF_PHOTO_NEIGHBOURS]; /* and how it stands to other photos */
    int n_neighbours;
    uint64_t mark; /* of its bank: tells it from others */
};

/* photo_pyramid.c: takes over luma, blue and red difference (packed rows, from the shim). */
bool lf_photo_pyramid_init(LfPhoto *photo, uint8_t *planes[3], int width, int height,
                           GError **error);
/* The level whose px is nearest to `scale` photo px; index into photo->level. */
int lf_photo_level_for(const LfPhoto *photo, double scale);
/* The same of those that have colours. */
int lf_photo_tint_level_for(const LfPhoto *photo, double scale);

/* photo_features.c: fills corners, features, shifts and the report from the pyramid. */
bool lf_photo_features_compute(LfPhoto *photo, GError **error);

/* The features of the photo as it is and of views from aside; at most max_features of the upright
 * view and about half as many of each other. The photo's pyramid must stand. */
bool lf_bank_compute(const LfPhoto *photo, LfShimKind kind, int max_features, LfBank *bank,
                     GError **error);
void lf_bank_clear(LfBank *bank);

/* photo_store.c: the bank as bytes; a version in front so that an older bank is refused. */
GBytes *lf_photo_store(const LfPhoto *photo);
bool lf_photo_restore(LfPhoto *photo, GBytes *bank, GError **error);

#endif
