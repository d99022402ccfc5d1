/* The geometry of a frame's view of a photo's plane, and of what stands behind it. */
#include "cast/relief.h"

#include <math.h>

bool lf_relief_view(LfReliefView *view, const LfMat3 *frame_from_photo, const LfLens *lens)
{
    const LfMat3 *h = frame_from_photo;
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

bool lf_relief_project(const LfReliefCamera *camera, const LfReliefView *view, LfPoint p,
                       LfReliefPlace place, LfReliefSeen *seen, double j[6])
{
    const double rx = (p.x - camera->middle.x) / camera->distance;
    const double ry = (p.y - camera->middle.y) / camera->distance;
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
