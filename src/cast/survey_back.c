/* Finding the back of a shelf among the cells of its relief.
 *
 * What shows between and above packs is mostly one plane, printed faintly or with a pattern that
 * repeats. Few of its cells tell by themselves how deep they are, and those are enough: where it is
 * known, the others need only be asked whether they are part of it. */
#include "cast/survey_back.h"

#include <math.h>

#include "cast/relief_cells.h"
#include "cast/symmetric3.h"

/* Cells count that are trusted so far and lie so deep, a share of the photo's longer side. */
#define BACK_TRUST 0.5
#define BACK_FROM 0.06
/* They are counted in steps of so much of the side; two steps that hold so many cells together may
 * be the back. */
#define BACK_STEP 0.01
#define BACK_STEPS 30
#define BACK_CELLS 30
/* Cells further off the plane than this share of the side count half, and rounds of that. */
#define BACK_SURPRISE 0.003
#define BACK_REACH 0.015
#define BACK_ROUNDS 10

static bool back_counts(const LfRelief *relief, int i)
{
    const LfReliefCell *cell = &relief->cells[i];
    return cell->touched && cell->trust > BACK_TRUST && cell->z > BACK_FROM * relief->side;
}

/* Where most of what is deep stands, deeper ones counting for more. */
static bool back_depth(const LfRelief *relief, double *z)
{
    int count[BACK_STEPS] = {0};
    double best = 0;
    for (int i = 0; i < relief->columns * relief->rows; i++) {
        const double step = relief->cells[i].z / (BACK_STEP * relief->side);
        if (back_counts(relief, i) && step < BACK_STEPS)
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

bool lf_survey_back(const LfRelief *relief, LfReliefBack *back)
{
    double about = 0;
    if (!back_depth(relief, &about))
        return false;
    *back = (LfReliefBack){about, 0, 0};
    for (int round = 0; round < BACK_ROUNDS; round++) {
        double a[6] = {0}, b[3] = {0}, x[3], v[6];
        /* A back stands upright behind the front unless many cells say otherwise. */
        a[3] = a[5] = 1e-3 * relief->side * relief->side;
        for (int i = 0; i < relief->columns * relief->rows; i++) {
            const double z = relief->cells[i].z;
            if (!back_counts(relief, i) || fabs(z - about) > BACK_REACH * relief->side)
                continue;
            const LfPoint at = back_place(relief, i);
            const double e =
                (z - lf_survey_back_at(relief, back, i)) / (BACK_SURPRISE * relief->side);
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
        *back = (LfReliefBack){x[0], x[1], x[2]};
    }
    return true;
}
