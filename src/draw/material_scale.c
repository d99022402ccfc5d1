/* How many px of the photo one degree of visual angle was, at the distance from which people
 * looked: the median over their fixations, each with the pose of its frame. */
#include "draw/material.h"

#include <math.h>
#include <stdlib.h>

#include <lookfall/glance.h>

/* Looks that are asked, at most, for each walk: the median moves by less than a percent with more
 * (measured on rendered walks). */
#define MATERIAL_SCALE_LOOKS 40

/* Photo px per degree at a point of the photo, as it was seen in that frame; NaN where the pose
 * does not show the point. */
static double material_scale_at(const LfMat3 *photo_from_frame, const LfLens *lens,
                                LfPoint on_photo)
{
    LfMat3 frame_from_photo;
    LfPoint at;
    double jac[4];
    if (!lf_mat3_invert(photo_from_frame, &frame_from_photo) ||
        !lf_mat3_apply(&frame_from_photo, on_photo, &at) ||
        !lf_mat3_jacobian(photo_from_frame, at, jac))
        return NAN;
    /* The mean over all directions: the root of the ratio of areas. */
    double photo_px = sqrt(fabs(jac[0] * jac[3] - jac[1] * jac[2]));
    double deg = sqrt(lf_lens_angle_deg(lens, at, (LfPoint){at.x + 1, at.y}) *
                      lf_lens_angle_deg(lens, at, (LfPoint){at.x, at.y + 1}));
    double scale = photo_px / deg;
    return isfinite(scale) && scale > 0 ? scale : NAN;
}

static bool material_scale_walk(LfStudy *study, const Material *material, const MaterialWalk *walk,
                                GArray *scales, GError **error)
{
    guint step = walk->looks->len / MATERIAL_SCALE_LOOKS + 1;
    for (guint i = 0; i < walk->looks->len; i += step) {
        const MaterialLook *look = &g_array_index(walk->looks, MaterialLook, i);
        int64_t t_us = walk->from_us + (int64_t)llround((look->from_s + look->to_s) / 2 * 1e6);
        LfMat3 photo_from_frame;
        bool found;
        if (!look->shown)
            continue;
        if (!lf_study_pose_at(study, walk->id, material->photo_id, t_us, &photo_from_frame, &found,
                              error))
            return false;
        double scale =
            found ? material_scale_at(&photo_from_frame, &walk->lens, (LfPoint){look->x, look->y})
                  : NAN;
        if (!isnan(scale))
            g_array_append_val(scales, scale);
    }
    return true;
}

static int material_scale_order(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

bool material_scale(LfStudy *study, Material *material, GError **error)
{
    g_autoptr(GArray) scales = g_array_new(FALSE, FALSE, sizeof(double));
    for (guint i = 0; i < material->walks->len; i++)
        if (!material_scale_walk(study, material, material->walks->pdata[i], scales, error))
            return false;
    material->px_per_deg = NAN;
    if (scales->len > 0) {
        qsort(scales->data, scales->len, sizeof(double), material_scale_order);
        material->px_per_deg = g_array_index(scales, double, scales->len / 2);
    }
    return true;
}
