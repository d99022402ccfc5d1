/* Finding one photo in one picture file, outside of any study. */
#include <string.h>

#include "cast/locate.h"

#include "shim.h"

#define LOCATE_FILE_FEATURES 4000
/* Pictures are searched whole up to this width, px. */
#define LOCATE_FILE_WIDTH 2200
/* A find this clear needs no second search. */
#define LOCATE_FILE_CLEAR 0.7
/* A find counts when this share of patches agree, or so many feature matches: changed light or a
 * blurred picture can spoil the patches of a find that dozens of matches support, chance cannot
 * bring either. */
#define LOCATE_FILE_SHARE 0.3
#define LOCATE_FILE_MATCHES 20

static bool locate_file_read(const char *path, LfPlane *plane, GError **error)
{
    char message[LF_SHIM_MESSAGE] = "";
    uint8_t *luma = NULL;
    int width = 0, height = 0;
    if (!g_file_test(path, G_FILE_TEST_EXISTS)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "There is no picture '%s'.", path);
        return false;
    }
    if (lf_shim_read_gray(path, &luma, &width, &height, message) != LF_SHIM_OK) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "'%s' cannot be read as a picture; give a PNG, JPEG or TIFF file.", path);
        return false;
    }
    bool good = lf_plane_init(plane, width, height, 1, 1);
    if (good)
        memcpy(plane->data, luma, (gsize)width * (gsize)height);
    else
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory for picture '%s'.", path);
    lf_shim_free(luma);
    return good;
}

/* One search with features of one kind; the better of what was found before and now stays. */
static bool locate_file_search(const LfFollowTask *task, const LfBank *bank, LfFollower *follower,
                               LfPose *pose, bool *found, GError **error)
{
    LfFrameFeatures features = {0};
    g_autofree LfPose *one = g_new0(LfPose, 1);
    if (!lf_frame_features_find(&features, task->frame, NULL, task->lens, bank->kind,
                                LOCATE_FILE_FEATURES)) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory to search the picture.");
        return false;
    }
    if (lf_locate(follower, task, bank, &features, one) &&
        (one->share_good >= LOCATE_FILE_SHARE || one->matches >= LOCATE_FILE_MATCHES) &&
        (!*found || one->n_good * one->share_good > pose->n_good * pose->share_good)) {
        *pose = *one;
        *found = true;
    }
    lf_frame_features_clear(&features);
    return true;
}

/* ORB first; where that leaves doubt, SIFT, which is several times slower and bears more. */
static bool locate_file_find(const LfFollowTask *task, LfPose *pose, bool *found, GError **error)
{
    g_autoptr(LfFollower) follower = lf_follower_new();
    LfBank sift;
    if (!locate_file_search(task, &task->photo->features, follower, pose, found, error))
        return false;
    if (*found && pose->share_good * (1 - pose->rival) > LOCATE_FILE_CLEAR)
        return true;
    if (!lf_bank_compute(task->photo, LF_SHIM_SIFT, LOCATE_FILE_FEATURES, &sift, error))
        return false;
    bool good = locate_file_search(task, &sift, follower, pose, found, error);
    lf_bank_clear(&sift);
    return good;
}

bool lf_locate_file(const char *photo_path, const char *image_path, LfLocated *out, GError **error)
{
    g_autoptr(LfPhoto) photo = lf_photo_load(photo_path, NULL, error);
    LfPlane image = {0};
    LfFramePyramid pyramid = {0};
    *out = (LfLocated){0};
    if (!photo || !locate_file_read(image_path, &image, error))
        return false;
    const LfLens lens = lf_lens_plain(image.width, image.height);
    const LfFollowTask task = {.photo = photo, .lens = &lens, .frame = &pyramid};
    g_autofree LfPose *pose = g_new0(LfPose, 1);
    bool good = lf_frame_pyramid_init(&pyramid, image.width, image.height, LOCATE_FILE_WIDTH) &&
                lf_frame_pyramid_fill(&pyramid, image.data, image.width, image.width, image.height);
    if (!good)
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory to search '%s'.",
                    image_path);
    else
        good = locate_file_find(&task, pose, &out->found, error);
    if (out->found) {
        out->photo_to_image = pose->frame_from_photo;
        out->confidence = pose->share_good * (1 - pose->rival);
    }
    lf_frame_pyramid_clear(&pyramid);
    lf_plane_clear(&image);
    return good;
}
