/* Locate: hypotheses from features, decided by looking at the picture.
 *
 * Feature matches only propose. Each proposal is refined and judged by the patches of the photo
 * (follow.c), and the winner is then held against itself moved by the pitches at which the photo
 * repeats: a shelf of look-alike packs is found only where the difference shows. */
#include "cast/locate.h"

#include <math.h>
#include <string.h>

#include "cast/matches.h"
#include "cast/rivals.h"
#include "cast/select.h"

/* A found photo is shown between these scales, frame px per photo px relative to the frame's and
 * photo's widths: 25 times smaller to 30 times larger than the frame. */
#define LOCATE_MIN_SHOWN 0.04
#define LOCATE_MAX_SHOWN 30
/* A repeat takes the place of what was found when it explains the frame this much better. */
#define LOCATE_CLEARLY 1.25

bool lf_frame_features_find(LfFrameFeatures *features, const LfFramePyramid *frame,
                            const LfPlane *where, const LfLens *lens, LfShimKind kind, int max)
{
    const LfPlane *plane = &frame->level[0];
    LfShimImage view = lf_plane_view(plane), wanted;
    g_autofree uint8_t *even = g_try_malloc((gsize)plane->width * (gsize)plane->height);
    LfShimFeature *found = NULL;
    const gsize bytes = (gsize)lf_shim_descriptor_bytes(kind);
    int n = 0;
    memset(features, 0, sizeof *features);
    if (!even || lf_shim_equalize(&view, even, NULL) != LF_SHIM_OK)
        return false;
    view.data = even;
    view.stride = plane->width;
    if (where)
        wanted = lf_plane_view(where);
    if (lf_shim_detect(&view, where ? &wanted : NULL, kind, max, &found, &features->descriptors, &n,
                       NULL) != LF_SHIM_OK)
        return false;
    features->at = g_new(LfPoint, n + 1);
    features->size = g_new(float, n + 1);
    features->angle = g_new(float, n + 1);
    for (int i = 0; i < n; i++) {
        LfPoint p = {(double)found[i].x, (double)found[i].y};
        /* A feature beyond the calibrated field cannot be placed: leave it out. */
        if (!lf_lens_undistort(lens, lf_plane_to_image(plane, p), &features->at[features->n]))
            continue;
        features->size[features->n] = found[i].size / (float)plane->scale_x;
        features->angle[features->n] = found[i].angle;
        memmove(features->descriptors + (gsize)features->n * bytes,
                features->descriptors + (gsize)i * bytes, bytes);
        features->n++;
    }
    lf_shim_free(found);
    return true;
}

void lf_frame_features_clear(LfFrameFeatures *features)
{
    g_free(features->at);
    g_free(features->size);
    g_free(features->angle);
    lf_shim_free(features->descriptors);
    memset(features, 0, sizeof *features);
}

/* A view of a picture neither mirrors nor folds it, and shows it in a sensible size. */
static bool locate_plausible(const LfMat3 *h, const LfFollowTask *task)
{
    double j[4];
    double scale = lf_select_scale(h, task->lens, task->photo);
    double shown = scale * task->photo->report.width / task->lens->width;
    LfMat3 back;
    LfPoint middle = {task->lens->width / 2.0, task->lens->height / 2.0}, p;
    if (!lf_mat3_invert(h, &back))
        return false;
    if (!lf_mat3_apply(&back, middle, &p) || p.x < 0 || p.y < 0 ||
        p.x >= task->photo->report.width || p.y >= task->photo->report.height)
        p = (LfPoint){task->photo->report.width / 2.0, task->photo->report.height / 2.0};
    return lf_mat3_jacobian(h, p, j) && j[0] * j[3] - j[1] * j[2] > 0 && shown > LOCATE_MIN_SHOWN &&
           shown < LOCATE_MAX_SHOWN;
}

double lf_locate_score(const LfPose *pose)
{
    return pose->n_good * pose->share_good;
}

/* The best of the pose's repeats by the photo's own pitches; its score, 0 where none fits at all.
 * All that fit go to the list. */
static double locate_best_repeat(LfFollower *follower, const LfFollowTask *task, const LfPose *pose,
                                 LfPose *best_repeat, LfRivalList *list)
{
    double best = 0;
    for (int i = 0; i < 2 * task->photo->n_shifts; i++) {
        const LfPhotoShift *shift = &task->photo->shifts[i / 2];
        double sign = i % 2 ? -1 : 1;
        LfMat3 move = lf_mat3_translation(sign * (double)shift->dx, sign * (double)shift->dy);
        LfFollowTask moved = *task;
        LfPose other;
        moved.predicted = lf_mat3_mul(&pose->frame_from_photo, &move);
        moved.predicted = lf_mat3_normalize(&moved.predicted);
        if (!lf_follow(follower, &moved, false, &other))
            continue;
        lf_rivals_add(list, &other, lf_locate_score(&other));
        if (lf_locate_score(&other) <= best)
            continue;
        best = lf_locate_score(&other);
        *best_repeat = other;
    }
    return best;
}

/* list: other finds, reckoned against the pose's own score; takes its repeats. */
static void locate_against(LfFollower *follower, const LfFollowTask *task, LfPose *pose,
                           LfRivalList *list)
{
    LfFollowTask strict = *task;
    LfPose repeat, again;
    strict.strict = true;
    strict.predicted = pose->frame_from_photo;
    double own = lf_follow(follower, &strict, false, &again) ? lf_locate_score(&again) : 0;
    if (own > 0)
        lf_rivals_add(list, &again, own);
    double other = locate_best_repeat(follower, &strict, pose, &repeat, list);
    double taken = own;
    if (other > LOCATE_CLEARLY * own) {
        taken = other;
        repeat.since_locate = pose->since_locate;
        repeat.matches = pose->matches;
        *pose = repeat;
    }
    lf_rivals_take(pose, task->photo, list, taken);
}

void lf_locate_against_repeats(LfFollower *follower, const LfFollowTask *task, LfPose *pose)
{
    LfRivalList list = {.n = 0};
    locate_against(follower, task, pose, &list);
}

bool lf_locate(LfFollower *follower, const LfFollowTask *task, const LfBank *bank,
               const LfFrameFeatures *features, LfPose *pose)
{
    int n = 0;
    LfHypothesis hypotheses[LF_HYPOTHESES_MAX];
    g_autofree LfMatch *matches = lf_matches_find(task->photo, bank, features, &n);
    int n_hypotheses =
        lf_matches_hypotheses(task->photo, bank, features, matches, n,
                              hypot(task->lens->width, task->lens->height), hypotheses);
    LfRivalList list = {.n = 0};
    bool found = false;
    for (int i = 0; i < n_hypotheses; i++) {
        LfFollowTask one = *task;
        LfPose candidate;
        one.predicted = hypotheses[i].frame_from_photo;
        if (!locate_plausible(&one.predicted, task) || !lf_follow(follower, &one, true, &candidate))
            continue;
        lf_rivals_add(&list, &candidate, lf_locate_score(&candidate));
        if (!found || lf_locate_score(&candidate) > lf_locate_score(pose)) {
            *pose = candidate;
            pose->matches = hypotheses[i].inliers;
        }
        found = true;
        if (pose->share_good > 0.8 && pose->n_good > 60)
            break; /* nothing explains the frame better than nearly all of it */
    }
    if (found)
        locate_against(follower, task, pose, &list);
    return found;
}
