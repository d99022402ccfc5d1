/* Corners, features with descriptors, and matching them. */
#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <vector>

#include <opencv2/features2d.hpp>
#include <opencv2/imgproc.hpp>

#include "guard.hpp"

int lf_shim_corners(const LfShimImage *image, int max, double quality, double min_distance,
                    float *xy, int *n, char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        std::vector<cv::Point2f> corners;
        cv::goodFeaturesToTrack(lf_shim_mat(*image), corners, max, quality, min_distance,
                                cv::noArray(), 5);
        *n = static_cast<int>(corners.size());
        for (size_t i = 0; i < corners.size(); i++) {
            xy[2 * i] = corners[i].x;
            xy[2 * i + 1] = corners[i].y;
        }
        return static_cast<int>(LF_SHIM_OK);
    });
}

int lf_shim_descriptor_bytes(LfShimKind kind) noexcept
{
    return kind == LF_SHIM_ORB ? 32 : 128;
}

/* RootSIFT: L1-normalise, square root, so that the L2 distance becomes the Hellinger kernel's. The
 * unit vector is kept in bytes (x 512, clipped, as Lowe stores SIFT). */
static void features_root(const cv::Mat &sift, uint8_t *out)
{
    for (int i = 0; i < sift.rows; i++) {
        const float *row = sift.ptr<float>(i);
        float sum = 1e-6F;
        for (int j = 0; j < 128; j++)
            sum += row[j];
        for (int j = 0; j < 128; j++)
            out[128 * i + j] =
                static_cast<uint8_t>(std::min(255.0F, 512.0F * std::sqrt(row[j] / sum) + 0.5F));
    }
}

static void features_detect(const cv::Mat &image, const cv::Mat &where, LfShimKind kind, int max,
                            std::vector<cv::KeyPoint> &points, cv::Mat &descriptors)
{
    if (kind == LF_SHIM_SIFT) {
        /* Contrast threshold at half of the customary 0.04: dim aisles have little contrast. */
        cv::SIFT::create(max, 3, 0.02)->detectAndCompute(image, where, points, descriptors);
        return;
    }
    /* 10 levels of 1.2 reach a factor of 5 in scale; a low FAST threshold because the image may be
     * dim; the strongest `max` are kept. */
    cv::ORB::create(max, 1.2F, 10, 31, 0, 2, cv::ORB::HARRIS_SCORE, 31, 8)
        ->detectAndCompute(image, where, points, descriptors);
}

int lf_shim_detect(const LfShimImage *image, const LfShimImage *where, LfShimKind kind, int max,
                   LfShimFeature **features, uint8_t **descriptors, int *n, char *message) noexcept
{
    *features = nullptr;
    *descriptors = nullptr;
    *n = 0;
    return lf_shim_guard(message, [&] {
        std::vector<cv::KeyPoint> points;
        cv::Mat found;
        features_detect(lf_shim_mat(*image), where ? lf_shim_mat(*where) : cv::Mat(), kind, max,
                        points, found);
        const size_t count = points.size();
        const size_t bytes = static_cast<size_t>(lf_shim_descriptor_bytes(kind));
        auto *out = static_cast<LfShimFeature *>(std::malloc((count + 1) * sizeof(LfShimFeature)));
        auto *desc = static_cast<uint8_t *>(std::malloc((count + 1) * bytes));
        if (!out || !desc) {
            std::free(out);
            std::free(desc);
            throw std::bad_alloc();
        }
        for (size_t i = 0; i < count; i++)
            out[i] = {points[i].pt.x, points[i].pt.y, points[i].size, points[i].angle,
                      points[i].response};
        if (kind == LF_SHIM_SIFT)
            features_root(found, desc);
        else
            for (size_t i = 0; i < count; i++)
                std::memcpy(desc + i * bytes, found.ptr(static_cast<int>(i)), bytes);
        *features = out;
        *descriptors = desc;
        *n = static_cast<int>(count);
        return static_cast<int>(LF_SHIM_OK);
    });
}

int lf_shim_match(LfShimKind kind, const uint8_t *query, int n_query, const uint8_t *train,
                  int n_train, int k, LfShimMatch *matches, char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        std::fill(matches, matches + static_cast<ptrdiff_t>(n_query) * k, LfShimMatch{-1, 0});
        if (n_query == 0 || n_train == 0)
            return static_cast<int>(LF_SHIM_OK);
        const int bytes = lf_shim_descriptor_bytes(kind);
        cv::Mat a(n_query, bytes, CV_8U, const_cast<uint8_t *>(query));
        cv::Mat b(n_train, bytes, CV_8U, const_cast<uint8_t *>(train));
        std::vector<std::vector<cv::DMatch>> found;
        if (kind == LF_SHIM_SIFT) {
            cv::Mat fa, fb;
            a.convertTo(fa, CV_32F);
            b.convertTo(fb, CV_32F);
            cv::BFMatcher(cv::NORM_L2).knnMatch(fa, fb, found, k);
        } else {
            cv::BFMatcher(cv::NORM_HAMMING).knnMatch(a, b, found, k);
        }
        for (size_t i = 0; i < found.size(); i++)
            for (size_t j = 0; j < found[i].size() && j < static_cast<size_t>(k); j++)
                matches[i * static_cast<size_t>(k) + j] = {found[i][j].trainIdx,
                                                           found[i][j].distance};
        return static_cast<int>(LF_SHIM_OK);
    });
}
