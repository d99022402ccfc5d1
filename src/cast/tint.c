/* How colours of the photo map to those of a frame. */
#include "cast/tint.h"

#include <math.h>
#include <stdlib.h>

#include "cast/solve.h"

/* Fewer places do not fix the map. */
#define TINT_MIN_PAIRS 12
#define TINT_ROUNDS 3
/* Least spread, grey levels: noise of compression, and what differs from place to place. */
#define TINT_SPREAD_FLOOR 1.5
/* What is likely before anything was seen, the photo's own colours, counts like a place that is so
 * many grey levels from neutral. */
#define TINT_PRIOR 10.0

bool lf_tint_photo(const LfPhoto *photo, LfPoint at, double photo_scale, double out[3])
{
    const int level = lf_photo_tint_level_for(photo, photo_scale);
    const LfPlane *luma = &photo->level[level], *tint = photo->tint[level];
    return tint[0].data && lf_plane_sample(&tint[0], lf_plane_from_image(&tint[0], at), &out[0]) &&
           lf_plane_sample(&tint[1], lf_plane_from_image(&tint[1], at), &out[1]) &&
           lf_plane_sample(luma, lf_plane_from_image(luma, at), &out[2]);
}

/* Terms of the map at a photo point. */
static bool tint_terms(const LfPhoto *photo, LfPoint at, double photo_scale,
                       double terms[LF_TINT_TERMS])
{
    if (!lf_tint_photo(photo, at, photo_scale, terms))
        return false;
    for (int i = 0; i < 3; i++)
        terms[i] -= 128;
    terms[3] = 1;
    return true;
}

bool lf_tint_seen(const LfFramePyramid *frame, LfPoint at, double out[LF_TINT_CHANNELS])
{
    if (!frame->has_tint)
        return false;
    const LfPoint p = lf_plane_from_image(&frame->tint[0], at);
    for (int c = 0; c < LF_TINT_CHANNELS; c++) {
        if (!lf_plane_sample(&frame->tint[c], p, &out[c]))
            return false;
        out[c] -= 128;
    }
    return true;
}

static double tint_apply(const double map[LF_TINT_TERMS], const double terms[LF_TINT_TERMS])
{
    double sum = 0;
    for (int i = 0; i < LF_TINT_TERMS; i++)
        sum += map[i] * terms[i];
    return sum;
}

bool lf_tint_expected(const LfTintMap *map, const LfPhoto *photo, LfPoint at, double photo_scale,
                      double out[LF_TINT_CHANNELS])
{
    double terms[LF_TINT_TERMS];
    if (!tint_terms(photo, at, photo_scale, terms))
        return false;
    for (int c = 0; c < LF_TINT_CHANNELS; c++)
        out[c] = tint_apply(map->from_photo[c], terms);
    return true;
}

double lf_tint_off2(const LfTintMap *map, const double seen[LF_TINT_CHANNELS],
                    const double expected[LF_TINT_CHANNELS])
{
    double sum = 0;
    for (int c = 0; c < LF_TINT_CHANNELS; c++) {
        const double off = (seen[c] - expected[c]) / map->spread[c];
        sum += off * off;
    }
    return sum / LF_TINT_CHANNELS;
}

typedef struct {
    double terms[LF_TINT_TERMS], seen[LF_TINT_CHANNELS], off;
} TintPlace;

static int tint_order(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Median of the distances over that of a normal distribution of spread 1. */
static double tint_spread(const TintPlace *places, int n)
{
    g_autofree double *off = g_new(double, n);
    for (int i = 0; i < n; i++)
        off[i] = fabs(places[i].off);
    qsort(off, (gsize)n, sizeof *off, tint_order);
    return MAX(off[n / 2] * 1.4826, TINT_SPREAD_FLOOR);
}

/* One channel, by weights that fall off with what is left (Cauchy). */
static bool tint_fit_channel(TintPlace *places, int n, int channel, double map[LF_TINT_TERMS],
                             double *spread)
{
    const double prior = TINT_PRIOR * TINT_PRIOR;
    for (int i = 0; i < LF_TINT_TERMS; i++)
        map[i] = i == channel;
    for (int round = 0; round <= TINT_ROUNDS; round++) {
        for (int i = 0; i < n; i++)
            places[i].off = places[i].seen[channel] - tint_apply(map, places[i].terms);
        *spread = tint_spread(places, n);
        if (round == TINT_ROUNDS)
            return true;
        double a[LF_TINT_TERMS * LF_TINT_TERMS] = {0};
        for (int k = 0; k < LF_TINT_TERMS; k++) {
            a[k * LF_TINT_TERMS + k] = k < 3 ? prior : 1;
            map[k] = k == channel ? prior : 0;
        }
        for (int i = 0; i < n; i++) {
            const double t = places[i].off / (2 * *spread), w = 1 / (1 + t * t);
            const double *q = places[i].terms;
            for (int k = 0; k < LF_TINT_TERMS; k++) {
                for (int j = 0; j < LF_TINT_TERMS; j++)
                    a[k * LF_TINT_TERMS + j] += w * q[k] * q[j];
                map[k] += w * q[k] * places[i].seen[channel];
            }
        }
        if (!lf_solve_positive(a, map, LF_TINT_TERMS))
            return false;
    }
    return true;
}

void lf_tint_fit(LfTintMap *map, const LfTintPair *pairs, int n, const LfPhoto *photo,
                 const LfFramePyramid *frame)
{
    g_autofree TintPlace *places = g_new(TintPlace, n + 1);
    int kept = 0;
    for (int i = 0; i < n; i++)
        kept += tint_terms(photo, pairs[i].photo, pairs[i].photo_scale, places[kept].terms) &&
                lf_tint_seen(frame, pairs[i].frame, places[kept].seen);
    map->known = kept >= TINT_MIN_PAIRS;
    for (int c = 0; c < LF_TINT_CHANNELS && map->known; c++)
        map->known = tint_fit_channel(places, kept, c, map->from_photo[c], &map->spread[c]);
}
