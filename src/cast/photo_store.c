/* The bank as bytes. Little-endian only, as every machine Debian builds this for on the desk is; a
 * bank from the other kind fails the magic number and is made anew. */
#include "cast/photo_bank.h"

#include <string.h>

#define STORE_MAGIC 0x4c464232u /* "LFB2" */
/* Changes with the layout below and with the way banks are computed. */
#define STORE_VERSION 4u

typedef struct {
    uint32_t magic, version;
    int32_t n_corners[LF_PHOTO_OCTAVES];
    int32_t n_features, n_upright, n_shifts;
    LfPhotoShift shifts[LF_PHOTO_SHIFTS];
    LfPhotoReport report;
} StoreHead;

GBytes *lf_photo_store(const LfPhoto *photo)
{
    StoreHead head;
    memset(&head, 0, sizeof head);
    head.magic = STORE_MAGIC;
    head.version = STORE_VERSION;
    memcpy(head.n_corners, photo->n_corners, sizeof photo->n_corners);
    head.n_features = photo->features.n;
    head.n_upright = photo->features.n_upright;
    head.n_shifts = photo->n_shifts;
    memcpy(head.shifts, photo->shifts, sizeof photo->shifts);
    head.report = photo->report;

    GByteArray *out = g_byte_array_new();
    g_byte_array_append(out, (const guint8 *)&head, sizeof head);
    for (int i = 0; i < LF_PHOTO_OCTAVES; i++)
        g_byte_array_append(out, (const guint8 *)photo->corners[i],
                            (guint)((gsize)photo->n_corners[i] * sizeof(LfCorner)));
    g_byte_array_append(out, (const guint8 *)photo->features.features,
                        (guint)((gsize)photo->features.n * sizeof(LfBankFeature)));
    g_byte_array_append(out, photo->features.descriptors, (guint)photo->features.n * 32);
    return g_byte_array_free_to_bytes(out);
}

/* Takes `bytes` from the front of what is left, or fails. */
static bool store_take(const guint8 **at, gsize *left, void *out, gsize bytes)
{
    if (*left < bytes)
        return false;
    if (bytes > 0)
        memcpy(out, *at, bytes);
    *at += bytes;
    *left -= bytes;
    return true;
}

static bool store_parse(LfPhoto *photo, const guint8 *at, gsize left)
{
    StoreHead head;
    if (!store_take(&at, &left, &head, sizeof head) || head.magic != STORE_MAGIC ||
        head.version != STORE_VERSION || head.report.width != photo->report.width ||
        head.report.height != photo->report.height || head.n_shifts < 0 ||
        head.n_shifts > LF_PHOTO_SHIFTS || head.n_features < 0 || head.n_features > 1000000 ||
        head.n_upright < 0 || head.n_upright > head.n_features)
        return false;
    photo->report = head.report;
    photo->n_shifts = head.n_shifts;
    memcpy(photo->shifts, head.shifts, sizeof head.shifts);
    for (int i = 0; i < LF_PHOTO_OCTAVES; i++) {
        int n = head.n_corners[i];
        if (n < 0 || n > LF_PHOTO_CORNERS)
            return false;
        photo->corners[i] = g_new(LfCorner, n);
        photo->n_corners[i] = n;
        if (!store_take(&at, &left, photo->corners[i], (gsize)n * sizeof(LfCorner)))
            return false;
    }
    const gsize n = (gsize)head.n_features;
    LfBank *bank = &photo->features;
    bank->kind = LF_SHIM_ORB;
    bank->n = head.n_features;
    bank->n_upright = head.n_upright;
    bank->features = g_new(LfBankFeature, n);
    bank->descriptors = g_malloc(n * 32);
    return store_take(&at, &left, bank->features, n * sizeof(LfBankFeature)) &&
           store_take(&at, &left, bank->descriptors, n * 32) && left == 0;
}

bool lf_photo_restore(LfPhoto *photo, GBytes *bank, GError **error)
{
    gsize size;
    const guint8 *data = g_bytes_get_data(bank, &size);
    if (store_parse(photo, data, size))
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                "The stored features of this photo are of another version or of another picture; "
                "they have to be computed again.");
    return false;
}
