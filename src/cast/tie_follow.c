/* Following from ties: as the tracker does, but never to where the photo might be by its look
 * alone. */
#include "cast/tie_follow.h"

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
    if (!lf_frame_features_find(&features, task.frame, task.lens, LF_SHIM_ORB, TIE_FOLLOW_FEATURES))
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
    if (near->has[0])
        *carry = (LfTieCarry){.has = true, .carried = near->pose[0].frame_from_photo};
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

bool lf_tie_follow(LfTracker *tracker, LfTieCarry *carry, LfWindowFrame *frame,
                   const LfWindowFrame *near, const LfWindowFrame *far, bool search)
{
    frame->has[0] = near->has[0] && lf_tracker_step(tracker, frame, near, far, 0);
    if (frame->has[0]) {
        if (near->pose[0].n_points == 0) /* a tied pose that no picture backs */
            tie_follow_rivals(tracker, frame);
        return true;
    }
    tie_follow_carry(carry, frame, near);
    frame->has[0] =
        tie_follow_carried(tracker, carry, frame) ||
        (search && carry->unseen % TIE_FOLLOW_WAIT == 0 && tie_follow_search(tracker, frame));
    if (frame->has[0])
        *carry = (LfTieCarry){.has = false};
    return frame->has[0];
}
