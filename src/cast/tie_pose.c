/* Poses of tied frames. */
#include "cast/tie_pose.h"

#include <math.h>
#include <string.h>

#include "cast/matches.h"

/* A refined pose agrees with its ties where none is further off than this, degrees: a click is good
 * to a tenth or two. Facings are a degree and more wide. */
#define TIE_POSE_AGREE_DEG 0.5
/* A pack that stands behind the plane may be off it by this much, where relief and patches around
 * it say so too (as in pose.c). */
#define TIE_POSE_DEPTH_DEG 1.75
/* Share of patches that must agree, as for a find (tracker.c). */
#define TIE_POSE_MIN_SHARE 0.3
/* Standard error of a pose that only the ties speak for, degrees. */
#define TIE_POSE_SIGMA_DEG 0.5
#define TIE_POSE_FEATURES 1500

/* Mappings that meet the ties, the likeliest first. */
#define TIE_POSE_PROPOSALS (4 + LF_HYPOTHESES_MAX)

typedef struct {
    LfMat3 map[TIE_POSE_PROPOSALS];
    int n;
} TieProposals;

/* The ties as they would be on the photo's plane, seen through `map`: what stands behind it is
 * moved by the relief, where that is known. */
static void tie_pose_on_plane(const LfFollowTask *task, const LfMat3 *map, const LfTiePoint *ties,
                              int n, LfTiePoint *out)
{
    LfReliefView view;
    const bool has = task->relief && lf_relief_view(&view, map, task->lens);
    for (int i = 0; i < n; i++) {
        out[i] = ties[i];
        if (!has)
            continue;
        const LfPoint shift = lf_relief_shift(task->relief, &view, ties[i].photo).px;
        out[i].frame.x -= shift.x;
        out[i].frame.y -= shift.y;
    }
}

static void tie_pose_propose(TieProposals *to, const LfFollowTask *task, const LfTiePoint *ties,
                             int n, const LfMat3 *prior, LfTieWay way)
{
    if (to->n == TIE_POSE_PROPOSALS || !lf_tie_fix(ties, n, prior, way, &to->map[to->n]))
        return;
    LfMat3 *map = &to->map[to->n++], again;
    g_autofree LfTiePoint *flat = g_new(LfTiePoint, n);
    tie_pose_on_plane(task, map, ties, n, flat);
    if (lf_tie_fix(flat, n, prior, way, &again))
        *map = again;
}

/* What the features of the frame propose, moved along the photo to meet the ties. */
static void tie_pose_from_features(const LfFollowTask *task, const LfTiePoint *ties, int n,
                                   TieProposals *to)
{
    LfFrameFeatures features;
    LfHypothesis hypotheses[LF_HYPOTHESES_MAX];
    if (!lf_frame_features_find(&features, task->frame, NULL, task->lens, LF_SHIM_ORB,
                                TIE_POSE_FEATURES))
        return;
    int n_matches = 0;
    g_autofree LfMatch *matches =
        lf_matches_find(task->photo, &task->photo->features, &features, &n_matches);
    const int n_hypotheses =
        lf_matches_hypotheses(task->photo, &task->photo->features, &features, matches, n_matches,
                              hypot(task->lens->width, task->lens->height), hypotheses);
    for (int i = 0; i < n_hypotheses; i++)
        tie_pose_propose(to, task, ties, n, &hypotheses[i].frame_from_photo, LF_TIE_ON_PHOTO);
    lf_frame_features_clear(&features);
}

/* Largest distance of a tie from where the pose and the patches around have it, degrees. */
static double tie_pose_miss_deg(const LfPose *pose, const LfFollowTask *task,
                                const LfTiePoint *ties, int n)
{
    const LfLens *lens = task->lens;
    g_autofree LfTiePoint *flat = g_new(LfTiePoint, n);
    const LfPoseView view = {.lens = lens, .relief = task->relief, .tolerance_deg = 1};
    double worst = 0;
    tie_pose_on_plane(task, &pose->frame_from_photo, ties, n, flat);
    for (int i = 0; i < n; i++) {
        const double degree_px = lf_pose_degree_px(lens, ties[i].frame);
        const double off = lf_tie_miss_px(&flat[i], 1, &pose->frame_from_photo) / degree_px;
        LfPoseLocal local;
        double near = off;
        if (off > TIE_POSE_AGREE_DEG && off < TIE_POSE_DEPTH_DEG &&
            lf_pose_local(pose, &view, ties[i].frame, &local))
            near = hypot(local.photo.x - ties[i].photo.x, local.photo.y - ties[i].photo.y) /
                   local.px_per_degree;
        worst = MAX(worst, MIN(off, near));
    }
    return worst;
}

/* Refines each proposal from `from` on; the best that agrees with the ties goes to *best. */
static bool tie_pose_refine(LfTracker *tracker, LfWindowFrame *frame, const LfFollowTask *task,
                            const TieProposals *proposals, int from, const LfTiePoint *ties, int n,
                            LfPose *best)
{
    bool found = false;
    for (int i = from; i < proposals->n; i++) {
        const LfPose *pose = &frame->pose[0];
        if (!lf_tracker_refine(tracker, frame, 0, &proposals->map[i], NULL) ||
            pose->share_good < TIE_POSE_MIN_SHARE)
            continue;
        if (tie_pose_miss_deg(pose, task, ties, n) > TIE_POSE_AGREE_DEG ||
            (found && lf_locate_score(pose) <= lf_locate_score(best)))
            continue;
        *best = *pose;
        found = true;
    }
    return found;
}

/* A pose of nothing but the ties' mapping, as uncertain all over the frame as
 * TIE_POSE_SIGMA_DEG says. */
static bool tie_pose_bare(const LfMat3 *map, const LfLens *lens, LfPose *pose)
{
    LfPoint photo[9], frame[9];
    LfMat3 refit;
    int n = 0;
    *pose = (LfPose){.frame_from_photo = *map};
    if (!lf_mat3_invert(map, &pose->photo_from_frame))
        return false;
    pose->photo_from_frame = lf_mat3_normalize(&pose->photo_from_frame);
    for (int i = 0; i < 9; i++) {
        frame[n] = (LfPoint){(i % 3) / 2.0 * lens->width, (i / 3) / 2.0 * lens->height};
        n += lf_mat3_apply(&pose->photo_from_frame, frame[n], &photo[n]);
    }
    if (n < 5 || !lf_homography_fit(frame, photo, NULL, n, &refit, pose->cov))
        return false;
    /* n points that fit 8 numbers share their errors: 8 / (2 n) of the variance is left of each. */
    const LfPoint middle = {(lens->width - 1) / 2.0, (lens->height - 1) / 2.0};
    const double sigma = TIE_POSE_SIGMA_DEG * lf_pose_degree_px(lens, middle);
    pose->residual_px = sigma;
    for (int i = 0; i < 64; i++)
        pose->cov[i] *= sigma * sigma * (2 * n) / 8.0;
    return true;
}

bool lf_tie_pose(LfTracker *tracker, LfWindowFrame *frame, const LfTiePoint *ties, int n,
                 const LfMat3 *prior, bool same_frame, bool *refined, double *miss_deg)
{
    const LfFollowTask task = lf_tracker_task(tracker, frame, 0);
    TieProposals proposals = {.n = 0};
    g_autofree LfPose *best = g_new0(LfPose, 1);
    if (prior) {
        tie_pose_propose(&proposals, &task, ties, n, prior,
                         same_frame ? LF_TIE_ON_PHOTO : LF_TIE_IN_FRAME);
        if (n < 4)
            tie_pose_propose(&proposals, &task, ties, n, prior,
                             same_frame ? LF_TIE_IN_FRAME : LF_TIE_ON_PHOTO);
    }
    if (!prior || n == 2 || n == 3)
        tie_pose_propose(&proposals, &task, ties, n, NULL, LF_TIE_IN_FRAME);
    *refined = tie_pose_refine(tracker, frame, &task, &proposals, 0, ties, n, best);
    if (!*refined && n < 4) {
        const int known = proposals.n;
        tie_pose_from_features(&task, ties, n, &proposals);
        *refined = tie_pose_refine(tracker, frame, &task, &proposals, known, ties, n, best);
        /* What no patch agrees with tells nothing of the photo's size. */
        if (!*refined && known == 0)
            return false;
    }
    if (!*refined && (proposals.n == 0 || !tie_pose_bare(&proposals.map[0], task.lens, best)))
        return false;
    frame->pose[0] = *best;
    *miss_deg = tie_pose_miss_deg(best, &task, ties, n);
    return true;
}
