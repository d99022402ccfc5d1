/* OpenCV's calibration files through cv::FileStorage. */
#include "camera.h"

#include <cctype>
#include <cmath>
#include <string>

#include "guard.hpp"

static int lf_shim_camera_bad(char *message, const std::string &text)
{
    lf_shim_say(message, text.c_str());
    return LF_SHIM_BAD_INPUT;
}

/* A whole positive number under `name`. */
static bool lf_shim_camera_size(const cv::FileStorage &file, const char *name, int &out)
{
    cv::FileNode node = file[name];
    if (!node.isInt() && !node.isReal())
        return false;
    double v = static_cast<double>(node);
    if (!(v >= 1 && v <= 1e6 && v == std::floor(v)))
        return false;
    out = static_cast<int>(v);
    return true;
}

/* A matrix of numbers under `name` as doubles; empty where there is none. */
static cv::Mat lf_shim_camera_matrix(const cv::FileStorage &file, const char *name)
{
    cv::FileNode node = file[name];
    cv::Mat raw, out;
    if (!node.isMap())
        return out;
    node >> raw;
    if (raw.dims == 2 && raw.channels() == 1 && !raw.empty())
        raw.convertTo(out, CV_64F);
    return out;
}

/* Calibration programs say in an entry of their own when the coefficients are not of the model that
 * distortion_coefficients stands for. */
static bool lf_shim_camera_is_fisheye(const cv::FileStorage &file)
{
    for (const char *name : {"fisheye_model", "fisheye"}) {
        cv::FileNode node = file[name];
        if ((node.isInt() || node.isReal()) && static_cast<double>(node) != 0)
            return true;
    }
    for (const char *name : {"distortion_model", "camera_model", "model"}) {
        cv::FileNode node = file[name];
        if (!node.isString())
            continue;
        std::string model = static_cast<std::string>(node);
        for (char &c : model)
            c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
        for (const char *word : {"fisheye", "equidistant", "kannala", "omni"}) {
            if (model.find(word) != std::string::npos)
                return true;
        }
    }
    return false;
}

static int lf_shim_camera_read_file(const char *path, LfShimCamera &camera, char *message)
{
    cv::FileStorage file;
    bool opened = false;
    try {
        opened = file.open(path, cv::FileStorage::READ);
    } catch (const cv::Exception &) {
        /* its text names places in OpenCV's source, which help nobody here */
    }
    if (!opened)
        return lf_shim_camera_bad(message, "is not a calibration file that OpenCV can read "
                                           "(YAML, XML or JSON as its FileStorage writes it)");
    if (lf_shim_camera_is_fisheye(file))
        return lf_shim_camera_bad(message,
                                  "holds a fisheye calibration, which is not supported; calibrate "
                                  "with the standard or the rational model");
    if (!lf_shim_camera_size(file, "image_width", camera.width) ||
        !lf_shim_camera_size(file, "image_height", camera.height))
        return lf_shim_camera_bad(message, "image_width and image_height must be there as whole "
                                           "numbers of pixels");
    cv::Mat matrix = lf_shim_camera_matrix(file, "camera_matrix");
    if (matrix.rows != 3 || matrix.cols != 3)
        return lf_shim_camera_bad(message, "camera_matrix must be there as a 3 x 3 matrix");
    for (int i = 0; i < 9; i++)
        camera.matrix[i] = matrix.at<double>(i / 3, i % 3);

    cv::FileNode node = file["distortion_coefficients"];
    if (node.empty())
        return lf_shim_camera_bad(message, "distortion_coefficients are missing");
    cv::Mat k = lf_shim_camera_matrix(file, "distortion_coefficients");
    int n = static_cast<int>(k.total());
    bool none = k.empty() && (node.isMap() || node.size() == 0);
    if (!none && (k.empty() || (k.rows != 1 && k.cols != 1) ||
                  (n != 4 && n != 5 && n != 8 && n != 12 && n != 14)))
        return lf_shim_camera_bad(message, "distortion_coefficients must be a row or a column of "
                                           "0, 4, 5, 8, 12 or 14 numbers");
    camera.n_k = n;
    for (int i = 0; i < n; i++)
        camera.k[i] = k.rows == 1 ? k.at<double>(0, i) : k.at<double>(i, 0);
    return LF_SHIM_OK;
}

int lf_shim_camera_read(const char *path, LfShimCamera *camera, char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        *camera = LfShimCamera{};
        return lf_shim_camera_read_file(path, *camera, message);
    });
}
