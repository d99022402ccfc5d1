/* The geometry of a photo of a plane, and of a frame's view of it.
 *
 * The photo is a pinhole picture with its principal point in its middle and square px. Of a plane
 * that it does not face squarely it is a projective picture: with n the plane's normal in the
 * photo's camera and f the focal length, the plane's point seen at q = p - middle has the depth
 * n_z / (n_x q_x / f + n_y q_y / f + n_z) of that in the middle (R. Hartley, A. Zisserman, Multiple
 * View Geometry, 2nd ed., 13.1), so q shrinks by 1 + tilt . q on the plane, tilt = (n_x, n_y) / (f
 * n_z); the foot of the perpendicular from the camera lies f^2 tilt from the middle. Foreshortening
 * along the tilt, a half per cent at six degrees, is left out. */
#include "cast/relief.h"

#include <math.h>

LfPoint lf_relief_plane_from_photo(const LfReliefCamera *camera, LfPoint photo)
{
    const double x = photo.x - camera->middle.x, y = photo.y - camera->middle.y;
    const double w = 1 + camera->tilt.x * x + camera->tilt.y * y;
    return (LfPoint){camera->middle.x + x / w, camera->middle.y + y / w};
}

LfPoint lf_relief_photo_from_plane(const LfReliefCamera *camera, LfPoint plane)
{
    const double x = plane.x - camera->middle.x, y = plane.y - camera->middle.y;
    const double w = 1 - camera->tilt.x * x - camera->tilt.y * y;
    return (LfPoint){camera->middle.x + x / w, camera->middle.y + y / w};
}

LfPoint lf_relief_foot(const LfReliefCamera *camera)
{
    const double f2 = camera->distance * camera->distance;
    return (LfPoint){camera->middle.x + f2 * camera->tilt.x,
                     camera->middle.y + f2 * camera->tilt.y};
}

/* The same as lf_relief_photo_from_plane, as a matrix. */
static LfMat3 camera_photo_from_plane(const LfReliefCamera *camera)
{
    const LfPoint m = camera->middle, v = camera->tilt;
    const double w = 1 + v.x * m.x + v.y * m.y;
    return (LfMat3){{1 - m.x * v.x, -m.x * v.y, m.x * (w - 1), -m.y * v.x, 1 - m.y * v.y,
                     m.y * (w - 1), -v.x, -v.y, w}};
}

bool lf_relief_view(LfReliefView *view, const LfReliefCamera *camera,
                    const LfMat3 *frame_from_photo, const LfLens *lens)
{
    const LfMat3 back = camera_photo_from_plane(camera);
    const LfMat3 plane = lf_mat3_mul(frame_from_photo, &back), *h = &plane;
    double a[2][3], length[2];
    for (int c = 0; c < 2; c++) {
        /* K^-1 times the first two columns: the plane's axes in the camera. */
        const double w = h->m[6 + c];
        a[c][0] = (h->m[c] - lens->cx * w) / lens->fx;
        a[c][1] = (h->m[3 + c] - lens->cy * w) / lens->fy;
        a[c][2] = w;
        length[c] = sqrt(a[c][0] * a[c][0] + a[c][1] * a[c][1] + a[c][2] * a[c][2]);
    }
    const double scale = sqrt(length[0] * length[1]);
    if (!(scale > 1e-12) || !isfinite(scale))
        return false;
    /* The normal is the axes' cross product; one photo px long, as they are. */
    const double n[3] = {(a[0][1] * a[1][2] - a[0][2] * a[1][1]) / scale,
                         (a[0][2] * a[1][0] - a[0][0] * a[1][2]) / scale,
                         (a[0][0] * a[1][1] - a[0][1] * a[1][0]) / scale};
    view->h = *h;
    view->h3[0] = lens->fx * n[0] + lens->cx * n[2];
    view->h3[1] = lens->fy * n[1] + lens->cy * n[2];
    view->h3[2] = n[2];
    return true;
}

bool lf_relief_project(const LfReliefCamera *camera, const LfReliefView *view, LfPoint photo,
                       LfReliefPlace place, LfReliefSeen *seen, double j[6])
{
    const LfPoint p = lf_relief_plane_from_photo(camera, photo), foot = lf_relief_foot(camera);
    const double rx = (p.x - foot.x) / camera->distance, ry = (p.y - foot.y) / camera->distance;
    const double x = p.x + place.u + place.z * rx, y = p.y + place.v + place.z * ry;
    const double *m = view->h.m, *n = view->h3;
    const double w = m[6] * x + m[7] * y + m[8] + place.z * n[2];
    const double w_plane = m[6] * p.x + m[7] * p.y + m[8];
    if (!(w > 1e-9) || !(w_plane > 1e-9))
        return false;
    seen->at = (LfPoint){(m[0] * x + m[1] * y + m[2] + place.z * n[0]) / w,
                         (m[3] * x + m[4] * y + m[5] + place.z * n[1]) / w};
    seen->shift = (LfPoint){seen->at.x - (m[0] * p.x + m[1] * p.y + m[2]) / w_plane,
                            seen->at.y - (m[3] * p.x + m[4] * p.y + m[5]) / w_plane};
    seen->scale = (1 + place.z / camera->distance) * w_plane / w;
    if (!j)
        return true;
    for (int row = 0; row < 2; row++) {
        const double at = row == 0 ? seen->at.x : seen->at.y, *h = m + 3 * row;
        double *d = j + 3 * row;
        d[0] = (h[0] - at * m[6]) / w;
        d[1] = (h[1] - at * m[7]) / w;
        d[2] = (n[row] - at * n[2]) / w + d[0] * rx + d[1] * ry;
    }
    return true;
}
