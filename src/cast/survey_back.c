/* Finding the back of a shelf among the cells of its relief.
 *
 * What shows between and above packs is mostly one plane, printed faintly or with a pattern that
 * repeats. Few of its cells tell by themselves how deep they are, and those are enough: where it is
 * known, the others need only be asked whether they are part of it. */
#include "cast/survey_back.h"

#include <math.h>

#include "cast/relief_cells.h"
#include "cast/symmetric3.h"

/* Cells count that are trusted so far and lie so deep behind the front, a share of the photo's
 * longer side. */
#define BACK_TRUST 0.5
#define BACK_FROM 0.06
/* They are counted in steps of so much of the side; two steps that hold so many cells together may
 * be the back. */
#define BACK_STEP 0.01
#define BACK_STEPS 30
#define BACK_CELLS 30
/* Cells further off a plane than this share of the side count half: packs stand in steps of some
 * centimetres, the back is even. */
#define BACK_FRONT_SURPRISE 0.02
#define BACK_SURPRISE 0.003
#define BACK_REACH 0.015
#define BACK_ROUNDS 10
/* What slope a plane has before any cell was asked counts like so many cells spread over the photo:
 * none for the front; the front's for the back, which stands upright behind it. */
#define BACK_FRONT_PRIOR 1.0
#define BACK_PRIOR 30.0
/* No cell at all leaves a plane where it was. */
#define BACK_NONE 1e-6

static LfPoint back_place(const LfRelief *relief, int i)
{
    return (LfPoint){(i % relief->columns - (relief->columns - 1) / 2.0) * relief->cell_px,
                     (i / relief->columns - (relief->rows - 1) / 2.0) * relief->cell_px};
}

double lf_survey_back_at(const LfRelief *relief, const LfReliefBack *back, int cell)
{
    const LfPoint at = back_place(relief, cell);
    return back->z0 + back->by_x * at.x + back->by_y * at.y;
}

/* How far a cell that tells stands behind a plane, photo px; NAN where it does not. */
static double back_behind(const LfRelief *relief, const LfReliefBack *plane, int i)
{
    const LfReliefCell *cell = &relief->cells[i];
    return cell->touched && cell->trust > BACK_TRUST ? cell->z - lf_survey_back_at(relief, plane, i)
                                                     : NAN;
}

/* The plane near *plane of the cells within reach_px of it, by weights that fall off with their
 * distance (Cauchy); its slope is drawn to that of *plane by `prior` cells. */
static void back_fit(const LfRelief *relief, double reach_px, double surprise_px, double prior,
                     LfReliefBack *plane)
{
    const LfReliefBack begin = *plane;
    /* Places spread evenly over a side have a twelfth of its square for variance. */
    const double stiff = prior * relief->side * relief->side / 12;
    for (int round = 0; round < BACK_ROUNDS; round++) {
        double a[6] = {BACK_NONE}, b[3] = {0}, x[3], v[6];
        a[3] = a[5] = stiff;
        for (int i = 0; i < relief->columns * relief->rows; i++) {
            const double z = back_behind(relief, &begin, i);
            if (!(fabs(z) <= reach_px))
                continue;
            const LfPoint at = back_place(relief, i);
            const double e = back_behind(relief, plane, i) / surprise_px;
            const double w = 1 / (1 + e * e);
            a[0] += w;
            a[1] += w * at.x;
            a[2] += w * at.y;
            a[3] += w * at.x * at.x;
            a[4] += w * at.x * at.y;
            a[5] += w * at.y * at.y;
            b[0] += w * z;
            b[1] += w * z * at.x;
            b[2] += w * z * at.y;
        }
        lf_symmetric3_solve(a, b, x, v);
        *plane = (LfReliefBack){begin.z0 + x[0], begin.by_x + x[1], begin.by_y + x[2]};
    }
}

/* How far behind the front most of what is deep stands, deeper ones counting for more. */
static bool back_depth(const LfRelief *relief, const LfReliefBack *front, double *z)
{
    int count[BACK_STEPS] = {0};
    double best = 0;
    for (int i = 0; i < relief->columns * relief->rows; i++) {
        const double step = back_behind(relief, front, i) / (BACK_STEP * relief->side);
        if (step > BACK_FROM / BACK_STEP && step < BACK_STEPS)
            count[(int)step]++;
    }
    for (int k = 0; k + 1 < BACK_STEPS; k++) {
        const int n = count[k] + count[k + 1];
        if (n >= BACK_CELLS && n * (k + 1) > best) {
            best = n * (k + 1);
            *z = (k + 1) * BACK_STEP * relief->side;
        }
    }
    return best > 0;
}

bool lf_survey_back(const LfRelief *relief, LfReliefBack *back)
{
    LfReliefBack front = {0, 0, 0};
    double behind = 0;
    back_fit(relief, BACK_FROM * relief->side, BACK_FRONT_SURPRISE * relief->side, BACK_FRONT_PRIOR,
             &front);
    if (!back_depth(relief, &front, &behind))
        return false;
    *back = (LfReliefBack){front.z0 + behind, front.by_x, front.by_y};
    back_fit(relief, BACK_REACH * relief->side, BACK_SURPRISE * relief->side, BACK_PRIOR, back);
    return true;
}
