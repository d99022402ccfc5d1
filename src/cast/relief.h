/* The relief of a photo: how far what it shows stands behind or before its plane, learnt while the
 * photo is followed.
 *
 * A shelf is not flat. Seen from another place than the photo's own, what stands back shifts
 * against the plane (parallax). Over many frames those shifts tell, for each cell of a grid over
 * the photo, where in space it lies: (u, v) along the plane and z behind it, all in photo px. The
 * shift of a photo point p in a frame with plane homography H is then that of H (p + (u, v)) + z h3
 * against H p, with h3 the image of the plane's normal (plane plus parallax; M. Irani, P. Anandan,
 * ECCV 1996, doi:10.1007/BFb0015520). The plane itself is a matter of choice: what is learnt is
 * relative to the homographies that are fitted. */
#ifndef LF_CAST_RELIEF_H
#define LF_CAST_RELIEF_H

#include "cast/photo_bank.h"

typedef struct LfRelief LfRelief;

/* Depths a relief can have, shares of the photo's longer side: from before the plane to behind it.
 * Shelves are a quarter as deep as they are wide (common practice: 0.4 to 0.5 m of 1.2 to 2.5 m).
 */
#define LF_RELIEF_FROM -0.06
#define LF_RELIEF_TO 0.30

/* Where the photo was taken from: straight in front of `middle`, `distance` away, photo px. Things
 * that stand behind the plane lie along its rays. */
typedef struct {
    LfPoint middle;
    double distance;
} LfReliefCamera;

/* One frame's view of the plane. */
typedef struct {
    LfMat3 h;     /* undistorted frame from photo */
    double h3[3]; /* image of the normal, scaled so that z is in photo px */
} LfReliefView;
/* False where the homography is no view of a plane. */
bool lf_relief_view(LfReliefView *view, const LfMat3 *frame_from_photo, const LfLens *lens);

LfRelief *lf_relief_new(int width, int height); /* of the photo, px */
void lf_relief_free(LfRelief *relief);
/* Forgets everything. */
void lf_relief_reset(LfRelief *relief);
/* Takes over all that another relief of the same photo knows. */
void lf_relief_copy(LfRelief *relief, const LfRelief *from);

const LfReliefCamera *lf_relief_camera(const LfRelief *relief);
void lf_relief_set_camera(LfRelief *relief, LfReliefCamera camera);

/* The cells the photo is divided into, row by row. */
typedef struct {
    int columns, rows;
    double cell_px;
} LfReliefGrid;
LfReliefGrid lf_relief_grid(const LfRelief *relief);

/* Where in space what a photo point shows may stand, against its place on the plane: (u, v) along
 * the plane and z behind it along the photo's ray, photo px. */
typedef struct {
    double u, v, z;
} LfReliefPlace;
/* How the photo point is seen against the plane: {{0, 0}, 0, 1, 0} while the photo looks flat,
 * while the relief does not foretell shifts better than the plane. */
typedef struct {
    LfPoint px;      /* undistorted frame px */
    double sigma_px; /* one standard error, from the relief alone; large where nothing is known */
    double scale;    /* how much larger it looks */
    double z;        /* how far behind the plane it is taken to stand, photo px */
} LfReliefShift;
LfReliefShift lf_relief_shift(const LfRelief *relief, const LfReliefView *view, LfPoint photo);
/* The same in two steps: what is known of the point, which is the larger part of the work and holds
 * until the relief learns again, and how that is seen. */
typedef struct {
    LfReliefPlace place;
    double cov[6];   /* of it: uu uv uz vv vz zz */
    double surprise; /* mean squared surprise, frame px^2 per axis */
} LfReliefSpot;
LfReliefSpot lf_relief_spot(const LfRelief *relief, LfPoint photo);
LfReliefShift lf_relief_spot_shift(const LfRelief *relief, const LfReliefView *view, LfPoint photo,
                                   const LfReliefSpot *spot);
/* z there, photo px, at a glance: of the cell alone; 0 while the photo looks flat. */
double lf_relief_glance(const LfRelief *relief, LfPoint photo);
/* A place where a look may meet the relief (relief_ray.c). */
typedef struct {
    LfPoint photo; /* photo px */
    double z;      /* photo px */
    double weight; /* probability */
} LfReliefEnd;
#define LF_RELIEF_ENDS 128
/* at: undistorted frame px. From before the plane to behind it; the weights add up to no more than
 * 1. How many; 0 where no survey has told what the relief is. */
int lf_relief_ray(const LfRelief *relief, const LfReliefView *view, LfPoint at,
                  LfReliefEnd ends[LF_RELIEF_ENDS]);
/* Where a look meets what stands z behind the plane. at: undistorted frame px. False where it does
 * not. */
bool lf_relief_at_depth(const LfRelief *relief, const LfReliefView *view, LfPoint at, double z,
                        LfPoint *photo);
/* The likeliest surface among the ends: those within half of near_px, photo px. */
typedef struct {
    LfPoint photo;
    double z;         /* photo px, mean of its ends, as `photo` is */
    double variance;  /* photo px^2 per axis, of these */
    double elsewhere; /* 0..1: probability that the look ends further off than near_px, or nearly */
} LfReliefMeet;
/* n > 0. */
LfReliefMeet lf_relief_meet(const LfReliefEnd *ends, int n, double near_px);
/* True where a survey found next to no relief. */
bool lf_relief_flat(const LfRelief *relief);
typedef struct {
    LfPoint at;    /* undistorted frame px */
    LfPoint shift; /* from where the plane has the point */
    double scale;  /* how much larger it looks than on the plane */
} LfReliefSeen;
/* False where that is behind the camera. j, may be NULL: derivatives of at.x by (u, v, z), then of
 * at.y, there. */
bool lf_relief_project(const LfReliefCamera *camera, const LfReliefView *view, LfPoint photo,
                       LfReliefPlace place, LfReliefSeen *seen, double j[6]);
/* z of a cell as found by other means, with its standard error; lf_relief_told after the last.
 * flat: there is none worth the name; what was told is forgotten. */
void lf_relief_tell(LfRelief *relief, int cell, double z, double sigma);
/* The same in place of all that was known of the cell. */
void lf_relief_retell(LfRelief *relief, int cell, double z, double sigma);
/* A cell with texture that agrees with the frame at several depths: nothing is learnt from it. */
void lf_relief_bar(LfRelief *relief, int cell);
void lf_relief_told(LfRelief *relief, bool flat);
/* How far a cell is to be trusted to stand where it, or the nearest one that tells, is taken to,
 * 0..1; kept to 1/255. Before lf_relief_told; without it, as its neighbours make likely. */
void lf_relief_vouch(LfRelief *relief, int cell, double trust);
/* 0 where nobody did. */
double lf_relief_vouched(const LfRelief *relief, int cell);
/* What was told: false where nothing was. */
bool lf_relief_cell_told(const LfRelief *relief, int cell, double *z, double *sigma);
bool lf_relief_cell_barred(const LfRelief *relief, int cell);
/* Whether there is a relief worth the name. */
bool lf_relief_known(const LfRelief *relief);
bool lf_relief_barred(const LfRelief *relief, LfPoint photo);
/* How differently things around the photo point would shift, undistorted frame px: the root mean
 * square over the cells around, with all depths possible where nothing is known. 0 while the photo
 * looks flat. */
double lf_relief_rough(const LfRelief *relief, const LfReliefView *view, LfPoint photo);
/* A shift seen in a frame, with its standard error. */
void lf_relief_learn(LfRelief *relief, const LfReliefView *view, LfPoint photo, LfPoint shift_px,
                     double sigma_px);
/* Once per frame after learning: what is old counts less, and the spread of the relief is taken. */
void lf_relief_settle(LfRelief *relief);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfRelief, lf_relief_free)

#endif
