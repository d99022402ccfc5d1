/* The plane sweep behind a photo's relief: frames in, agreements by cell and depth out. */
#include "cast/sweep.h"

#include <math.h>

#include "cast/sweep_cells.h"

/* The patch is laid anew for each so many depths, since what stands back looks smaller; between
 * them its way through the picture is nearly a parabola. */
#define SWEEP_LAY 32
#define SWEEP_NODES (LF_SWEEP_BINS / SWEEP_LAY + 1)
/* The frame's pyramid level compared on. */
#define SWEEP_LEVEL 0
/* A cell is swept when it has texture of its own: this standard deviation, grey levels, in a window
 * of so many px on the photo at about this scale, as a walker sees it. A patch that is plain in its
 * middle would speak of the edges around it, and those belong to what stands in front. */
#define SWEEP_OWN_TEXTURE 5.0
#define SWEEP_OWN_SCALE 2.8
#define SWEEP_OWN_SIDE 5

/* A depth whose mean agreement is this far behind the best one's after so many views does not catch
 * up. */
#define SWEEP_HOPELESS 0.15
#define SWEEP_HOPELESS_VIEWS 4

/* Standard deviation of the plane in a window around a point of the photo; 0 outside. */
static double sweep_texture(const LfPlane *plane, LfPoint photo)
{
    const LfPoint at = lf_plane_from_image(plane, photo);
    const int x0 = (int)floor(at.x + 0.5) - SWEEP_OWN_SIDE / 2;
    const int y0 = (int)floor(at.y + 0.5) - SWEEP_OWN_SIDE / 2;
    if (x0 < 0 || y0 < 0 || x0 + SWEEP_OWN_SIDE > plane->width ||
        y0 + SWEEP_OWN_SIDE > plane->height)
        return 0;
    double sum = 0, square = 0;
    for (int y = y0; y < y0 + SWEEP_OWN_SIDE; y++)
        for (int x = x0; x < x0 + SWEEP_OWN_SIDE; x++) {
            const double grey = plane->data[y * plane->width + x];
            sum += grey;
            square += grey * grey;
        }
    const double n = SWEEP_OWN_SIDE * SWEEP_OWN_SIDE;
    return sqrt(MAX(square / n - sum / n * (sum / n), 0));
}

LfSweep *lf_sweep_new(const LfPhoto *photo, LfReliefCamera camera, int stride)
{
    LfSweep *sweep = g_new0(LfSweep, 1);
    const double side = MAX(photo->report.width, photo->report.height);
    const LfPlane *plane = &photo->level[lf_photo_level_for(photo, SWEEP_OWN_SCALE)];
    g_mutex_init(&sweep->lock);
    sweep->photo = photo;
    sweep->camera = camera;
    sweep->grid = lf_relief_grid(photo->relief);
    sweep->from = LF_RELIEF_FROM * side;
    sweep->step = (LF_RELIEF_TO - LF_RELIEF_FROM) * side / (LF_SWEEP_BINS - 1);
    g_autoptr(GArray) cells = g_array_new(FALSE, TRUE, sizeof(LfSweepCell));
    for (int row = stride / 2; row < sweep->grid.rows; row += stride)
        for (int column = stride / 2; column < sweep->grid.columns; column += stride) {
            const LfPoint middle = {(column + 0.5) * sweep->grid.cell_px,
                                    (row + 0.5) * sweep->grid.cell_px};
            if (sweep_texture(plane, middle) < SWEEP_OWN_TEXTURE)
                continue;
            g_array_set_size(cells, cells->len + 1);
            LfSweepCell *cell = &g_array_index(cells, LfSweepCell, cells->len - 1);
            cell->index = row * sweep->grid.columns + column;
            cell->anchor = middle;
        }
    sweep->n_cells = (int)cells->len;
    sweep->cells = (LfSweepCell *)(void *)g_array_free(g_steal_pointer(&cells), FALSE);
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

typedef struct {
    LfSweep *sweep;
    const LfLens *lens;
    const LfSweepFrame *frame;
    LfReliefView view;
} SweepView;

static double sweep_depth(const LfSweep *sweep, int bin)
{
    return sweep->from + bin * sweep->step;
}

/* The way of a cell's patch through the picture: where its corner is at every SWEEP_LAY-th depth,
 * in half px of the plane. False where some of it is out of the picture: depths could not be
 * compared.
 */
static bool sweep_path(const SweepView *v, LfPoint anchor, LfPoint path[SWEEP_NODES])
{
    const LfPlane *plane = v->frame->plane;
    const double half = (LF_SWEEP_SIDE - 1) / 2.0;
    for (int i = 0; i < SWEEP_NODES; i++) {
        LfReliefSeen seen;
        if (!lf_relief_project(&v->sweep->camera, &v->view, anchor,
                               (LfReliefPlace){0, 0, sweep_depth(v->sweep, i * SWEEP_LAY)}, &seen,
                               NULL))
            return false;
        LfPoint node = lf_plane_from_image(plane, lf_lens_distort(v->lens, seen.at));
        node.x -= half;
        node.y -= half;
        if (!(node.x >= 0 && node.y >= 0 && node.x < plane->width - LF_SWEEP_SIDE - 1 &&
              node.y < plane->height - LF_SWEEP_SIDE - 1))
            return false;
        path[i] = (LfPoint){2 * node.x, 2 * node.y};
    }
    return true;
}

/* Photo px per plane px (dx/dx, dx/dy, dy/dx, dy/dy) around the anchor as it is seen at a depth. */
static bool sweep_affine(const SweepView *v, LfPoint anchor, double z, double out[4])
{
    LfReliefSeen seen;
    double j[6], d[4];
    if (!lf_relief_project(&v->sweep->camera, &v->view, anchor, (LfReliefPlace){0, 0, z}, &seen, j))
        return false;
    /* What stands back is spread by the photo's own rays. */
    const double spread = 1 + z / v->sweep->camera.distance;
    const double sx = spread * v->frame->plane->scale_x, sy = spread * v->frame->plane->scale_y;
    lf_lens_distort_jacobian(v->lens, seen.at, d);
    const double xx = sx * (d[0] * j[0] + d[1] * j[3]), xy = sx * (d[0] * j[1] + d[1] * j[4]);
    const double yx = sy * (d[2] * j[0] + d[3] * j[3]), yy = sy * (d[2] * j[1] + d[3] * j[4]);
    const double det = xx * yy - xy * yx;
    if (!(det > 1e-6))
        return false;
    out[0] = yy / det;
    out[1] = -xy / det;
    out[2] = -yx / det;
    out[3] = xx / det;
    return true;
}

/* The patch around the anchor as it looks at depth number `bin`. */
static bool sweep_lay(const SweepView *v, LfPoint anchor, int bin, LfSweepPatch *patch)
{
    const LfPhoto *photo = v->sweep->photo;
    double a[4];
    if (!sweep_affine(v, anchor, sweep_depth(v->sweep, bin), a))
        return false;
    const LfPlane *source =
        &photo->level[lf_photo_level_for(photo, sqrt(fabs(a[0] * a[3] - a[1] * a[2])))];
    const double sx = source->scale_x, sy = source->scale_y;
    const double grid[4] = {a[0] * sx, a[1] * sx, a[2] * sy, a[3] * sy};
    return lf_sweep_patch_lay(patch, source, lf_plane_from_image(source, anchor), grid);
}

/* One coordinate at depth number i after the node, from what it is at the nodes: Newton's
 * interpolation by the nodes nearest to it. Between nodes that lie inside the way may bow out. */
static int sweep_between(double a, double b, const double c[3], int i, int most)
{
    const double u = (double)i / SWEEP_LAY, bend = u * (u - 1) / 2;
    const double at = a + u * (b - a) + bend * (c[0] - 2 * c[1] + c[2]);
    return CLAMP((int)floor(at + 0.5), 0, most);
}

static LfSweepPlace sweep_place(const LfPlane *plane, const LfPoint *path, int node, int i)
{
    const LfPoint *c = &path[CLAMP(node, 1, SWEEP_NODES - 2)];
    const double x[3] = {c[-1].x, c->x, c[1].x}, y[3] = {c[-1].y, c->y, c[1].y};
    return (LfSweepPlace){
        sweep_between(path[node].x, path[node + 1].x, x, i, 2 * (plane->width - LF_SWEEP_SIDE)),
        sweep_between(path[node].y, path[node + 1].y, y, i, 2 * (plane->height - LF_SWEEP_SIDE))};
}

/* Agreements at SWEEP_LAY depths from node number `node` on, 0 at those that are not tried any
 * more. */
static bool sweep_depths(const SweepView *v, const LfSweepCell *cell, const LfPoint *path, int node,
                         int *score)
{
    const bool *out = cell->out + node * SWEEP_LAY;
    LfSweepPatch patch;
    LfSweepPlace place[SWEEP_LAY];
    int of[SWEEP_LAY], agreement[SWEEP_LAY], n = 0;
    for (int i = 0; i < SWEEP_LAY; i++) {
        if (out[i])
            continue;
        const LfSweepPlace here = sweep_place(v->frame->plane, path, node, i);
        if (n == 0 || here.x != place[n - 1].x || here.y != place[n - 1].y)
            place[n++] = here;
        of[i] = n - 1;
    }
    if (n > 0 && !sweep_lay(v, cell->anchor, node * SWEEP_LAY + SWEEP_LAY / 2, &patch))
        return false;
    lf_sweep_patch_compare(&patch, v->frame, place, n, agreement);
    for (int i = 0; i < SWEEP_LAY; i++)
        score[i] = out[i] ? 0 : agreement[of[i]];
    return true;
}

static void sweep_cell(const SweepView *v, LfSweepCell *cell)
{
    int score[LF_SWEEP_BINS];
    LfPoint path[SWEEP_NODES];
    if (!sweep_path(v, cell->anchor, path))
        return;
    for (int node = 0; node + 1 < SWEEP_NODES; node++)
        if (!sweep_depths(v, cell, path, node, score + node * SWEEP_LAY))
            return;
    g_mutex_lock(&v->sweep->lock);
    cell->views++;
    for (int i = 0; i < LF_SWEEP_BINS; i++)
        cell->score[i] += score[i];
    g_mutex_unlock(&v->sweep->lock);
}

void lf_sweep_add(LfSweep *const *sweeps, int n, const LfMat3 *frame_from_photo, const LfLens *lens,
                  const LfFramePyramid *pyramid)
{
    LfSweepFrame frame;
    SweepView v = {.lens = lens, .frame = &frame};
    if (!lf_relief_view(&v.view, frame_from_photo, lens))
        return;
    lf_sweep_frame_init(&frame, &pyramid->level[SWEEP_LEVEL]);
    for (int s = 0; s < n; s++) {
        v.sweep = sweeps[s];
        for (int i = 0; i < v.sweep->n_cells; i++)
            sweep_cell(&v, &v.sweep->cells[i]);
    }
    lf_sweep_frame_clear(&frame);
}

/* Next to a depth that is in question the peak's shape is. */
static void sweep_narrow_cell(LfSweepCell *cell)
{
    int best = 0;
    for (int i = 0; i < LF_SWEEP_BINS; i++)
        best = MAX(best, cell->score[i]);
    const int least = best - (int)(SWEEP_HOPELESS * LF_SWEEP_WHOLE * cell->views);
    for (int i = 0; i < LF_SWEEP_BINS; i++) {
        const int before = cell->score[MAX(i - 1, 0)];
        const int behind = cell->score[MIN(i + 1, LF_SWEEP_BINS - 1)];
        cell->out[i] = MAX(MAX(before, behind), cell->score[i]) < least;
    }
}

void lf_sweep_narrow(LfSweep *sweep)
{
    for (int i = 0; i < sweep->n_cells; i++)
        if (sweep->cells[i].views >= SWEEP_HOPELESS_VIEWS)
            sweep_narrow_cell(&sweep->cells[i]);
}
