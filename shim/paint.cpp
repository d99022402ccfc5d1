/* JPEG, and colour maps. */
#include "paint.h"

#include <cstdlib>
#include <cstring>
#include <vector>

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "guard.hpp"

int lf_shim_jpeg(const uint8_t *rgb, int width, int height, int quality, uint8_t **bytes, size_t *n,
                 char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        const cv::Mat red_first(height, width, CV_8UC3, const_cast<uint8_t *>(rgb));
        cv::Mat image;
        cv::cvtColor(red_first, image, cv::COLOR_RGB2BGR);
        std::vector<uchar> out;
        if (!cv::imencode(".jpg", image, out, {cv::IMWRITE_JPEG_QUALITY, quality})) {
            lf_shim_say(message, "the picture could not be encoded");
            return static_cast<int>(LF_SHIM_FAILED);
        }
        *bytes = static_cast<uint8_t *>(std::malloc(out.size()));
        if (!*bytes)
            throw std::bad_alloc();
        std::memcpy(*bytes, out.data(), out.size());
        *n = out.size();
        return static_cast<int>(LF_SHIM_OK);
    });
}

int lf_shim_colour_map(LfShimColourMap map, uint8_t *rgb, char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        static const int names[] = {cv::COLORMAP_VIRIDIS, cv::COLORMAP_MAGMA, cv::COLORMAP_INFERNO,
                                    cv::COLORMAP_PLASMA, cv::COLORMAP_CIVIDIS};
        cv::Mat ramp(1, 256, CV_8UC1), colours;
        for (int i = 0; i < 256; i++)
            ramp.at<uchar>(0, i) = static_cast<uchar>(i);
        cv::applyColorMap(ramp, colours, names[map]);
        for (int i = 0; i < 256; i++) {
            const auto &c = colours.at<cv::Vec3b>(0, i);
            rgb[3 * i] = c[2];
            rgb[3 * i + 1] = c[1];
            rgb[3 * i + 2] = c[0];
        }
        return static_cast<int>(LF_SHIM_OK);
    });
}
