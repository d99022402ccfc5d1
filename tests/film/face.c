/* A face that nobody has. */
#include "film/face.h"

#include <math.h>

typedef struct {
    double x, y;
} At;

static double ellipse(At p, double cx, double cy, double rx, double ry, double edge)
{
    const double dx = (p.x - cx) / rx, dy = (p.y - cy) / ry;
    return 1 / (1 + exp(fmin(50, edge * (dx * dx + dy * dy - 1))));
}

static void put(double *value, double share, double ink)
{
    *value = *value * (1 - share) + ink * share;
}

static void features(double *v, At p)
{
    for (int side = -1; side <= 1; side += 2) {
        put(v, 0.75 * ellipse(p, side * 0.27, -0.08, 0.20, 0.11, 6), 90);  /* socket */
        put(v, 0.80 * ellipse(p, side * 0.27, -0.24, 0.20, 0.045, 5), 60); /* brow */
        put(v, ellipse(p, side * 0.27, -0.07, 0.09, 0.06, 8), 25);
        put(v, 0.50 * ellipse(p, side * 0.38, 0.28, 0.14, 0.14, 3), 215); /* cheek */
        put(v, 0.70 * ellipse(p, side * 0.09, 0.33, 0.05, 0.035, 5), 90); /* nostril */
    }
    put(v, 0.60 * ellipse(p, 0, 0.12, 0.07, 0.26, 4), 225); /* ridge of the nose */
    put(v, 0.40 * ellipse(p, 0, 0.40, 0.14, 0.04, 4), 120);
    put(v, 0.85 * ellipse(p, 0, 0.56, 0.25, 0.06, 5), 85); /* mouth */
    put(v, 0.40 * ellipse(p, 0, 0.70, 0.20, 0.05, 4), 140);
}

void face_draw(uint8_t *luma, int width, int height, ptrdiff_t stride, double x, double y, int size,
               int eyes)
{
    for (int v = 0; v < size; v++)
        for (int u = 0; u < size; u++) {
            const int column = (int)lround(x) + u, row = (int)lround(y) + v;
            const At p = {(u + 0.5) / size * 2 - 1, (v + 0.5) / size * 2 - 1};
            if (column < 0 || row < 0 || column >= width || row >= height)
                continue;
            uint8_t *pixel = luma + row * stride + column;
            double value = *pixel;
            put(&value, ellipse(p, 0, 0, 0.72, 0.95, 12), 40);   /* hair */
            put(&value, ellipse(p, 0, 0.12, 0.6, 0.8, 12), 190); /* skin */
            put(&value, ellipse(p, 0, -0.72, 0.62, 0.25, 6), 50);
            if (eyes)
                features(&value, p);
            *pixel = (uint8_t)lround(value);
        }
}
