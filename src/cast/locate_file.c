/* Finding one photo in one picture file, outside of any study. */
#include <string.h>

#include "cast/locate.h"

#include "shim.h"

#define LOCATE_FILE_FEATURES 4000

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

bool lf_locate_file(const char *photo_path, const char *image_path, LfLocated *out, GError **error)
{
    g_autoptr(LfPhoto) photo = lf_photo_load(photo_path, NULL, error);
    LfPlane image = {0};
    LfFramePyramid pyramid = {0};
    LfFrameFeatures features = {0};
    *out = (LfLocated){0};
    if (!photo || !locate_file_read(image_path, &image, error))
        return false;
    LfLens lens = lf_lens_plain(image.width, image.height);
    bool good =
        lf_frame_pyramid_init(&pyramid, image.width, image.height) &&
        lf_frame_pyramid_fill(&pyramid, image.data, image.width, image.width, image.height) &&
        lf_frame_features_find(&features, &pyramid, &lens, LOCATE_FILE_FEATURES);
    if (good) {
        g_autoptr(LfFollower) follower = lf_follower_new();
        g_autofree LfPose *pose = g_new0(LfPose, 1);
        LfFollowTask task = {.photo = photo, .lens = &lens, .frame = &pyramid};
        out->found = lf_locate(follower, &task, &features, pose);
        if (out->found) {
            out->photo_to_image = pose->frame_from_photo;
            out->confidence = pose->share_good * (1 - pose->rival);
        }
    } else {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory to search '%s'.",
                    image_path);
    }
    lf_frame_features_clear(&features);
    lf_frame_pyramid_clear(&pyramid);
    lf_plane_clear(&image);
    return good;
}
