/* The scene camera's lens; see lens.h. Model: OpenCV 4.6 calib3d documentation, "Detailed
 * Description": x'' = x (1 + k1 r^2 + k2 r^4 + k3 r^6) + 2 p1 x y + p2 (r^2 + 2 x^2), and so on. */
#include "lens.h"

#include <math.h>

#include <glib.h>

static double lens_reach(const double k[5])
{
    for (double r = 0.01; r < 4; r += 0.01) {
        double r2 = r * r;
        if (1 + r2 * (3 * k[0] + r2 * (5 * k[1] + 7 * r2 * k[4])) <= 0)
            return r - 0.01;
    }
    return 4;
}

LrLens lr_lens_new(int width, int height, double field_deg, const double k[5])
{
    double f = width / 2.0 / tan(field_deg / 2 * G_PI / 180);
    LrLens lens = {width, height, f, f, (width - 1) / 2.0, (height - 1) / 2.0, {0}, lens_reach(k)};
    for (int i = 0; i < 5; i++)
        lens.k[i] = k[i];
    return lens;
}

static void lens_bend(const double k[5], double x, double y, double *bx, double *by)
{
    double r2 = x * x + y * y, radial = 1 + r2 * (k[0] + r2 * (k[1] + r2 * k[4]));
    *bx = x * radial + 2 * k[2] * x * y + k[3] * (r2 + 2 * x * x);
    *by = y * radial + k[2] * (r2 + 2 * y * y) + 2 * k[3] * x * y;
}

void lr_lens_project(const LrLens *lens, double x, double y, double *px, double *py)
{
    double bx, by;
    lens_bend(lens->k, x, y, &bx, &by);
    *px = lens->fx * bx + lens->cx;
    *py = lens->fy * by + lens->cy;
}

bool lr_lens_ray(const LrLens *lens, double px, double py, double *x, double *y)
{
    const double *k = lens->k;
    double tx = (px - lens->cx) / lens->fx, ty = (py - lens->cy) / lens->fy;
    double u = tx, v = ty;
    /* Newton with the exact derivative of lens_bend. */
    for (int i = 0; i < 60; i++) {
        double bx, by, r2 = u * u + v * v;
        lens_bend(k, u, v, &bx, &by);
        double radial = 1 + r2 * (k[0] + r2 * (k[1] + r2 * k[4]));
        double slope = 2 * (k[0] + r2 * (2 * k[1] + 3 * r2 * k[4])); /* d radial / d(r2) * 2 */
        double xx = radial + u * u * slope + 2 * k[2] * v + 6 * k[3] * u;
        double xy = u * v * slope + 2 * k[2] * u + 2 * k[3] * v;
        double yy = radial + v * v * slope + 6 * k[2] * v + 2 * k[3] * u;
        double det = xx * yy - xy * xy, ex = tx - bx, ey = ty - by;
        if (!(fabs(det) > 1e-9))
            return false;
        double du = (yy * ex - xy * ey) / det, dv = (xx * ey - xy * ex) / det;
        u += du;
        v += dv;
        if (fabs(du) + fabs(dv) < 1e-13) {
            *x = u;
            *y = v;
            return hypot(u, v) < lens->reach;
        }
    }
    return false;
}
