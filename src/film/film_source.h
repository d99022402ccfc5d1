/* Decoded frames of a scene video, ahead of the one who takes them: a thread of its own decodes
 * into a few pictures that go round. All calls are for one thread, that of the taker. */
#ifndef LF_FILM_SOURCE_H
#define LF_FILM_SOURCE_H

#include <lookfall/video.h>

typedef struct FilmSource FilmSource;

typedef struct {
    int64_t t_us;
    LfYuv *film; /* a picture of the film's size; the frame lies in its upper left corner */
} FilmFrame;

/* Frames with from_us <= t < to_us, in pictures of width x height px. */
FilmSource *film_source_new(const char *path, int64_t from_us, int64_t to_us, int width, int height,
                            GError **error);
/* Stops the thread. */
void film_source_free(FilmSource *source);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(FilmSource, film_source_free)

/* Waits for the next frame; NULL at the end without an error. A frame is the taker's until it is
 * given back; frames that are not given back are freed with the source. */
FilmFrame *film_source_take(FilmSource *source, GError **error);
void film_source_give_back(FilmSource *source, FilmFrame *frame);
/* Frames that could not be decoded so far; only after the end. */
int64_t film_source_damaged(const FilmSource *source);

/* Opens a video so that the next frame is the first at from_us or later. */
LfVideo *film_source_open(const char *path, int64_t from_us, int threads, GError **error);

#endif
