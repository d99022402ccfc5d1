/* Cells in company of like colour.
 *
 * Packs repeat, and so do their colours; the back of a shelf has one of its own. Where hardly any
 * of the cells that look like this one are known to stand at its depth, what is seen here may be
 * something else, whatever stands beside it. */
#include "cast/survey_company.h"

#include <math.h>

#include "cast/relief_cells.h"
#include "cast/tint.h"

/* Cells are counted by colour in steps of so many grey levels of luma and of both differences, and
 * by depth in steps of this share of the photo's longer side. */
#define COMPANY_LUMA 6
#define COMPANY_TINT 3
#define COMPANY_DEPTH 0.02
/* One step more on each side, so that every cell has neighbours. */
#define COMPANY_LUMAS (256 / COMPANY_LUMA + 3)
#define COMPANY_TINTS (256 / COMPANY_TINT + 3)
#define COMPANY_DEPTHS ((int)((LF_RELIEF_TO - LF_RELIEF_FROM) / COMPANY_DEPTH) + 3)
#define COMPANY_COLOURS (COMPANY_LUMAS * COMPANY_TINTS * COMPANY_TINTS)
/* Few cells say little: so many that half tell are added to each colour's. */
#define COMPANY_PRIOR 5.0

typedef struct {
    const LfPhoto *photo;
    float *all;   /* cells, by colour */
    float *known; /* their trust, by colour and depth */
    int *colour;  /* by cell; -1 where the photo has none */
} Company;

static int company_colour(const LfPhoto *photo, double cell_px, LfPoint at)
{
    double v[3];
    if (!lf_tint_photo(photo, at, cell_px, v))
        return -1;
    const int row = ((int)v[2] / COMPANY_LUMA + 1) * COMPANY_TINTS + (int)v[0] / COMPANY_TINT + 1;
    return row * COMPANY_TINTS + (int)v[1] / COMPANY_TINT + 1;
}

static int company_depth(const LfRelief *relief, int cell)
{
    const double z = relief->cells[cell].near_z / relief->side;
    const double step = isfinite(z) ? (z - LF_RELIEF_FROM) / COMPANY_DEPTH : 0;
    return (int)CLAMP(step, 0, COMPANY_DEPTHS - 3) + 1;
}

/* Counts a cell among those of its colour and, by a quarter to a half of that along each axis, of
 * the next. */
static void company_count(Company *company, int cell, double trust)
{
    static const float share[3] = {0.25F, 0.5F, 0.25F};
    const int depth = company_depth(company->photo->relief, cell);
    for (int i = 0; i < 27; i++) {
        const int dy = i / 9, db = i / 3 % 3, dr = i % 3;
        const int colour =
            company->colour[cell] + ((dy - 1) * COMPANY_TINTS + db - 1) * COMPANY_TINTS + dr - 1;
        const float part = share[dy] * share[db] * share[dr];
        float *known = company->known + (gsize)colour * COMPANY_DEPTHS + depth;
        company->all[colour] += part;
        for (int dz = -1; dz <= 1 && trust > 0; dz++)
            known[dz] += part * (float)trust;
    }
}

double *lf_survey_company(const LfPhoto *photo, const double *trust)
{
    const LfRelief *relief = photo->relief;
    const int n = relief->columns * relief->rows;
    Company company = {photo, g_new0(float, COMPANY_COLOURS),
                       g_new0(float, (gsize)COMPANY_COLOURS *COMPANY_DEPTHS), g_new(int, n)};
    double *out = g_new(double, n);
    for (int i = 0; i < n; i++) {
        const LfPoint at = {(i % relief->columns + 0.5) * relief->cell_px,
                            (i / relief->columns + 0.5) * relief->cell_px};
        company.colour[i] = company_colour(photo, relief->cell_px, at);
        if (company.colour[i] >= 0)
            company_count(&company, i, trust[i]);
    }
    for (int i = 0; i < n; i++) {
        const int colour = company.colour[i];
        out[i] = 0.5;
        if (colour >= 0)
            out[i] = ((double)company
                          .known[(gsize)colour * COMPANY_DEPTHS + (gsize)company_depth(relief, i)] +
                      COMPANY_PRIOR / 2) /
                     ((double)company.all[colour] + COMPANY_PRIOR);
    }
    g_free(company.all);
    g_free(company.known);
    g_free(company.colour);
    return out;
}
