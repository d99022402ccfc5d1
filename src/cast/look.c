/* Comparing grey levels of photo and frame around one point.
 *
 * Patches that agree tell how light maps from the photo to the frame around there (gain and offset)
 * and how closely; a point is then judged by its own grey levels, also where there is no texture
 * for a patch. */
#include "cast/look.h"

#include <math.h>
#include <stdlib.h>

/* Half width of the window in which grey levels are compared, px of the working image: 7 px, about
 * 0.6 degrees of a 1080p frame. Texture is compared in the whole of LF_GLIMPSE_SIDE. */
#define LOOK_REACH 3
/* The very point is looked at in a window of LOOK_HERE px, wherever within LOOK_ABOUT px of it that
 * fits best: at the edge of a pack nobody can tell on which side of it a look ends. */
#define LOOK_HERE 3
#define LOOK_ABOUT 1
#define LOOK_HERE_SIDE (LOOK_HERE + 2 * LOOK_ABOUT)
G_STATIC_ASSERT(LOOK_HERE_SIDE == LF_GLIMPSE_TINT_SIDE);
/* Texture of this standard deviation, grey levels of the frame, counts half. */
#define LOOK_TEXTURE_HALF 6.0
/* Light is taken from patches with a Gaussian weight of this width, degrees, and a little from all
 * others: lamps and vignetting change slowly over the picture. */
#define LOOK_LIGHT_DEG 6.0
#define LOOK_LIGHT_REST 0.02
/* Sensor and compression noise, grey levels (measured on the rendered walks). */
#define LOOK_NOISE 2.0

static bool look_light(const LfPose *pose, LfPoint at, double degree_px, LfLightMap *light)
{
    double weight[LF_POSE_POINTS];
    double w_sum = 0, photo = 0, frame = 0, photo_mean = 0, frame_mean = 0, unlike = 0, square = 0;
    const double width = LOOK_LIGHT_DEG * degree_px;
    for (int i = 0; i < pose->n_points; i++) {
        const LfPosePoint *q = &pose->points[i];
        if (!q->good)
            continue;
        const double dx = q->laid.x - at.x, dy = q->laid.y - at.y;
        const double w = exp(-(dx * dx + dy * dy) / (2 * width * width)) + LOOK_LIGHT_REST;
        weight[i] = w;
        w_sum += w;
        photo += w * (double)q->in_photo.contrast;
        frame += w * (double)q->in_frame.contrast;
        photo_mean += w * (double)q->in_photo.mean;
        frame_mean += w * (double)q->in_frame.mean;
        unlike += w * (1 - (double)(q->zncc * q->zncc));
    }
    if (!(w_sum > 0) || !(photo > 0))
        return false;
    light->gain = frame / photo;
    light->offset = (frame_mean - light->gain * photo_mean) / w_sum;
    light->unlike = unlike / w_sum;
    for (int i = 0; i < pose->n_points; i++) {
        const LfPosePoint *q = &pose->points[i];
        if (!q->good)
            continue;
        const double off =
            (double)q->in_frame.mean - light->gain * (double)q->in_photo.mean - light->offset;
        square += weight[i] * off * off;
    }
    light->offset_spread = sqrt(square / w_sum);
    return true;
}

/* photo px per px of the working image, at the undistorted point. */
static bool look_jacobian(const LfPose *pose, const LfLens *lens, const LfPlane *plane,
                          LfPoint undistorted, double out[4])
{
    double h[4], d[4];
    if (!lf_mat3_jacobian(&pose->photo_from_frame, undistorted, h))
        return false;
    lf_lens_distort_jacobian(lens, undistorted, d);
    const double det = d[0] * d[3] - d[1] * d[2];
    if (!(fabs(det) > 1e-9))
        return false;
    const double u[4] = {d[3] / det, -d[1] / det, -d[2] / det, d[0] / det};
    out[0] = (h[0] * u[0] + h[1] * u[2]) / plane->scale_x;
    out[1] = (h[0] * u[1] + h[1] * u[3]) / plane->scale_y;
    out[2] = (h[2] * u[0] + h[3] * u[2]) / plane->scale_x;
    out[3] = (h[2] * u[1] + h[3] * u[3]) / plane->scale_y;
    return true;
}

/* Samples the window of the frame around `centre`, as much of it as there is. */
static bool look_window(LfGlimpse *glimpse, const LfPlane *plane, LfPoint centre)
{
    const int reach = LF_GLIMPSE_REACH;
    bool any = false;
    for (int y = -reach; y <= reach; y++)
        for (int x = -reach; x <= reach; x++) {
            const int row = y + reach, column = x + reach;
            if (!lf_plane_sample(plane, (LfPoint){centre.x + x, centre.y + y},
                                 &glimpse->grey[row][column]))
                continue;
            if (!any) {
                glimpse->left = column;
                glimpse->top = row;
            }
            any = true;
            glimpse->right = column;
            glimpse->bottom = row;
        }
    return any;
}

/* Samples the colours around the point, px of the working image apart. */
static void look_colours(LfGlimpse *glimpse, const LfFramePyramid *pyramid, LfPoint centre)
{
    const int reach = LF_GLIMPSE_TINT_REACH;
    for (int y = -reach; y <= reach; y++)
        for (int x = -reach; x <= reach; x++) {
            const LfPoint at =
                lf_plane_to_image(&pyramid->level[0], (LfPoint){centre.x + x, centre.y + y});
            double *colour = glimpse->colour[y + reach][x + reach];
            if (!lf_tint_seen(pyramid, at, colour))
                colour[0] = colour[1] = NAN;
        }
}

void lf_glimpse(LfGlimpse *glimpse, const LfPose *pose, const LfFramePyramid *pyramid,
                const LfLens *lens, LfPoint frame, LfPoint undistorted)
{
    const LfPlane *plane = &pyramid->level[0];
    glimpse->known =
        look_jacobian(pose, lens, plane, undistorted, glimpse->photo_from_plane) &&
        look_light(pose, undistorted, lf_pose_degree_px(lens, undistorted), &glimpse->light) &&
        look_window(glimpse, plane, lf_plane_from_image(plane, frame));
    glimpse->tint = pose->tint;
    if (glimpse->known && glimpse->tint.known)
        look_colours(glimpse, pyramid, lf_plane_from_image(plane, frame));
}

/* Sums over a window: of photo, frame, their squares and products, and of what light does not
 * explain. */
typedef struct {
    double n, photo, frame, photo2, frame2, cross, off2;
} LookSums;

static void look_add(LookSums *sums, double of_photo, double of_frame, double off)
{
    sums->n++;
    sums->photo += of_photo;
    sums->frame += of_frame;
    sums->photo2 += of_photo * of_photo;
    sums->frame2 += of_frame * of_frame;
    sums->cross += of_photo * of_frame;
    sums->off2 += off * off;
}

/* Mean square of what light does not explain, as it is expected where the photo is seen. */
static double look_expected(const LookSums *s, const LfLightMap *light)
{
    const double variance = MAX(s->photo2 / s->n - s->photo / s->n * (s->photo / s->n), 0);
    return LOOK_NOISE * LOOK_NOISE + light->offset_spread * light->offset_spread +
           light->unlike * variance * light->gain * light->gain;
}

static double look_missing(const LookSums *s, const LfLightMap *light)
{
    const double pp = s->photo2 / s->n - s->photo / s->n * (s->photo / s->n);
    const double ff = s->frame2 / s->n - s->frame / s->n * (s->frame / s->n);
    const double pf = s->cross / s->n - s->photo / s->n * (s->frame / s->n);
    if (!(pp > 0))
        return 0;
    const double texture = pp * light->gain * light->gain;
    const double weight = texture / (texture + LOOK_TEXTURE_HALF * LOOK_TEXTURE_HALF);
    /* The noise floor keeps a flat piece of frame from following anything by chance. */
    const double follows = pf / sqrt(pp * (ff + LOOK_NOISE * LOOK_NOISE));
    return weight * MAX(sqrt(MAX(1 - light->unlike, 0)) - follows, 0);
}

/* Least mean square of what light does not explain in a window about the point. off2: by row and
 * column; NAN where the photo or the frame ends. */
static double look_here(double off2[LOOK_HERE_SIDE][LOOK_HERE_SIDE])
{
    double best = INFINITY;
    for (int y = 0; y <= 2 * LOOK_ABOUT; y++)
        for (int x = 0; x <= 2 * LOOK_ABOUT; x++) {
            double sum = 0;
            for (int i = 0; i < LOOK_HERE * LOOK_HERE; i++)
                sum += off2[y + i / LOOK_HERE][x + i % LOOK_HERE];
            best = sum < best ? sum : best;
        }
    return best / (LOOK_HERE * LOOK_HERE);
}

/* How far colours are off in a window about the point, wherever that fits best. a: photo px by px
 * of the working image, scale: the root of its area. */
static double look_tint(const LfGlimpse *glimpse, const LfPhoto *photo, LfPoint at,
                        const double a[4], double scale)
{
    const int reach = LF_GLIMPSE_TINT_REACH;
    double off2[LOOK_HERE_SIDE][LOOK_HERE_SIDE];
    if (!glimpse->tint.known)
        return 1;
    for (int y = -reach; y <= reach; y++)
        for (int x = -reach; x <= reach; x++) {
            const double *seen = glimpse->colour[y + reach][x + reach];
            const LfPoint p = {at.x + a[0] * x + a[1] * y, at.y + a[2] * x + a[3] * y};
            double expected[LF_TINT_CHANNELS];
            off2[y + reach][x + reach] =
                isfinite(seen[0]) && lf_tint_expected(&glimpse->tint, photo, p, scale, expected)
                    ? lf_tint_off2(&glimpse->tint, seen, expected)
                    : NAN;
        }
    const double least = look_here(off2);
    return isfinite(least) ? sqrt(least) : 1;
}

LfLook lf_look(const LfGlimpse *glimpse, const LfPhoto *photo, LfPoint at, double larger)
{
    if (!glimpse->known)
        return (LfLook){1, 0, 1, 1};
    double a[4];
    for (int i = 0; i < 4; i++)
        a[i] = glimpse->photo_from_plane[i] / larger;
    const double scale = sqrt(fabs(a[0] * a[3] - a[1] * a[2]));
    const LfPlane *level = &photo->level[lf_photo_level_for(photo, scale)];
    const LfPoint centre = lf_plane_from_image(level, at);
    const LfLightMap *light = &glimpse->light;
    LookSums near = {0}, wide = {0};
    double here[LOOK_HERE_SIDE][LOOK_HERE_SIDE];
    for (int i = 0; i < LOOK_HERE_SIDE * LOOK_HERE_SIDE; i++)
        here[i / LOOK_HERE_SIDE][i % LOOK_HERE_SIDE] = NAN;
    for (int row = glimpse->top; row <= glimpse->bottom; row++)
        for (int column = glimpse->left; column <= glimpse->right; column++) {
            const int x = column - LF_GLIMPSE_REACH, y = row - LF_GLIMPSE_REACH;
            const LfPoint p = {centre.x + (a[0] * x + a[1] * y) * level->scale_x,
                               centre.y + (a[2] * x + a[3] * y) * level->scale_y};
            double of_photo;
            if (!lf_plane_sample(level, p, &of_photo))
                continue;
            const double of_frame = glimpse->grey[row][column];
            const double off = of_frame - light->gain * of_photo - light->offset;
            look_add(&wide, of_photo, of_frame, off);
            if (abs(x) <= LOOK_REACH && abs(y) <= LOOK_REACH)
                look_add(&near, of_photo, of_frame, off);
            if (abs(x) <= LOOK_HERE_SIDE / 2 && abs(y) <= LOOK_HERE_SIDE / 2)
                here[y + LOOK_HERE_SIDE / 2][x + LOOK_HERE_SIDE / 2] = off * off;
        }
    if (near.n < 9)
        return (LfLook){1, 0, 1, 1};
    const double expected = look_expected(&near, light), least = look_here(here);
    return (LfLook){.mismatch = sqrt(near.off2 / near.n / expected),
                    .missing = look_missing(&wide, light),
                    .here = isfinite(least) ? sqrt(least / expected) : 1,
                    .tint = look_tint(glimpse, photo, at, a, scale)};
}
