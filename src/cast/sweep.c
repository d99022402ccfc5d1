/* The plane sweep behind a photo's relief: frames in, agreements by cell and depth out. */
#include "cast/sweep.h"

#include <math.h>
#include <string.h>
#ifdef __SSE2__
#include <emmintrin.h>
#endif

#include "cast/sweep_cells.h"

/* Side of the patch compared, px of the working image: small, so that at the edge of a pack what is
 * in the cell speaks and not what stands beside it; many frames make up for its size. */
#define SWEEP_SIDE 8
#define SWEEP_AREA (SWEEP_SIDE * SWEEP_SIDE)
/* The patch is laid anew for each so many depths, since what stands back looks smaller. */
#define SWEEP_LAY 32
/* Depths between which a place in the frame is computed exactly. */
#define SWEEP_NODE 16
/* The frame's pyramid level compared on. */
#define SWEEP_LEVEL 0
/* Noise of a frame, grey levels: textures no stronger than that agree with nothing. */
#define SWEEP_NOISE 2
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

/* Whole numbers, so that sixteen products a step fit the machine: the patch, zero mean and unit
 * norm, times SWEEP_FINE. */
#define SWEEP_FINE 4096
#define SWEEP_SHADES 256
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

/* Products of a patch with the picture under it. */
typedef struct {
    int32_t cross, square, sum;
} SweepSums;

#ifdef __SSE2__
static int32_t sweep_lanes(__m128i v)
{
    v = _mm_add_epi32(v, _mm_shuffle_epi32(v, _MM_SHUFFLE(1, 0, 3, 2)));
    v = _mm_add_epi32(v, _mm_shuffle_epi32(v, _MM_SHUFFLE(2, 3, 0, 1)));
    return _mm_cvtsi128_si32(v);
}

/* A row is one register. */
static SweepSums sweep_sums(const int16_t *t, const int16_t *p, int w)
{
    const __m128i one = _mm_set1_epi16(1);
    __m128i cross = _mm_setzero_si128(), square = cross, sum = cross;
    for (int row = 0; row < SWEEP_SIDE; row++, p += w, t += SWEEP_SIDE) {
        const __m128i a = _mm_loadu_si128((const __m128i *)(const void *)p);
        const __m128i b = _mm_loadu_si128((const __m128i *)(const void *)t);
        cross = _mm_add_epi32(cross, _mm_madd_epi16(a, b));
        square = _mm_add_epi32(square, _mm_madd_epi16(a, a));
        sum = _mm_add_epi32(sum, _mm_madd_epi16(a, one));
    }
    return (SweepSums){sweep_lanes(cross), sweep_lanes(square), sweep_lanes(sum)};
}
#else
static SweepSums sweep_sums(const int16_t *t, const int16_t *p, int w)
{
    SweepSums s = {0, 0, 0};
    for (int row = 0; row < SWEEP_SIDE; row++, p += w, t += SWEEP_SIDE)
        for (int col = 0; col < SWEEP_SIDE; col++) {
            s.cross += p[col] * t[col];
            s.square += p[col] * p[col];
            s.sum += p[col];
        }
    return s;
}
#endif

/* LF_SWEEP_WHOLE times the normalised cross-correlation of the patch with the picture whose top
 * left px is at (x, y), half px; it must lie inside. The patch has zero mean, so the picture's own
 * does not matter to the products. */
static int sweep_zncc(const SweepPatch *patch, const SweepFrame *frame, int x, int y)
{
    const int w = frame->plane->width;
    const int16_t *p = frame->grey[(x & 1) | (y & 1) << 1] + (y >> 1) * w + (x >> 1);
    const SweepSums s = sweep_sums(patch->t, p, w);
    const float variance = (float)(SWEEP_AREA * s.square - s.sum * s.sum); /* times area^2 */
    const float noise = SWEEP_AREA * SWEEP_AREA * SWEEP_NOISE * SWEEP_NOISE;
    return (int)((float)s.cross * ((float)SWEEP_SIDE * LF_SWEEP_WHOLE / SWEEP_FINE) /
                 sqrtf(variance + noise));
}

typedef struct {
    LfSweep *sweep;
    const LfLens *lens;
    const SweepFrame *frame;
    LfReliefView view;
} SweepView;

/* Where the photo point would be seen at depth z, plane px. j: derivatives by (u, v, z). */
static bool sweep_project(const SweepView *v, LfPoint photo, double z, LfPoint *at,
                          LfReliefSeen *seen, double j[6])
{
    if (!lf_relief_project(&v->sweep->camera, &v->view, photo, (LfReliefPlace){0, 0, z}, seen, j))
        return false;
    *at = lf_plane_from_image(v->frame->plane, lf_lens_distort(v->lens, seen->at));
    return isfinite(at->x) && isfinite(at->y);
}

/* Samples the source, bilinear and in whole numbers (SWEEP_SHADES for a grey level), on the patch's
 * grid around `centre` with steps of `a` (dsx/dx, dsx/dy, dsy/dx, dsy/dy); false where that leaves
 * it. */
static bool sweep_sample(const LfPlane *source, LfPoint centre, const double a[4],
                         int32_t grey[SWEEP_AREA])
{
    const double half = (SWEEP_SIDE - 1) / 2.0, one = 1 << 16;
    const double reach_x = half * (fabs(a[0]) + fabs(a[1]));
    const double reach_y = half * (fabs(a[2]) + fabs(a[3]));
    if (!(centre.x - reach_x >= 0 && centre.y - reach_y >= 0 &&
          centre.x + reach_x < source->width - 1 && centre.y + reach_y < source->height - 1))
        return false;
    const int w = source->width, left = (int)(centre.x - reach_x), top = (int)(centre.y - reach_y);
    const uint8_t *origin = source->data + top * w + left;
    const int32_t dx = (int32_t)(a[0] * one), dy = (int32_t)(a[2] * one);
    for (int row = 0; row < SWEEP_SIDE; row++) {
        const double v = row - half;
        int32_t x = (int32_t)((centre.x - left - a[0] * half + a[1] * v) * one);
        int32_t y = (int32_t)((centre.y - top - a[2] * half + a[3] * v) * one);
        for (int col = 0; col < SWEEP_SIDE; col++, x += dx, y += dy) {
            const int32_t fx = x >> 8 & 255, fy = y >> 8 & 255;
            const uint8_t *p = origin + (y >> 16) * w + (x >> 16), *q = p + w;
            const int32_t above = (p[0] << 8) + fx * (p[1] - p[0]);
            const int32_t below = (q[0] << 8) + fx * (q[1] - q[0]);
            grey[row * SWEEP_SIDE + col] = ((above << 8) + fy * (below - above)) >> 8;
        }
    }
    return true;
}

/* The way of a cell's patch through the picture. */
typedef struct {
    LfPoint at[LF_SWEEP_BINS]; /* its corner, plane px */
    struct {                   /* at every SWEEP_NODE-th depth */
        LfReliefSeen seen;
        double j[6];
    } node[LF_SWEEP_BINS / SWEEP_NODE + 1];
} SweepPath;

/* Between every SWEEP_NODE-th depth the path is as good as straight. False where some of it is out
 * of the picture: depths could not be compared. */
static bool sweep_path(const SweepView *v, LfPoint anchor, SweepPath *path)
{
    const LfPlane *plane = v->frame->plane;
    const double half = (SWEEP_SIDE - 1) / 2.0;
    LfPoint last = {0, 0};
    for (int i = 0; i <= LF_SWEEP_BINS; i += SWEEP_NODE) {
        LfPoint node;
        if (!sweep_project(v, anchor, v->sweep->from + i * v->sweep->step, &node,
                           &path->node[i / SWEEP_NODE].seen, path->node[i / SWEEP_NODE].j))
            return false;
        node.x -= half;
        node.y -= half;
        if (!(node.x >= 0 && node.y >= 0 && node.x < plane->width - SWEEP_SIDE - 1 &&
              node.y < plane->height - SWEEP_SIDE - 1))
            return false;
        for (int k = 0; i > 0 && k < SWEEP_NODE; k++) {
            const double u = (double)k / SWEEP_NODE;
            path->at[i - SWEEP_NODE + k] =
                (LfPoint){last.x + u * (node.x - last.x), last.y + u * (node.y - last.y)};
        }
        last = node;
    }
    return true;
}

/* Photo px per plane px (dx/dx, dx/dy, dy/dx, dy/dy) at a depth that has a node. */
static bool sweep_affine(const SweepView *v, const SweepPath *path, int bin, double out[4])
{
    const double *j = path->node[bin / SWEEP_NODE].j;
    const double z = v->sweep->from + bin * v->sweep->step;
    /* What stands back is spread by the photo's own rays. */
    const double spread = 1 + z / v->sweep->camera.distance;
    const double sx = spread * v->frame->plane->scale_x, sy = spread * v->frame->plane->scale_y;
    double d[4];
    lf_lens_distort_jacobian(v->lens, path->node[bin / SWEEP_NODE].seen.at, d);
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
static bool sweep_lay(const SweepView *v, LfPoint anchor, const SweepPath *path, int bin,
                      SweepPatch *out)
{
    const LfPhoto *photo = v->sweep->photo;
    double a[4];
    if (!sweep_affine(v, path, bin, a))
        return false;
    const LfPlane *source =
        &photo->level[lf_photo_level_for(photo, sqrt(fabs(a[0] * a[3] - a[1] * a[2])))];
    const double sx = source->scale_x, sy = source->scale_y;
    const double grid[4] = {a[0] * sx, a[1] * sx, a[2] * sy, a[3] * sy};
    int32_t grey[SWEEP_AREA], sum = 0;
    float square = 0;
    if (!sweep_sample(source, lf_plane_from_image(source, anchor), grid, grey))
        return false;
    for (int i = 0; i < SWEEP_AREA; i++)
        sum += grey[i];
    for (int i = 0; i < SWEEP_AREA; i++) {
        grey[i] -= sum / SWEEP_AREA;
        square += (float)grey[i] * (float)grey[i];
    }
    const float norm =
        SWEEP_FINE / sqrtf(square + (float)(SWEEP_AREA * SWEEP_SHADES * SWEEP_SHADES));
    for (int i = 0; i < SWEEP_AREA; i++)
        out->t[i] = (int16_t)floorf((float)grey[i] * norm + 0.5F);
    return true;
}

static bool sweep_all_out(const LfSweepCell *cell, int from)
{
    for (int i = from; i < from + SWEEP_LAY; i++)
        if (!cell->out[i])
            return false;
    return true;
}

static void sweep_cell(const SweepView *v, LfSweepCell *cell)
{
    int score[LF_SWEEP_BINS];
    SweepPath path;
    if (!sweep_path(v, cell->anchor, &path))
        return;
    for (int from = 0; from < LF_SWEEP_BINS; from += SWEEP_LAY) {
        SweepPatch patch;
        int last_x = -1, last_y = -1, last = 0;
        if (sweep_all_out(cell, from)) {
            memset(score + from, 0, SWEEP_LAY * sizeof *score);
            continue;
        }
        if (!sweep_lay(v, cell->anchor, &path, from + SWEEP_LAY / 2, &patch))
            return;
        for (int i = from; i < from + SWEEP_LAY; i++) {
            const int x = (int)(2 * path.at[i].x + 0.5), y = (int)(2 * path.at[i].y + 0.5);
            if (cell->out[i]) {
                score[i] = 0;
                continue;
            }
            if (x != last_x || y != last_y) /* else it is the same place: nothing new */
                last = sweep_zncc(&patch, v->frame, x, y);
            score[i] = last;
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

void lf_sweep_add(LfSweep *const *sweeps, int n, const LfMat3 *frame_from_photo, const LfLens *lens,
                  const LfFramePyramid *pyramid)
{
    SweepFrame frame;
    SweepView v = {.lens = lens, .frame = &frame};
    if (!lf_relief_view(&v.view, frame_from_photo, lens))
        return;
    sweep_frame_init(&frame, &pyramid->level[SWEEP_LEVEL]);
    for (int s = 0; s < n; s++) {
        v.sweep = sweeps[s];
        for (int i = 0; i < v.sweep->n_cells; i++)
            sweep_cell(&v, &v.sweep->cells[i]);
    }
    sweep_frame_clear(&frame);
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
