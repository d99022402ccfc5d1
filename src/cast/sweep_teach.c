/* From agreements by cell and depth to a relief. */
#include "cast/sweep.h"

#include <math.h>

#include "cast/sweep_cells.h"

/* A depth is told apart by so many frames at the least, when its mean agreement is this high ... */
#define TEACH_MIN_VIEWS 3
#define TEACH_MIN_SCORE 0.45
/* ... and higher by this than that of any other depth more than TEACH_APART bins off. */
#define TEACH_MIN_LEAD 0.06
#define TEACH_MANY_VIEWS 20
#define TEACH_APART 6
/* A cell that says nothing is taken to be part of what stands on all four sides of it, where those
 * are at most so many cells away and differ by no more than so many photo px of depth per px of the
 * longer side: a blank part of a pack. Measured on rendered shelves: 96 to 99% of them are. */
#define TEACH_FILL 6
#define TEACH_FILL_SAME 0.005
#define TEACH_FILL_STEPS 2
/* Where the depths found agree by less than this more than the plane does, the photo is flat as far
 * as a sweep can tell. */
#define TEACH_FLAT_GAIN 0.04
/* Cells that must tell before any of them is believed. */
#define TEACH_MIN_DECIDED 50

/* Few views agree by chance. */
static double teach_lead(int views)
{
    return TEACH_MIN_LEAD * MAX(1, sqrt((double)TEACH_MANY_VIEWS / views));
}

/* The depth at which the mean agreement peaks; false where another one agrees nearly as well. */
static bool teach_peak(const LfSweep *sweep, const int score[LF_SWEEP_BINS], int views, double *z)
{
    int best = 0, second = 0;
    for (int i = 1; i < LF_SWEEP_BINS; i++)
        if (score[i] > score[best])
            best = i;
    for (int i = 0; i < LF_SWEEP_BINS; i++)
        if (abs(i - best) > TEACH_APART)
            second = MAX(second, score[i]);
    if (score[best] < TEACH_MIN_SCORE * LF_SWEEP_WHOLE * views ||
        score[best] - second < teach_lead(views) * LF_SWEEP_WHOLE * views)
        return false;
    double offset = 0;
    if (best > 0 && best < LF_SWEEP_BINS - 1) {
        const double l = score[best - 1], c = score[best], r = score[best + 1],
                     bend = l - 2 * c + r;
        offset = bend < 0 ? CLAMP(0.5 * (l - r) / bend, -0.5, 0.5) : 0;
    }
    *z = sweep->from + (best + offset) * sweep->step;
    return true;
}

double lf_sweep_agreement(const LfSweep *sweep)
{
    double sum = 0, views = 0;
    for (int i = 0; i < sweep->n_cells; i++) {
        const LfSweepCell *cell = &sweep->cells[i];
        int best = 0;
        for (int b = 0; b < LF_SWEEP_BINS; b++)
            best = MAX(best, cell->score[b]);
        sum += best;
        views += cell->views;
    }
    return views > 0 ? sum / LF_SWEEP_WHOLE / views : 0;
}

/* How much better the best depth agrees than the plane, 0..1. */
static double teach_gain(const LfSweep *sweep, const LfSweepCell *cell)
{
    const int plane = (int)(-sweep->from / sweep->step);
    int best = 0;
    for (int i = 0; i < LF_SWEEP_BINS; i++)
        best = MAX(best, cell->score[i]);
    const int flat = MAX(cell->score[plane], cell->score[plane + 1]);
    return (double)(best - flat) / LF_SWEEP_WHOLE / cell->views;
}

/* What is known so far, by cell of the relief. */
typedef struct {
    const LfSweep *sweep;
    const LfSweepCell **swept; /* NULL where the cell was not, or not often enough */
    double *z;                 /* NAN where nothing is told */
} TeachMap;

/* The nearest cell that tells in one direction. */
static bool teach_toward(const TeachMap *map, int column, int row, int dx, int dy, double *z)
{
    const LfReliefGrid *grid = &map->sweep->grid;
    for (int k = 1; k <= TEACH_FILL; k++) {
        const int x = column + k * dx, y = row + k * dy;
        if (x < 0 || y < 0 || x >= grid->columns || y >= grid->rows)
            return false;
        *z = map->z[y * grid->columns + x];
        if (isfinite(*z))
            return true;
    }
    return false;
}

static bool teach_fill(const TeachMap *map, int index, double *z)
{
    const LfReliefGrid *grid = &map->sweep->grid;
    const int column = index % grid->columns, row = index / grid->columns;
    const double same =
        TEACH_FILL_SAME * MAX(map->sweep->photo->report.width, map->sweep->photo->report.height);
    double l, r, u, d;
    if (!teach_toward(map, column, row, -1, 0, &l) || !teach_toward(map, column, row, 1, 0, &r) ||
        !teach_toward(map, column, row, 0, -1, &u) || !teach_toward(map, column, row, 0, 1, &d) ||
        fabs(l - r) > same || fabs(u - d) > same)
        return false;
    *z = (l + r + u + d) / 4;
    return true;
}

/* Cells that tell by themselves: how many, and how much better they agree than the plane. */
static int teach_decide(TeachMap *map, double *gain)
{
    const LfSweep *sweep = map->sweep;
    int n = 0;
    *gain = 0;
    for (int i = 0; i < sweep->n_cells; i++) {
        const LfSweepCell *cell = &sweep->cells[i];
        double z;
        if (cell->views < TEACH_MIN_VIEWS)
            continue;
        map->swept[cell->index] = cell;
        if (!teach_peak(sweep, cell->score, cell->views, &z))
            continue;
        map->z[cell->index] = z;
        *gain += teach_gain(sweep, cell);
        n++;
    }
    return n;
}

static void teach_rest(const TeachMap *map, LfRelief *relief)
{
    const int n = map->sweep->grid.columns * map->sweep->grid.rows;
    for (int i = 0; i < n; i++) {
        double z;
        if (isfinite(map->z[i])) {
            lf_relief_tell(relief, i, map->z[i], map->sweep->step);
            continue;
        }
        if (map->swept[i])
            lf_relief_bar(relief, i);
        if (teach_fill(map, i, &z))
            lf_relief_tell(relief, i, z, TEACH_FILL_STEPS * map->sweep->step);
    }
}

void lf_sweep_teach(const LfSweep *sweep, LfRelief *relief)
{
    const int n = sweep->grid.columns * sweep->grid.rows;
    g_autofree const LfSweepCell **swept = g_new0(const LfSweepCell *, n);
    g_autofree double *depth = g_new(double, n);
    TeachMap map = {sweep, swept, depth};
    double gain;
    for (int i = 0; i < n; i++)
        depth[i] = NAN;
    const int decided = teach_decide(&map, &gain);
    if (decided < TEACH_MIN_DECIDED) /* the photo was hardly seen */
        return;
    lf_relief_reset(relief);
    teach_rest(&map, relief);
    lf_relief_told(relief, gain < TEACH_FLAT_GAIN * decided);
}
