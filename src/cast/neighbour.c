#include "cast/neighbour.h"

#include <math.h>
#include <string.h>

#include "cast/relief.h"
#include "cast/solve.h"

#define NEIGHBOUR_PARAM 11
/* Of w at the photo's corner, against its middle. */
#define NEIGHBOUR_LEAST_W 0.1
/* Points of the photo asked for in each view, along and across; those count that are in the frame
 * or out of it by less than this share of its width, and so many at the least. */
#define NEIGHBOUR_GRID 5
#define NEIGHBOUR_MARGIN 0.1
#define NEIGHBOUR_POINTS 3
/* Views that must agree, and the share of all by their worth: where a photo was taken for the next
 * facing for a while, these views agree with each other too. */
#define NEIGHBOUR_VIEWS 2
#define NEIGHBOUR_SHARE 0.4
/* A view agrees up to this, a share of the frame's width (7 px of 1080p); views this far off count
 * a quarter, by round: at first all are taken to be in one plane. */
#define NEIGHBOUR_AGREE 0.0035
static const double NEIGHBOUR_SCALE[] = {0.05, 0.03, 0.015, 0.008, 0.004, 0.002, 0.002, 0.002};
/* What one view tells is worth so many points, with this noise, a share of the width: what is off
 * in a pose is off in all of its points. */
#define NEIGHBOUR_WORTH 4
#define NEIGHBOUR_NOISE 0.003
/* What is likely before any view was looked at: the other plane's slopes and distance in sides of
 * the other photo, how far from alike in x and y the mapping is, and how far from square to its
 * plane the photo was taken. Scale, turn and place (FREE) may be anything. */
#define NEIGHBOUR_SLOPE 0.15
#define NEIGHBOUR_FREE 100
#define NEIGHBOUR_ALIKE 0.03
#define NEIGHBOUR_ASLANT 0.03

typedef struct {
    LfPoint at[NEIGHBOUR_GRID * NEIGHBOUR_GRID];  /* undistorted frame px */
    double u[NEIGHBOUR_GRID * NEIGHBOUR_GRID][3]; /* the photo's point in sides, and 1 */
    double space[3][4];                           /* frame from the other's space, in its sides */
    double width;                                 /* of the frame, px */
    double worth;
    int n;
} NeighbourLook;

/* What both sizes make of m in sides: rows x, y, z times by_side, columns u, v over side, and u
 * measured from the photo's middle. */
typedef struct {
    double side, by_side;
    LfPoint middle;
} NeighbourUnit;

static bool neighbour_space(const LfMat3 *by, const LfLens *lens, double by_side,
                            double space[3][4])
{
    LfReliefView view;
    if (!lf_relief_view(&view, by, lens))
        return false;
    for (int r = 0; r < 3; r++) {
        space[r][0] = by->m[3 * r] * by_side;
        space[r][1] = by->m[3 * r + 1] * by_side;
        space[r][2] = view.h3[r] * by_side;
        space[r][3] = by->m[3 * r + 2];
    }
    return true;
}

static bool neighbour_look(const LfNeighbourView *view, const NeighbourUnit *unit, int width,
                           int height, NeighbourLook *look)
{
    const double margin = NEIGHBOUR_MARGIN * view->lens->width;
    look->n = 0;
    look->width = view->lens->width;
    look->worth = view->worth;
    if (!neighbour_space(&view->by, view->lens, unit->by_side, look->space))
        return false;
    for (int i = 0; i < NEIGHBOUR_GRID * NEIGHBOUR_GRID; i++) {
        const LfPoint p = {(i % NEIGHBOUR_GRID + 0.5) / NEIGHBOUR_GRID * width,
                           ((double)(i / NEIGHBOUR_GRID) + 0.5) / NEIGHBOUR_GRID * height};
        LfPoint at;
        if (!lf_mat3_apply(&view->frame_from_photo, p, &at))
            continue;
        const LfPoint shown = lf_lens_distort(view->lens, at);
        if (!(shown.x >= -margin && shown.y >= -margin && shown.x <= view->lens->width + margin &&
              shown.y <= view->lens->height + margin))
            continue;
        look->at[look->n] = at;
        look->u[look->n][0] = (p.x - unit->middle.x) / unit->side;
        look->u[look->n][1] = (p.y - unit->middle.y) / unit->side;
        look->u[look->n][2] = 1;
        look->n++;
    }
    return look->n >= NEIGHBOUR_POINTS;
}

/* b: m in sides. */
static bool neighbour_project(const NeighbourLook *look, const double b[12], int i, double out[3])
{
    double x[4];
    for (int r = 0; r < 4; r++)
        x[r] = b[3 * r] * look->u[i][0] + b[3 * r + 1] * look->u[i][1] + b[3 * r + 2];
    for (int r = 0; r < 3; r++)
        out[r] = look->space[r][0] * x[0] + look->space[r][1] * x[1] + look->space[r][2] * x[2] +
                 look->space[r][3] * x[3];
    return out[2] > 1e-9;
}

/* Root mean square of what is off in a view, a share of its width. */
static double neighbour_off(const NeighbourLook *look, const double b[12])
{
    double sum = 0;
    for (int i = 0; i < look->n; i++) {
        double s[3];
        if (!neighbour_project(look, b, i, s))
            return HUGE_VAL;
        const double dx = s[0] / s[2] - look->at[i].x, dy = s[1] / s[2] - look->at[i].y;
        sum += dx * dx + dy * dy;
    }
    return sqrt(sum / look->n) / look->width;
}

/* m in sides were both photos in one plane, as this view shows them. */
static bool neighbour_guess(const LfNeighbourView *view, const NeighbourUnit *unit, double b[12])
{
    LfMat3 back;
    if (!lf_mat3_invert(&view->by, &back))
        return false;
    const LfMat3 h = lf_mat3_mul(&back, &view->frame_from_photo);
    const double one = h.m[6] * unit->middle.x + h.m[7] * unit->middle.y + h.m[8];
    if (!(fabs(one) > 1e-12))
        return false;
    memset(b, 0, 12 * sizeof *b);
    for (int r = 0; r < 3; r++) {
        double *out = b + 3 * (r < 2 ? r : 3);
        const double size = r < 2 ? unit->by_side : 1;
        const double middle =
            h.m[3 * r] * unit->middle.x + h.m[3 * r + 1] * unit->middle.y + h.m[3 * r + 2];
        out[0] = h.m[3 * r] * unit->side / size / one;
        out[1] = h.m[3 * r + 1] * unit->side / size / one;
        out[2] = middle / size / one;
    }
    return true;
}

/* Normal equations: a x = b, the lower half of a. */
typedef struct {
    double a[NEIGHBOUR_PARAM][NEIGHBOUR_PARAM], b[NEIGHBOUR_PARAM];
} NeighbourSums;

/* One view's points, linear in m where w is as it was before. */
static void neighbour_add(const NeighbourLook *look, const double b[12], double weight,
                          NeighbourSums *sums)
{
    const double each = weight * NEIGHBOUR_WORTH / look->n;
    for (int i = 0; i < look->n; i++) {
        double s[3];
        if (!neighbour_project(look, b, i, s))
            continue;
        for (int axis = 0; axis < 2; axis++) {
            const double at = axis == 0 ? look->at[i].x : look->at[i].y;
            double row[12];
            for (int k = 0; k < 12; k++)
                row[k] = (look->space[axis][k / 3] - at * look->space[2][k / 3]) *
                         look->u[i][k % 3] / s[2] / (NEIGHBOUR_NOISE * look->width);
            for (int j = 0; j < NEIGHBOUR_PARAM; j++) {
                for (int k = 0; k <= j; k++)
                    sums->a[j][k] += each * row[j] * row[k];
                sums->b[j] -= each * row[j] * row[11];
            }
        }
    }
}

static void neighbour_prior(NeighbourSums *sums)
{
    const double free = 1 / (NEIGHBOUR_FREE * NEIGHBOUR_FREE);
    const double slope = 1 / (NEIGHBOUR_SLOPE * NEIGHBOUR_SLOPE);
    const double aslant = 1 / (NEIGHBOUR_ASLANT * NEIGHBOUR_ASLANT);
    const double alike = 1 / (NEIGHBOUR_ALIKE * NEIGHBOUR_ALIKE);
    for (int k = 0; k < NEIGHBOUR_PARAM; k++)
        sums->a[k][k] += k < 6 ? free : k < 9 ? slope : aslant;
    /* Of a photo in a parallel plane x by u is y by v, and x by v is -y by u. */
    sums->a[0][0] += alike;
    sums->a[4][4] += alike;
    sums->a[4][0] -= alike;
    sums->a[1][1] += alike;
    sums->a[3][3] += alike;
    sums->a[3][1] += alike;
}

static double neighbour_weight(const NeighbourLook *look, const double b[12], double scale)
{
    const double off = neighbour_off(look, b), e = off / scale;
    return isfinite(off) ? look->worth / ((1 + e * e) * (1 + e * e)) : 0;
}

static bool neighbour_round(const NeighbourLook *looks, int n, double scale, double b[12])
{
    NeighbourSums sums = {0};
    double x[NEIGHBOUR_PARAM];
    for (int i = 0; i < n; i++)
        neighbour_add(&looks[i], b, neighbour_weight(&looks[i], b, scale), &sums);
    neighbour_prior(&sums);
    memcpy(x, sums.b, sizeof x);
    if (!lf_solve_positive(&sums.a[0][0], x, NEIGHBOUR_PARAM))
        return false;
    memcpy(b, x, sizeof x);
    b[11] = 1;
    return true;
}

/* Of the views, the one whose guess most of the others come nearest to. */
static bool neighbour_begin(const LfNeighbourView *views, const NeighbourLook *looks, int n,
                            const NeighbourUnit *unit, double b[12])
{
    double best = 0;
    for (int i = 0; i < n; i++) {
        double guess[12], sum = 0;
        if (!neighbour_guess(&views[i], unit, guess))
            continue;
        for (int k = 0; k < n; k++)
            sum += neighbour_weight(&looks[k], guess, NEIGHBOUR_SCALE[1]);
        if (sum > best) {
            best = sum;
            memcpy(b, guess, sizeof guess);
        }
    }
    return best > 0;
}

static bool neighbour_judge(const NeighbourLook *looks, int n, const double b[12], LfNeighbour *out)
{
    double sum = 0, agree = 0, all = 0;
    out->views = 0;
    for (int i = 0; i < n; i++) {
        const double off = neighbour_off(&looks[i], b);
        all += looks[i].worth;
        if (!(off <= NEIGHBOUR_AGREE))
            continue;
        sum += off * off * looks[i].width * looks[i].width;
        agree += looks[i].worth;
        out->views++;
    }
    out->sigma_px = sqrt(sum / MAX(out->views, 1));
    return out->views >= NEIGHBOUR_VIEWS && agree >= NEIGHBOUR_SHARE * all;
}

/* Back to px. False where the photo is so slanted that its corner is behind the camera. */
static bool neighbour_finish(const double b[12], const NeighbourUnit *unit, double m[12])
{
    for (int r = 0; r < 4; r++) {
        const double size = r < 3 ? unit->by_side : 1;
        m[3 * r] = size * b[3 * r] / unit->side;
        m[3 * r + 1] = size * b[3 * r + 1] / unit->side;
        m[3 * r + 2] =
            size * b[3 * r + 2] - m[3 * r] * unit->middle.x - m[3 * r + 1] * unit->middle.y;
    }
    const double w = m[11];
    for (int i = 0; i < 12; i++)
        m[i] /= w;
    return w > NEIGHBOUR_LEAST_W && lf_neighbour_sound(m);
}

bool lf_neighbour_sound(const double m[12])
{
    for (int i = 0; i < 12; i++)
        if (!isfinite(m[i]))
            return false;
    return true;
}

bool lf_neighbour_fit(const LfNeighbourView *views, int n, int width, int height, double by_side,
                      LfNeighbour *out)
{
    const NeighbourUnit unit = {MAX(width, height), by_side, {width / 2.0, height / 2.0}};
    g_autofree NeighbourLook *looks = g_new(NeighbourLook, n + 1);
    g_autofree LfNeighbourView *kept = g_new(LfNeighbourView, n + 1);
    double b[12];
    int m = 0;
    for (int i = 0; i < n; i++)
        if (neighbour_look(&views[i], &unit, width, height, &looks[m]))
            kept[m++] = views[i];
    if (m < NEIGHBOUR_VIEWS || !neighbour_begin(kept, looks, m, &unit, b))
        return false;
    for (gsize round = 0; round < G_N_ELEMENTS(NEIGHBOUR_SCALE); round++)
        if (!neighbour_round(looks, m, NEIGHBOUR_SCALE[round], b))
            return false;
    LfNeighbour fitted = {.by = out->by};
    if (!neighbour_judge(looks, m, b, &fitted) || !neighbour_finish(b, &unit, fitted.m))
        return false;
    *out = fitted;
    return true;
}

bool lf_neighbour_place(const LfNeighbour *neighbour, const LfMat3 *by, const LfLens *lens,
                        LfMat3 *frame_from_photo)
{
    double space[3][4];
    LfMat3 h;
    if (!neighbour_space(by, lens, 1, space))
        return false;
    for (int r = 0; r < 3; r++)
        for (int c = 0; c < 3; c++) {
            h.m[3 * r + c] = 0;
            for (int k = 0; k < 4; k++)
                h.m[3 * r + c] += space[r][k] * neighbour->m[3 * k + c];
        }
    *frame_from_photo = lf_mat3_normalize(&h);
    for (int i = 0; i < 9; i++)
        if (!isfinite(frame_from_photo->m[i]))
            return false;
    return true;
}

bool lf_neighbour_foretell(const LfNeighbour *neighbours, int n, const LfNeighbourSeen *seen,
                           int n_seen, const LfLens *lens, LfForetold *out)
{
    double best = 0;
    for (int k = 0; k < n; k++)
        for (int i = 0; i < n_seen; i++) {
            LfMat3 one;
            if (seen[i].mark != neighbours[k].by || !seen[i].frame_from_photo ||
                seen[i].worth <= best ||
                !lf_neighbour_place(&neighbours[k], seen[i].frame_from_photo, lens, &one))
                continue;
            best = seen[i].worth;
            *out = (LfForetold){one, &neighbours[k], i};
        }
    return best > 0;
}
