/* Brightness constancy of a relief's cells over many views.
 *
 * A window that agrees in all views at one depth tells how deep its strongest edge stands: at the
 * outline of a pack that is the pack, also for the cells beside it in which something behind is
 * seen. But those cells look different from every side, and what belongs to the pack does not. So
 * each view is asked for the grey level in the middle of each cell alone, and the median difference
 * to what the photo foretells, over all views, says how far the cell's depth is to be trusted. */
#include "cast/survey_constancy.h"

#include <math.h>

#include "cast/relief_cells.h"
#include "cast/survey_company.h"

/* Cells of a view that must tell before its light is known. */
#define CONSTANCY_MIN_CELLS 200
/* Views a cell must be seen in before it is judged. */
#define CONSTANCY_MIN_VIEWS 5
/* Differences this large count half, grey levels (Cauchy weights), and rounds of that. */
#define CONSTANCY_SURPRISE 8.0
#define CONSTANCY_ROUNDS 10
/* Light differs slowly over the picture: what cells this far to each side are off by in the mean,
 * single ones by no more than so much more than their neighbours, is light. */
#define CONSTANCY_AROUND 12
#define CONSTANCY_FIRST_CLIP 20.0
#define CONSTANCY_CLIP 8.0
#define CONSTANCY_MIN_GAIN 0.1

/* Cells this likely to be part of the back are taken for it, with this standard error, a share of
 * the photo's longer side. */
#define CONSTANCY_BEHIND 0.6
#define CONSTANCY_BACK_SIGMA 0.005
/* Gradients are taken of the photo at about the scale at which walkers see it. */
#define CONSTANCY_SCALE 2.8

typedef struct {
    const LfRelief *relief;
    int n;
    float *photo, *frame; /* grey levels by cell; NAN where the cell is not seen */
    float *off;           /* frame - what light makes of the photo */
} ConstancyMap;

static float constancy_grey(const LfPlane *plane, LfPoint p)
{
    double grey;
    return lf_plane_sample(plane, p, &grey) ? (float)grey : NAN;
}

static LfPoint constancy_middle(const LfRelief *relief, int index)
{
    return (LfPoint){(index % relief->columns + 0.5) * relief->cell_px,
                     (index / relief->columns + 0.5) * relief->cell_px};
}

/* z: where the cells stand; NULL for where the relief takes them to. */
static bool constancy_sample(ConstancyMap *map, const LfPhoto *photo, const LfConstancyView *view,
                             const double *z)
{
    const LfRelief *relief = map->relief;
    LfReliefView plane;
    if (!lf_relief_view(&plane, view->frame_from_photo, view->lens))
        return false;
    const LfPlane *frame = &view->frame->level[0];
    for (int i = 0; i < map->n; i++) {
        const LfPoint at = constancy_middle(relief, i);
        const LfReliefPlace place = {0, 0, z ? z[i] : relief->cells[i].near_z};
        LfReliefSeen seen;
        double j[6];
        map->photo[i] = map->frame[i] = NAN;
        if (!isfinite(place.z) || !lf_relief_project(&relief->camera, &plane, at, place, &seen, j))
            continue;
        const double scale = sqrt(fabs(j[0] * j[4] - j[1] * j[3])) * frame->scale_x;
        const LfPlane *level = &photo->level[lf_photo_level_for(photo, 1 / MAX(scale, 1e-6))];
        map->photo[i] = constancy_grey(level, lf_plane_from_image(level, at));
        if (isfinite(map->photo[i]))
            map->frame[i] = constancy_grey(
                frame, lf_plane_from_image(frame, lf_lens_distort(view->lens, seen.at)));
    }
    return true;
}

static bool constancy_tells(const ConstancyMap *map, int i)
{
    return map->relief->cells[i].touched && isfinite(map->frame[i]);
}

/* The robust line from the photo's grey levels to the frame's. False where too few cells tell. */
static bool constancy_line(const ConstancyMap *map, LfConstancyLight *light)
{
    double a = 1, b = 0;
    for (int round = 0; round < CONSTANCY_ROUNDS; round++) {
        double n = 0, w_sum = 0, x = 0, y = 0, xx = 0, xy = 0;
        for (int i = 0; i < map->n; i++) {
            if (!constancy_tells(map, i))
                continue;
            const double p = (double)map->photo[i], q = (double)map->frame[i];
            const double e = (q - a * p - b) / CONSTANCY_SURPRISE;
            const double w = round == 0 ? 1 : 1 / (1 + e * e);
            n++;
            w_sum += w;
            x += w * p;
            y += w * q;
            xx += w * p * p;
            xy += w * p * q;
        }
        const double det = w_sum * xx - x * x;
        if (n < CONSTANCY_MIN_CELLS || !(det > 1e-6 * w_sum * w_sum))
            return false;
        a = (w_sum * xy - x * y) / det;
        b = (y - a * x) / w_sum;
    }
    light->gain = a;
    light->offset = b;
    return true;
}

static void constancy_off(ConstancyMap *map, const LfConstancyLight *light)
{
    for (int i = 0; i < map->n; i++)
        map->off[i] = map->frame[i] - (float)(light->gain * (double)map->photo[i] + light->offset);
}

/* Sums over all cells above and to the left. */
typedef struct {
    float off, n;
} ConstancySum;

/* Mean clipped difference of the cells around each that tell, where around is a square; `light` is
 * what is known so far. */
static void constancy_around(const ConstancyMap *map, double clip, ConstancySum *sums,
                             const float *light, float *out)
{
    const int w = map->relief->columns, h = map->relief->rows, stride = w + 1;
    for (int x = 0; x <= w; x++)
        sums[x] = (ConstancySum){0, 0};
    for (int y = 0; y < h; y++) {
        ConstancySum row = {0, 0};
        sums[(y + 1) * stride] = row;
        for (int x = 0; x < w; x++) {
            const int i = y * w + x;
            if (constancy_tells(map, i)) {
                const float e = map->off[i] - light[i];
                row.off += light[i] + CLAMP(e, -(float)clip, (float)clip);
                row.n++;
            }
            const ConstancySum *above = &sums[y * stride + x + 1];
            sums[(y + 1) * stride + x + 1] = (ConstancySum){above->off + row.off, above->n + row.n};
        }
    }
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            const int top = MAX(y - CONSTANCY_AROUND, 0) * stride;
            const int bottom = MIN(y + CONSTANCY_AROUND + 1, h) * stride;
            const int left = MAX(x - CONSTANCY_AROUND, 0), right = MIN(x + CONSTANCY_AROUND + 1, w);
            const ConstancySum *a = &sums[top + left], *b = &sums[top + right];
            const ConstancySum *c = &sums[bottom + left], *d = &sums[bottom + right];
            const float n = d->n - b->n - c->n + a->n;
            /* A few cells alone say more of themselves than of the light. */
            out[y * w + x] = (d->off - b->off - c->off + a->off) / (n + 10);
        }
}

/* What is left of the light when its line is known. */
static void constancy_light_around(const ConstancyMap *map, LfConstancyLight *light)
{
    const gsize n = (gsize)map->n;
    g_autofree ConstancySum *sums =
        g_new(ConstancySum, (map->relief->columns + 1) * (map->relief->rows + 1));
    g_autofree float *none = g_new0(float, n), *first = g_new(float, n);
    light->around = g_new(float, n);
    constancy_around(map, CONSTANCY_FIRST_CLIP, sums, none, first);
    constancy_around(map, CONSTANCY_CLIP, sums, first, light->around);
}

static uint8_t *constancy_differences(const ConstancyMap *map, const LfConstancyLight *light)
{
    const double gain = MAX(light->gain, CONSTANCY_MIN_GAIN);
    uint8_t *out = g_new(uint8_t, map->n);
    for (int i = 0; i < map->n; i++) {
        const double off =
            fabs((double)(map->off[i] - light->around[i])) / gain * LF_CONSTANCY_STEPS;
        out[i] =
            isfinite(off) ? (uint8_t)MIN(off + 0.5, LF_CONSTANCY_UNSEEN - 1) : LF_CONSTANCY_UNSEEN;
    }
    return out;
}

static ConstancyMap constancy_map_new(const LfRelief *relief)
{
    const int n = relief->columns * relief->rows;
    return (ConstancyMap){relief, n, g_new(float, n), g_new(float, n), g_new(float, n)};
}

static void constancy_map_clear(ConstancyMap *map)
{
    g_free(map->photo);
    g_free(map->frame);
    g_free(map->off);
}

uint8_t *lf_constancy_look(const LfPhoto *photo, const LfConstancyView *view,
                           LfConstancyLight *light)
{
    ConstancyMap map = constancy_map_new(photo->relief);
    uint8_t *out = NULL;
    if (constancy_sample(&map, photo, view, NULL) && constancy_line(&map, light)) {
        constancy_off(&map, light);
        constancy_light_around(&map, light);
        out = constancy_differences(&map, light);
    }
    constancy_map_clear(&map);
    return out;
}

uint8_t *lf_constancy_look_behind(const LfPhoto *photo, const LfConstancyView *view,
                                  const LfConstancyLight *light, const double *z)
{
    ConstancyMap map = constancy_map_new(photo->relief);
    uint8_t *out = NULL;
    if (constancy_sample(&map, photo, view, z)) {
        constancy_off(&map, light);
        out = constancy_differences(&map, light);
    }
    constancy_map_clear(&map);
    return out;
}

void lf_constancy_light_clear(LfConstancyLight *light)
{
    g_clear_pointer(&light->around, g_free);
}

/* Grey levels per px around a point of the photo, at the scale at which walkers see it (Sobel). */
static double constancy_slope(const LfPlane *plane, LfPoint photo)
{
    const LfPoint at = lf_plane_from_image(plane, photo);
    const int x = CLAMP((int)(at.x + 0.5), 1, plane->width - 2);
    const int y = CLAMP((int)(at.y + 0.5), 1, plane->height - 2);
    const uint8_t *m = plane->data + y * plane->width + x, *u = m - plane->width,
                  *d = m + plane->width;
    const double dx = u[1] + 2 * m[1] + d[1] - u[-1] - 2 * m[-1] - d[-1];
    const double dy = d[-1] + 2 * d[0] + d[1] - u[-1] - 2 * u[0] - u[1];
    return hypot(dx, dy) / 8;
}

/* Log of one plus the median difference, grey levels; NAN where too few views show the cell. */
static double constancy_median(uint8_t *const *rows, int n_rows, int cell)
{
    int count[LF_CONSTANCY_UNSEEN] = {0}, n = 0, sum = 0;
    for (int r = 0; r < n_rows; r++)
        if (rows[r] && rows[r][cell] != LF_CONSTANCY_UNSEEN) {
            count[rows[r][cell]]++;
            n++;
        }
    if (n < CONSTANCY_MIN_VIEWS)
        return NAN;
    for (int d = 0; d < LF_CONSTANCY_UNSEEN; d++)
        if ((sum += count[d]) > n / 2)
            return log1p((double)d / LF_CONSTANCY_STEPS);
    return NAN;
}

/* Mean over the cell and the eight around it, of those that are known. */
static double constancy_mean(const LfRelief *relief, const double *unlike, int index)
{
    const int column = index % relief->columns, row = index / relief->columns;
    double sum = 0, n = 0;
    for (int y = MAX(row - 1, 0); y <= MIN(row + 1, relief->rows - 1); y++)
        for (int x = MAX(column - 1, 0); x <= MIN(column + 1, relief->columns - 1); x++) {
            const double one = unlike[y * relief->columns + x];
            if (isfinite(one)) {
                sum += one;
                n++;
            }
        }
    return n > 0 ? sum / n : 0;
}

/* What makes a cell trusted, log-odds; fitted to the training scenes. */
typedef struct {
    double constant, unlike, slope, same, mean, company;
} ConstancyWeights;
static const ConstancyWeights CONSTANCY_ALONE = {3.52, -1.17, 0.43, 2.86, -0.83, 0};
static const ConstancyWeights CONSTANCY_IN_COMPANY = {1.94, -1.00, 0.25, 1.83, -0.60, 4.09};

/* company: share of the cells of its colour that stand where it does. */
static double constancy_trust(const LfRelief *relief, const LfPlane *plane, const double *unlike,
                              int index, const ConstancyWeights *w, double company)
{
    const double same = lf_relief_same(relief, index) / 8.0;
    const double slope = log1p(constancy_slope(plane, constancy_middle(relief, index)));
    const double mean = constancy_mean(relief, unlike, index);
    const double sum = w->constant + w->unlike * unlike[index] + w->slope * slope +
                       w->same * same * same + w->mean * mean + w->company * company;
    return 1 / (1 + exp(-sum));
}

double *lf_constancy_vouch(const LfPhoto *photo, uint8_t *const *rows, int n_rows)
{
    LfRelief *relief = photo->relief;
    const int n = relief->columns * relief->rows;
    const LfPlane *plane = &photo->level[lf_photo_level_for(photo, CONSTANCY_SCALE)];
    double *unlike = g_new(double, n);
    for (int i = 0; i < n; i++)
        unlike[i] = constancy_median(rows, n_rows, i);
    for (int i = 0; i < n; i++)
        if (isfinite(unlike[i]))
            lf_relief_vouch(relief, i,
                            constancy_trust(relief, plane, unlike, i, &CONSTANCY_ALONE, 0));
    lf_relief_weigh(relief);
    return unlike;
}

void lf_constancy_company(const LfPhoto *photo, const double *unlike, const bool *moved)
{
    LfRelief *relief = photo->relief;
    const int n = relief->columns * relief->rows;
    g_autofree double *trust = g_new(double, n);
    for (int i = 0; i < n; i++)
        trust[i] = relief->cells[i].touched && isfinite(unlike[i]) ? relief->cells[i].trust : 0;
    g_autofree double *company = lf_survey_company(photo, trust);
    const LfPlane *plane = &photo->level[lf_photo_level_for(photo, CONSTANCY_SCALE)];
    for (int i = 0; i < n; i++)
        if (isfinite(unlike[i]) && !moved[i])
            lf_relief_vouch(
                relief, i,
                constancy_trust(relief, plane, unlike, i, &CONSTANCY_IN_COMPANY, company[i]));
    lf_relief_weigh(relief);
}

/* Probability that the cell is part of the back. other: as unlike, were it. */
static double constancy_behind(const LfRelief *relief, const LfPlane *plane, const double *unlike,
                               const double *other, int index)
{
    const double same = lf_relief_same(relief, index) / 8.0;
    const double slope = log1p(constancy_slope(plane, constancy_middle(relief, index)));
    const double sum = 0.16 + 0.33 * unlike[index] + 1.11 * constancy_mean(relief, unlike, index) +
                       0.03 * other[index] - 1.17 * constancy_mean(relief, other, index) -
                       0.46 * slope - 0.61 * same;
    return 1 / (1 + exp(-sum));
}

void lf_constancy_compare(const LfPhoto *photo, const double *z, const double *unlike,
                          uint8_t *const *rows, int n_rows, bool *moved)
{
    LfRelief *relief = photo->relief;
    const int n = relief->columns * relief->rows;
    const LfPlane *plane = &photo->level[lf_photo_level_for(photo, CONSTANCY_SCALE)];
    g_autofree double *other = g_new(double, n), *behind = g_new0(double, n);
    for (int i = 0; i < n; i++)
        other[i] = isfinite(z[i]) ? constancy_median(rows, n_rows, i) : NAN;
    for (int i = 0; i < n; i++)
        if (isfinite(unlike[i]) && isfinite(other[i]))
            behind[i] = constancy_behind(relief, plane, unlike, other, i);
    for (int i = 0; i < n; i++)
        if ((moved[i] = behind[i] > CONSTANCY_BEHIND)) {
            lf_relief_retell(relief, i, z[i], CONSTANCY_BACK_SIGMA * relief->side);
            lf_relief_vouch(relief, i, behind[i]);
        }
    lf_relief_told(relief, false);
}
