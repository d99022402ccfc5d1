/* Decoding ahead. */
#include "film/film_source.h"

/* One being painted, one decoded and waiting, one being decoded, one to spare. */
enum { FILM_SOURCE_FRAMES = 4 };

struct FilmSource {
    LfVideo *video; /* of the thread while it runs */
    int64_t to_us;
    FilmFrame frames[FILM_SOURCE_FRAMES];
    GAsyncQueue *empty; /* FilmFrame */
    GAsyncQueue *full;  /* FilmFrame, or the source itself at the end */
    GThread *thread;
    int stop;
    GError *error; /* why it ended; written before the end is pushed */
};

LfVideo *film_source_open(const char *path, int64_t from_us, int threads, GError **error)
{
    g_autoptr(LfVideo) video = lf_video_open(path, threads, error);

    if (video == NULL || from_us <= 0)
        return g_steal_pointer(&video);
    g_autoptr(LfVideoIndex) index = lf_video_index_new(path, error);
    if (index == NULL)
        return NULL;
    gsize k = 0;
    while (k + 1 < index->n_keys && index->key_us[k + 1] <= from_us)
        k++;
    if (index->n_keys > 0 && index->key_us[k] <= from_us &&
        !lf_video_seek(video, index->key_us[k], from_us, error))
        return NULL;
    return g_steal_pointer(&video);
}

static bool film_source_decode(FilmSource *s, FilmFrame *into, bool *got)
{
    LfFrame frame;

    if (!lf_video_next(s->video, &frame, got, &s->error))
        return false;
    if (*got && frame.t_us >= s->to_us)
        *got = false;
    if (!*got)
        return true;
    LfYuv part = lf_yuv_part(into->film, 0, 0, frame.width, frame.height);
    if (!lf_video_last_yuv(s->video, &part, &s->error))
        return false;
    into->t_us = frame.t_us;
    into->film->colours = part.colours;
    return true;
}

static gpointer film_source_run(gpointer data)
{
    FilmSource *s = data;
    bool got = true;

    while (got && !g_atomic_int_get(&s->stop)) {
        FilmFrame *frame = g_async_queue_pop(s->empty);
        if (g_atomic_int_get(&s->stop) || !film_source_decode(s, frame, &got))
            break;
        if (got)
            g_async_queue_push(s->full, frame);
    }
    g_async_queue_push(s->full, s);
    return NULL;
}

FilmSource *film_source_new(const char *path, int64_t from_us, int64_t to_us, int width, int height,
                            GError **error)
{
    g_autoptr(FilmSource) s = g_new0(FilmSource, 1);

    s->to_us = to_us;
    s->empty = g_async_queue_new();
    s->full = g_async_queue_new();
    s->video = film_source_open(path, from_us, 1, error);
    if (s->video == NULL)
        return NULL;
    for (int i = 0; i < FILM_SOURCE_FRAMES; i++) {
        s->frames[i].film = lf_yuv_new(width, height);
        if (s->frames[i].film == NULL) {
            g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                        "There is no memory for a film of %d x %d px.", width, height);
            return NULL;
        }
        g_async_queue_push(s->empty, &s->frames[i]);
    }
    s->thread = g_thread_new("film-source", film_source_run, s);
    return g_steal_pointer(&s);
}

void film_source_free(FilmSource *s)
{
    if (s == NULL)
        return;
    if (s->thread != NULL) {
        g_atomic_int_set(&s->stop, 1);
        g_async_queue_push(s->empty, &s->frames[0]); /* wakes it where it waits for one */
        g_thread_join(s->thread);
    }
    for (int i = 0; i < FILM_SOURCE_FRAMES; i++)
        lf_yuv_free(s->frames[i].film);
    g_async_queue_unref(s->empty);
    g_async_queue_unref(s->full);
    lf_video_close(s->video);
    g_clear_error(&s->error);
    g_free(s);
}

FilmFrame *film_source_take(FilmSource *s, GError **error)
{
    gpointer next = g_async_queue_pop(s->full);

    if (next != s)
        return next;
    g_async_queue_push(s->full, s); /* the end stays the end */
    if (s->error != NULL && error != NULL)
        *error = g_error_copy(s->error);
    return NULL;
}

void film_source_give_back(FilmSource *s, FilmFrame *frame)
{
    g_async_queue_push(s->empty, frame);
}

int64_t film_source_damaged(const FilmSource *s)
{
    return lf_video_damaged(s->video);
}
