/* A reference photo made ready to be found in frames: its luma and its feature bank.
 *
 * The bank is computed once (lf_photo_load with no bank) and kept as bytes; the picture itself is
 * read again from its file. An LfPhoto is read-only after loading and may be shared by threads. */
#ifndef LOOKFALL_PHOTO_H
#define LOOKFALL_PHOTO_H

#include <stdbool.h>

#include <lookfall/geometry.h>

G_BEGIN_DECLS

typedef struct LfPhoto LfPhoto;

/* How findable a photo is. */
typedef struct {
    int width, height; /* px */
    int features;      /* distinct places with texture */
    double spread;     /* 0..1: share of an 8 x 8 grid's cells that hold at least 3 features */
    double alike;      /* 0..1: share of features that look like another place of the photo */
} LfPhotoReport;

/* bank: bytes from lf_photo_bank of the same picture, or NULL to compute it. LF_ERROR_INPUT: no
 * such file, no picture, too small, too few features to find it again; a bank of another version.
 */
LF_API LfPhoto *lf_photo_load(const char *path, GBytes *bank, GError **error);
LF_API void lf_photo_free(LfPhoto *photo);
/* New reference; owned by the caller. */
LF_API GBytes *lf_photo_bank(const LfPhoto *photo);
LF_API LfPhotoReport lf_photo_report(const LfPhoto *photo);

/* What lf_cast_survey found out of the photo's depth, to be kept beside the bank; owned by the
 * caller. Setting it puts the photo in the same state as the survey did. LF_ERROR_INPUT: bytes of
 * another version or another picture. */
LF_API GBytes *lf_photo_relief(const LfPhoto *photo);
LF_API bool lf_photo_set_relief(LfPhoto *photo, GBytes *bytes, GError **error);

typedef struct {
    bool found;
    LfMat3 photo_to_image; /* image_from_photo, px to px */
    double confidence;     /* 0..1 */
} LfLocated;

/* Finds one photo in one picture file, at leisure (strongest search). False only on bad input;
 * a photo that is not in the picture is found = false. lens may be NULL. */
LF_API bool lf_locate_file(const char *photo_path, const char *image_path, LfLocated *out,
                           GError **error);

G_DEFINE_AUTOPTR_CLEANUP_FUNC(LfPhoto, lf_photo_free)

G_END_DECLS

#endif
