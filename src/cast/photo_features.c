/* What a photo is found by: corners to follow, features to locate, and which of them look alike. */
#include "cast/photo_bank.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* The features are detected with the longer side at this size: ORB's pyramid reaches down from
 * there by a factor of 5, and frames are searched at about 1,000 px. */
#define FEATURES_BASE_PX 1200
/* Views: the photo as it is, and squeezed as if seen from aside or from above or below (tilts as in
 * J.-M. Morel, G. Yu, "ASIFT", SIAM J. Imaging Sciences 2 (2009), doi:10.1137/080732730). */
static const struct {
    double squeeze_x, squeeze_y;
    double share; /* of the features asked for */
} FEATURES_VIEWS[] = {{1, 1, 1}, {1.7, 1, 0.6}, {2.8, 1, 0.45}, {1, 1.7, 0.35}};
/* Enough for 30% of the photo in view to hold several hundred (measured on the rendered walks). */
#define FEATURES_ORB 2600
/* Cells for an even spread: 16 x 12 over the photo. */
enum { FEATURES_CELLS_X = 16, FEATURES_CELLS_Y = 12 };
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
         * else is. 7 px apart, under half a patch. */
        if (lf_shim_corners(&view, LF_PHOTO_CORNERS, 0.002, 7, xy, &n, message) != LF_SHIM_OK) {
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

static int features_cell(const LfPhoto *photo, float x, float y)
{
    int cx = (int)((double)x * FEATURES_CELLS_X / photo->report.width);
    int cy = (int)((double)y * FEATURES_CELLS_Y / photo->report.height);
    return CLAMP(cy, 0, FEATURES_CELLS_Y - 1) * FEATURES_CELLS_X +
           CLAMP(cx, 0, FEATURES_CELLS_X - 1);
}

typedef struct {
    float response;
    int index;
} FeatureRank;

static int features_rank_order(const void *a, const void *b)
{
    const FeatureRank *p = a, *q = b;
    if (p->response != q->response)
        return p->response < q->response ? 1 : -1;
    return p->index - q->index;
}

typedef struct {
    const LfPlane *plane; /* of the photo, what the view was made from */
    int view;
    int max;
} FeaturesView;

/* Appends the strongest features of a view, no cell with more than three times its share. */
static void features_keep(const LfPhoto *photo, const FeaturesView *view,
                          const LfShimFeature *found, const uint8_t *descriptors, int n,
                          LfBank *bank)
{
    int used[FEATURES_CELLS_X * FEATURES_CELLS_Y] = {0};
    const int cap = MAX(3 * view->max / (FEATURES_CELLS_X * FEATURES_CELLS_Y), 4);
    const gsize bytes = (gsize)lf_shim_descriptor_bytes(bank->kind);
    const double squeeze_x = FEATURES_VIEWS[view->view].squeeze_x,
                 squeeze_y = FEATURES_VIEWS[view->view].squeeze_y;
    g_autofree FeatureRank *rank = g_new(FeatureRank, n);
    for (int i = 0; i < n; i++)
        rank[i] = (FeatureRank){found[i].response, i};
    qsort(rank, (gsize)n, sizeof *rank, features_rank_order);

    bank->features = g_renew(LfBankFeature, bank->features, bank->n + view->max);
    bank->descriptors = g_realloc(bank->descriptors, (gsize)(bank->n + view->max) * bytes);
    for (int r = 0, kept = 0; r < n && kept < view->max; r++) {
        const LfShimFeature *f = &found[rank[r].index];
        LfPoint p =
            lf_plane_to_image(view->plane, (LfPoint){((double)f->x + 0.5) * squeeze_x - 0.5,
                                                     ((double)f->y + 0.5) * squeeze_y - 0.5});
        int cell = features_cell(photo, (float)p.x, (float)p.y);
        if (used[cell] >= cap)
            continue;
        used[cell]++;
        kept++;
        memcpy(bank->descriptors + (gsize)bank->n * bytes,
               descriptors + (gsize)rank[r].index * bytes, bytes);
        bank->features[bank->n++] =
            (LfBankFeature){(float)p.x, (float)p.y,          f->size / (float)view->plane->scale_x,
                            f->angle,   (uint8_t)view->view, 0};
    }
}

static bool features_view(const LfPhoto *photo, const FeaturesView *view, LfBank *bank,
                          GError **error)
{
    const double sx = FEATURES_VIEWS[view->view].squeeze_x,
                 sy = FEATURES_VIEWS[view->view].squeeze_y;
    const int width = (int)(view->plane->width / sx), height = (int)(view->plane->height / sy);
    g_autofree uint8_t *squeezed = g_malloc((gsize)width * (gsize)height);
    LfShimImage from = lf_plane_view(view->plane), to = {squeezed, width, height, width};
    const double matrix[9] = {sx, 0, sx / 2 - 0.5, 0, sy, sy / 2 - 0.5, 0, 0, 1};
    /* Before sampling every sx-th px: the blur of a lens that sees it from aside (0.8 sqrt(t^2-1),
     * ASIFT, section 3). */
    const double sigma_x = 0.8 * sqrt(sx * sx - 1), sigma_y = 0.8 * sqrt(sy * sy - 1);
    char message[LF_SHIM_MESSAGE] = "";
    LfShimFeature *found = NULL;
    uint8_t *descriptors = NULL;
    int n = 0;
    bool good = lf_shim_warp(&from, matrix, sigma_x, sigma_y, squeezed, width, height, 0,
                             message) == LF_SHIM_OK &&
                lf_shim_detect(&to, bank->kind, 2 * view->max, &found, &descriptors, &n, message) ==
                    LF_SHIM_OK;
    if (good)
        features_keep(photo, view, found, descriptors, n, bank);
    else
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Finding features failed: %s.", message);
    lf_shim_free(found);
    lf_shim_free(descriptors);
    return good;
}

void lf_bank_clear(LfBank *bank)
{
    g_clear_pointer(&bank->features, g_free);
    g_clear_pointer(&bank->descriptors, g_free);
    bank->n = bank->n_upright = 0;
}

bool lf_bank_compute(const LfPhoto *photo, LfShimKind kind, int max_features, LfBank *bank,
                     GError **error)
{
    const int longer = MAX(photo->report.width, photo->report.height);
    *bank = (LfBank){.kind = kind};
    for (int view = 0; view < (int)G_N_ELEMENTS(FEATURES_VIEWS); view++) {
        FeaturesView one = {
            .plane = &photo->level[lf_photo_level_for(photo, (double)longer / FEATURES_BASE_PX)],
            .view = view,
            .max = (int)(FEATURES_VIEWS[view].share * max_features)};
        if (!features_view(photo, &one, bank, error)) {
            lf_bank_clear(bank);
            return false;
        }
        if (view == 0)
            bank->n_upright = bank->n;
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
