/* Gathering, ordering and carrying rivals. */
#include "cast/rivals.h"

#include <math.h>
#include <string.h>

/* Places nearer than this share of the photo's longer side are one and the same, as for features
 * (matches.c): half the width of the narrowest facing. */
#define RIVALS_APART 0.0125
/* Of places that explain the frame equally well the near ones are kept: a mistake by one facing is
 * likelier than one by five. A photo's length costs this much strength. */
#define RIVALS_FAR 0.3
/* Weaker ones are chance: two unrelated prints share a tenth of their patches at most (measured on
 * the rendered walks). */
#define RIVALS_MIN_STRENGTH 0.2

void lf_rivals_add(LfRivalList *list, const LfPose *pose, double score)
{
    int at = list->n;
    if (list->n == LF_RIVALS_SEEN) {
        at = 0;
        for (int i = 1; i < list->n; i++)
            if (list->seen[i].score < list->seen[at].score)
                at = i;
        if (list->seen[at].score >= score)
            return;
    } else {
        list->n++;
    }
    list->seen[at] = (LfRivalSeen){pose->photo_from_frame, score};
}

/* The middle of what the pose rests on, undistorted frame px. */
static LfPoint rivals_middle(const LfPose *pose)
{
    LfPoint middle = {0, 0};
    int n = 0;
    for (int i = 0; i < pose->n_points; i++)
        if (pose->points[i].good) {
            middle.x += pose->points[i].laid.x;
            middle.y += pose->points[i].laid.y;
            n++;
        }
    return n > 0 ? (LfPoint){middle.x / n, middle.y / n} : middle;
}

static double rivals_rank(const LfRival *rival, double longer_px)
{
    return rival->strength - RIVALS_FAR * hypot(rival->dx, rival->dy) / longer_px;
}

static bool rivals_same_place(const LfRival *a, const LfRival *b, double longer_px)
{
    return hypot(a->dx - b->dx, a->dy - b->dy) <= RIVALS_APART * longer_px;
}

/* In its place by strength; a place that is there already stays as it is. */
static void rivals_insert(LfPose *pose, LfRival rival, double longer_px)
{
    for (int i = 0; i < pose->n_rivals; i++)
        if (rivals_same_place(&pose->rivals[i], &rival, longer_px))
            return;
    int at = pose->n_rivals++;
    for (; at > 0 && pose->rivals[at - 1].strength < rival.strength; at--)
        pose->rivals[at] = pose->rivals[at - 1];
    pose->rivals[at] = rival;
}

void lf_rivals_take(LfPose *pose, const LfPhoto *photo, const LfRivalList *list, double own_score)
{
    const LfPoint middle = rivals_middle(pose);
    const double longer = MAX(photo->report.width, photo->report.height);
    const LfRival itself = {0, 0, 1};
    LfRival rivals[LF_RIVALS_SEEN];
    int n = 0;
    LfPoint here, there;
    pose->n_rivals = 0;
    pose->rival = 1;
    if (!(own_score > 0) || !lf_mat3_apply(&pose->photo_from_frame, middle, &here))
        return;
    pose->rival = 0;
    for (int i = 0; i < list->n; i++) {
        const LfRivalSeen *seen = &list->seen[i];
        if (!lf_mat3_apply(&seen->photo_from_frame, middle, &there))
            continue;
        const LfRival rival = {.dx = there.x - here.x,
                               .dy = there.y - here.y,
                               .strength = MIN(seen->score / own_score, 1)};
        if (rivals_same_place(&rival, &itself, longer))
            continue;
        pose->rival = MAX(pose->rival, rival.strength);
        if (rival.strength >= RIVALS_MIN_STRENGTH)
            rivals[n++] = rival;
    }
    while (n > 0 && pose->n_rivals < LF_RIVALS_MAX) {
        int best = 0;
        for (int i = 1; i < n; i++)
            if (rivals_rank(&rivals[i], longer) > rivals_rank(&rivals[best], longer))
                best = i;
        rivals_insert(pose, rivals[best], longer);
        rivals[best] = rivals[--n];
    }
}

void lf_rivals_keep(LfPose *pose, const LfPose *prior)
{
    pose->rival = prior->rival;
    pose->n_rivals = prior->n_rivals;
    memcpy(pose->rivals, prior->rivals, sizeof pose->rivals);
}
