/* Faces. */
#include "faces.h"

#include <memory>
#include <vector>

#include <opencv2/imgproc.hpp>
#include <opencv2/objdetect.hpp>

#include "guard.hpp"

struct LfShimFaces {
    cv::CascadeClassifier classifier;
};

int lf_shim_faces_new(const char *path, LfShimFaces **faces, char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        auto made = std::make_unique<LfShimFaces>();
        if (!made->classifier.load(path)) {
            lf_shim_say(message, "not a cascade that can be read");
            return static_cast<int>(LF_SHIM_BAD_INPUT);
        }
        *faces = made.release();
        return static_cast<int>(LF_SHIM_OK);
    });
}

void lf_shim_faces_free(LfShimFaces *faces) noexcept
{
    delete faces;
}

int lf_shim_faces_find(LfShimFaces *faces, const LfShimImage *luma, int mirrored, int min_px,
                       double step, int neighbours, LfShimFace *found, int max, int *n,
                       char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        cv::Mat image = lf_shim_mat(*luma);
        std::vector<cv::Rect> boxes;
        std::vector<int> votes;
        if (mirrored) {
            cv::Mat turned;
            cv::flip(image, turned, 1);
            image = turned;
        }
        faces->classifier.detectMultiScale(image, boxes, votes, step, neighbours, 0,
                                           cv::Size(min_px, min_px));
        *n = 0;
        for (std::size_t i = 0; i < boxes.size() && *n < max; i++) {
            const cv::Rect &box = boxes[i];
            found[(*n)++] = {{static_cast<float>(mirrored ? image.cols - box.x - box.width : box.x),
                              static_cast<float>(box.y), static_cast<float>(box.width),
                              static_cast<float>(box.height)},
                             votes[i]};
        }
        return static_cast<int>(LF_SHIM_OK);
    });
}

int lf_shim_follow_box(const LfShimImage *from, const LfShimImage *to, const LfShimBox *box,
                       int reach, LfShimBox *guess, double *score, char *message) noexcept
{
    return lf_shim_guard(message, [&] {
        const cv::Mat a = lf_shim_mat(*from), b = lf_shim_mat(*to);
        const cv::Rect whole(0, 0, a.cols, a.rows);
        const cv::Rect want(cvRound(box->x), cvRound(box->y), cvRound(box->w), cvRound(box->h));
        const cv::Rect piece = want & whole;
        *score = -1;
        if (piece.width < 6 || piece.height < 6)
            return static_cast<int>(LF_SHIM_OK);
        /* The piece may be cut by the picture's edge: it keeps its place within the box. */
        const int at_x = cvRound(guess->x) + piece.x - want.x;
        const int at_y = cvRound(guess->y) + piece.y - want.y;
        const cv::Rect around = cv::Rect(at_x - reach, at_y - reach, piece.width + 2 * reach,
                                         piece.height + 2 * reach) &
                                whole;
        if (around.width < piece.width || around.height < piece.height)
            return static_cast<int>(LF_SHIM_OK);
        cv::Mat agreement;
        cv::Point best;
        cv::matchTemplate(b(around), a(piece), agreement, cv::TM_CCOEFF_NORMED);
        cv::minMaxLoc(agreement, nullptr, score, nullptr, &best);
        guess->x = static_cast<float>(around.x + best.x - (piece.x - want.x));
        guess->y = static_cast<float>(around.y + best.y - (piece.y - want.y));
        return static_cast<int>(LF_SHIM_OK);
    });
}
