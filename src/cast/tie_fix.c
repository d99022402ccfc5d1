/* Fitting a mapping to ties. */
#include "cast/tie_fix.h"

#include <math.h>

/* Points nearer than this, px, are the same point: a hand on the mouse is no steadier. */
#define TIE_FIX_SAME_PX 2.0
/* Three points are on a line where their triangle is lower than this share of its longest side. */
#define TIE_FIX_LINE 0.03

static double tie_fix_height(LfPoint a, LfPoint b, LfPoint c)
{
    const double area = fabs((b.x - a.x) * (c.y - a.y) - (c.x - a.x) * (b.y - a.y));
    const double longest = MAX(MAX(hypot(b.x - a.x, b.y - a.y), hypot(c.x - a.x, c.y - a.y)),
                               hypot(c.x - b.x, c.y - b.y));
    return longest > 0 ? area / (longest * longest) : 0;
}

/* The best triangle that leaves out the tie `without` (-1 for none). */
static double tie_fix_best_height(const LfTiePoint *ties, int n, int without, bool on_photo)
{
    double best = 0;
    for (int i = 0; i < n; i++)
        for (int j = i + 1; j < n; j++)
            for (int k = j + 1; k < n; k++) {
                if (i == without || j == without || k == without)
                    continue;
                const double height =
                    on_photo ? tie_fix_height(ties[i].photo, ties[j].photo, ties[k].photo)
                             : tie_fix_height(ties[i].frame, ties[j].frame, ties[k].frame);
                best = MAX(best, height);
            }
    return best;
}

/* Three points need a triangle; four and more need one whichever of them is left out. */
static bool tie_fix_on_line(const LfTiePoint *ties, int n)
{
    if (n < 3)
        return false;
    for (int without = n == 3 ? n - 1 : 0; without < n; without++)
        for (int on_photo = 0; on_photo < 2; on_photo++)
            if (tie_fix_best_height(ties, n, n == 3 ? -1 : without, on_photo) < TIE_FIX_LINE)
                return true;
    return false;
}

const char *lf_tie_fault(const LfTiePoint *ties, int n)
{
    for (int i = 0; i < n; i++)
        for (int k = i + 1; k < n; k++) {
            const LfTiePoint *a = &ties[i], *b = &ties[k];
            if (hypot(a->frame.x - b->frame.x, a->frame.y - b->frame.y) < TIE_FIX_SAME_PX)
                return "two ties start from the same point of the frame; remove one";
            if (hypot(a->photo.x - b->photo.x, a->photo.y - b->photo.y) < TIE_FIX_SAME_PX)
                return "two ties end on the same point of the photo; remove one";
        }
    if (tie_fix_on_line(ties, n))
        return n == 3 ? "the three ties lie on one line and fix nothing across it; move one away "
                        "from the line or remove it"
                      : "all ties, or all but one, lie on one line and fix nothing across it; "
                        "spread them out";
    return NULL;
}

static LfPoint tie_fix_mean(const LfPoint *p, int n)
{
    LfPoint mean = {0, 0};
    for (int i = 0; i < n; i++)
        mean = (LfPoint){mean.x + p[i].x / n, mean.y + p[i].y / n};
    return mean;
}

/* Least-squares similarity dst_from_src without mirroring (S. Umeyama, IEEE PAMI 13 (1991) 376-380,
 * doi:10.1109/34.88573, in the plane). */
static bool tie_fix_similarity(const LfPoint *dst, const LfPoint *src, int n, LfMat3 *out)
{
    const LfPoint d = tie_fix_mean(dst, n), s = tie_fix_mean(src, n);
    double a = 0, b = 0, square = 0;
    for (int i = 0; i < n; i++) {
        const double sx = src[i].x - s.x, sy = src[i].y - s.y;
        const double dx = dst[i].x - d.x, dy = dst[i].y - d.y;
        a += sx * dx + sy * dy;
        b += sx * dy - sy * dx;
        square += sx * sx + sy * sy;
    }
    if (!(square > 1e-9) || !(a * a + b * b > 0))
        return false;
    a /= square;
    b /= square;
    *out = (LfMat3){{a, -b, d.x - a * s.x + b * s.y, b, a, d.y - b * s.x - a * s.y, 0, 0, 1}};
    return true;
}

/* The affine map through three points. */
static bool tie_fix_affine(const LfPoint *dst, const LfPoint *src, LfMat3 *out)
{
    const LfMat3 d = {{dst[0].x, dst[1].x, dst[2].x, dst[0].y, dst[1].y, dst[2].y, 1, 1, 1}};
    const LfMat3 s = {{src[0].x, src[1].x, src[2].x, src[0].y, src[1].y, src[2].y, 1, 1, 1}};
    LfMat3 inverse;
    if (!lf_mat3_invert(&s, &inverse))
        return false;
    *out = lf_mat3_mul(&d, &inverse);
    out->m[6] = out->m[7] = 0;
    out->m[8] = 1;
    return true;
}

/* Moves the prior along the photo so that the ties' middle is met: frame = prior (photo + shift).
 */
static bool tie_fix_on_photo(const LfTiePoint *ties, int n, LfMat3 *map)
{
    LfMat3 back;
    LfPoint shift = {0, 0};
    if (!lf_mat3_invert(map, &back))
        return false;
    for (int i = 0; i < n; i++) {
        LfPoint was;
        if (!lf_mat3_apply(&back, ties[i].frame, &was))
            return false;
        shift.x += (was.x - ties[i].photo.x) / n;
        shift.y += (was.y - ties[i].photo.y) / n;
    }
    const LfMat3 move = lf_mat3_translation(shift.x, shift.y);
    *map = lf_mat3_mul(map, &move);
    return true;
}

/* Corrects the mapping in the frame by what the ties' number allows. */
static bool tie_fix_in_frame(const LfTiePoint *ties, int n, LfMat3 *map)
{
    LfPoint src[3], dst[3];
    LfMat3 change;
    for (int i = 0; i < n; i++) {
        dst[i] = ties[i].frame;
        if (!lf_mat3_apply(map, ties[i].photo, &src[i]))
            return false;
    }
    if (n == 1)
        change = lf_mat3_translation(dst[0].x - src[0].x, dst[0].y - src[0].y);
    else if (!(n == 2 ? tie_fix_similarity(dst, src, n, &change)
                      : tie_fix_affine(dst, src, &change)))
        return false;
    *map = lf_mat3_mul(&change, map);
    return true;
}

static bool tie_fix_homography(const LfTiePoint *ties, int n, LfMat3 *map)
{
    g_autofree LfPoint *frame = g_new(LfPoint, n), *photo = g_new(LfPoint, n);
    for (int i = 0; i < n; i++) {
        frame[i] = ties[i].frame;
        photo[i] = ties[i].photo;
    }
    return lf_homography_fit(frame, photo, NULL, n, map, NULL);
}

/* A view of a picture neither mirrors nor folds it. */
static bool tie_fix_upright(const LfTiePoint *ties, int n, const LfMat3 *map)
{
    for (int i = 0; i < n; i++) {
        double j[4];
        if (!lf_mat3_jacobian(map, ties[i].photo, j) || !(j[0] * j[3] - j[1] * j[2] > 0))
            return false;
    }
    return true;
}

bool lf_tie_fix(const LfTiePoint *ties, int n, const LfMat3 *prior, LfTieWay way, LfMat3 *out)
{
    LfMat3 map = prior ? *prior : lf_mat3_identity();
    if (n < 1 || (n == 1 && !prior))
        return false;
    if (n >= 4) {
        if (!tie_fix_homography(ties, n, &map))
            return false;
    } else if ((prior && way == LF_TIE_ON_PHOTO && !tie_fix_on_photo(ties, n, &map)) ||
               !tie_fix_in_frame(ties, n, &map)) {
        return false;
    }
    if (!tie_fix_upright(ties, n, &map))
        return false;
    *out = lf_mat3_normalize(&map);
    return true;
}

double lf_tie_miss_px(const LfTiePoint *ties, int n, const LfMat3 *frame_from_photo)
{
    double worst = 0;
    for (int i = 0; i < n; i++) {
        LfPoint p;
        if (!lf_mat3_apply(frame_from_photo, ties[i].photo, &p))
            return HUGE_VAL;
        worst = MAX(worst, hypot(p.x - ties[i].frame.x, p.y - ties[i].frame.y));
    }
    return worst;
}
