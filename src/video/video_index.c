/* Where the frames and key frames of a video lie, by reading its packets without decoding.
 *
 * Not counted as frames: what an edit list hides, what comes before the first key frame in the file
 * or is shown before it (it cannot be decoded), what has no time, and a second picture at the same
 * microsecond. Memory: 8 bytes a frame. */
#include <lookfall/video.h>

#include <libavutil/avstring.h>

#include "video/video_error.h"
#include "video/video_open.h"
#include "video/video_time.h"

/* A file is called cut off by its length only when this much of it is missing: recorders round
 * durations, and streams end at slightly different times (common practice). */
enum { VIDEO_INDEX_SLACK_US = 500000, VIDEO_INDEX_SLACK_FRAMES = 4 };

typedef struct {
    LfVideoSource source;
    GArray *frames;           /* int64_t, walk time */
    GArray *keys;             /* int64_t, walk time */
    int64_t first_us;         /* the first key frame's time, also of one that is not shown */
    int64_t last_us;          /* the frame shown last so far */
    int64_t last_duration_us; /* its duration */
    int64_t any_end_us;       /* the end of the longest stream so far */
    gsize n_packets;          /* of the scene video */
    gsize n_timeless;         /* of these without any time */
    bool last_is_short;       /* the packet read last is not whole */
    bool broke_off;           /* reading ended otherwise than at the end of the file */
} VideoIndexScan;

static void video_index_scan_clear(VideoIndexScan *scan)
{
    lf_video_source_close(&scan->source);
    g_clear_pointer(&scan->frames, g_array_unref);
    g_clear_pointer(&scan->keys, g_array_unref);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(VideoIndexScan, video_index_scan_clear)

static gint video_index_compare(gconstpointer a, gconstpointer b)
{
    const int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

static void video_index_sort_unique(GArray *times)
{
    guint kept = 0;

    g_array_sort(times, video_index_compare);
    for (guint i = 0; i < times->len; i++) {
        const int64_t t_us = g_array_index(times, int64_t, i);
        if (kept == 0 || t_us != g_array_index(times, int64_t, kept - 1))
            g_array_index(times, int64_t, kept++) = t_us;
    }
    g_array_set_size(times, kept);
}

static void video_index_note_end(VideoIndexScan *scan, const AVPacket *packet)
{
    const AVStream *stream = scan->source.format->streams[packet->stream_index];
    const int64_t stamp = packet->pts != AV_NOPTS_VALUE ? packet->pts : packet->dts;

    if (stamp != AV_NOPTS_VALUE) {
        const int64_t end_us =
            lf_video_time_from_other(&scan->source, stream, stamp + packet->duration);
        scan->any_end_us = MAX(scan->any_end_us, end_us);
    }
}

static void video_index_note_frame(VideoIndexScan *scan, const AVPacket *packet)
{
    const bool key = (packet->flags & AV_PKT_FLAG_KEY) != 0;
    const int64_t t_us = lf_video_time_of_packet(&scan->source, packet);

    scan->n_packets++;
    if (t_us == LF_NO_TIME) {
        scan->n_timeless++;
        return;
    }
    if (scan->first_us == LF_NO_TIME) {
        if (!key)
            return;
        scan->first_us = t_us;
    }
    if (t_us < scan->first_us || !lf_video_source_shows(&scan->source, packet))
        return;
    g_array_append_val(scan->frames, t_us);
    if (key)
        g_array_append_val(scan->keys, t_us);
    if (scan->last_us == LF_NO_TIME || t_us >= scan->last_us) {
        scan->last_us = t_us;
        scan->last_duration_us = lf_video_time_duration_us(&scan->source, packet->duration);
    }
}

static bool video_index_read(VideoIndexScan *scan, GError **error)
{
    LfVideoSource *s = &scan->source;
    AVPacket *packet = av_packet_alloc();
    int status = packet != NULL ? 0 : AVERROR(ENOMEM);

    while (status >= 0 && (status = lf_video_source_read(s, packet)) >= 0) {
        video_index_note_end(scan, packet);
        scan->last_is_short = (packet->flags & AV_PKT_FLAG_CORRUPT) != 0;
        if (packet->stream_index == s->stream->index)
            video_index_note_frame(scan, packet);
        av_packet_unref(packet);
    }
    av_packet_free(&packet);

    const int io_error = s->format->pb->error;
    if (status == AVERROR(ENOMEM) || (io_error < 0 && io_error != AVERROR_EOF)) {
        lf_video_error_set(error, LF_ERROR_MACHINE, status, "%s cannot be read", s->path);
        return false;
    }
    scan->broke_off = status != AVERROR_EOF;
    return true;
}

/* Whether the container's own list of the stream's frames points beyond the end of the file. */
static bool video_index_points_outside(const LfVideoSource *s)
{
    const int64_t size = avio_size(s->format->pb);
    const int n = avformat_index_get_entries_count(s->stream);

    for (int i = n - 1; size > 0 && i >= 0; i--) {
        const AVIndexEntry *entry = avformat_index_get_entry(s->stream, i);
        if (entry->pos + entry->size > size)
            return true;
    }
    return false;
}

/* Whether clearly less is in the file than its header promises. */
static bool video_index_ends_early(const VideoIndexScan *scan)
{
    const AVFormatContext *format = scan->source.format;
    const double rate = scan->source.info.frame_rate;

    /* An MP4's list of frames is exact and already judged; its durations often are not. Elsewhere,
     * only durations that the file itself states count, not those libavformat estimates. */
    if (av_match_list(format->iformat->name, "mov", ',') != 0 ||
        format->duration_estimation_method != AVFMT_DURATION_FROM_STREAM || format->duration <= 0)
        return false;
    const int64_t slack_us = MAX((int64_t)VIDEO_INDEX_SLACK_US,
                                 rate > 0.0 ? (int64_t)(VIDEO_INDEX_SLACK_FRAMES * 1e6 / rate) : 0);
    /* Some writers count the duration from the first timestamp, some from timestamp 0: the reading
     * that misses less holds. */
    const int64_t reach_us = scan->any_end_us + MAX(scan->source.info.stamp_zero_us, 0);
    return reach_us + slack_us < format->duration; /* AV_TIME_BASE is microseconds */
}

static bool video_index_check(const VideoIndexScan *scan, GError **error)
{
    const char *path = scan->source.path;

    if (scan->n_packets == 0)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s has a video stream, but not one frame in it.", path);
    else if (scan->n_timeless == scan->n_packets)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s does not say when its frames were taken: no frame has a timestamp.", path);
    else if (scan->frames->len == 0)
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s has no frame from which decoding could start (no key frame).", path);
    else
        return true;
    return false;
}

LfVideoIndex *lf_video_index_new(const char *path, GError **error)
{
    g_auto(VideoIndexScan) scan = {.first_us = LF_NO_TIME, .last_us = LF_NO_TIME};

    if (!lf_video_source_open(&scan.source, path, error))
        return NULL;
    /* How far sound and other data reach helps to tell a cut off file from one whose video ends
     * first. MP4 needs no such help and can skip their bytes. */
    if (av_match_list(scan.source.format->iformat->name, "mov", ',') == 0)
        for (unsigned i = 0; i < scan.source.format->nb_streams; i++)
            scan.source.format->streams[i]->discard = AVDISCARD_DEFAULT;

    scan.frames = g_array_new(FALSE, FALSE, sizeof(int64_t));
    scan.keys = g_array_new(FALSE, FALSE, sizeof(int64_t));
    if (!video_index_read(&scan, error) || !video_index_check(&scan, error))
        return NULL;
    video_index_sort_unique(scan.frames);
    video_index_sort_unique(scan.keys);

    /* What is shown first can be decoded even where an edit list hides the key frame before it. */
    const int64_t begin_us = g_array_index(scan.frames, int64_t, 0);
    if (scan.keys->len == 0 || g_array_index(scan.keys, int64_t, 0) > begin_us)
        g_array_prepend_val(scan.keys, begin_us);
    if (scan.source.stamps == LF_VIDEO_STAMPS_DECODED && scan.source.reorders)
        g_array_set_size(scan.keys, 1);

    LfVideoIndex *index = g_new0(LfVideoIndex, 1);
    index->info = scan.source.info;
    index->end_us = scan.last_us + scan.last_duration_us;
    index->cut_off = scan.broke_off || scan.last_is_short ||
                     video_index_points_outside(&scan.source) || video_index_ends_early(&scan);
    index->frame_us = (int64_t *)(void *)g_array_steal(scan.frames, &index->n_frames);
    index->key_us = (int64_t *)(void *)g_array_steal(scan.keys, &index->n_keys);
    return index;
}

void lf_video_index_free(LfVideoIndex *index)
{
    if (index == NULL)
        return;
    g_free(index->frame_us);
    g_free(index->key_us);
    g_free(index);
}
