/* Robust fitting. */
#include <opencv2/calib3d.hpp>

#include "guard.hpp"

int lf_shim_homography(const float *src_xy, const float *dst_xy, int n, double threshold_px,
                       double dst_from_src[9], uint8_t *inlier, int *n_inliers,
                       char *message) noexcept
{
    *n_inliers = 0;
    return lf_shim_guard(message, [&] {
        if (n < 4) {
            lf_shim_say(message, "fewer than four points");
            return static_cast<int>(LF_SHIM_BAD_INPUT);
        }
        const cv::Mat src(n, 1, CV_32FC2, const_cast<float *>(src_xy));
        const cv::Mat dst(n, 1, CV_32FC2, const_cast<float *>(dst_xy));
        cv::Mat mask;
        /* OpenCV seeds this sampler with a constant, so the same points give the same fit. */
        const cv::Mat h =
            cv::findHomography(src, dst, cv::USAC_MAGSAC, threshold_px, mask, 1000, 0.999);
        if (h.empty()) {
            lf_shim_say(message, "no homography fits the points");
            return static_cast<int>(LF_SHIM_BAD_INPUT);
        }
        for (int i = 0; i < 9; i++)
            dst_from_src[i] = h.at<double>(i / 3, i % 3);
        for (int i = 0; i < n; i++) {
            inlier[i] = mask.at<uint8_t>(i) != 0;
            *n_inliers += inlier[i];
        }
        return static_cast<int>(LF_SHIM_OK);
    });
}
