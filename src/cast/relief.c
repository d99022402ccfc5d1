/* Learning a relief: one small information filter per cell of the photo. */
#include <math.h>
#include <string.h>

#include "cast/relief_cells.h"
#include "cast/symmetric3.h"

/* Cells over the longer side: 20 px of a 2,000 px photo, half a patch at reading distance. */
#define RELIEF_CELLS 200
/* The photo sees the relief from a place of its own: taken from in front of its middle, from this
 * many times its longer side away (a field of about 50 degrees; common practice for shelf photos),
 * until a survey tells better.
 */
#define RELIEF_CAMERA 1.1
/* How far (u, v) may stray from that: as a share of the spread of z, and photo px at least. Tight,
 * since a shift shared by all cells could not be told from a shift of the pose. */
#define RELIEF_UV_SHARE 0.12
#define RELIEF_UV_FLOOR 0.05
/* Spread of z to begin with, photo px; then as learnt, within these bounds. */
#define RELIEF_SIGMA_Z 40.0
#define RELIEF_SIGMA_Z_MIN 0.3
#define RELIEF_SIGMA_Z_MAX 150.0
/* Share of its weight that knowledge keeps from frame to frame: early frames were fitted while the
 * relief was not known. Half after 70 frames. */
#define RELIEF_KEEP 0.99
/* The same for surprises, which are large while the relief is being learnt. */
#define RELIEF_KEEP_OFF 0.95
/* Shifts of neighbouring frames repeat each other's errors: each counts for so much. */
#define RELIEF_WORTH 0.3
/* The relief is used when it foretells shifts better than the plane does: when what it leaves,
 * px^2, is under this share of what the plane leaves, over at least so many shifts of the last
 * second or so. On a flat photo it can only add noise. A single shift counts up to RELIEF_CAP_PX^2.
 */
#define RELIEF_USEFUL 0.6
#define RELIEF_USEFUL_SEEN 200
#define RELIEF_CAP_PX 6.0
#define RELIEF_MEMORY 0.96
/* Weight of the neighbour cells' knowledge: packs are wider than a cell, their borders are not. */
#define RELIEF_NEIGHBOUR 0.25
/* Cells this far around are asked; those at the rim have a weight of their own. */
#define RELIEF_AROUND 2
#define RELIEF_RIM 0.05
/* Spread of z where nothing is known around, a share of the photo's longer side: a gap between
 * packs may show the back of the shelf. */
#define RELIEF_UNKNOWN 0.08
/* Where what is known lies this far to one side, cells, it begins to count less; from one cell on,
 * nothing is known. */
#define RELIEF_ASIDE 0.4
/* Cells whose depths differ by this share of the photo's longer side are half as much of one thing.
 */
#define RELIEF_ALIKE 0.005
/* Standard error of a shift where nothing can be told, frame px. */
#define RELIEF_NO_IDEA_PX 1e6
/* Surprises this many standard errors large count half (Cauchy weights): the next facing. */
#define RELIEF_SURPRISE 3.0

LfRelief *lf_relief_new(int width, int height)
{
    LfRelief *relief = g_new0(LfRelief, 1);
    relief->cell_px = MAX(width, height) / (double)RELIEF_CELLS;
    relief->columns = (int)(width / relief->cell_px) + 1;
    relief->rows = (int)(height / relief->cell_px) + 1;
    relief->side = MAX(width, height);
    relief->camera = (LfReliefCamera){.middle = {(width - 1) / 2.0, (height - 1) / 2.0},
                                      .distance = RELIEF_CAMERA * relief->side};
    relief->cells = g_new(LfReliefCell, relief->columns * relief->rows);
    relief->glance = g_new(double, relief->columns * relief->rows);
    relief->fresh = g_new(int, relief->columns * relief->rows);
    lf_relief_reset(relief);
    return relief;
}

void lf_relief_free(LfRelief *relief)
{
    if (!relief)
        return;
    g_free(relief->cells);
    g_free(relief->glance);
    g_free(relief->fresh);
    g_free(relief);
}

void lf_relief_reset(LfRelief *relief)
{
    const gsize n = (gsize)(relief->columns * relief->rows);
    memset(relief->cells, 0, sizeof *relief->cells * n);
    memset(relief->glance, 0, sizeof *relief->glance * n);
    relief->n_fresh = 0;
    relief->sigma_z = RELIEF_SIGMA_Z;
    relief->off_plane = relief->off_relief = relief->seen = 0;
    relief->useful = relief->surveyed = false;
}

void lf_relief_copy(LfRelief *relief, const LfRelief *from)
{
    const gsize n = (gsize)(relief->columns * relief->rows);
    LfRelief own = *relief;
    memcpy(own.cells, from->cells, sizeof *own.cells * n);
    memcpy(own.glance, from->glance, sizeof *own.glance * n);
    memcpy(own.fresh, from->fresh, sizeof *own.fresh * (gsize)from->n_fresh);
    *relief = *from;
    relief->cells = own.cells;
    relief->glance = own.glance;
    relief->fresh = own.fresh;
}

static void relief_prior(const LfRelief *relief, double a[6])
{
    memset(a, 0, 6 * sizeof *a);
    const double sigma_uv = RELIEF_UV_SHARE * relief->sigma_z + RELIEF_UV_FLOOR;
    a[0] = a[3] = 1 / (sigma_uv * sigma_uv);
    a[5] = 1 / (relief->sigma_z * relief->sigma_z);
}

/* Spread of z where nothing is known. */
static double relief_unknown(const LfRelief *relief)
{
    return MAX(relief->sigma_z, RELIEF_UNKNOWN * relief->side);
}

typedef struct {
    double a[6], b[3]; /* information on (u, v, z), as of a cell */
    double surprise;   /* mean squared surprise, frame px^2 per axis */
    double step;       /* variance of z from cell to cell, photo px^2 */
} ReliefKnown;

/* How far a neighbour that tells is part of the same thing as the cell, 0..1: across the edge of a
 * pack it says nothing. */
static double relief_alike(const LfRelief *relief, const LfReliefCell *own,
                           const LfReliefCell *other)
{
    const double same = RELIEF_ALIKE * relief->side, step = other->z - own->z;
    const double off = step * step / (same * same + own->z_variance + other->z_variance);
    return 1 / ((1 + off) * (1 + off));
}

/* What the cell at p and, for less, its neighbours know. */
static ReliefKnown relief_gather(const LfRelief *relief, LfPoint p)
{
    ReliefKnown known = {0};
    const int column = (int)floor(p.x / relief->cell_px), row = (int)floor(p.y / relief->cell_px);
    const LfReliefCell *own = lf_relief_cell(relief, column, row);
    double off = 0, seen = 0, weights = 0, z = 0, zz = 0, to_x = 0, to_y = 0;
    relief_prior(relief, known.a);
    for (int y = -RELIEF_AROUND; y <= RELIEF_AROUND; y++)
        for (int x = -RELIEF_AROUND; x <= RELIEF_AROUND; x++) {
            const LfReliefCell *cell = lf_relief_cell(relief, column + x, row + y);
            const int off_by = MAX(abs(x), abs(y));
            if (!cell || !cell->touched)
                continue;
            const double weight = (off_by == 0   ? 1
                                   : off_by == 1 ? RELIEF_NEIGHBOUR
                                                 : RELIEF_RIM) *
                                  (own && own->touched ? relief_alike(relief, own, cell) : 1);
            off += weight * cell->off;
            seen += weight * cell->off_seen;
            for (int i = 0; i < 6; i++)
                known.a[i] += weight * cell->a[i];
            for (int i = 0; i < 3; i++)
                known.b[i] += weight * cell->b[i];
            const double sure = weight / (1 + cell->z_variance);
            weights += sure;
            z += sure * cell->z;
            zz += sure * cell->z * cell->z;
            to_x += sure * x;
            to_y += sure * y;
        }
    const double unknown = relief_unknown(relief);
    if (weights == 0)
        known.a[5] = 1 / (unknown * unknown);
    known.surprise = seen > 0 ? off / seen : 0;
    if (weights > 0)
        known.step = MAX(zz / weights - z / weights * (z / weights), 0);
    /* Known on one side alone: the pack may end here. */
    if (weights > 0 && (!own || !own->touched)) {
        const double aside = hypot(to_x, to_y) / weights;
        const double share = CLAMP((aside - RELIEF_ASIDE) / (1 - RELIEF_ASIDE), 0, 1);
        known.step += share * share * unknown * unknown;
    }
    return known;
}

/* Variance of a shift, px^2 per axis, by the covariance v of (u, v, z). */
static double relief_variance(const double j[6], const double v[6])
{
    double sum = 0;
    for (int i = 0; i < 6; i += 3)
        sum += j[i] * (v[0] * j[i] + v[1] * j[i + 1] + v[2] * j[i + 2]) +
               j[i + 1] * (v[1] * j[i] + v[3] * j[i + 1] + v[4] * j[i + 2]) +
               j[i + 2] * (v[2] * j[i] + v[4] * j[i + 1] + v[5] * j[i + 2]);
    return MAX(sum, 0) / 2;
}

const LfReliefCamera *lf_relief_camera(const LfRelief *relief)
{
    return &relief->camera;
}

void lf_relief_set_camera(LfRelief *relief, LfReliefCamera camera)
{
    relief->camera = camera;
}

LfReliefSpot lf_relief_spot(const LfRelief *relief, LfPoint photo)
{
    double x[3];
    LfReliefSpot spot;
    const ReliefKnown known = relief_gather(relief, photo);
    lf_symmetric3_solve(known.a, known.b, x, spot.cov);
    spot.cov[5] += known.step;
    spot.place = (LfReliefPlace){x[0], x[1], x[2]};
    spot.surprise = known.surprise;
    return spot;
}

LfReliefShift lf_relief_spot_shift(const LfRelief *relief, const LfReliefView *view, LfPoint photo,
                                   const LfReliefSpot *spot)
{
    double j[6];
    LfReliefSeen seen;
    if (!relief->useful)
        return (LfReliefShift){.scale = 1};
    if (!lf_relief_project(&relief->camera, view, photo, spot->place, &seen, j))
        return (LfReliefShift){{0, 0}, RELIEF_NO_IDEA_PX, 1, 0};
    return (LfReliefShift){seen.shift, sqrt(relief_variance(j, spot->cov) + spot->surprise),
                           seen.scale, spot->place.z};
}

LfReliefShift lf_relief_shift(const LfRelief *relief, const LfReliefView *view, LfPoint photo)
{
    if (!relief->useful)
        return (LfReliefShift){.scale = 1};
    const LfReliefSpot spot = lf_relief_spot(relief, photo);
    return lf_relief_spot_shift(relief, view, photo, &spot);
}

double lf_relief_glance(const LfRelief *relief, LfPoint photo)
{
    const LfReliefCell *cell = lf_relief_cell(relief, (int)floor(photo.x / relief->cell_px),
                                              (int)floor(photo.y / relief->cell_px));
    return relief->useful && cell ? relief->glance[cell - relief->cells] : 0;
}

double lf_relief_rough(const LfRelief *relief, const LfReliefView *view, LfPoint photo)
{
    const int column = (int)floor(photo.x / relief->cell_px),
              row = (int)floor(photo.y / relief->cell_px);
    double j[6], sum = 0, n = 0;
    LfReliefSeen seen;
    if (!relief->useful)
        return 0;
    const LfReliefPlace place = lf_relief_spot(relief, photo).place;
    if (!lf_relief_project(&relief->camera, view, photo, place, &seen, j))
        return 0;
    const double unknown = relief_unknown(relief);
    for (int y = -1; y <= 1; y++)
        for (int i = -1; i <= 1; i++) {
            const LfReliefCell *cell = lf_relief_cell(relief, column + i, row + y);
            if (!cell)
                continue;
            /* The cell itself weighs as much as all eight around it. */
            const double weight = y == 0 && i == 0 ? 8 : 1;
            const double step = cell->z - place.z;
            sum += weight * (cell->touched ? MIN(step * step + cell->z_variance, unknown * unknown)
                                           : unknown * unknown);
            n += weight;
        }
    return n > 0 ? sqrt(sum / n) * hypot(j[2], j[5]) : 0;
}

bool lf_relief_flat(const LfRelief *relief)
{
    return relief->surveyed && !relief->useful;
}

LfReliefGrid lf_relief_grid(const LfRelief *relief)
{
    return (LfReliefGrid){relief->columns, relief->rows, relief->cell_px};
}

void lf_relief_tell(LfRelief *relief, int cell, double z, double sigma)
{
    LfReliefCell *c = &relief->cells[cell];
    c->a[5] += 1 / (sigma * sigma);
    c->b[2] += z / (sigma * sigma);
    c->touched = true;
}

void lf_relief_retell(LfRelief *relief, int cell, double z, double sigma)
{
    LfReliefCell *c = &relief->cells[cell];
    memset(c->a, 0, sizeof c->a);
    memset(c->b, 0, sizeof c->b);
    lf_relief_tell(relief, cell, z, sigma);
}

void lf_relief_bar(LfRelief *relief, int cell)
{
    relief->cells[cell].barred = true;
}

void lf_relief_vouch(LfRelief *relief, int cell, double trust)
{
    relief->cells[cell].vouched = MAX(round(trust * 255), 1) / 255;
}

double lf_relief_vouched(const LfRelief *relief, int cell)
{
    return relief->cells[cell].vouched;
}

bool lf_relief_cell_told(const LfRelief *relief, int cell, double *z, double *sigma)
{
    const LfReliefCell *c = &relief->cells[cell];
    if (!(c->a[5] > 0))
        return false;
    *z = c->b[2] / c->a[5];
    *sigma = 1 / sqrt(c->a[5]);
    return true;
}

bool lf_relief_cell_barred(const LfRelief *relief, int cell)
{
    return relief->cells[cell].barred;
}

bool lf_relief_known(const LfRelief *relief)
{
    return relief->useful;
}

bool lf_relief_barred(const LfRelief *relief, LfPoint photo)
{
    const LfReliefCell *cell = lf_relief_cell(relief, (int)floor(photo.x / relief->cell_px),
                                              (int)floor(photo.y / relief->cell_px));
    return cell && cell->barred;
}

/* z of a cell from what it knows and the prior. */
static void relief_place(LfRelief *relief, LfReliefCell *cell)
{
    double a[6], x[3], v[6];
    relief_prior(relief, a);
    for (int i = 0; i < 6; i++)
        a[i] += cell->a[i];
    lf_symmetric3_solve(a, cell->b, x, v);
    cell->z = x[2];
    cell->z_variance = v[5];
    relief->glance[cell - relief->cells] = cell->z;
}

/* z of all cells, and its spread. */
static void relief_take_spread(LfRelief *relief)
{
    double sum = 0, n = 0;
    for (int c = 0; c < relief->columns * relief->rows; c++) {
        LfReliefCell *cell = &relief->cells[c];
        if (!cell->touched)
            continue;
        relief_place(relief, cell);
        /* Else it is the prior that speaks. */
        if (cell->z_variance < 0.25 * relief->sigma_z * relief->sigma_z) {
            sum += cell->z * cell->z + cell->z_variance;
            n++;
        }
    }
    /* Empirical Bayes: a flat photo learns that it is. */
    if (n >= 20)
        relief->sigma_z = CLAMP(sqrt(sum / n), RELIEF_SIGMA_Z_MIN, RELIEF_SIGMA_Z_MAX);
}

void lf_relief_told(LfRelief *relief, bool flat)
{
    relief_take_spread(relief);
    if (flat)
        lf_relief_reset(relief);
    relief->surveyed = true;
    relief->useful = !flat;
    lf_relief_weigh(relief);
}

void lf_relief_learn(LfRelief *relief, const LfReliefView *view, LfPoint photo, LfPoint shift_px,
                     double sigma_px)
{
    double j[6];
    LfReliefSeen seen;
    LfReliefCell *cell = lf_relief_cell(relief, (int)floor(photo.x / relief->cell_px),
                                        (int)floor(photo.y / relief->cell_px));
    if (!cell || cell->barred)
        return;
    const LfReliefSpot spot = lf_relief_spot(relief, photo);
    const LfReliefPlace place = spot.place;
    if (!lf_relief_project(&relief->camera, view, photo, place, &seen, j))
        return;
    const double cap = RELIEF_CAP_PX * RELIEF_CAP_PX;
    const double ex = shift_px.x - seen.shift.x, ey = shift_px.y - seen.shift.y;
    relief->off_plane += MIN(shift_px.x * shift_px.x + shift_px.y * shift_px.y, cap);
    relief->off_relief += MIN(ex * ex + ey * ey, cap);
    relief->seen++;
    const double expected = relief_variance(j, spot.cov) + spot.surprise + sigma_px * sigma_px;
    const double off = (ex * ex + ey * ey) / 2;
    cell->off += MAX(MIN(off, cap) - sigma_px * sigma_px, 0);
    cell->off_seen++;
    const double w = RELIEF_WORTH / (sigma_px * sigma_px) /
                     (1 + off / expected / (RELIEF_SURPRISE * RELIEF_SURPRISE));
    /* Linear about where the point is taken to be (extended Kalman filter): z is not small against
     * the distance. */
    for (int i = 0; i < 6; i += 3) {
        const double r =
            (i == 0 ? ex : ey) + j[i] * place.u + j[i + 1] * place.v + j[i + 2] * place.z;
        cell->a[0] += w * j[i] * j[i];
        cell->a[1] += w * j[i] * j[i + 1];
        cell->a[2] += w * j[i] * j[i + 2];
        cell->a[3] += w * j[i + 1] * j[i + 1];
        cell->a[4] += w * j[i + 1] * j[i + 2];
        cell->a[5] += w * j[i + 2] * j[i + 2];
        for (int k = 0; k < 3; k++)
            cell->b[k] += w * j[i + k] * r;
    }
    cell->touched = true;
    if (!cell->fresh)
        relief->fresh[relief->n_fresh++] = (int)(cell - relief->cells);
    cell->fresh = true;
}

void lf_relief_settle(LfRelief *relief)
{
    /* The spread over a photo that a survey went through does not change with one frame more. */
    if (!relief->surveyed)
        relief_take_spread(relief);
    for (int f = 0; f < relief->n_fresh; f++) {
        LfReliefCell *cell = &relief->cells[relief->fresh[f]];
        if (relief->surveyed)
            relief_place(relief, cell);
        for (int i = 0; i < 6; i++)
            cell->a[i] *= RELIEF_KEEP;
        for (int i = 0; i < 3; i++)
            cell->b[i] *= RELIEF_KEEP;
        cell->off *= RELIEF_KEEP_OFF;
        cell->off_seen *= RELIEF_KEEP_OFF;
        cell->fresh = false;
    }
    relief->n_fresh = 0;
    /* Seen from straight ahead a shelf looks flat; what a survey saw from aside holds all the same.
     */
    if (!relief->surveyed)
        relief->useful = relief->seen >= RELIEF_USEFUL_SEEN &&
                         relief->off_relief < RELIEF_USEFUL * relief->off_plane;
    relief->off_plane *= RELIEF_MEMORY;
    relief->off_relief *= RELIEF_MEMORY;
    relief->seen *= RELIEF_MEMORY;
}
