/* What a photo is found by: corners to follow, features to locate, and which of them look alike. */
#include "cast/photo_bank.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ORB features of the upright view: enough for 30% of the photo in view to hold several hundred
 * (measured on the rendered walks). */
#define FEATURES_ORB 2600
/* Hamming distance of 256 bits under which two places look alike: the same print seen twice differs
 * by 20-40 bits, unrelated print by 90 and more (measured on the rendered photos). */
#define FEATURES_ALIKE_BITS 40
enum { FEATURES_NEIGHBOURS = 6 };

static bool features_corners(LfPhoto *photo, GError **error)
{
    for (int octave = 0; octave < LF_PHOTO_OCTAVES; octave++) {
        if (2 * octave >= photo->n_levels)
            break;
        const LfPlane *plane = &photo->level[2 * octave];
        LfShimImage view = lf_plane_view(plane);
        g_autofree float *xy = g_new(float, 2 * LF_PHOTO_CORNERS);
        char message[LF_SHIM_MESSAGE] = "";
        int n = 0;
        /* Weak corners count too (0.2% of the strongest): a pale label is texture where nothing
         * else is. 5 px apart, a third of a patch. */
        if (lf_shim_corners(&view, LF_PHOTO_CORNERS, 0.002, 5, xy, &n, message) != LF_SHIM_OK) {
            g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Finding corners failed: %s.", message);
            return false;
        }
        photo->corners[octave] = g_new(LfCorner, n);
        photo->n_corners[octave] = n;
        for (int i = 0; i < n; i++) {
            LfPoint p =
                lf_plane_to_image(plane, (LfPoint){(double)xy[2 * i], (double)xy[2 * i + 1]});
            photo->corners[octave][i] = (LfCorner){(float)p.x, (float)p.y};
        }
    }
    return true;
}

typedef struct {
    float dx, dy;
} FeaturePair;

/* Peaks of the displacements between look-alike places: the pitches at which facings repeat. */
static void features_shifts(LfPhoto *photo, const FeaturePair *pairs, int n_pairs)
{
    const double bin = MAX(photo->report.width, photo->report.height) / 250.0;
    g_autofree bool *taken = g_new0(bool, n_pairs);
    while (photo->n_shifts < LF_PHOTO_SHIFTS) {
        int best = -1, best_count = 0;
        for (int i = 0; i < n_pairs; i++) {
            if (taken[i])
                continue;
            int count = 0;
            for (int j = 0; j < n_pairs; j++)
                count += !taken[j] && fabs((double)(pairs[j].dx - pairs[i].dx)) < bin &&
                         fabs((double)(pairs[j].dy - pairs[i].dy)) < bin;
            if (count > best_count) {
                best = i;
                best_count = count;
            }
        }
        if (best_count < 6) /* fewer are chance */
            return;
        double sum_x = 0, sum_y = 0;
        const FeaturePair peak = pairs[best];
        for (int j = 0; j < n_pairs; j++)
            if (!taken[j] && fabs((double)(pairs[j].dx - peak.dx)) < bin &&
                fabs((double)(pairs[j].dy - peak.dy)) < bin) {
                taken[j] = true;
                sum_x += (double)pairs[j].dx;
                sum_y += (double)pairs[j].dy;
            }
        photo->shifts[photo->n_shifts++] =
            (LfPhotoShift){(float)(sum_x / best_count), (float)(sum_y / best_count),
                           (float)best_count / (float)n_pairs};
    }
}

/* Marks alike features of the upright view and finds the shifts. */
static bool features_alike(LfPhoto *photo, GError **error)
{
    const LfBank *bank = &photo->features;
    const int n_upright = bank->n_upright;
    const double apart = MAX(photo->report.width, photo->report.height) / 80.0;
    g_autofree LfShimMatch *match = g_new(LfShimMatch, (gsize)n_upright * FEATURES_NEIGHBOURS);
    g_autofree FeaturePair *pairs = g_new(FeaturePair, (gsize)n_upright * FEATURES_NEIGHBOURS);
    char message[LF_SHIM_MESSAGE] = "";
    int n_pairs = 0;
    if (lf_shim_match(LF_SHIM_ORB, bank->descriptors, n_upright, bank->descriptors, n_upright,
                      FEATURES_NEIGHBOURS, match, message) != LF_SHIM_OK) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Comparing features failed: %s.", message);
        return false;
    }
    for (int i = 0; i < n_upright; i++) {
        LfBankFeature *f = &bank->features[i];
        for (int k = 0; k < FEATURES_NEIGHBOURS; k++) {
            const LfShimMatch *m = &match[i * FEATURES_NEIGHBOURS + k];
            if (m->train < 0 || m->distance > FEATURES_ALIKE_BITS)
                break;
            const LfBankFeature *g = &bank->features[m->train];
            FeaturePair d = {g->x - f->x, g->y - f->y};
            if (hypot((double)d.dx, (double)d.dy) < apart)
                continue;
            f->alike = 1;
            if (d.dx > 0 || (d.dx == 0 && d.dy > 0)) /* each pair once, as a shift to the right */
                pairs[n_pairs++] = d;
        }
    }
    /* The peaks are found by counting neighbours of every pair: some thousands are enough. */
    const int step = n_pairs / 2000 + 1;
    int n_kept = 0;
    for (int i = 0; i < n_pairs; i += step)
        pairs[n_kept++] = pairs[i];
    features_shifts(photo, pairs, n_kept);
    return true;
}

static void features_report(LfPhoto *photo)
{
    const LfBank *bank = &photo->features;
    const int n_upright = bank->n_upright;
    int per_cell[64] = {0}, filled = 0, alike = 0;
    for (int i = 0; i < n_upright; i++) {
        const LfBankFeature *f = &bank->features[i];
        int cx = CLAMP((int)((double)f->x * 8 / photo->report.width), 0, 7);
        int cy = CLAMP((int)((double)f->y * 8 / photo->report.height), 0, 7);
        per_cell[cy * 8 + cx]++;
        alike += f->alike;
    }
    for (int i = 0; i < 64; i++)
        filled += per_cell[i] >= 3;
    photo->report.features = n_upright;
    photo->report.spread = filled / 64.0;
    photo->report.alike = n_upright > 0 ? (double)alike / n_upright : 0;
}

bool lf_photo_features_compute(LfPhoto *photo, GError **error)
{
    if (!features_corners(photo, error) ||
        !lf_bank_compute(photo, LF_SHIM_ORB, FEATURES_ORB, &photo->features, error) ||
        !features_alike(photo, error))
        return false;
    features_report(photo);
    return true;
}
