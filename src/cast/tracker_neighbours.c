/* Photos that stand beside each other hold each other in place. */
#include <math.h>

#include "cast/tracker_state.h"

/* A photo that is firm by so many good patches tells where its neighbours are. Asked of each so
 * often, frames, while that leads to nothing. */
#define TRACKER_BY_GOOD 20
#define TRACKER_BY_WAIT 5
/* A neighbour known by fewer views is not believed that the photo is out of the picture. */
#define TRACKER_BY_VIEWS 8
/* Frames between searches for a photo that is hidden where a neighbour so known has it. */
#define TRACKER_BY_SEARCH 50
/* A photo is in view where one of these points, along and across it, is. */
#define TRACKER_IN_VIEW 12

/* Where the firmest of its neighbours has a photo in the frame. */
static bool tracker_foretell(const LfTracker *tracker, const LfWindowFrame *frame, int photo,
                             LfForetold *told)
{
    const LfPhoto *of = tracker->photos[photo];
    if (of->n_neighbours == 0)
        return false;
    for (int p = 0; p < tracker->n_photos; p++) {
        const LfPose *pose = &frame->pose[p];
        const bool tells = lf_tracker_firm(frame, p) && pose->n_good >= TRACKER_BY_GOOD;
        tracker->seen[p] =
            (LfNeighbourSeen){tracker->photos[p]->mark, tells ? &pose->frame_from_photo : NULL,
                              tells ? lf_locate_score(pose) : 0};
    }
    return lf_neighbour_foretell(of->neighbours, of->n_neighbours, tracker->seen, tracker->n_photos,
                                 tracker->lens, told);
}

double lf_tracker_apart(const LfTracker *tracker, int photo, const LfMat3 *frame_from_photo,
                        const LfMat3 *other)
{
    const LfLens *lens = tracker->lens;
    const LfPhotoReport *report = &tracker->photos[photo]->report;
    double sum = 0;
    int n = 0;
    for (int i = 0; i < TRACKER_IN_VIEW * TRACKER_IN_VIEW; i++) {
        const LfPoint p = {(i % TRACKER_IN_VIEW + 0.5) / TRACKER_IN_VIEW * report->width,
                           ((double)(i / TRACKER_IN_VIEW) + 0.5) / TRACKER_IN_VIEW *
                               report->height};
        LfPoint at, q;
        if (!lf_mat3_apply(frame_from_photo, p, &at))
            continue;
        const LfPoint shown = lf_lens_distort(lens, at);
        if (!(shown.x >= 0 && shown.y >= 0 && shown.x < lens->width && shown.y < lens->height))
            continue;
        sum += lf_mat3_apply(other, p, &q) ? hypot(q.x - at.x, q.y - at.y) / lens->width : 1;
        n++;
    }
    return n > 0 ? sum / n : -1;
}

/* What a photo's pose would be worth where another one, `by`, has it; 0 where it is not seen there,
 * and *found is nothing. */
static double tracker_worth_by(LfTracker *tracker, const LfWindowFrame *frame, int photo, int by,
                               LfPose *found)
{
    const LfPhoto *of = tracker->photos[photo];
    const LfNeighbourSeen seen = {tracker->photos[by]->mark, &frame->pose[by].frame_from_photo, 1};
    LfFollowTask task = lf_tracker_task(tracker, frame, photo);
    LfForetold told;
    if (!lf_neighbour_foretell(of->neighbours, of->n_neighbours, &seen, 1, tracker->lens, &told))
        return 0;
    task.predicted = told.frame_from_photo;
    if (!lf_follow(tracker->follower, &task, true, found) ||
        found->share_good < LF_TRACKER_MIN_SHARE)
        return 0;
    return lf_locate_score(found);
}

/* Whether a photo is rather where `by` has it, worth `moved` there, than where it was found. If
 * they contradict each other either may be wrong, and half of the patches agree with the next
 * facing too: so it is asked which of both is to be moved, if any. */
static bool tracker_believe(LfTracker *tracker, const LfWindowFrame *frame, int photo, int by,
                            double moved)
{
    const double own = lf_locate_score(&frame->pose[photo]);
    const double others = lf_locate_score(&frame->pose[by]);
    LfPose other;
    return moved > LF_TRACKER_NEAR * own &&
           moved + others >= own + tracker_worth_by(tracker, frame, by, photo, &other);
}

static void tracker_take(LfTracker *tracker, LfWindow *window, int photo, LfPose *found)
{
    LfTrackerPhoto *state = &tracker->state[photo];
    const int64_t number = window->end - 1;
    LfWindowFrame *frame = lf_window_at(window, number);
    const LfFollowTask task = lf_tracker_task(tracker, frame, photo);
    const bool moved = frame->has[photo];
    lf_locate_against_repeats(tracker->follower, &task, found);
    frame->pose[photo] = *found;
    frame->has[photo] = true;
    *state = (LfTrackerPhoto){.following = true, .next_by = state->next_by};
    lf_tracker_fill_back(tracker, window, number, photo, moved);
}

bool lf_tracker_ask_neighbours(LfTracker *tracker, LfWindow *window, int photo)
{
    LfTrackerPhoto *state = &tracker->state[photo];
    const int64_t number = window->end - 1;
    const LfWindowFrame *frame = lf_window_at(window, number);
    const bool has = frame->has[photo];
    const LfPose *own = &frame->pose[photo];
    LfForetold told;
    LfPose found;
    if (!tracker_foretell(tracker, frame, photo, &told))
        return true;
    const bool known = told.neighbour->views >= TRACKER_BY_VIEWS;
    const double apart = lf_tracker_apart(tracker, photo, &told.frame_from_photo,
                                          has ? &own->frame_from_photo : &told.frame_from_photo);
    if (apart < 0)
        return has || !known;
    const double least = MAX(LF_TRACKER_APART, 3 * told.neighbour->sigma_px / tracker->lens->width);
    const bool agrees = has && apart < least;
    if (number >= state->next_by && !(agrees && lf_tracker_firm(frame, photo))) {
        state->next_by = number + TRACKER_BY_WAIT;
        const double moved = tracker_worth_by(tracker, frame, photo, told.by, &found);
        if (moved > 0 &&
            (!has || (agrees ? moved > lf_locate_score(own)
                             : tracker_believe(tracker, frame, photo, told.by, moved))))
            tracker_take(tracker, window, photo, &found);
    }
    return !agrees && (has || !known || number % TRACKER_BY_SEARCH == 0);
}
