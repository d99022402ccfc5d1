/* Reading and resampling of images. */
#include <algorithm>
#include <cstdlib>
#include <cstring>
#include <memory>

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "guard.hpp"

void lf_shim_free(void *memory) noexcept
{
    std::free(memory);
}

/* A plane to be given out once all is well. */
using LfShimPlane = std::unique_ptr<uint8_t, decltype(&std::free)>;

static LfShimPlane lf_shim_plane(const cv::Mat &image)
{
    const size_t row = static_cast<size_t>(image.cols);
    LfShimPlane out(static_cast<uint8_t *>(std::malloc(row * static_cast<size_t>(image.rows))),
                    &std::free);
    if (!out)
        throw std::bad_alloc();
    image.copyTo(cv::Mat(image.rows, image.cols, CV_8UC1, out.get(), row));
    return out;
}

/* The picture, and its size; empty, and said so, where it cannot be read. */
static cv::Mat lf_shim_imread(const char *path, int flags, int *width, int *height, char *message)
{
    cv::Mat image = cv::imread(path, flags);
    if (image.empty())
        lf_shim_say(message, "not a picture that can be read");
    *width = image.cols;
    *height = image.rows;
    return image;
}

int lf_shim_read_gray(const char *path, uint8_t **data, int *width, int *height,
                      char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        const cv::Mat image = lf_shim_imread(path, cv::IMREAD_GRAYSCALE, width, height, message);
        if (image.empty())
            return static_cast<int>(LF_SHIM_BAD_INPUT);
        *data = lf_shim_plane(image).release();
        return static_cast<int>(LF_SHIM_OK);
    });
}

int lf_shim_read_ycbcr(const char *path, uint8_t *planes[3], int *width, int *height,
                       char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        const cv::Mat image = lf_shim_imread(path, cv::IMREAD_COLOR, width, height, message);
        if (image.empty())
            return static_cast<int>(LF_SHIM_BAD_INPUT);
        cv::Mat ycrcb, channel[3];
        cv::cvtColor(image, ycrcb, cv::COLOR_BGR2YCrCb);
        cv::split(ycrcb, channel);
        LfShimPlane luma = lf_shim_plane(channel[0]), blue = lf_shim_plane(channel[2]),
                    red = lf_shim_plane(channel[1]);
        planes[0] = luma.release();
        planes[1] = blue.release();
        planes[2] = red.release();
        return static_cast<int>(LF_SHIM_OK);
    });
}

/* Gives out packed RGB of `image`, made smaller or larger to width x height. */
static void lf_shim_give_rgb(const cv::Mat &image, int width, int height, uint8_t **data)
{
    const size_t row = 3 * static_cast<size_t>(width);
    cv::Mat sized = image;
    if (image.cols != width || image.rows != height) {
        const bool smaller = width <= image.cols && height <= image.rows;
        cv::resize(image, sized, cv::Size(width, height), 0, 0,
                   smaller ? cv::INTER_AREA : cv::INTER_LINEAR);
    }
    auto *out = static_cast<uint8_t *>(std::malloc(row * static_cast<size_t>(height)));
    if (!out)
        throw std::bad_alloc();
    cv::Mat rgb(height, width, CV_8UC3, out, row);
    cv::cvtColor(sized, rgb, cv::COLOR_BGR2RGB);
    *data = out;
}

int lf_shim_read_rgb(const char *path, int max_width, int max_height, uint8_t **data, int *width,
                     int *height, int *full_width, int *full_height, char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        const cv::Mat image = cv::imread(path, cv::IMREAD_COLOR);
        if (image.empty()) {
            lf_shim_say(message, "not a picture that can be read");
            return static_cast<int>(LF_SHIM_BAD_INPUT);
        }
        if (full_width)
            *full_width = image.cols;
        if (full_height)
            *full_height = image.rows;
        double scale = 1;
        if (max_width > 0)
            scale = std::min(scale, static_cast<double>(max_width) / image.cols);
        if (max_height > 0)
            scale = std::min(scale, static_cast<double>(max_height) / image.rows);
        *width = std::max(1, cvRound(image.cols * scale));
        *height = std::max(1, cvRound(image.rows * scale));
        lf_shim_give_rgb(image, *width, *height, data);
        return static_cast<int>(LF_SHIM_OK);
    });
}

int lf_shim_read_rgb_sized(const char *path, int width, int height, uint8_t **data,
                           char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        const cv::Mat image = cv::imread(path, cv::IMREAD_COLOR);
        if (image.empty()) {
            lf_shim_say(message, "not a picture that can be read");
            return static_cast<int>(LF_SHIM_BAD_INPUT);
        }
        lf_shim_give_rgb(image, width, height, data);
        return static_cast<int>(LF_SHIM_OK);
    });
}

int lf_shim_shrink(const LfShimImage *src, uint8_t *dst, int width, int height,
                   char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        cv::Mat out(height, width, CV_8UC1, dst);
        cv::resize(lf_shim_mat(*src), out, out.size(), 0, 0, cv::INTER_AREA);
        return static_cast<int>(LF_SHIM_OK);
    });
}

int lf_shim_warp(const LfShimImage *src, const double src_from_dst[9], double sigma_x,
                 double sigma_y, uint8_t *dst, int width, int height, int fill,
                 char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        cv::Mat in = lf_shim_mat(*src);
        if (sigma_x > 0 || sigma_y > 0) {
            cv::Mat smooth;
            cv::GaussianBlur(in, smooth, cv::Size(), sigma_x > 0 ? sigma_x : 0.01,
                             sigma_y > 0 ? sigma_y : 0.01);
            in = smooth;
        }
        const cv::Mat matrix(3, 3, CV_64F, const_cast<double *>(src_from_dst));
        cv::Mat out(height, width, CV_8UC1, dst);
        cv::warpPerspective(in, out, matrix, out.size(), cv::INTER_LINEAR | cv::WARP_INVERSE_MAP,
                            cv::BORDER_CONSTANT, cv::Scalar(fill));
        return static_cast<int>(LF_SHIM_OK);
    });
}

int lf_shim_equalize(const LfShimImage *src, uint8_t *dst, char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        /* 8 x 8 tiles and a limit of 3: OpenCV's customary values (common practice). */
        cv::Mat out(src->height, src->width, CV_8UC1, dst);
        cv::createCLAHE(3.0, cv::Size(8, 8))->apply(lf_shim_mat(*src), out);
        return static_cast<int>(LF_SHIM_OK);
    });
}

int lf_shim_phase_shift(const LfShimImage *a, const LfShimImage *b, double *dx, double *dy,
                        double *response, char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        cv::Mat fa, fb, window;
        lf_shim_mat(*a).convertTo(fa, CV_32F);
        lf_shim_mat(*b).convertTo(fb, CV_32F);
        cv::createHanningWindow(window, fa.size(), CV_32F);
        const cv::Point2d shift = cv::phaseCorrelate(fa, fb, window, response);
        *dx = shift.x;
        *dy = shift.y;
        return static_cast<int>(LF_SHIM_OK);
    });
}
