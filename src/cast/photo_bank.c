/* Features of a photo and of views of it from aside.
 *
 * A view turns the photo by an angle and squeezes it along x: what a camera far away and aside
 * would see (J.-M. Morel, G. Yu, "ASIFT: a new framework for fully affine invariant image
 * comparison", SIAM J. Imaging Sciences 2 (2009) 438-469, doi:10.1137/080732730). */
#include "cast/photo_bank.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Features are detected with the longer side at this size: the detectors' pyramids reach down from
 * there by a factor of 5, and frames are searched at about 1,000 px. */
#define BANK_BASE_PX 1200
/* Cells for an even spread over the photo. */
enum { BANK_CELLS_X = 16, BANK_CELLS_Y = 12 };

typedef struct {
    double turn_deg;
    double squeeze; /* 1 / cos of the angle seen from aside */
    double share;   /* of the features asked for */
} BankView;

/* People stand beside a shelf rather than above it, heads are upright: a few views do in frames. */
static const BankView BANK_VIEWS_ORB[] = {
    {0, 1, 1}, {0, 1.7, 0.6}, {0, 2.8, 0.45}, {90, 1.7, 0.35}};
/* ASIFT's sampling to a tilt of 4: every direction. */
static const BankView BANK_VIEWS_SIFT[] = {
    {0, 1, 1},     {0, 2, 0.3},   {45, 2, 0.3},  {90, 2, 0.3},   {135, 2, 0.3},  {0, 4, 0.15},
    {30, 4, 0.15}, {60, 4, 0.15}, {90, 4, 0.15}, {120, 4, 0.15}, {150, 4, 0.15},
};

typedef struct {
    float response;
    int index;
} BankRank;

static int bank_rank_order(const void *a, const void *b)
{
    const BankRank *p = a, *q = b;
    if (p->response != q->response)
        return p->response < q->response ? 1 : -1;
    return p->index - q->index;
}

/* The picture of a view: from it to the plane of the photo it was made of. */
typedef struct {
    uint8_t *data;
    int width, height;
    LfMat3 plane_from_view;
    double degrees; /* how far directions are turned, in the view against the photo */
} BankPicture;

/* The plane's middle stays in the middle; a turned view gets the room it needs. */
static bool bank_picture(const LfPlane *plane, const BankView *view, BankPicture *out,
                         char *message)
{
    const double turn = view->turn_deg * G_PI / 180, c = cos(turn), s = sin(turn);
    const int width = (int)ceil(fabs(c) * plane->width + fabs(s) * plane->height);
    const int height = (int)ceil(fabs(s) * plane->width + fabs(c) * plane->height);
    const double px = (plane->width - 1) / 2.0, py = (plane->height - 1) / 2.0;
    const double tx = (width - 1) / 2.0, ty = (height - 1) / 2.0;
    const LfMat3 plane_from_turned = {
        {c, s, px - c * tx - s * ty, -s, c, py + s * tx - c * ty, 0, 0, 1}};
    const LfMat3 turned_from_view = {{view->squeeze, 0, view->squeeze / 2 - 0.5, 0, 1, 0, 0, 0, 1}};
    out->width = MAX((int)(width / view->squeeze), 1);
    out->height = height;
    out->plane_from_view = lf_mat3_mul(&plane_from_turned, &turned_from_view);
    out->degrees = view->turn_deg;
    out->data = g_malloc((gsize)out->width * (gsize)out->height);

    g_autofree uint8_t *turned = g_malloc((gsize)width * (gsize)height);
    LfShimImage from = lf_plane_view(plane), middle = {turned, width, height, width};
    /* Before every squeeze-th px is taken: the blur that seeing it from aside brings (0.8 sqrt(t^2
     * - 1), ASIFT, section 3). */
    const double sigma = 0.8 * sqrt(view->squeeze * view->squeeze - 1);
    return lf_shim_warp(&from, plane_from_turned.m, 0, 0, turned, width, height, 0, message) ==
               LF_SHIM_OK &&
           lf_shim_warp(&middle, turned_from_view.m, sigma, 0, out->data, out->width, out->height,
                        0, message) == LF_SHIM_OK;
}

typedef struct {
    const LfPhoto *photo;
    const LfPlane *plane;
    const BankPicture *picture;
    int number; /* of the view */
    int max;
} BankSource;

/* The cell of a place, or -1 off the photo: in a turned view its corners are outside. */
static int bank_cell(const LfPhoto *photo, LfPoint p)
{
    const int x = (int)floor(p.x * BANK_CELLS_X / photo->report.width);
    const int y = (int)floor(p.y * BANK_CELLS_Y / photo->report.height);
    if (x < 0 || y < 0 || x >= BANK_CELLS_X || y >= BANK_CELLS_Y)
        return -1;
    return y * BANK_CELLS_X + x;
}

/* What the descriptor sees must lie on the photo, not on the empty corners of a turned view. */
static bool bank_on_photo(const LfPhoto *photo, LfPoint p, double size)
{
    double reach = size / 2;
    return p.x >= reach && p.y >= reach && p.x < photo->report.width - reach &&
           p.y < photo->report.height - reach;
}

/* Appends the strongest features of a view, no cell with more than three times its share. */
static void bank_keep(const BankSource *source, const LfShimFeature *found,
                      const uint8_t *descriptors, int n, LfBank *bank)
{
    int used[BANK_CELLS_X * BANK_CELLS_Y] = {0};
    const int cap = MAX(3 * source->max / (BANK_CELLS_X * BANK_CELLS_Y), 4);
    const gsize bytes = (gsize)lf_shim_descriptor_bytes(bank->kind);
    g_autofree BankRank *rank = g_new(BankRank, n);
    for (int i = 0; i < n; i++)
        rank[i] = (BankRank){found[i].response, i};
    if (n > 1)
        qsort(rank, (gsize)n, sizeof *rank, bank_rank_order);

    bank->features = g_renew(LfBankFeature, bank->features, bank->n + source->max);
    bank->descriptors = g_realloc(bank->descriptors, (gsize)(bank->n + source->max) * bytes);
    for (int r = 0, kept = 0; r < n && kept < source->max; r++) {
        const LfShimFeature *f = &found[rank[r].index];
        const double size = (double)f->size / source->plane->scale_x;
        LfPoint p;
        lf_mat3_apply(&source->picture->plane_from_view, (LfPoint){(double)f->x, (double)f->y}, &p);
        p = lf_plane_to_image(source->plane, p);
        const int cell = bank_cell(source->photo, p);
        if (cell < 0 || used[cell] >= cap ||
            (source->picture->degrees > 0 && !bank_on_photo(source->photo, p, size)))
            continue;
        used[cell]++;
        kept++;
        memcpy(bank->descriptors + (gsize)bank->n * bytes,
               descriptors + (gsize)rank[r].index * bytes, bytes);
        bank->features[bank->n++] = (LfBankFeature){
            .x = (float)p.x,
            .y = (float)p.y,
            .size = (float)size,
            .angle = f->angle - (float)source->picture->degrees,
            .view = (uint8_t)source->number,
        };
    }
}

static bool bank_view(const BankSource *source, LfBank *bank, char *message)
{
    const BankPicture *picture = source->picture;
    LfShimImage image = {picture->data, picture->width, picture->height, picture->width};
    LfShimFeature *found = NULL;
    uint8_t *descriptors = NULL;
    int n = 0;
    /* Twice as many as are kept, so that the weaker cells get their share. */
    if (lf_shim_detect(&image, NULL, bank->kind, 2 * source->max, &found, &descriptors, &n,
                       message) != LF_SHIM_OK)
        return false;
    bank_keep(source, found, descriptors, n, bank);
    lf_shim_free(found);
    lf_shim_free(descriptors);
    return true;
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
    const LfPlane *plane = &photo->level[lf_photo_level_for(photo, (double)longer / BANK_BASE_PX)];
    const BankView *views = kind == LF_SHIM_ORB ? BANK_VIEWS_ORB : BANK_VIEWS_SIFT;
    const int n_views = kind == LF_SHIM_ORB ? (int)G_N_ELEMENTS(BANK_VIEWS_ORB)
                                            : (int)G_N_ELEMENTS(BANK_VIEWS_SIFT);
    char message[LF_SHIM_MESSAGE] = "";
    *bank = (LfBank){.kind = kind};
    for (int view = 0; view < n_views; view++) {
        BankPicture picture = {0};
        BankSource source = {.photo = photo,
                             .plane = plane,
                             .picture = &picture,
                             .number = view,
                             .max = (int)(views[view].share * max_features)};
        bool good = bank_picture(plane, &views[view], &picture, message) &&
                    bank_view(&source, bank, message);
        g_free(picture.data);
        if (!good) {
            g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Finding features failed: %s.", message);
            lf_bank_clear(bank);
            return false;
        }
        if (view == 0)
            bank->n_upright = bank->n;
    }
    return true;
}
