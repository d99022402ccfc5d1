/* Vectors and camera poses in the world.
 *
 * World frame, millimetres: x to the right along the shelf, y down with the floor at 0, z into the
 * shelf; the shelf's front edge lies at z = 0 and walkers stand at negative z. Camera frame: x
 * right, y down, z forward. */
#ifndef LOOKFALL_DEMO_VEC_H
#define LOOKFALL_DEMO_VEC_H

#include <math.h>

typedef struct {
    double x, y, z;
} LrVec;

/* Where a camera is and how it is turned; rows are its right, down and forward in the world. */
typedef struct {
    LrVec at; /* mm */
    LrVec right, down, forward;
} LrPose;

static inline LrVec lr_vec(double x, double y, double z)
{
    return (LrVec){x, y, z};
}
static inline LrVec lr_vec_add(LrVec a, LrVec b)
{
    return (LrVec){a.x + b.x, a.y + b.y, a.z + b.z};
}
static inline LrVec lr_vec_sub(LrVec a, LrVec b)
{
    return (LrVec){a.x - b.x, a.y - b.y, a.z - b.z};
}
static inline LrVec lr_vec_scale(LrVec a, double s)
{
    return (LrVec){a.x * s, a.y * s, a.z * s};
}
/* a + b s */
static inline LrVec lr_vec_along(LrVec a, LrVec b, double s)
{
    return (LrVec){a.x + b.x * s, a.y + b.y * s, a.z + b.z * s};
}
static inline double lr_vec_dot(LrVec a, LrVec b)
{
    return a.x * b.x + a.y * b.y + a.z * b.z;
}
static inline LrVec lr_vec_cross(LrVec a, LrVec b)
{
    return (LrVec){a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}
static inline LrVec lr_vec_unit(LrVec a)
{
    return lr_vec_scale(a, 1 / sqrt(lr_vec_dot(a, a)));
}

/* yaw to the right, pitch up, roll clockwise as seen from behind the camera; radians. */
static inline LrPose lr_pose_make(LrVec at, double yaw, double pitch, double roll)
{
    double cy = cos(yaw), sy = sin(yaw), cp = cos(pitch), sp = sin(pitch);
    double cr = cos(roll), sr = sin(roll);
    LrVec forward = {sy * cp, -sp, cy * cp}, level = {cy, 0, -sy};
    LrVec down = lr_vec_cross(forward, level);
    return (LrPose){
        .at = at,
        .right = lr_vec_along(lr_vec_scale(level, cr), down, sr),
        .down = lr_vec_along(lr_vec_scale(down, cr), level, -sr),
        .forward = forward,
    };
}

/* World point to camera frame. */
static inline LrVec lr_pose_to_camera(const LrPose *pose, LrVec point)
{
    LrVec d = lr_vec_sub(point, pose->at);
    return (LrVec){lr_vec_dot(pose->right, d), lr_vec_dot(pose->down, d),
                   lr_vec_dot(pose->forward, d)};
}

/* Camera-frame direction to world direction. */
static inline LrVec lr_pose_to_world(const LrPose *pose, LrVec d)
{
    return (LrVec){pose->right.x * d.x + pose->down.x * d.y + pose->forward.x * d.z,
                   pose->right.y * d.x + pose->down.y * d.y + pose->forward.y * d.z,
                   pose->right.z * d.x + pose->down.z * d.y + pose->forward.z * d.z};
}

#endif
