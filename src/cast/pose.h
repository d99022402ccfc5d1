/* A pose: where one photo lies in one frame, how well that is known, and the points it rests on.
 *
 * "Frame" is the frame as shown, in full-size px; "undistorted" the same px with the lens taken out
 * (docs/frames.md). */
#ifndef LF_CAST_POSE_H
#define LF_CAST_POSE_H

#include <lookfall/cast.h>

#include "cast/photo_bank.h"
#include "cast/relief.h"
#include "cast/tint.h"

/* Grey levels of a patch. */
typedef struct {
    float mean, contrast; /* contrast: standard deviation */
} LfLight;

/* One patch of the photo looked for in the frame. */
typedef struct {
    LfPoint photo;       /* its place on the photo, px */
    LfPoint laid;        /* where the pose puts it, undistorted frame px */
    LfPoint residual_px; /* found - laid, undistorted frame px; 0 where it was not found */
    LfPoint shift_px;    /* what the relief made expect of it */
    float shift_sigma_px;
    float zncc;     /* how well the frame agrees with the photo there; -1 where not found */
    float sigma_px; /* of the place found, frame px */
    bool good;      /* found, agrees, and fits the pose */
    LfLight in_photo, in_frame; /* where it was found */
} LfPosePoint;

#define LF_POSE_POINTS 320

typedef struct {
    int photo;               /* index of the photo */
    LfMat3 frame_from_photo; /* undistorted frame px, m[8] = 1 */
    LfMat3 photo_from_frame;
    double cov[64]; /* of frame_from_photo.m[0..7], noise included */
    LfPosePoint points[LF_POSE_POINTS];
    int n_points;
    int n_good;
    double share_good;  /* n_good / n_points */
    double cover;       /* 0..1: share of the 4 x 4 parts of the visible photo with a good point */
    double residual_px; /* robust spread of good points around the pose, frame px */
    double motion_px;   /* how far the picture's middle moved since the frame before, frame px */
    double rival;       /* 0..1: how nearly as well the best rival position explains the frame */
    LfRival rivals[LF_RIVALS_MAX]; /* strongest first (rivals.h) */
    int n_rivals;
    LfTintMap tint;   /* how the photo's colours look in this frame */
    int matches;      /* feature matches it was located by; 0 where it was followed */
    int since_locate; /* frames since the photo was found without a prior */
} LfPose;

/* What a place of the frame shows, so that other frames can be asked for the same. */
typedef struct {
    double z;       /* how far behind the photo's plane it stands, photo px */
    LfPoint off_px; /* how far it is seen from where that puts it, undistorted frame px */
} LfPoseSurface;

/* What the pose says about one place of the frame. */
typedef struct {
    LfPoint photo; /* photo px, with the local shift taken in */
    LfPoseSurface surface;
    LfCov2 cov;           /* photo px^2: of the fit and of the local shift */
    double agreement;     /* -1..1: weighted mean zncc of the patches around */
    double support;       /* sum of weights of the patches around (1 = one patch right there) */
    double good_share;    /* 0..1: weighted share of good ones among them */
    double shift_px;      /* length of the local shift, frame px */
    double rough_px;      /* how differently things around would shift, frame px */
    double larger;        /* how much larger what is there looks than by the pose */
    double elsewhere;     /* 0..1: that what is seen stands at a depth that puts it further off */
    double px_per_degree; /* photo px of one degree of visual angle there */
} LfPoseLocal;

struct LfGlimpse;

/* What a pose is looked at with. */
typedef struct {
    const LfLens *lens;
    const LfRelief *relief; /* may be NULL */
    const LfPhoto *photo;
    const struct LfGlimpse *glimpse; /* of the point (look.h), tells which of several depths is
                                      * seen; NULL: the picture does not help */
    double tolerance_deg;            /* what `elsewhere` is further off than */
} LfPoseView;

/* at: undistorted frame px. False where the point has no place on the photo's plane (behind the
 * horizon). The point may lie off the photo. */
bool lf_pose_local(const LfPose *pose, const LfPoseView *view, LfPoint at, LfPoseLocal *out);

/* Where `at` falls on a surface that another frame showed. */
bool lf_pose_on_surface(const LfPose *pose, const LfPoseView *view, LfPoint at,
                        const LfPoseSurface *surface, LfPoint *on_photo);

/* Frame px of one degree near `undistorted`. */
double lf_pose_degree_px(const LfLens *lens, LfPoint undistorted);

#endif
