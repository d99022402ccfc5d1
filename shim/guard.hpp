/* What every shim entry shares: catch all, turn it into a code and a message. */
#ifndef LF_SHIM_GUARD_HPP
#define LF_SHIM_GUARD_HPP

#include <cstdio>
#include <mutex>
#include <new>

#include <opencv2/core.hpp>

#include "shim.h"

inline void lf_shim_say(char *message, const char *text) noexcept
{
    if (message)
        std::snprintf(message, LF_SHIM_MESSAGE, "%s", text);
}

inline cv::Mat lf_shim_mat(const LfShimImage &image)
{
    return cv::Mat(image.height, image.width, CV_8UC1, const_cast<uint8_t *>(image.data),
                   static_cast<size_t>(image.stride));
}

template <typename Body> int lf_shim_guard(char *message, Body body) noexcept
{
    static std::once_flag once;
    try {
        std::call_once(once, [] { cv::setNumThreads(1); });
        return body();
    } catch (const std::bad_alloc &) {
        lf_shim_say(message, "out of memory");
        return LF_SHIM_NO_MEMORY;
    } catch (const cv::Exception &e) {
        lf_shim_say(message, e.err.c_str());
        return e.code == cv::Error::StsNoMem ? LF_SHIM_NO_MEMORY : LF_SHIM_FAILED;
    } catch (const std::exception &e) {
        lf_shim_say(message, e.what());
        return LF_SHIM_FAILED;
    } catch (...) {
        lf_shim_say(message, "unknown failure");
        return LF_SHIM_FAILED;
    }
}

#endif
