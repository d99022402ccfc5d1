/* Camera files: OpenCV calibrations to a lens for the frame.
 *
 * The file's numbers are checked for sense here: a calibration of another camera, or in other units
 * than pixels, would bend every point without anybody noticing. */
#include <lookfall/gaze.h>

#include <errno.h>
#include <math.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "camera.h"

/* Focal lengths from a 174 degree field of view to a 3 degree one, in frame widths. */
#define MIN_FOCAL 0.05
#define MAX_FOCAL 20.0
/* Share of the way to the frame's edges within which the distortion must not fold back. */
#define FOLD_FREE 0.5

G_GNUC_PRINTF(3, 4)
static bool camera_read_fail(const char *path, GError **error, const char *format, ...)
{
    g_autofree char *name = g_filename_display_name(path);
    va_list args;
    va_start(args, format);
    g_autofree char *what = g_strdup_vprintf(format, args);
    va_end(args);
    g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s: %s", name, what);
    return false;
}

/* OpenCV does not say why it cannot open a file. */
static bool camera_read_exists(const char *path, GError **error)
{
    struct stat info;
    if (stat(path, &info) == 0 && access(path, R_OK) == 0) {
        return S_ISDIR(info.st_mode)
                   ? camera_read_fail(path, error, "is a folder, not a camera file")
                   : true;
    }
    bool missing = errno == ENOENT || errno == ENOTDIR;
    g_autofree char *name = g_filename_display_name(path);
    g_set_error(error, LF_ERROR, missing ? LF_ERROR_INPUT : LF_ERROR_MACHINE,
                missing ? "%s: there is no such file" : "%s: cannot be opened: %s", name,
                g_strerror(errno));
    return false;
}

static bool camera_read_check_matrix(const char *path, const LfShimCamera *c, GError **error)
{
    const double *m = c->matrix;
    for (int i = 0; i < 9; i++) {
        if (!isfinite(m[i])) {
            return camera_read_fail(path, error, "camera_matrix holds a number that is not finite");
        }
    }
    if (m[1] != 0 || m[3] != 0 || m[6] != 0 || m[7] != 0 || m[8] != 1) {
        return camera_read_fail(path, error,
                                "camera_matrix is not of the form fx 0 cx, 0 fy cy, 0 0 1");
    }
    if (!(m[0] > 0) || !(m[4] > 0)) {
        return camera_read_fail(path, error,
                                "the focal lengths %g and %g in camera_matrix are not "
                                "positive",
                                m[0], m[4]);
    }
    if (m[0] < MIN_FOCAL * c->width || m[0] > MAX_FOCAL * c->width ||
        m[4] < MIN_FOCAL * c->height || m[4] > MAX_FOCAL * c->height) {
        return camera_read_fail(
            path, error,
            "the focal lengths %g and %g in camera_matrix do not fit a frame of "
            "%d x %d px; they must be in pixels of that frame",
            m[0], m[4], c->width, c->height);
    }
    if (!(m[2] >= 0 && m[2] <= c->width && m[5] >= 0 && m[5] <= c->height)) {
        return camera_read_fail(path, error,
                                "the centre (%g, %g) in camera_matrix lies outside of its frame of "
                                "%d x %d px",
                                m[2], m[5], c->width, c->height);
    }
    return true;
}

static bool camera_read_check_k(const char *path, const LfShimCamera *c, GError **error)
{
    for (int i = 0; i < c->n_k; i++) {
        if (!isfinite(c->k[i])) {
            return camera_read_fail(path, error,
                                    "distortion_coefficients hold a number that is not finite");
        }
    }
    if (c->n_k == 14 && (c->k[12] != 0 || c->k[13] != 0)) {
        return camera_read_fail(path, error,
                                "the last two of the 14 distortion_coefficients are a sensor tilt, "
                                "which is not supported; calibrate without the tilted model");
    }
    return true;
}

/* Equal shapes, but for the rounding of a scaled frame to whole (or even) pixels. */
static bool camera_read_check_aspect(const char *path, const LfShimCamera *c, int width, int height,
                                     GError **error)
{
    double expected_height = (double)width * c->height / c->width;
    double expected_width = (double)height * c->width / c->height;
    if (fabs(expected_height - height) <= 1 || fabs(expected_width - width) <= 1) {
        return true;
    }
    double turned = (double)width * c->width / c->height;
    return camera_read_fail(path, error,
                            "is for frames of %d x %d px, but the video has %d x %d, another shape"
                            "%s",
                            c->width, c->height, width, height,
                            fabs(turned - height) <= 1
                                ? "; calibrate with pictures turned as the video is shown"
                                : "; is it this camera, in this mode?");
}

/* The model must hold at least in the middle of the frame. */
static bool camera_read_check_field(const char *path, const LfLens *lens, GError **error)
{
    const double way[8][2] = {{1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}, {0, -1}, {1, -1}};
    for (int i = 0; i < 8; i++) {
        LfPoint p = {(lens->width - 1) / 2.0 * (1 + FOLD_FREE * way[i][0]),
                     (lens->height - 1) / 2.0 * (1 + FOLD_FREE * way[i][1])};
        LfPoint unused;
        if (!lf_lens_undistort(lens, p, &unused)) {
            return camera_read_fail(path, error,
                                    "the distortion_coefficients fold the picture over inside the "
                                    "frame, near (%.0f, %.0f) px; calibrate again",
                                    p.x, p.y);
        }
    }
    return true;
}

bool lf_camera_read(const char *path, int frame_width, int frame_height, LfLens *lens,
                    GError **error)
{
    LfShimCamera c;
    char message[LF_SHIM_MESSAGE] = "";
    if (!camera_read_exists(path, error)) {
        return false;
    }
    int code = lf_shim_camera_read(path, &c, message);
    if (code != LF_SHIM_OK) {
        g_autofree char *name = g_filename_display_name(path);
        g_set_error(error, LF_ERROR, code == LF_SHIM_NO_MEMORY ? LF_ERROR_MACHINE : LF_ERROR_INPUT,
                    "%s: %s", name, message);
        return false;
    }
    if (!camera_read_check_matrix(path, &c, error) || !camera_read_check_k(path, &c, error) ||
        !camera_read_check_aspect(path, &c, frame_width, frame_height, error)) {
        return false;
    }
    LfLens made = {.width = c.width,
                   .height = c.height,
                   .fx = c.matrix[0],
                   .fy = c.matrix[4],
                   .cx = c.matrix[2],
                   .cy = c.matrix[5],
                   .n_k = MIN(c.n_k, 12),
                   .calibrated = true};
    memcpy(made.k, c.k, sizeof made.k);
    made = lf_lens_scaled(&made, frame_width, frame_height);
    if (!camera_read_check_field(path, &made, error)) {
        return false;
    }
    *lens = made;
    return true;
}
