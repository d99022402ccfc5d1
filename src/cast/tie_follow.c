/* Following from ties: as the tracker does, but never to where the photo might be by its look
 * alone. */
#include "cast/tie_follow.h"

#include <math.h>

#include "cast/rivals.h"

/* Frames over which a mapping is carried by the motion of the whole picture: a second. */
#define TIE_FOLLOW_CARRY 30
/* Share of patches that must agree after the photo was out of sight, as for a find (tracker.c). */
#define TIE_FOLLOW_MIN_SHARE 0.3
/* A find counts where the best look-alike explains the frame no better than so. Right finds on
 * shelves of repeated facings have 0.7 and less where a label of its own is in view (measured on
 * the rendered walks). */
#define TIE_FOLLOW_MAX_RIVAL 0.7
/* Frames between searches. */
#define TIE_FOLLOW_WAIT 4
#define TIE_FOLLOW_FEATURES 900
/* A pose may slip to the next facing while the picture moves by this much a frame, degrees, or
 * while fewer patches than this share agree. */
#define TIE_FOLLOW_FAST_DEG 0.8
#define TIE_FOLLOW_FIRM_SHARE 0.6
/* It is checked for that when the picture comes to rest, and every so many frames. */
#define TIE_FOLLOW_CHECK 50
/* Poses that put the middle of the frame further apart than this, degrees, are of different places;
 * facings are a degree and more wide. */
#define TIE_FOLLOW_APART_DEG 0.6
/* A frame on the way back from a slip is set right where that explains it about as well. */
#define TIE_FOLLOW_AS_GOOD 0.8

/* How the whole picture moved from one frame to another, frame px. */
static bool tie_follow_motion(const LfWindowFrame *from, const LfWindowFrame *to, LfMat3 *move)
{
    const LfPlane *small = &to->pyramid.level[LF_FRAME_LEVELS - 1];
    LfShimImage was = lf_plane_view(&from->pyramid.level[LF_FRAME_LEVELS - 1]);
    LfShimImage is = lf_plane_view(small);
    double dx, dy, response;
    if (lf_shim_phase_shift(&was, &is, &dx, &dy, &response, NULL) != LF_SHIM_OK)
        return false;
    *move = lf_mat3_translation(dx / small->scale_x, dy / small->scale_y);
    return true;
}

/* How near a look-alike comes is not known any more once the photo was out of sight. */
static void tie_follow_rivals(LfTracker *tracker, LfWindowFrame *frame)
{
    const LfFollowTask task = lf_tracker_task(tracker, frame, 0);
    LfPose *pose = &frame->pose[0];
    LfPose held = *pose;
    lf_locate_against_repeats(lf_tracker_follower(tracker), &task, &held);
    pose->rival = held.rival;
    pose->n_rivals = held.n_rivals;
    for (int i = 0; i < held.n_rivals; i++)
        pose->rivals[i] = held.rivals[i];
}

static bool tie_follow_carried(LfTracker *tracker, const LfTieCarry *carry, LfWindowFrame *frame)
{
    if (!carry->has || !lf_tracker_refine(tracker, frame, 0, &carry->carried, NULL) ||
        frame->pose[0].share_good < TIE_FOLLOW_MIN_SHARE)
        return false;
    tie_follow_rivals(tracker, frame);
    return true;
}

static bool tie_follow_search(LfTracker *tracker, LfWindowFrame *frame)
{
    const LfFollowTask task = lf_tracker_task(tracker, frame, 0);
    LfFrameFeatures features;
    LfPose *pose = &frame->pose[0];
    if (!lf_frame_features_find(&features, task.frame, NULL, task.lens, LF_SHIM_ORB,
                                TIE_FOLLOW_FEATURES))
        return false;
    const bool found =
        lf_locate(lf_tracker_follower(tracker), &task, &task.photo->features, &features, pose);
    lf_frame_features_clear(&features);
    return found && pose->share_good >= TIE_FOLLOW_MIN_SHARE && pose->rival <= TIE_FOLLOW_MAX_RIVAL;
}

/* Brings the carried mapping from `near` to `frame`. */
static void tie_follow_carry(LfTieCarry *carry, const LfWindowFrame *frame,
                             const LfWindowFrame *near)
{
    LfMat3 move;
    if (near->has[0]) {
        carry->has = true;
        carry->carried = near->pose[0].frame_from_photo;
        carry->frames = carry->unseen = 0;
    }
    carry->unseen++;
    if (!carry->has)
        return;
    carry->frames++;
    carry->has = carry->frames <= TIE_FOLLOW_CARRY && tie_follow_motion(near, frame, &move);
    if (carry->has) {
        carry->carried = lf_mat3_mul(&move, &carry->carried);
        carry->carried = lf_mat3_normalize(&carry->carried);
    }
}

static void tie_follow_seen(LfTieCarry *carry)
{
    carry->has = false;
    carry->frames = carry->unseen = 0;
}

void lf_tie_settled(LfTieCarry *carry, int64_t t_us)
{
    tie_follow_seen(carry);
    carry->unsettled = false;
    carry->since_check = 0;
    carry->settled_us = t_us;
}

static double tie_follow_degree_px(const LfLens *lens)
{
    return lf_pose_degree_px(lens, (LfPoint){(lens->width - 1) / 2.0, (lens->height - 1) / 2.0});
}

/* Whether two poses of one frame are of the same place: where one has the middle of the frame, the
 * other has it too. */
static bool tie_follow_same(const LfLens *lens, const LfPose *a, const LfPose *b)
{
    const LfPoint middle = {(lens->width - 1) / 2.0, (lens->height - 1) / 2.0};
    LfPoint p, q;
    return lf_mat3_apply(&a->photo_from_frame, middle, &p) &&
           lf_mat3_apply(&b->frame_from_photo, p, &q) &&
           hypot(q.x - middle.x, q.y - middle.y) <=
               TIE_FOLLOW_APART_DEG * tie_follow_degree_px(lens);
}

bool lf_tie_contradicted(LfTracker *tracker, const LfWindowFrame *frame, const LfPose *pose)
{
    const LfFollowTask task = lf_tracker_task(tracker, frame, 0);
    LfPose better = *pose;
    lf_locate_against_repeats(lf_tracker_follower(tracker), &task, &better);
    return !tie_follow_same(task.lens, pose, &better);
}

/* Sets the frames before `number` right as far as they slipped with it, back to settled_us. */
static void tie_follow_mend(LfTracker *tracker, LfWindow *window, int64_t number, int direction,
                            int64_t settled_us)
{
    for (int64_t k = number - direction;; k -= direction) {
        LfWindowFrame *frame = lf_window_at(window, k);
        if (!frame || (frame->t_us - settled_us) * direction <= 0)
            return;
        const LfLens *lens = lf_tracker_task(tracker, frame, 0).lens;
        const bool had = frame->has[0];
        const LfPose kept = frame->pose[0];
        const LfWindowFrame *near = lf_window_at(window, k + direction);
        const LfWindowFrame *far = lf_window_at(window, k + 2 * direction);
        const bool good = lf_tracker_step(tracker, frame, near, far, 0);
        if (good && (!had || (!tie_follow_same(lens, &kept, &frame->pose[0]) &&
                              lf_locate_score(&frame->pose[0]) >=
                                  TIE_FOLLOW_AS_GOOD * lf_locate_score(&kept)))) {
            frame->has[0] = true;
            continue;
        }
        frame->has[0] = had;
        frame->pose[0] = kept;
        return;
    }
}

/* Looks whether the pose has slipped, when there was reason to and the picture can tell. */
static void tie_follow_check(LfTracker *tracker, LfTieCarry *carry, LfWindow *window,
                             int64_t number, int direction)
{
    LfWindowFrame *frame = lf_window_at(window, number);
    LfPose *pose = &frame->pose[0];
    const LfFollowTask task = lf_tracker_task(tracker, frame, 0);
    carry->since_check++;
    if (pose->motion_px > TIE_FOLLOW_FAST_DEG * tie_follow_degree_px(task.lens) ||
        pose->share_good < TIE_FOLLOW_FIRM_SHARE) {
        carry->unsettled = true;
        return;
    }
    if (!carry->trust || !(carry->unsettled || carry->since_check >= TIE_FOLLOW_CHECK))
        return;
    const LfPose was = *pose;
    const int64_t settled_us = carry->settled_us;
    lf_tie_settled(carry, frame->t_us);
    lf_locate_against_repeats(lf_tracker_follower(tracker), &task, pose);
    if (tie_follow_same(task.lens, &was, pose) || pose->rival > TIE_FOLLOW_MAX_RIVAL)
        *pose = was;
    else
        tie_follow_mend(tracker, window, number, direction, settled_us);
}

/* Where the middle of the frame came to lie, by the mappings of two frames; frame px. */
static bool tie_follow_shift(const LfLens *lens, const LfPose *from, const LfMat3 *to,
                             LfPoint *shift)
{
    const LfPoint middle = {(lens->width - 1) / 2.0, (lens->height - 1) / 2.0};
    LfPoint p, q;
    if (!lf_mat3_apply(&from->photo_from_frame, middle, &p) || !lf_mat3_apply(to, p, &q))
        return false;
    *shift = (LfPoint){q.x - middle.x, q.y - middle.y};
    return true;
}

/* A step from frame to frame. While the head turns by a facing and more between two frames, the
 * next look-alike is as near as the right place; there the motion of the whole picture tells them
 * apart.
 */
static bool tie_follow_step(LfTracker *tracker, LfWindowFrame *frame, const LfWindowFrame *near,
                            const LfWindowFrame *far)
{
    const LfLens *lens = lf_tracker_task(tracker, frame, 0).lens;
    LfPose *pose = &frame->pose[0];
    const bool good = lf_tracker_step(tracker, frame, near, far, 0);
    LfMat3 move;
    LfPoint stepped, whole;
    if (!tie_follow_motion(near, frame, &move))
        return good;
    const LfMat3 predicted = lf_mat3_mul(&move, &near->pose[0].frame_from_photo);
    if (!tie_follow_shift(lens, &near->pose[0], &predicted, &whole) ||
        (good && (!tie_follow_shift(lens, &near->pose[0], &pose->frame_from_photo, &stepped) ||
                  hypot(stepped.x - whole.x, stepped.y - whole.y) <
                      TIE_FOLLOW_APART_DEG * tie_follow_degree_px(lens))))
        return good;
    const LfPose kept = *pose;
    if (lf_tracker_refine(tracker, frame, 0, &predicted, &near->pose[0]) &&
        (!good || lf_locate_score(pose) > TIE_FOLLOW_AS_GOOD * lf_locate_score(&kept))) {
        lf_rivals_keep(pose, &near->pose[0]);
        pose->since_locate = near->pose[0].since_locate + 1;
        return true;
    }
    *pose = kept;
    return good;
}

/* The frame's own pose, by whatever serves. */
static bool tie_follow_pose(LfTracker *tracker, LfTieCarry *carry, LfWindow *window, int64_t number,
                            int direction, bool search)
{
    LfWindowFrame *frame = lf_window_at(window, number);
    const LfWindowFrame *near = lf_window_at(window, number - direction);
    const LfWindowFrame *far = lf_window_at(window, number - 2 * direction);
    if (near->has[0] && tie_follow_step(tracker, frame, near, far)) {
        if (near->pose[0].n_points == 0) /* a tied pose that no picture backs */
            tie_follow_rivals(tracker, frame);
        return true;
    }
    tie_follow_carry(carry, frame, near);
    return tie_follow_carried(tracker, carry, frame) ||
           (search && carry->unseen % TIE_FOLLOW_WAIT == 0 && tie_follow_search(tracker, frame));
}

bool lf_tie_follow(LfTracker *tracker, LfTieCarry *carry, LfWindow *window, int64_t number,
                   int direction, bool search)
{
    LfWindowFrame *frame = lf_window_at(window, number);
    frame->has[0] = tie_follow_pose(tracker, carry, window, number, direction, search);
    if (!frame->has[0]) {
        carry->unsettled = true;
        return false;
    }
    tie_follow_seen(carry);
    tie_follow_check(tracker, carry, window, number, direction);
    return true;
}
