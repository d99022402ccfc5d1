/* Photos that stand beside each other hold each other in place. */
#include <math.h>

#include "cast/tracker_state.h"

/* A photo that is firm by so many good patches tells where its neighbours are. Asked of each so
 * often, frames, while that leads to nothing. */
#define TRACKER_BY_GOOD 20
#define TRACKER_BY_WAIT 5
/* A neighbour known by fewer views is not believed that the photo is out of the picture. */
#define TRACKER_BY_VIEWS 8
/* Where a photo is to be seen further than this share of the frame's width (0.8 degrees of 82) from
 * where a neighbour has it, one of both is wrong. */
#define TRACKER_BY_APART 0.01
/* Then a place that is nearly as good by the picture is better if it agrees with the neighbour. */
#define TRACKER_BY_NEAR 0.9
/* A photo is in view where one of these points, along and across it, is. */
#define TRACKER_IN_VIEW 12

/* Where the firmest of its neighbours has a photo in the frame; NULL where none tells. */
static const LfNeighbour *tracker_foretell(const LfTracker *tracker, const LfWindowFrame *frame,
                                           int photo, LfMat3 *predicted)
{
    const LfPhoto *of = tracker->photos[photo];
    if (of->n_neighbours == 0)
        return NULL;
    for (int p = 0; p < tracker->n_photos; p++) {
        const LfPose *pose = &frame->pose[p];
        const bool tells = lf_tracker_firm(frame, p) && pose->n_good >= TRACKER_BY_GOOD;
        tracker->seen[p] =
            (LfNeighbourSeen){tracker->photos[p]->mark, tells ? &pose->frame_from_photo : NULL,
                              tells ? lf_locate_score(pose) : 0};
    }
    return lf_neighbour_foretell(of->neighbours, of->n_neighbours, tracker->seen, tracker->n_photos,
                                 tracker->lens, predicted);
}

/* Points of the photo that a mapping puts into the frame: whether there are any, and how far on
 * average from where the other mapping has them, a share of the frame's width. */
static bool tracker_in_view(const LfTracker *tracker, int photo, const LfMat3 *frame_from_photo,
                            const LfMat3 *other, double *apart)
{
    const LfLens *lens = tracker->lens;
    const LfPhotoReport *report = &tracker->photos[photo]->report;
    int n = 0;
    *apart = 0;
    for (int i = 0; i < TRACKER_IN_VIEW * TRACKER_IN_VIEW; i++) {
        const LfPoint p = {(i % TRACKER_IN_VIEW + 0.5) / TRACKER_IN_VIEW * report->width,
                           ((double)(i / TRACKER_IN_VIEW) + 0.5) / TRACKER_IN_VIEW *
                               report->height};
        LfPoint at, q;
        if (!lf_mat3_apply(frame_from_photo, p, &at) || at.x < 0 || at.y < 0 ||
            at.x >= lens->width || at.y >= lens->height)
            continue;
        *apart += lf_mat3_apply(other, p, &q) ? hypot(q.x - at.x, q.y - at.y) / lens->width : 1;
        n++;
    }
    *apart /= MAX(n, 1);
    return n > 0;
}

static int tracker_marked(const LfTracker *tracker, uint64_t mark)
{
    for (int p = 0; p < tracker->n_photos; p++)
        if (tracker->photos[p]->mark == mark)
            return p;
    return -1;
}

/* What a photo's pose would be worth where another one has it; 0 where it is not seen there. */
static double tracker_worth_by(LfTracker *tracker, const LfWindowFrame *frame, int photo, int by,
                               LfPose *found)
{
    const LfPhoto *of = tracker->photos[photo];
    LfFollowTask task = lf_tracker_task(tracker, frame, photo);
    const LfNeighbourSeen seen = {tracker->photos[by]->mark, &frame->pose[by].frame_from_photo, 1};
    if (!lf_neighbour_foretell(of->neighbours, of->n_neighbours, &seen, 1, tracker->lens,
                               &task.predicted) ||
        !lf_follow(tracker->follower, &task, true, found) ||
        found->share_good < LF_TRACKER_MIN_SHARE)
        return 0;
    return lf_locate_score(found);
}

/* Whether a photo is rather where the other one has it, `moved`, than where it was found. If they
 * contradict each other either may be wrong, and half of the patches agree with the next facing
 * too: so it is asked which of both is to be moved, if any. */
static bool tracker_believe(LfTracker *tracker, const LfWindowFrame *frame, int photo, int by,
                            double moved)
{
    LfPose other;
    if (!frame->has[photo])
        return moved > 0;
    const double own = lf_locate_score(&frame->pose[photo]);
    const double others = lf_locate_score(&frame->pose[by]);
    return moved + others > TRACKER_BY_NEAR * (own + others) &&
           moved + others >= own + tracker_worth_by(tracker, frame, by, photo, &other);
}

bool lf_tracker_ask_neighbours(LfTracker *tracker, LfWindow *window, int photo)
{
    LfTrackerPhoto *state = &tracker->state[photo];
    const int64_t number = window->end - 1;
    LfWindowFrame *frame = lf_window_at(window, number);
    LfPose *own = &frame->pose[photo], found;
    LfMat3 predicted;
    double apart;
    const LfNeighbour *neighbour = tracker_foretell(tracker, frame, photo, &predicted);
    if (!neighbour)
        return true;
    if (!tracker_in_view(tracker, photo, &predicted,
                         frame->has[photo] ? &own->frame_from_photo : &predicted, &apart))
        return frame->has[photo] || neighbour->views < TRACKER_BY_VIEWS;
    const bool agrees = frame->has[photo] && apart < TRACKER_BY_APART;
    if (number < state->next_by || (agrees && lf_tracker_firm(frame, photo)))
        return true;
    state->next_by = number + TRACKER_BY_WAIT;
    const int by = tracker_marked(tracker, neighbour->by);
    const double moved = tracker_worth_by(tracker, frame, photo, by, &found);
    if (agrees ? moved <= lf_locate_score(own) : !tracker_believe(tracker, frame, photo, by, moved))
        return true;
    LfFollowTask task = lf_tracker_task(tracker, frame, photo);
    lf_locate_against_repeats(tracker->follower, &task, &found);
    *own = found;
    frame->has[photo] = true;
    *state = (LfTrackerPhoto){.following = true, .next_by = state->next_by};
    lf_tracker_fill_back(tracker, window, number, photo);
    return true;
}
