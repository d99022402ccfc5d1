/* Frames on demand. See desk_video.h. */
#include "desk/desk_video.h"

#include <string.h>

#define FRAMES_MEMORY (192 * 1024 * 1024) /* bytes of decoded frames kept: 60 of 1920 x 1080 */
#define FRAMES_READERS 4                  /* videos kept open */
#define FRAMES_WISHES 12                  /* waiting to be decoded ahead */
#define FRAMES_BEFORE 6                   /* frames before the one asked for that are kept too */
#define FRAMES_THREADS 2                  /* of the decoder */

/* --- videos ----------------------------------------------------------------------------------- */

static void desk_video_clear(gpointer data)
{
    DeskVideo *video = data;
    g_free(video->path);
    lf_video_index_free(video->index);
}

DeskVideo *desk_video_new(int64_t walk, const char *path, LfVideoIndex *index)
{
    DeskVideo *video = g_atomic_rc_box_new0(DeskVideo);
    *video = (DeskVideo){walk, g_strdup(path), index};
    return video;
}

DeskVideo *desk_video_ref(DeskVideo *video)
{
    return g_atomic_rc_box_acquire(video);
}

void desk_video_unref(DeskVideo *video)
{
    g_atomic_rc_box_release_full(video, desk_video_clear);
}

/* The last of ascending times at or before t_us, or the first. */
static gsize desk_video_last_at(const int64_t *times_us, gsize n, int64_t t_us)
{
    gsize low = 0, high = n;
    while (low < high) {
        gsize middle = low + (high - low) / 2;
        if (times_us[middle] <= t_us)
            low = middle + 1;
        else
            high = middle;
    }
    return low > 0 ? low - 1 : 0;
}

gsize desk_video_frame_at(const DeskVideo *video, int64_t t_us)
{
    return desk_video_last_at(video->index->frame_us, video->index->n_frames, t_us);
}

/* --- the worker's own ------------------------------------------------------------------------- */

typedef struct {
    DeskVideo *video;
    LfVideo *reader;
    gsize next;   /* frame it gives next */
    guint64 used; /* when */
    bool asked;   /* the last frame that was asked for came from it */
} FrameReader;

typedef struct {
    int64_t walk, t_us;
    LfYuv *yuv;
    guint64 used;
} FrameKept;

typedef struct {
    DeskVideo *video;
    gsize frame, count;
    DeskCut cut; /* of a frame that was asked for */
    int *cancelled;
    DeskFrameDone done; /* NULL: decoded ahead */
    gpointer data;
    GMainContext *context;
    GBytes *jpeg;
    GError *error;
} FrameWish;

struct DeskFrames {
    GThread *thread;

    GMutex lock;
    GCond wake;
    GQueue asked; /* FrameWish, under the lock */
    GQueue ahead; /* FrameWish, under the lock; newest first */
    bool stop;    /* under the lock */

    /* The worker's alone. */
    FrameReader readers[FRAMES_READERS];
    GArray *kept; /* FrameKept */
    gsize kept_bytes;
    guint64 clock;
};

static void desk_frames_wish_free(gpointer data)
{
    FrameWish *wish = data;
    desk_video_unref(wish->video);
    g_clear_pointer(&wish->jpeg, g_bytes_unref);
    g_clear_error(&wish->error);
    if (wish->context)
        g_main_context_unref(wish->context);
    g_free(wish);
}

static gsize desk_frames_bytes(const LfYuv *yuv)
{
    return (gsize)yuv->stride[0] * (gsize)yuv->height * 3 / 2;
}

static const LfYuv *desk_frames_find(DeskFrames *frames, const DeskVideo *video, gsize frame)
{
    for (guint i = 0; i < frames->kept->len; i++) {
        FrameKept *kept = &g_array_index(frames->kept, FrameKept, i);
        if (kept->walk == video->walk && kept->t_us == video->index->frame_us[frame]) {
            kept->used = ++frames->clock;
            return kept->yuv;
        }
    }
    return NULL;
}

static void desk_frames_drop_oldest(DeskFrames *frames)
{
    guint oldest = 0;
    for (guint i = 1; i < frames->kept->len; i++)
        if (g_array_index(frames->kept, FrameKept, i).used <
            g_array_index(frames->kept, FrameKept, oldest).used)
            oldest = i;
    FrameKept *kept = &g_array_index(frames->kept, FrameKept, oldest);
    frames->kept_bytes -= desk_frames_bytes(kept->yuv);
    lf_yuv_free(kept->yuv);
    g_array_remove_index_fast(frames->kept, oldest);
}

static bool desk_frames_keep(DeskFrames *frames, FrameReader *reader, int64_t t_us, GError **error)
{
    const LfVideoInfo *info = lf_video_info(reader->reader);
    LfYuv *yuv = lf_yuv_new(info->width, info->height);
    if (!yuv) {
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE,
                    "There is no memory for a frame of %d x %d px.", info->width, info->height);
        return false;
    }
    if (!lf_video_last_yuv(reader->reader, yuv, error)) {
        lf_yuv_free(yuv);
        return false;
    }
    const FrameKept kept = {reader->video->walk, t_us, yuv, ++frames->clock};
    g_array_append_val(frames->kept, kept);
    frames->kept_bytes += desk_frames_bytes(yuv);
    while (frames->kept_bytes > FRAMES_MEMORY && frames->kept->len > 1)
        desk_frames_drop_oldest(frames);
    return true;
}

static void desk_frames_close(FrameReader *reader)
{
    g_clear_pointer(&reader->reader, lf_video_close);
    g_clear_pointer(&reader->video, desk_video_unref);
    *reader = (FrameReader){0};
}

/* Whether it is shorter for the reader to go on to the frame than to begin at a key frame. */
static bool desk_frames_near(const FrameReader *reader, gsize frame)
{
    const LfVideoIndex *index = reader->video->index;
    int64_t key_us =
        index->key_us[desk_video_last_at(index->key_us, index->n_keys, index->frame_us[frame])];
    return reader->next <= frame && reader->next > 0 && index->frame_us[reader->next - 1] >= key_us;
}

/* How ill it suits to take a reader: what stands just before the frame is best, then one that is
 * open on the same video, then a free one. Looking ahead leaves alone the reader that frames were
 * last asked from, so that stepping on from there stays cheap. */
static int desk_frames_cost(const FrameReader *reader, const DeskVideo *video, gsize frame,
                            bool ahead)
{
    if (!reader->reader)
        return 3;
    if (reader->video->walk != video->walk || strcmp(reader->video->path, video->path) != 0)
        return reader->asked ? 5 : 4;
    if (desk_frames_near(reader, frame))
        return 0;
    return reader->asked ? (ahead ? 6 : 1) : 2;
}

static FrameReader *desk_frames_reader(DeskFrames *frames, DeskVideo *video, gsize frame,
                                       bool ahead, GError **error)
{
    FrameReader *best = NULL;
    int least = 0;
    for (int i = 0; i < FRAMES_READERS; i++) {
        FrameReader *reader = &frames->readers[i];
        int cost = desk_frames_cost(reader, video, frame, ahead);
        if (!best || cost < least || (cost == least && reader->used < best->used)) {
            best = reader;
            least = cost;
        }
        reader->asked = reader->asked && ahead;
    }
    if (least >= 3 && least < 6) {
        desk_frames_close(best);
        if (!(best->reader = lf_video_open(video->path, FRAMES_THREADS, error)))
            return NULL;
        best->video = desk_video_ref(video);
    }
    best->used = ++frames->clock;
    best->asked = best->asked || !ahead;
    return best;
}

/* Sets the reader so that it gives `frame` or one shortly before it next. */
static bool desk_frames_set(FrameReader *reader, gsize frame, GError **error)
{
    const LfVideoIndex *index = reader->video->index;
    int64_t t_us = index->frame_us[frame];
    int64_t key_us = index->key_us[desk_video_last_at(index->key_us, index->n_keys, t_us)];
    if (desk_frames_near(reader, frame))
        return true;
    gsize from = frame > FRAMES_BEFORE ? frame - FRAMES_BEFORE : 0;
    while (from < frame && index->frame_us[from] < key_us)
        from++;
    reader->next = from;
    return lf_video_seek(reader->reader, key_us, MAX(index->frame_us[from], key_us), error);
}

/* Whether something more urgent waits, or all is to end. */
static bool desk_frames_interrupted(DeskFrames *frames, bool ahead)
{
    g_mutex_lock(&frames->lock);
    bool stop = frames->stop || (ahead && !g_queue_is_empty(&frames->asked));
    g_mutex_unlock(&frames->lock);
    return stop;
}

/* Decodes up to the frame, and keeps it. *yuv is NULL where it was interrupted. A frame that is
 * damaged or missing is stood for by the next one there is. */
static bool desk_frames_decode(DeskFrames *frames, DeskVideo *video, gsize frame, bool ahead,
                               const LfYuv **yuv, GError **error)
{
    FrameReader *reader = desk_frames_reader(frames, video, frame, ahead, error);
    LfFrame luma;
    bool got = true;
    *yuv = NULL;
    if (!reader || !desk_frames_set(reader, frame, error))
        return false;
    while (!desk_frames_interrupted(frames, ahead)) {
        if (!lf_video_next(reader->reader, &luma, &got, error)) {
            desk_frames_close(reader);
            return false;
        }
        if (!got) {
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                        "%s: the frame at %.3f s cannot be decoded.", video->path,
                        (double)video->index->frame_us[frame] / 1e6);
            desk_frames_close(reader);
            return false;
        }
        gsize at = desk_video_frame_at(video, luma.t_us);
        reader->next = at + 1;
        int64_t as_us = at > frame ? video->index->frame_us[frame] : luma.t_us;
        if (at + FRAMES_BEFORE >= frame && !desk_frames_keep(frames, reader, as_us, error))
            return false;
        if (at >= frame) {
            *yuv = desk_frames_find(frames, video, frame);
            return true;
        }
    }
    return true;
}

static GBytes *desk_frames_encode(const LfYuv *yuv, const DeskCut *cut, GError **error)
{
    /* Colour comes in blocks of two by two. */
    int x = cut->x & ~1, y = cut->y & ~1;
    const LfYuv part = lf_yuv_part(yuv, x, y, MIN(cut->width + cut->x - x, yuv->width - x),
                                   MIN(cut->height + cut->y - y, yuv->height - y));
    return lf_jpeg_from_yuv(&part, cut->out_width, cut->out_height, cut->quality, error);
}

static gboolean desk_frames_deliver(gpointer data)
{
    FrameWish *wish = data;
    wish->done(wish->jpeg, wish->error, wish->data);
    return G_SOURCE_REMOVE;
}

static void desk_frames_answer(DeskFrames *frames, FrameWish *wish)
{
    const LfYuv *yuv = NULL;
    if (!g_atomic_int_get(wish->cancelled)) {
        yuv = desk_frames_find(frames, wish->video, wish->frame);
        if (!yuv &&
            !desk_frames_decode(frames, wish->video, wish->frame, false, &yuv, &wish->error))
            yuv = NULL;
        if (yuv)
            wish->jpeg = desk_frames_encode(yuv, &wish->cut, &wish->error);
    }
    g_autoptr(GSource) source = g_idle_source_new();
    g_source_set_priority(source, G_PRIORITY_DEFAULT);
    g_source_set_callback(source, desk_frames_deliver, wish, desk_frames_wish_free);
    g_source_attach(source, wish->context);
}

/* One frame of a wish; true where more of it is left. */
static bool desk_frames_look_ahead(DeskFrames *frames, FrameWish *wish)
{
    g_autoptr(GError) error = NULL; /* whoever asks for the frame will be told */
    const LfYuv *yuv = desk_frames_find(frames, wish->video, wish->frame);
    if (!yuv && !desk_frames_decode(frames, wish->video, wish->frame, true, &yuv, &error))
        return false;
    if (!yuv)
        return true; /* interrupted: again later */
    wish->frame++;
    wish->count--;
    return wish->count > 0 && wish->frame < wish->video->index->n_frames;
}

static gpointer desk_frames_work(gpointer data)
{
    DeskFrames *frames = data;
    g_mutex_lock(&frames->lock);
    while (!frames->stop) {
        FrameWish *asked = g_queue_pop_head(&frames->asked);
        FrameWish *ahead = asked ? NULL : g_queue_pop_head(&frames->ahead);
        if (!asked && !ahead) {
            g_cond_wait(&frames->wake, &frames->lock);
            continue;
        }
        g_mutex_unlock(&frames->lock);
        bool more = false;
        if (asked)
            desk_frames_answer(frames, asked);
        else
            more = desk_frames_look_ahead(frames, ahead);
        g_mutex_lock(&frames->lock);
        if (more)
            g_queue_push_head(&frames->ahead, ahead);
        else if (ahead)
            desk_frames_wish_free(ahead);
    }
    g_mutex_unlock(&frames->lock);
    return NULL;
}

/* --- the other threads' ----------------------------------------------------------------------- */

DeskFrames *desk_frames_new(void)
{
    DeskFrames *frames = g_new0(DeskFrames, 1);
    g_mutex_init(&frames->lock);
    g_cond_init(&frames->wake);
    g_queue_init(&frames->asked);
    g_queue_init(&frames->ahead);
    frames->kept = g_array_new(FALSE, FALSE, sizeof(FrameKept));
    frames->thread = g_thread_new("frames", desk_frames_work, frames);
    return frames;
}

void desk_frames_free(DeskFrames *frames)
{
    if (!frames)
        return;
    g_mutex_lock(&frames->lock);
    frames->stop = true;
    g_cond_signal(&frames->wake);
    g_mutex_unlock(&frames->lock);
    g_thread_join(frames->thread);
    g_queue_clear_full(&frames->asked, desk_frames_wish_free);
    g_queue_clear_full(&frames->ahead, desk_frames_wish_free);
    for (int i = 0; i < FRAMES_READERS; i++)
        desk_frames_close(&frames->readers[i]);
    for (guint i = 0; i < frames->kept->len; i++)
        lf_yuv_free(g_array_index(frames->kept, FrameKept, i).yuv);
    g_array_unref(frames->kept);
    g_mutex_clear(&frames->lock);
    g_cond_clear(&frames->wake);
    g_free(frames);
}

void desk_frames_get(DeskFrames *frames, DeskVideo *video, gsize frame, const DeskCut *cut,
                     int *cancelled, DeskFrameDone done, gpointer data)
{
    FrameWish *wish = g_new0(FrameWish, 1);
    *wish = (FrameWish){.video = desk_video_ref(video),
                        .frame = frame,
                        .cut = *cut,
                        .cancelled = cancelled,
                        .done = done,
                        .data = data,
                        .context = g_main_context_ref_thread_default()};
    g_mutex_lock(&frames->lock);
    g_queue_push_tail(&frames->asked, wish);
    g_cond_signal(&frames->wake);
    g_mutex_unlock(&frames->lock);
}

void desk_frames_ahead(DeskFrames *frames, DeskVideo *video, gsize frame, gsize count, bool soon)
{
    FrameWish *wish = g_new0(FrameWish, 1);
    if (frame >= video->index->n_frames || count == 0) {
        g_free(wish);
        return;
    }
    *wish = (FrameWish){.video = desk_video_ref(video), .frame = frame, .count = count};
    g_mutex_lock(&frames->lock);
    while (g_queue_get_length(&frames->ahead) >= FRAMES_WISHES)
        desk_frames_wish_free(g_queue_pop_tail(&frames->ahead));
    if (soon)
        g_queue_push_head(&frames->ahead, wish);
    else
        g_queue_push_tail(&frames->ahead, wish);
    g_cond_signal(&frames->wake);
    g_mutex_unlock(&frames->lock);
}
