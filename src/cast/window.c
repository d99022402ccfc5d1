/* A ring of recent frames. */
#include "cast/window.h"

#include <string.h>

LfWindow *lf_window_new(int size, int n_photos, int width, int height)
{
    g_autoptr(LfWindow) window = g_new0(LfWindow, 1);
    window->ring = g_new0(LfWindowFrame, size);
    window->size = size;
    window->n_photos = n_photos;
    window->width = width;
    window->height = height;
    for (int i = 0; i < window->size; i++) {
        LfWindowFrame *frame = &window->ring[i];
        frame->pose = g_try_new(LfPose, n_photos);
        frame->has = g_try_new0(bool, n_photos);
        if ((n_photos > 0 && (!frame->pose || !frame->has)) ||
            !lf_frame_pyramid_init(&frame->pyramid, width, height, LF_FRAME_WORK_WIDTH))
            return NULL;
    }
    return g_steal_pointer(&window);
}

void lf_window_free(LfWindow *window)
{
    if (!window)
        return;
    for (int i = 0; i < window->size; i++) {
        lf_frame_pyramid_clear(&window->ring[i].pyramid);
        g_free(window->ring[i].pose);
        g_free(window->ring[i].has);
    }
    g_free(window->ring);
    g_free(window);
}

void lf_window_reset(LfWindow *window)
{
    window->first = window->end = 0;
}

LfWindowFrame *lf_window_at(LfWindow *window, int64_t number)
{
    if (number < window->first || number >= window->end)
        return NULL;
    return &window->ring[number % window->size];
}

LfWindowFrame *lf_window_push(LfWindow *window, int64_t t_us, const uint8_t *luma, ptrdiff_t stride)
{
    LfWindowFrame *frame = &window->ring[window->end % window->size];
    if (window->end - window->first == window->size)
        window->first++;
    window->end++;
    frame->t_us = t_us;
    memset(frame->has, 0, sizeof(bool) * (gsize)window->n_photos);
    if (!lf_frame_pyramid_fill(&frame->pyramid, luma, stride, window->width, window->height))
        return NULL;
    return frame;
}

bool lf_window_colour(LfWindow *window, const LfChroma *chroma)
{
    LfWindowFrame *newest = lf_window_at(window, window->end - 1);
    return newest && lf_frame_pyramid_fill_tint(&newest->pyramid, chroma);
}
