/* The plane sweep behind a photo's relief: frames in, agreements by cell and depth out. */
#include "cast/sweep.h"

#include <math.h>

#include "cast/sweep_cells.h"

/* Side of the patch compared, px of the working image: small, so that at the edge of a pack what is
 * in the cell speaks and not what stands beside it; many frames make up for its size. */
#define SWEEP_SIDE 8
#define SWEEP_AREA (SWEEP_SIDE * SWEEP_SIDE)
/* The patch is laid anew for each so many depths, since what stands back looks smaller. */
#define SWEEP_LAY 32
/* Depths between which a place in the frame is computed exactly. */
#define SWEEP_NODE 8
/* The frame's pyramid level compared on. */
#define SWEEP_LEVEL 0
/* Noise of a frame, grey levels: textures no stronger than that agree with nothing. */
#define SWEEP_NOISE 2.0
/* A cell is swept when it has texture of its own: this standard deviation, grey levels, in a window
 * of so many px on the photo at about this scale, as a walker sees it. A patch that is plain in its
 * middle would speak of the edges around it, and those belong to what stands in front. */
#define SWEEP_OWN_TEXTURE 5.0
#define SWEEP_OWN_SCALE 2.8
#define SWEEP_OWN_SIDE 5

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

/* Whole numbers, so that sixteen products a step fit the machine: the patch, zero mean and unit
 * norm, times SWEEP_FINE. */
#define SWEEP_FINE 4096
typedef struct {
    int16_t t[SWEEP_AREA];
} SweepPatch;

/* A frame made ready for comparing, as it is and moved by half a px along and across: between whole
 * px small patches of fine print agree too little to tell depths apart. */
#define SWEEP_HALVES 4
typedef struct {
    const LfPlane *plane;
    int16_t *grey[SWEEP_HALVES]; /* bit 0: half a px to the right; bit 1: down */
} SweepFrame;

static void sweep_grey(const LfPlane *plane, int halves, int16_t *grey)
{
    const int w = plane->width, right = halves & 1, down = halves >> 1;
    for (int y = 0; y < plane->height; y++) {
        const uint8_t *p = plane->data + y * w;
        const uint8_t *q = y + 1 < plane->height ? p + down * w : p;
        for (int x = 0; x < w; x++) {
            const int next = x + 1 < w ? x + right : x;
            grey[y * w + x] = (int16_t)((p[x] + p[next] + q[x] + q[next] + 2) / 4);
        }
    }
}

static void sweep_frame_init(SweepFrame *frame, const LfPlane *plane)
{
    frame->plane = plane;
    for (int i = 0; i < SWEEP_HALVES; i++) {
        frame->grey[i] = g_new(int16_t, plane->width * plane->height);
        sweep_grey(plane, i, frame->grey[i]);
    }
}

static void sweep_frame_clear(SweepFrame *frame)
{
    for (int i = 0; i < SWEEP_HALVES; i++)
        g_free(frame->grey[i]);
}

/* Normalised cross-correlation of the patch with the picture whose top left px is at (x, y), half
 * px; it must lie inside. The patch has zero mean, so the picture's own does not matter to the
 * products. */
static double sweep_zncc(const SweepPatch *patch, const SweepFrame *frame, int x, int y)
{
    const int w = frame->plane->width;
    const int16_t *p = frame->grey[(x & 1) | (y & 1) << 1] + (y >> 1) * w + (x >> 1);
    const int16_t *t = patch->t;
    int32_t cross = 0, square = 0, sum = 0;
    for (int row = 0; row < SWEEP_SIDE; row++, p += w, t += SWEEP_SIDE)
        for (int col = 0; col < SWEEP_SIDE; col++) {
            cross += p[col] * t[col];
            square += p[col] * p[col];
            sum += p[col];
        }
    const double variance = square - (double)sum * sum / SWEEP_AREA;
    return cross / (SWEEP_FINE * sqrt(variance + SWEEP_AREA * SWEEP_NOISE * SWEEP_NOISE));
}

typedef struct {
    LfSweep *sweep;
    const LfLens *lens;
    const SweepFrame *frame;
    LfReliefView view;
} SweepView;

/* Where the photo point would be seen at depth z, plane px. */
static bool sweep_project(const SweepView *v, LfPoint photo, double z, LfPoint *at)
{
    LfReliefSeen seen;
    if (!lf_relief_project(&v->sweep->camera, &v->view, photo, (LfReliefPlace){0, 0, z}, &seen,
                           NULL))
        return false;
    *at = lf_plane_from_image(v->frame->plane, lf_lens_distort(v->lens, seen.at));
    return isfinite(at->x) && isfinite(at->y);
}

/* Samples the source, bilinear, on the patch's grid around `centre` with steps of `a` (dsx/dx,
 * dsx/dy, dsy/dx, dsy/dy); false where that leaves it. */
static bool sweep_sample(const LfPlane *source, LfPoint centre, const double a[4],
                         float grey[SWEEP_AREA])
{
    const double half = (SWEEP_SIDE - 1) / 2.0;
    const double reach_x = half * (fabs(a[0]) + fabs(a[1]));
    const double reach_y = half * (fabs(a[2]) + fabs(a[3]));
    if (!(centre.x - reach_x >= 0 && centre.y - reach_y >= 0 &&
          centre.x + reach_x < source->width - 1 && centre.y + reach_y < source->height - 1))
        return false;
    for (int i = 0; i < SWEEP_AREA; i++) {
        const double u = i % SWEEP_SIDE - half, v = i / SWEEP_SIDE - half;
        const double x = centre.x + a[0] * u + a[1] * v, y = centre.y + a[2] * u + a[3] * v;
        const int ix = (int)x, iy = (int)y;
        const float fx = (float)(x - ix), fy = (float)(y - iy);
        const uint8_t *p = source->data + iy * source->width + ix;
        const uint8_t *q = p + source->width;
        const float top = (float)p[0] + fx * (float)(p[1] - p[0]);
        const float bottom = (float)q[0] + fx * (float)(q[1] - q[0]);
        grey[i] = top + fy * (bottom - top);
    }
    return true;
}

/* The patch around the anchor as it looks at depth z. */
static bool sweep_lay(const SweepView *v, LfPoint anchor, double z, SweepPatch *out)
{
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
    float grey[SWEEP_AREA], sum = 0, square = 0;
    if (!sweep_sample(source, lf_plane_from_image(source, anchor), inverse, grey))
        return false;
    for (int i = 0; i < SWEEP_AREA; i++)
        sum += grey[i];
    for (int i = 0; i < SWEEP_AREA; i++) {
        grey[i] -= sum / SWEEP_AREA;
        square += grey[i] * grey[i];
    }
    const float scale = SWEEP_FINE / sqrtf(square + SWEEP_AREA);
    for (int i = 0; i < SWEEP_AREA; i++)
        out->t[i] = (int16_t)lrintf(grey[i] * scale);
    return true;
}

/* Where the anchor's patch would begin at all depths, plane px; between every SWEEP_NODE-th the
 * path is as good as straight. False where some of it is out of the picture: depths could not be
 * compared. */
static bool sweep_path(const SweepView *v, LfPoint anchor, LfPoint at[LF_SWEEP_BINS])
{
    const LfPlane *plane = v->frame->plane;
    const double half = (SWEEP_SIDE - 1) / 2.0;
    LfPoint last = {0, 0};
    for (int i = 0; i <= LF_SWEEP_BINS; i += SWEEP_NODE) {
        LfPoint node;
        if (!sweep_project(v, anchor, v->sweep->from + i * v->sweep->step, &node))
            return false;
        node.x -= half;
        node.y -= half;
        if (!(node.x >= 0 && node.y >= 0 && node.x < plane->width - SWEEP_SIDE - 1 &&
              node.y < plane->height - SWEEP_SIDE - 1))
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

static void sweep_cell(const SweepView *v, LfSweepCell *cell)
{
    int score[LF_SWEEP_BINS];
    LfPoint at[LF_SWEEP_BINS];
    if (!sweep_path(v, cell->anchor, at))
        return;
    for (int from = 0; from < LF_SWEEP_BINS; from += SWEEP_LAY) {
        SweepPatch patch;
        int last_x = -1, last_y = -1;
        if (!sweep_lay(v, cell->anchor, v->sweep->from + (from + SWEEP_LAY / 2) * v->sweep->step,
                       &patch))
            return;
        for (int i = from; i < from + SWEEP_LAY; i++) {
            const int x = (int)(2 * at[i].x + 0.5), y = (int)(2 * at[i].y + 0.5);
            if (x == last_x && y == last_y) /* the same place: nothing new */
                score[i] = score[i - 1];
            else
                score[i] = (int)(sweep_zncc(&patch, v->frame, x, y) * LF_SWEEP_WHOLE);
            last_x = x;
            last_y = y;
        }
    }
    g_mutex_lock(&v->sweep->lock);
    cell->views++;
    for (int i = 0; i < LF_SWEEP_BINS; i++)
        cell->score[i] += score[i];
    g_mutex_unlock(&v->sweep->lock);
}

void lf_sweep_add(LfSweep *const *sweeps, int n, const LfPose *pose, const LfLens *lens,
                  const LfFramePyramid *pyramid)
{
    SweepFrame frame;
    SweepView v = {.lens = lens, .frame = &frame};
    if (!lf_relief_view(&v.view, &pose->frame_from_photo, lens))
        return;
    sweep_frame_init(&frame, &pyramid->level[SWEEP_LEVEL]);
    for (int s = 0; s < n; s++) {
        v.sweep = sweeps[s];
        for (int i = 0; i < v.sweep->n_cells; i++)
            sweep_cell(&v, &v.sweep->cells[i]);
    }
    sweep_frame_clear(&frame);
}
