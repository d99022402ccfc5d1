/* Going backwards through a video.
 *
 * A window of frames is filled up to the frame already known, worked through from its end to its
 * start, and filled again up to there. */
#include "cast/tie_back.h"

#include "cast/tie_follow.h"

int64_t lf_tie_key(const LfCastWalk *walk, int64_t before_us)
{
    int64_t key_us = walk->chunks[0].key_us;
    for (gsize i = 1; i < walk->n_chunks && walk->chunks[i].key_us < before_us; i++)
        key_us = walk->chunks[i].key_us;
    return key_us;
}

bool lf_tie_load(LfTieBack *back, int64_t key_us, int64_t until_us, GError **error)
{
    lf_window_reset(back->window);
    if (!lf_video_seek(back->video, key_us, key_us, error))
        return false;
    while (true) {
        LfFrame frame;
        bool got;
        g_autoptr(GError) broken = NULL;
        if (!lf_video_next(back->video, &frame, &got, &broken)) {
            if (g_error_matches(broken, LF_ERROR, LF_ERROR_INPUT) && back->window->end > 0)
                return true; /* what comes before the break is good */
            g_propagate_error(error, g_steal_pointer(&broken));
            return false;
        }
        if (!got || (frame.t_us > until_us && back->window->end > 0))
            return true;
        if (!lf_window_push(back->window, frame.t_us, frame.luma, frame.stride)) {
            g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "Not enough memory for video frames.");
            return false;
        }
        if (frame.t_us > until_us)
            return true; /* the first frame of all stands for what comes before it */
        if (back->tick && !back->tick(0, back->tick_data))
            return false;
    }
}

/* What is known of the two frames at the end of a block. */
typedef struct {
    int64_t t_us;
    bool has;
    LfPose pose;
} TieBackKnown;

static void tie_back_know(TieBackKnown *known, const LfWindowFrame *frame)
{
    known->t_us = frame->t_us;
    known->has = frame->has[0];
    if (known->has)
        known->pose = frame->pose[0];
}

static void tie_back_recall(const TieBackKnown *known, LfWindowFrame *frame)
{
    frame->has[0] = known->has;
    if (known->has)
        frame->pose[0] = known->pose;
}

typedef enum { TIE_BACK_ON, TIE_BACK_DONE, TIE_BACK_STOPPED } TieBackEnd;

/* Works through the window from frame `near` back; done at stop_us and where the video begins. */
static TieBackEnd tie_back_block(LfTieBack *back, LfTieCarry *carry, int64_t near, int64_t stop_us,
                                 GArray *maps)
{
    LfWindow *window = back->window;
    int64_t k = near - 1;
    for (; k >= window->first; k--) {
        if (lf_window_at(window, k)->t_us <= stop_us)
            break;
        lf_tie_follow(back->tracker, carry, window, k, -1, true);
        if (back->tick && !back->tick(1, back->tick_data))
            return TIE_BACK_STOPPED;
    }
    const bool stopped = k >= window->first;
    /* Only now, since what slipped was set right later. */
    for (; k + 1 < near; k++) {
        const LfWindowFrame *frame = lf_window_at(window, k + 1);
        LfTieMap map = {frame->t_us, frame->pose[0].frame_from_photo};
        if (frame->has[0])
            g_array_append_val(maps, map);
    }
    return stopped || near == window->first ? TIE_BACK_DONE : TIE_BACK_ON;
}

bool lf_tie_back(LfTieBack *back, const LfTieAnchor *anchor, int64_t stop_us, GArray *maps,
                 GError **error)
{
    g_autofree TieBackKnown *near = g_new0(TieBackKnown, 1), *far = g_new0(TieBackKnown, 1);
    LfTieCarry carry = {.trust = anchor->trust, .settled_us = anchor->t_us};
    bool has_far = false;
    near->t_us = anchor->t_us;
    near->has = true;
    near->pose = anchor->pose;
    while (true) {
        const int64_t until_us = has_far ? far->t_us : near->t_us;
        if (!lf_tie_load(back, lf_tie_key(back->task->walk, near->t_us), until_us, error))
            return false;
        LfWindow *window = back->window;
        const int64_t at = window->end - 1 - has_far;
        LfWindowFrame *frame = lf_window_at(window, at);
        /* Decoding anew gives the same frames, unless the file is damaged around here. */
        if (!frame || frame->t_us != near->t_us)
            return true;
        tie_back_recall(near, frame);
        if (has_far)
            tie_back_recall(far, lf_window_at(window, at + 1));
        const TieBackEnd end = tie_back_block(back, &carry, at, stop_us, maps);
        if (end != TIE_BACK_ON)
            return end == TIE_BACK_DONE;
        tie_back_know(near, lf_window_at(window, window->first));
        tie_back_know(far, lf_window_at(window, window->first + 1));
        has_far = true;
    }
}
