/* The life of each photo in a video: searched for at growing intervals while it is out of sight,
 * followed from frame to frame while it is in sight, and followed backwards from each find. */
#include "cast/tracker.h"

#include <math.h>
#include <string.h>

#include "cast/rivals.h"
#include "cast/tracker_state.h"

/* Frames between searches for a photo out of sight: the search costs as much as decoding three
 * frames, and what is missed in between is filled backwards. */
static const int TRACKER_WAIT[] = {1, 2, 4, 7, 11};
/* A shaky photo, and one out of sight while another is in view, may wait longer; a find is filled
 * in so far back. */
#define TRACKER_WAIT_SHAKY 15
#define TRACKER_WAIT_BESIDE 25
#define TRACKER_WAIT_OFTEN 8
/* Features looked for in a frame, and how far around good patches of firm photos there is nothing
 * to be found any more, a share of its width. */
#define TRACKER_FEATURES 900
#define TRACKER_EXPLAINED 0.03
/* A followed pose is held against its repeats this often, frames. */
#define TRACKER_REPEAT_CHECK 50
#define TRACKER_REPEAT_CHECK_ODD 5
#define TRACKER_ODD_SHARE 0.75
/* A find takes the place of a shaky pose when it explains the frame this much better. */
#define TRACKER_BETTER 1.3
/* Frames that move by this share of their width and more (20 px of 1080p) are looked at for blur
 * when fewer patches than this agree. */
#define TRACKER_BLUR_MOTION 0.0105
#define TRACKER_BLUR_SHARE 0.8
/* Where residuals spread further than this share of the width (0.06 degrees), depth is why patches
 * disagree, and blur has nothing to mend. */
#define TRACKER_BLUR_SPREAD 0.00075

LfTracker *lf_tracker_new(LfPhoto *const *photos, int n_photos)
{
    LfTracker *tracker = g_new0(LfTracker, 1);
    tracker->photos = photos;
    tracker->n_photos = n_photos;
    tracker->state = g_new0(LfTrackerPhoto, n_photos);
    tracker->follower = lf_follower_new();
    tracker->relief = g_new0(LfRelief *, n_photos + 1);
    tracker->seen = g_new0(LfNeighbourSeen, n_photos + 1);
    for (int p = 0; p < n_photos; p++) {
        LfPhotoReport report = lf_photo_report(photos[p]);
        tracker->relief[p] = lf_relief_new(report.width, report.height);
    }
    return tracker;
}

void lf_tracker_free(LfTracker *tracker)
{
    if (!tracker)
        return;
    for (int p = 0; p < tracker->n_photos; p++)
        lf_relief_free(tracker->relief[p]);
    g_free(tracker->relief);
    g_free(tracker->seen);
    g_free(tracker->state);
    lf_follower_free(tracker->follower);
    g_free(tracker);
}

void lf_tracker_start(LfTracker *tracker, const LfLens *lens, const LfGazeSample *samples,
                      gsize n_samples)
{
    memset(tracker->state, 0, sizeof(LfTrackerPhoto) * (gsize)tracker->n_photos);
    for (int p = 0; p < tracker->n_photos; p++)
        lf_relief_copy(tracker->relief[p], tracker->photos[p]->relief);
    tracker->exposure = 0;
    tracker->wait_beside = TRACKER_WAIT_BESIDE;
    tracker->lens = lens;
    tracker->samples = samples;
    tracker->n_samples = n_samples;
}

void lf_tracker_search_often(LfTracker *tracker)
{
    tracker->wait_beside = TRACKER_WAIT_OFTEN;
}

/* Gaze points within 45 ms of the frame: those that will be placed by it, at 20 frames per second
 * and more. */
static void tracker_focus(const LfTracker *tracker, int64_t t_us, LfFollowTask *task)
{
    const int64_t reach_us = 45000;
    gsize from = lf_gaze_first_at(tracker->samples, tracker->n_samples, t_us - reach_us);
    gsize to = lf_gaze_first_at(tracker->samples, tracker->n_samples, t_us + reach_us);
    gsize step = (to - from) / LF_FOCUS_MAX + 1;
    task->n_focus = 0;
    for (gsize i = from; i < to; i += step)
        if (!tracker->samples[i].lost)
            task->focus[task->n_focus++] = (LfPoint){tracker->samples[i].x, tracker->samples[i].y};
}

LfFollowTask lf_tracker_task(const LfTracker *tracker, const LfWindowFrame *frame, int photo)
{
    LfFollowTask task = {.photo = tracker->photos[photo],
                         .photo_index = photo,
                         .lens = tracker->lens,
                         .frame = &frame->pyramid,
                         .relief = tracker->relief[photo]};
    tracker_focus(tracker, frame->t_us, &task);
    return task;
}

/* The mapping two frames (older, newer) would lead to at `t_us` if the picture went on moving as it
 * did; `newer` is the nearer one. Works in both directions of time. */
static LfMat3 tracker_predict(const LfWindowFrame *older, const LfWindowFrame *newer, int photo,
                              int64_t t_us)
{
    const LfPose *last = &newer->pose[photo];
    if (!older || !older->has[photo] || older->t_us == newer->t_us)
        return last->frame_from_photo;
    const LfPose *before = &older->pose[photo];
    double ratio = (double)(t_us - newer->t_us) / (double)(newer->t_us - older->t_us);
    ratio = CLAMP(ratio, 0, 2);
    LfMat3 step = lf_mat3_mul(&last->frame_from_photo, &before->photo_from_frame);
    step = lf_mat3_normalize(&step);
    /* For steps near the identity I + r (step - I) is the step taken r times. */
    for (int i = 0; i < 9; i++) {
        double one = i % 4 == 0 ? 1 : 0;
        step.m[i] = one + ratio * (step.m[i] - one);
    }
    LfMat3 out = lf_mat3_mul(&step, &last->frame_from_photo);
    return lf_mat3_normalize(&out);
}

/* How far the middle of the picture moves from one mapping to the next, frame px. */
static double tracker_motion(const LfTracker *tracker, const LfMat3 *photo_from_before,
                             const LfMat3 *now_from_photo)
{
    LfPoint middle = {(tracker->lens->width - 1) / 2.0, (tracker->lens->height - 1) / 2.0}, p, q;
    if (!lf_mat3_apply(photo_from_before, middle, &p) || !lf_mat3_apply(now_from_photo, p, &q))
        return 0;
    return hypot(q.x - middle.x, q.y - middle.y);
}

/* While the head turns the frame is smeared; how much depends on the exposure, which no file tells.
 * The exposure that served last is tried first; where patches agree badly, others are. */
static bool tracker_follow_blurred(LfTracker *tracker, LfFollowTask *task, LfPose *pose)
{
    static const double EXPOSURES[] = {0, 0.2, 0.45};
    LfFollowTask one = *task;
    bool good = false;
    double best = tracker->exposure;
    for (int i = -1; i < (int)G_N_ELEMENTS(EXPOSURES); i++) {
        LfPose candidate;
        one.exposure = i < 0 ? tracker->exposure : EXPOSURES[i];
        if ((i >= 0 && one.exposure == tracker->exposure) ||
            !lf_follow(tracker->follower, &one, true, &candidate))
            continue;
        if (!good || lf_locate_score(&candidate) > TRACKER_BETTER * lf_locate_score(pose)) {
            *pose = candidate;
            best = one.exposure;
        }
        good = true;
        if (pose->share_good >= TRACKER_BLUR_SHARE ||
            pose->residual_px > TRACKER_BLUR_SPREAD * tracker->lens->width)
            break;
    }
    tracker->exposure = best;
    return good;
}

static bool tracker_try(LfTracker *tracker, LfFollowTask *task, const LfPose *prior, LfPose *pose)
{
    const double motion = tracker_motion(tracker, &prior->photo_from_frame, &task->predicted);
    task->came_from = prior->frame_from_photo;
    if (motion > TRACKER_BLUR_MOTION * tracker->lens->width)
        return tracker_follow_blurred(tracker, task, pose);
    return lf_follow(tracker->follower, task, true, pose);
}

/* Follows a photo from `near` (and the frame beyond it, `far`, for the motion) into `frame`. */
bool lf_tracker_step(LfTracker *tracker, LfWindowFrame *frame, const LfWindowFrame *near,
                     const LfWindowFrame *far, int photo)
{
    LfFollowTask task = lf_tracker_task(tracker, frame, photo);
    LfPose *pose = &frame->pose[photo];
    const LfPose *prior = &near->pose[photo];
    task.predicted = tracker_predict(far, near, photo, frame->t_us);
    bool good = tracker_try(tracker, &task, prior, pose);
    if (!good) { /* the head stopped or turned back */
        task.predicted = prior->frame_from_photo;
        good = tracker_try(tracker, &task, prior, pose);
    }
    if (!good) { /* it jumped: how far, the whole picture tells */
        const LfPlane *small = &frame->pyramid.level[LF_FRAME_LEVELS - 1];
        LfShimImage was = lf_plane_view(&near->pyramid.level[LF_FRAME_LEVELS - 1]);
        LfShimImage is = lf_plane_view(small);
        double dx, dy, response;
        if (lf_shim_phase_shift(&was, &is, &dx, &dy, &response, NULL) != LF_SHIM_OK)
            return false;
        LfMat3 move = lf_mat3_translation(dx / small->scale_x, dy / small->scale_y);
        task.predicted = lf_mat3_mul(&move, &prior->frame_from_photo);
        good = tracker_try(tracker, &task, prior, pose);
    }
    if (!good)
        return false;
    lf_rivals_keep(pose, prior);
    pose->since_locate = prior->since_locate + 1;
    pose->motion_px = tracker_motion(tracker, &prior->photo_from_frame, &pose->frame_from_photo);
    lf_follow_learn(tracker->relief[photo], pose, tracker->lens);
    return true;
}

/* Whether a pose the photo had is to stay against the one filled in. */
static bool tracker_stays(const LfTracker *tracker, const LfPose *had, const LfPose *filled,
                          int photo, bool moved)
{
    if (!moved)
        return lf_locate_score(filled) < TRACKER_BETTER * lf_locate_score(had);
    return lf_tracker_apart(tracker, photo, &filled->frame_from_photo, &had->frame_from_photo) <
               LF_TRACKER_APART ||
           lf_locate_score(filled) < LF_TRACKER_NEAR * lf_locate_score(had);
}

void lf_tracker_fill_back(LfTracker *tracker, LfWindow *window, int64_t number, int photo,
                          bool moved)
{
    LfPose kept;
    for (int64_t k = number - 1; k >= window->first; k--) {
        LfWindowFrame *frame = lf_window_at(window, k);
        const bool had = frame->has[photo];
        if (had)
            kept = frame->pose[photo];
        frame->has[photo] = lf_tracker_step(tracker, frame, lf_window_at(window, k + 1),
                                            lf_window_at(window, k + 2), photo);
        if (had && (!frame->has[photo] ||
                    tracker_stays(tracker, &kept, &frame->pose[photo], photo, moved))) {
            frame->pose[photo] = kept;
            frame->has[photo] = true;
            return;
        }
        if (!frame->has[photo])
            return;
    }
}

static bool tracker_any_followed(const LfTracker *tracker)
{
    for (int p = 0; p < tracker->n_photos; p++)
        if (tracker->state[p].following)
            return true;
    return false;
}

static void tracker_blank(LfPlane *plane, LfPoint at)
{
    const int reach = (int)(TRACKER_EXPLAINED * plane->width);
    const int left = MAX((int)at.x - reach, 0), right = MIN((int)at.x + reach, plane->width - 1);
    for (int y = MAX((int)at.y - reach, 0); y <= MIN((int)at.y + reach, plane->height - 1); y++)
        if (left <= right)
            memset(plane->data + y * plane->width + left, 0, (gsize)(right - left + 1));
}

/* Features of what is no part of a firm photo: a shelf that fills the picture would leave none for
 * a sign beside it. In every other frame of all of it: photos may show the same thing. */
static bool tracker_features(const LfTracker *tracker, const LfWindowFrame *frame, int64_t number,
                             LfFrameFeatures *features)
{
    const LfPlane *plane = &frame->pyramid.level[0];
    LfPlane where = {0};
    for (int p = 0; p < tracker->n_photos; p++) {
        const LfPose *pose = &frame->pose[p];
        if (number % 2 == 1 || !lf_tracker_firm(frame, p))
            continue;
        if (!where.data) {
            if (!lf_plane_init(&where, plane->width, plane->height, 1, 1))
                return false;
            memset(where.data, 255, (gsize)plane->width * (gsize)plane->height);
        }
        for (int i = 0; i < pose->n_points; i++)
            if (pose->points[i].good)
                tracker_blank(&where,
                              lf_plane_from_image(
                                  plane, lf_lens_distort(tracker->lens, pose->points[i].laid)));
    }
    const bool ok = lf_frame_features_find(features, &frame->pyramid, where.data ? &where : NULL,
                                           tracker->lens, LF_SHIM_ORB, TRACKER_FEATURES);
    lf_plane_clear(&where);
    return ok;
}

/* Searches the frame for a photo that is out of sight, or whose pose is shaky. */
static void tracker_search(LfTracker *tracker, LfWindow *window, LfWindowFrame *frame, int photo,
                           LfFrameFeatures *features, bool *have_features)
{
    LfTrackerPhoto *state = &tracker->state[photo];
    const int64_t number = window->end - 1;
    if (!*have_features)
        *have_features = tracker_features(tracker, frame, number, features);
    LfFollowTask task = lf_tracker_task(tracker, frame, photo);
    LfPose found;
    if (*have_features &&
        lf_locate(tracker->follower, &task, &task.photo->features, features, &found) &&
        found.share_good >= LF_TRACKER_MIN_SHARE &&
        (!frame->has[photo] ||
         lf_locate_score(&found) > TRACKER_BETTER * lf_locate_score(&frame->pose[photo]))) {
        frame->pose[photo] = found;
        frame->has[photo] = true;
        *state = (LfTrackerPhoto){.following = true};
        lf_tracker_fill_back(tracker, window, number, photo, false);
        return;
    }
    int wait = TRACKER_WAIT[MIN(state->tries, (int)G_N_ELEMENTS(TRACKER_WAIT) - 1)];
    if (tracker_any_followed(tracker) && state->tries > 0)
        wait = state->following ? TRACKER_WAIT_SHAKY : tracker->wait_beside;
    state->tries++;
    state->next_try = number + wait;
}

const LfRelief *lf_tracker_relief(const LfTracker *tracker, int photo)
{
    return tracker->relief[photo];
}

/* Whether a followed pose is to be held against its repeats: now and then, and soon where much
 * disagrees, since half of the patches agree with the next facing too. */
static bool tracker_repeats_due(const LfPose *pose)
{
    const bool odd = pose->share_good < TRACKER_ODD_SHARE;
    return pose->since_locate % (odd ? TRACKER_REPEAT_CHECK_ODD : TRACKER_REPEAT_CHECK) == 0;
}

/* Follows a photo from the frame before. */
static void tracker_go_on(LfTracker *tracker, LfWindow *window, LfWindowFrame *frame, int photo)
{
    LfTrackerPhoto *state = &tracker->state[photo];
    const int64_t number = window->end - 1;
    const LfPose *pose = &frame->pose[photo];
    const LfWindowFrame *last = lf_window_at(window, number - 1);
    if (!state->following || !last)
        return;
    frame->has[photo] =
        lf_tracker_step(tracker, frame, last, lf_window_at(window, number - 2), photo);
    if (!frame->has[photo]) {
        *state = (LfTrackerPhoto){.next_try = number};
        return;
    }
    if (lf_tracker_firm(frame, photo)) {
        state->tries = 0;
        state->next_try = number + 1;
    }
    if (tracker_repeats_due(pose)) {
        LfFollowTask task = lf_tracker_task(tracker, frame, photo);
        lf_locate_against_repeats(tracker->follower, &task, &frame->pose[photo]);
    }
}

void lf_tracker_advance(LfTracker *tracker, LfWindow *window)
{
    const int64_t number = window->end - 1;
    LfWindowFrame *frame = lf_window_at(window, number);
    LfFrameFeatures features = {0};
    bool have_features = false;
    for (int p = 0; p < tracker->n_photos; p++)
        tracker_go_on(tracker, window, frame, p);
    for (int p = 0; p < tracker->n_photos; p++) {
        const bool wanted = lf_tracker_ask_neighbours(tracker, window, p);
        if (wanted && !lf_tracker_firm(frame, p) && number >= tracker->state[p].next_try)
            tracker_search(tracker, window, frame, p, &features, &have_features);
    }
    lf_frame_features_clear(&features);
}

bool lf_tracker_refine(LfTracker *tracker, LfWindowFrame *frame, int photo, const LfMat3 *predicted,
                       const LfPose *came_from)
{
    LfFollowTask task = lf_tracker_task(tracker, frame, photo);
    LfPose *pose = &frame->pose[photo];
    task.predicted = *predicted;
    if (!(came_from ? tracker_try(tracker, &task, came_from, pose)
                    : lf_follow(tracker->follower, &task, true, pose)))
        return false;
    if (came_from)
        pose->motion_px =
            tracker_motion(tracker, &came_from->photo_from_frame, &pose->frame_from_photo);
    return true;
}

LfFollower *lf_tracker_follower(LfTracker *tracker)
{
    return tracker->follower;
}
