/* Matching a frame against a photo's bank, and the hypotheses that come out of it. */
#include "cast/matches.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cast/hamming.h"

enum { MATCHES_NEAREST = 8, MATCHES_PLACES = 3 };
/* A match further away is chance: of 256 bits unrelated ones differ by about 100; unit vectors of
 * 512 by about 1.2 x 512. */
static const float MATCHES_MAX_DISTANCE[] = {[LF_SHIM_ORB] = 72, [LF_SHIM_SIFT] = 400};
/* Ratio test (Lowe 2004, section 7.1) against the nearest *other place*. */
#define MATCHES_RATIO 0.82F
/* Places count as other when further apart than this share of the photo's longer side. */
#define MATCHES_APART 0.0125
#define MATCHES_MIN 8

static bool matches_nearest(const LfBank *bank, const LfFrameFeatures *features, LfShimMatch *near)
{
    if (bank->kind != LF_SHIM_ORB)
        return lf_shim_match(bank->kind, features->descriptors, features->n, bank->descriptors,
                             bank->n, MATCHES_NEAREST, near, NULL) == LF_SHIM_OK;
    lf_hamming_match(features->descriptors, features->n, bank->descriptors, bank->n,
                     MATCHES_NEAREST, near);
    return true;
}

LfMatch *lf_matches_find(const LfPhoto *photo, const LfBank *bank, const LfFrameFeatures *features,
                         int *n)
{
    const int rows = features->n;
    g_autofree LfShimMatch *near = g_new(LfShimMatch, (gsize)rows * MATCHES_NEAREST);
    LfMatch *out = g_new(LfMatch, (gsize)rows * MATCHES_PLACES + 1);
    const double apart = MATCHES_APART * MAX(photo->report.width, photo->report.height);
    *n = 0;
    if (!matches_nearest(bank, features, near))
        return out;
    for (int i = 0; i < rows; i++) {
        const LfShimMatch *m = &near[i * MATCHES_NEAREST];
        int first = *n, places = 0;
        bool unique = true;
        for (int k = 0; k < MATCHES_NEAREST && m[k].train >= 0; k++) {
            const LfBankFeature *f = &bank->features[m[k].train];
            bool new_place = true;
            for (int p = 0; p < places; p++) {
                const LfBankFeature *g = &bank->features[out[first + p].bank];
                new_place =
                    new_place && hypot((double)(f->x - g->x), (double)(f->y - g->y)) > apart;
            }
            if (!new_place)
                continue;
            if (places > 0 && m[0].distance <= MATCHES_RATIO * m[k].distance)
                break; /* the others are further still */
            if (places > 0)
                unique = false;
            if (m[k].distance > MATCHES_MAX_DISTANCE[bank->kind] || places == MATCHES_PLACES)
                break;
            out[(*n)++] = (LfMatch){i, m[k].train, m[k].distance, true};
            places++;
        }
        for (int p = 0; p < places; p++)
            out[first + p].unique = unique;
    }
    return out;
}

typedef struct {
    int match;
    int bin_scale, bin_turn, bin_x, bin_y;
} MatchVote;

static int matches_vote_order(const void *a, const void *b)
{
    const MatchVote *p = a, *q = b;
    if (p->bin_scale != q->bin_scale)
        return p->bin_scale - q->bin_scale;
    if (p->bin_turn != q->bin_turn)
        return p->bin_turn - q->bin_turn;
    if (p->bin_x != q->bin_x)
        return p->bin_x - q->bin_x;
    if (p->bin_y != q->bin_y)
        return p->bin_y - q->bin_y;
    return p->match - q->match;
}

static bool matches_fit(const LfBank *bank, const LfFrameFeatures *features, const LfMatch *matches,
                        const int *use, int n, double diagonal, LfHypothesis *hypothesis)
{
    g_autofree float *src = g_new(float, 2 * n), *dst = g_new(float, 2 * n);
    g_autofree uint8_t *inlier = g_new(uint8_t, n);
    LfMat3 *out = &hypothesis->frame_from_photo;
    int n_in = 0;
    for (int i = 0; i < n; i++) {
        const LfMatch *m = &matches[use[i]];
        src[2 * i] = bank->features[m->bank].x;
        src[2 * i + 1] = bank->features[m->bank].y;
        dst[2 * i] = (float)features->at[m->feature].x;
        dst[2 * i + 1] = (float)features->at[m->feature].y;
    }
    /* 0.25% of the diagonal, 5 px on 1080p: ORB places from a coarse level are that rough. */
    if (n < MATCHES_MIN || lf_shim_homography(src, dst, n, 0.0025 * diagonal, out->m, inlier, &n_in,
                                              NULL) != LF_SHIM_OK)
        return false;
    *out = lf_mat3_normalize(out);
    /* The sampler leaves the sign open; what is seen lies in front of the camera. */
    double in_front = 0;
    for (int i = 0; i < n; i++)
        if (inlier[i])
            in_front += copysign(1, out->m[6] * (double)src[2 * i] +
                                        out->m[7] * (double)src[2 * i + 1] + out->m[8]);
    for (int i = 0; in_front < 0 && i < 9; i++)
        out->m[i] = -out->m[i];
    hypothesis->inliers = n_in;
    return n_in >= MATCHES_MIN;
}

/* Where a match, as a similarity, puts the photo's middle. */
static LfPoint matches_middle(const LfPhoto *photo, const LfBankFeature *f, LfPoint at,
                              double scale, double turn)
{
    double dx = (photo->report.width / 2.0 - (double)f->x) * scale;
    double dy = (photo->report.height / 2.0 - (double)f->y) * scale;
    return (LfPoint){at.x + cos(turn) * dx - sin(turn) * dy,
                     at.y + sin(turn) * dx + cos(turn) * dy};
}

/* Bins wide enough for the spread of ORB's scale and direction: factor 2, 30 degrees, a quarter of
 * the photo as shown. */
static void matches_votes(const LfPhoto *photo, const LfBank *bank, const LfFrameFeatures *features,
                          const LfMatch *matches, int n, MatchVote *votes)
{
    const double longer = MAX(photo->report.width, photo->report.height);
    for (int i = 0; i < n; i++) {
        const LfBankFeature *f = &bank->features[matches[i].bank];
        int j = matches[i].feature;
        double scale = (double)(features->size[j] / f->size);
        double turn = (double)(features->angle[j] - f->angle) * G_PI / 180;
        LfPoint middle = matches_middle(photo, f, features->at[j], scale, turn);
        double cell = 0.25 * longer * exp2(round(log2(scale)));
        votes[i] =
            (MatchVote){i, (int)lround(log2(scale)), ((int)lround(turn / (G_PI / 6)) + 24) % 12,
                        (int)floor(middle.x / cell), (int)floor(middle.y / cell)};
    }
    qsort(votes, (gsize)n, sizeof *votes, matches_vote_order);
}

static bool matches_same_bin(const MatchVote *a, const MatchVote *b)
{
    return a->bin_scale == b->bin_scale && a->bin_turn == b->bin_turn && a->bin_x == b->bin_x &&
           a->bin_y == b->bin_y;
}

int lf_matches_hypotheses(const LfPhoto *photo, const LfBank *bank, const LfFrameFeatures *features,
                          const LfMatch *matches, int n, double frame_diagonal_px,
                          LfHypothesis out[LF_HYPOTHESES_MAX])
{
    g_autofree int *use = g_new(int, n + 1);
    int n_use = 0, n_out = 0;
    for (int i = 0; i < n; i++)
        if (matches[i].unique)
            use[n_use++] = i;
    if (matches_fit(bank, features, matches, use, n_use, frame_diagonal_px, &out[n_out]))
        n_out++;

    g_autofree MatchVote *votes = g_new(MatchVote, n + 1);
    matches_votes(photo, bank, features, matches, n, votes);
    int last_size = n + 1, last_from = -1; /* bins by falling size, ties by place */
    while (n_out < LF_HYPOTHESES_MAX) {
        int best = -1, best_size = 0;
        for (int from = 0, to; from < n; from = to) {
            for (to = from + 1; to < n && matches_same_bin(&votes[from], &votes[to]);)
                to++;
            int size = to - from;
            bool after = size < last_size || (size == last_size && from > last_from);
            if (after && size > best_size) {
                best = from;
                best_size = size;
            }
        }
        if (best_size < MATCHES_MIN)
            break;
        for (int i = 0; i < best_size; i++)
            use[i] = votes[best + i].match;
        if (matches_fit(bank, features, matches, use, best_size, frame_diagonal_px, &out[n_out]))
            n_out++;
        last_size = best_size;
        last_from = best;
    }
    return n_out;
}
