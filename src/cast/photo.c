/* LfPhoto: loading, freeing, the report. */
#include "cast/relief.h"

#include <math.h>
#include <string.h>

#include "shim.h"

/* Under this side a photo has no room for repeatable features (common practice). */
#define PHOTO_MIN_SIDE_PX 64
/* Fewer distinct features than this cannot be told from chance matches in a busy frame: 8 agreeing
 * ones are asked for at the least (locate.c), and a fifth of the features is seen again from where
 * people stand (measured on the rendered walks). */
#define PHOTO_MIN_FEATURES 40

static bool photo_read(LfPhoto *photo, const char *path, GError **error)
{
    char message[LF_SHIM_MESSAGE] = "";
    uint8_t *planes[3];
    int width = 0, height = 0;
    if (!g_file_test(path, G_FILE_TEST_EXISTS)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "There is no photo '%s'.", path);
        return false;
    }
    int code = lf_shim_read_ycbcr(path, planes, &width, &height, message);
    if (code == LF_SHIM_NO_MEMORY) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory to read photo '%s'.",
                    path);
        return false;
    }
    if (code != LF_SHIM_OK) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "'%s' cannot be read as a picture; give a PNG, JPEG or TIFF file.", path);
        return false;
    }
    if (width < PHOTO_MIN_SIDE_PX || height < PHOTO_MIN_SIDE_PX) {
        for (int i = 0; i < 3; i++)
            lf_shim_free(planes[i]);
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "Photo '%s' is %d x %d px; at least %d x %d are needed to find it again.", path,
                    width, height, PHOTO_MIN_SIDE_PX, PHOTO_MIN_SIDE_PX);
        return false;
    }
    photo->relief = lf_relief_new(width, height);
    return lf_photo_pyramid_init(photo, planes, width, height, error);
}

/* Takes the bank over. */
static void photo_keep_bank(LfPhoto *photo, GBytes *bank)
{
    guint8 digest[32];
    gsize n = sizeof digest;
    g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
    g_checksum_update(sum, g_bytes_get_data(bank, NULL), (gssize)g_bytes_get_size(bank));
    g_checksum_get_digest(sum, digest, &n);
    memcpy(&photo->mark, digest, sizeof photo->mark);
    photo->bytes = bank;
}

LfPhoto *lf_photo_load(const char *path, GBytes *bank, GError **error)
{
    g_autoptr(LfPhoto) photo = g_new0(LfPhoto, 1);
    if (!photo_read(photo, path, error))
        return NULL;
    if (bank) {
        if (!lf_photo_restore(photo, bank, error))
            return NULL;
        photo_keep_bank(photo, g_bytes_ref(bank));
        return g_steal_pointer(&photo);
    }
    if (!lf_photo_features_compute(photo, error))
        return NULL;
    if (photo->report.features < PHOTO_MIN_FEATURES) {
        g_set_error(
            error, LF_ERROR, LF_ERROR_INPUT,
            "'%s' has too few features to find this photo again (%d; %d are needed): take a "
            "sharper or larger photo, or one of a part with more print.",
            path, photo->report.features, PHOTO_MIN_FEATURES);
        return NULL;
    }
    photo_keep_bank(photo, lf_photo_store(photo));
    return g_steal_pointer(&photo);
}

static void photo_clear_level(LfPhoto *photo, int level)
{
    lf_plane_clear(&photo->level[level]);
    for (int c = 0; c < 2; c++)
        lf_plane_clear(&photo->tint[level][c]);
}

void lf_photo_free(LfPhoto *photo)
{
    if (!photo)
        return;
    for (int i = 0; i < LF_PHOTO_LEVELS; i++)
        photo_clear_level(photo, i);
    for (int i = 0; i < LF_PHOTO_OCTAVES; i++)
        g_free(photo->corners[i]);
    lf_bank_clear(&photo->features);
    lf_relief_free(photo->relief);
    g_clear_pointer(&photo->bytes, g_bytes_unref);
    g_free(photo);
}

GBytes *lf_photo_bank(const LfPhoto *photo)
{
    return g_bytes_ref(photo->bytes);
}

LfPhotoReport lf_photo_report(const LfPhoto *photo)
{
    return photo->report;
}
