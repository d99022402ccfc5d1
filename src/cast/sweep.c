/* The plane sweep behind a photo's relief. */
#include "cast/sweep.h"

#include <math.h>

#include "cast/patch.h"
#include "cast/select.h"

/* Depths tried: from before the plane to behind it, as shares of the photo's longer side. Shelves
 * are a quarter as deep as they are wide (common practice: 0.4 to 0.5 m of 1.2 to 2.5 m). */
#define SWEEP_FROM -0.06
#define SWEEP_TO 0.30
#define SWEEP_BINS 128
/* The patch is laid anew for each so many depths, since what stands back looks smaller. */
#define SWEEP_LAY 32
/* Depths between which a place in the frame is computed exactly. */
#define SWEEP_NODE 8
/* The frame's pyramid level compared on. */
#define SWEEP_LEVEL 0
/* Agreements are added as whole numbers, so that the order of frames does not matter. */
#define SWEEP_WHOLE 1000
/* A depth is told apart by so many frames at the least, when its mean agreement is this high ... */
#define SWEEP_MIN_VIEWS 3
#define SWEEP_MIN_SCORE 0.45
/* ... and higher by this than that of any other depth more than SWEEP_APART bins off. */
#define SWEEP_MIN_LEAD 0.06
#define SWEEP_APART 6
/* Cells around that speak together, and how many there must be; what they say is so many steps of
 * depth uncertain. */
#define SWEEP_AROUND 4
#define SWEEP_MIN_CELLS 6
#define SWEEP_TOGETHER_STEPS 3
/* Where the depths found agree by less than this more than the plane does, the photo is flat as far
 * as a sweep can tell. */
#define SWEEP_FLAT_GAIN 0.04
/* Cells that must tell before any of them is believed. */
#define SWEEP_MIN_DECIDED 50

typedef struct {
    LfPoint anchor; /* the strongest corner in the cell, photo px */
    bool has;
    int views;
    int score[SWEEP_BINS]; /* sums over views, SWEEP_WHOLE for an agreement of 1 */
} SweepCell;

struct LfSweep {
    const LfPhoto *photo;
    LfReliefCamera camera;
    int stride;
    LfReliefGrid grid;
    double from, step; /* of z, photo px */
    GMutex lock;       /* guards the cells' views and scores */
    SweepCell *cells;
};

LfSweep *lf_sweep_new(const LfPhoto *photo, LfReliefCamera camera, int stride)
{
    LfSweep *sweep = g_new0(LfSweep, 1);
    const double side = MAX(photo->report.width, photo->report.height);
    g_mutex_init(&sweep->lock);
    sweep->photo = photo;
    sweep->camera = camera;
    sweep->stride = stride;
    sweep->grid = lf_relief_grid(photo->relief);
    sweep->from = SWEEP_FROM * side;
    sweep->step = (SWEEP_TO - SWEEP_FROM) * side / (SWEEP_BINS - 1);
    sweep->cells = g_new0(SweepCell, sweep->grid.columns * sweep->grid.rows);
    for (int octave = 0; octave < 3; octave++)
        for (int i = 0; i < photo->n_corners[octave]; i++) {
            const LfCorner *corner = &photo->corners[octave][i];
            const int column = (int)((double)corner->x / sweep->grid.cell_px);
            const int row = (int)((double)corner->y / sweep->grid.cell_px);
            SweepCell *cell = &sweep->cells[row * sweep->grid.columns + column];
            if (cell->has)
                continue;
            cell->has = true;
            cell->anchor = (LfPoint){(double)corner->x, (double)corner->y};
        }
    return sweep;
}

void lf_sweep_free(LfSweep *sweep)
{
    if (!sweep)
        return;
    g_mutex_clear(&sweep->lock);
    g_free(sweep->cells);
    g_free(sweep);
}

/* Whole numbers, so that sixteen products a step fit the machine: the patch, zero mean and unit
 * norm, times SWEEP_FINE. */
#define SWEEP_FINE 4096
typedef struct {
    int16_t t[LF_PATCH_AREA];
} SweepPatch;

/* The plane as 16-bit numbers, for the same reason. */
typedef struct {
    int16_t *grey;
    int width, height;
} SweepGrey;

/* Zero-mean normalised cross-correlation of the patch with the picture around an integer position;
 * it must lie inside. */
static double sweep_zncc(const SweepPatch *patch, const SweepGrey *picture, LfPoint at)
{
    const int x = (int)floor(at.x - (LF_PATCH_SIDE - 1) / 2.0 + 0.5);
    const int y = (int)floor(at.y - (LF_PATCH_SIDE - 1) / 2.0 + 0.5);
    int32_t sum = 0, square = 0, cross = 0;
    for (int row = 0; row < LF_PATCH_SIDE; row++) {
        const int16_t *p = picture->grey + (y + row) * picture->width + x;
        const int16_t *t = patch->t + row * LF_PATCH_SIDE;
        for (int col = 0; col < LF_PATCH_SIDE; col++) {
            sum += p[col];
            square += p[col] * p[col];
            cross += p[col] * t[col];
        }
    }
    const double variance = square - (double)sum * sum / LF_PATCH_AREA;
    /* Next to no texture in the frame: noise that agrees with nothing. */
    return variance > 4.0 * LF_PATCH_AREA ? cross / (SWEEP_FINE * sqrt(variance)) : 0;
}

typedef struct {
    LfSweep *sweep;
    const LfLens *lens;
    const LfPlane *plane;
    SweepGrey grey;
    LfReliefView view;
} SweepView;

/* Where the photo point would be seen at depth z: plane px, and undistorted frame px. */
static bool sweep_project(const SweepView *v, LfPoint photo, double z, LfPoint *at)
{
    LfPoint undistorted;
    if (!lf_relief_project(v->sweep->camera, &v->view, photo, z, &undistorted))
        return false;
    *at = lf_plane_from_image(v->plane, lf_lens_distort(v->lens, undistorted));
    return isfinite(at->x) && isfinite(at->y);
}

/* The patch around the anchor as it looks at depth z. */
static bool sweep_lay(const SweepView *v, LfPoint anchor, double z, SweepPatch *out)
{
    LfPatch patch;
    LfPoint a, b, c;
    const double d = 2; /* photo px */
    if (!sweep_project(v, anchor, z, &a) ||
        !sweep_project(v, (LfPoint){anchor.x + d, anchor.y}, z, &b) ||
        !sweep_project(v, (LfPoint){anchor.x, anchor.y + d}, z, &c))
        return false;
    const double xx = (b.x - a.x) / d, yx = (b.y - a.y) / d;
    const double xy = (c.x - a.x) / d, yy = (c.y - a.y) / d;
    const double det = xx * yy - xy * yx;
    if (!(det > 1e-6))
        return false;
    const LfPhoto *photo = v->sweep->photo;
    const LfPlane *source = &photo->level[lf_photo_level_for(photo, 1 / sqrt(det))];
    const double sx = source->scale_x, sy = source->scale_y;
    const double inverse[4] = {yy / det * sx, -xy / det * sx, -yx / det * sy, xx / det * sy};
    if (!lf_patch_make(&patch, source, lf_plane_from_image(source, anchor), inverse,
                       (LfPoint){0, 0}))
        return false;
    for (int i = 0; i < LF_PATCH_AREA; i++)
        out->t[i] = (int16_t)lrintf(patch.t[i] * SWEEP_FINE);
    return true;
}

/* Where the anchor would be seen at all depths, plane px; between every SWEEP_NODE-th the path is
 * as good as straight. False where some of it is out of the picture: depths could not be compared.
 */
static bool sweep_path(const SweepView *v, LfPoint anchor, LfPoint at[SWEEP_BINS])
{
    const double margin = LF_PATCH_SIDE / 2.0 + 1;
    LfPoint last = {0, 0};
    for (int i = 0; i <= SWEEP_BINS; i += SWEEP_NODE) {
        LfPoint node;
        if (!sweep_project(v, anchor, v->sweep->from + i * v->sweep->step, &node) ||
            node.x < margin || node.y < margin || node.x > v->plane->width - margin ||
            node.y > v->plane->height - margin)
            return false;
        for (int k = 0; i > 0 && k < SWEEP_NODE; k++) {
            const double u = (double)k / SWEEP_NODE;
            at[i - SWEEP_NODE + k] =
                (LfPoint){last.x + u * (node.x - last.x), last.y + u * (node.y - last.y)};
        }
        last = node;
    }
    return true;
}

static void sweep_cell(const SweepView *v, SweepCell *cell)
{
    int score[SWEEP_BINS];
    LfPoint at[SWEEP_BINS], before = {NAN, NAN};
    if (!sweep_path(v, cell->anchor, at))
        return;
    for (int from = 0; from < SWEEP_BINS; from += SWEEP_LAY) {
        SweepPatch patch;
        if (!sweep_lay(v, cell->anchor, v->sweep->from + (from + SWEEP_LAY / 2) * v->sweep->step,
                       &patch))
            return;
        before.x = NAN;
        for (int i = from; i < from + SWEEP_LAY; i++) {
            const LfPoint to = {floor(at[i].x + 0.5), floor(at[i].y + 0.5)};
            if (to.x == before.x && to.y == before.y) /* the same place: nothing new */
                score[i] = score[i - 1];
            else
                score[i] = (int)(MAX(sweep_zncc(&patch, &v->grey, to), 0) * SWEEP_WHOLE);
            before = to;
        }
    }
    g_mutex_lock(&v->sweep->lock);
    cell->views++;
    for (int i = 0; i < SWEEP_BINS; i++)
        cell->score[i] += score[i];
    g_mutex_unlock(&v->sweep->lock);
}

void lf_sweep_add(LfSweep *sweep, const LfPose *pose, const LfLens *lens,
                  const LfFramePyramid *frame)
{
    SweepView v = {.sweep = sweep, .lens = lens, .plane = &frame->level[SWEEP_LEVEL]};
    if (!lf_relief_view(&v.view, &pose->frame_from_photo, lens))
        return;
    const int n = v.plane->width * v.plane->height;
    g_autofree int16_t *grey = g_new(int16_t, n);
    for (int i = 0; i < n; i++)
        grey[i] = v.plane->data[i];
    v.grey = (SweepGrey){grey, v.plane->width, v.plane->height};
    for (int i = 0; i < sweep->grid.columns * sweep->grid.rows; i += sweep->stride)
        if (sweep->cells[i].has)
            sweep_cell(&v, &sweep->cells[i]);
}

/* The depth at which the mean agreement peaks; false where another one agrees nearly as well. */
static bool sweep_peak(const LfSweep *sweep, const int score[SWEEP_BINS], int views, double *z)
{
    int best = 0, second = 0;
    for (int i = 1; i < SWEEP_BINS; i++)
        if (score[i] > score[best])
            best = i;
    for (int i = 0; i < SWEEP_BINS; i++)
        if (abs(i - best) > SWEEP_APART)
            second = MAX(second, score[i]);
    if (score[best] < SWEEP_MIN_SCORE * SWEEP_WHOLE * views ||
        score[best] - second < SWEEP_MIN_LEAD * SWEEP_WHOLE * views)
        return false;
    double offset = 0;
    if (best > 0 && best < SWEEP_BINS - 1) {
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
    for (int i = 0; i < sweep->grid.columns * sweep->grid.rows; i++) {
        const SweepCell *cell = &sweep->cells[i];
        int best = 0;
        for (int b = 0; b < SWEEP_BINS; b++)
            best = MAX(best, cell->score[b]);
        sum += best;
        views += cell->views;
    }
    return views > 0 ? sum / SWEEP_WHOLE / views : 0;
}

/* How much better the best depth agrees than the plane, 0..1. */
static double sweep_gain(const LfSweep *sweep, const SweepCell *cell)
{
    const int plane = (int)(-sweep->from / sweep->step);
    int best = 0;
    for (int i = 0; i < SWEEP_BINS; i++)
        best = MAX(best, cell->score[i]);
    const int flat = MAX(cell->score[plane], cell->score[plane + 1]);
    return (double)(best - flat) / SWEEP_WHOLE / cell->views;
}

/* The depth of a cell that does not tell by itself: what stands around it, undecided too, is taken
 * to be of the same kind, like a back panel full of holes. */
static bool sweep_together(const LfSweep *sweep, const bool *decided, int index, double *z)
{
    const LfReliefGrid *grid = &sweep->grid;
    const int column = index % grid->columns, row = index / grid->columns;
    int score[SWEEP_BINS] = {0};
    int views = 0, cells = 0;
    for (int y = MAX(row - SWEEP_AROUND, 0); y <= MIN(row + SWEEP_AROUND, grid->rows - 1); y++)
        for (int x = MAX(column - SWEEP_AROUND, 0);
             x <= MIN(column + SWEEP_AROUND, grid->columns - 1); x++) {
            const SweepCell *cell = &sweep->cells[y * grid->columns + x];
            if (!cell->has || decided[y * grid->columns + x])
                continue;
            cells++;
            views += cell->views;
            for (int i = 0; i < SWEEP_BINS; i++)
                score[i] += cell->score[i];
        }
    return cells >= SWEEP_MIN_CELLS && sweep_peak(sweep, score, views, z);
}

void lf_sweep_teach(const LfSweep *sweep, LfRelief *relief)
{
    const int n = sweep->grid.columns * sweep->grid.rows;
    g_autofree bool *decided = g_new0(bool, n);
    double z;
    int n_decided = 0;
    double gain = 0;
    lf_relief_reset(relief);
    for (int i = 0; i < n; i++) {
        const SweepCell *cell = &sweep->cells[i];
        decided[i] = cell->has && cell->views >= SWEEP_MIN_VIEWS &&
                     sweep_peak(sweep, cell->score, cell->views, &z);
        if (decided[i])
            lf_relief_tell(relief, i, z, sweep->step);
        n_decided += decided[i];
        if (decided[i])
            gain += sweep_gain(sweep, cell);
    }
    if (n_decided < SWEEP_MIN_DECIDED) { /* the photo was hardly seen */
        lf_relief_reset(relief);
        return;
    }
    for (int i = 0; i < n; i++) {
        const SweepCell *cell = &sweep->cells[i];
        if (!cell->has || decided[i] || cell->views < SWEEP_MIN_VIEWS)
            continue;
        lf_relief_bar(relief, i);
        if (sweep_together(sweep, decided, i, &z))
            lf_relief_tell(relief, i, z, SWEEP_TOGETHER_STEPS * sweep->step);
    }
    lf_relief_told(relief, gain < SWEEP_FLAT_GAIN * n_decided);
}
