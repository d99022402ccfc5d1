/* From packets to decoded frames with walk times, and the count of those that are damaged.
 *
 * Damage: every packet sent leaves its time in `waiting`, every frame that comes out takes its own
 * away. A time passed over by later frames, or whose frame the decoder marks as concealed, is a
 * damaged frame. Frames predicted from a damaged one are not marked by libavcodec and are given. */
#include "video/video_decode.h"

#include "video/video_error.h"
#include "video/video_time.h"

bool lf_video_decoder_open(LfVideoDecoder *d, const char *path, int threads, GError **error)
{
    *d = (LfVideoDecoder){.first_us = LF_NO_TIME, .from_us = LF_NO_TIME, .last_us = LF_NO_TIME};
    d->waiting = g_array_new(FALSE, FALSE, sizeof(LfVideoWait));
    if (!lf_video_source_open(&d->source, path, error))
        return false;

    d->context = avcodec_alloc_context3(d->source.codec);
    d->packet = av_packet_alloc();
    d->frame = av_frame_alloc();
    int status = d->context != NULL && d->packet != NULL && d->frame != NULL ? 0 : AVERROR(ENOMEM);
    if (status >= 0)
        status = avcodec_parameters_to_context(d->context, d->source.stream->codecpar);
    if (status >= 0) {
        d->context->pkt_timebase = d->source.stream->time_base;
        d->context->thread_count = MAX(threads, 1);
        status = avcodec_open2(d->context, d->source.codec, NULL);
    }
    if (status >= 0)
        return true;
    lf_video_error_set(error, LF_ERROR_INPUT, status, "%s: its %s video cannot be decoded", path,
                       d->source.info.codec);
    return false;
}

void lf_video_decoder_close(LfVideoDecoder *d)
{
    avcodec_free_context(&d->context);
    av_packet_free(&d->packet);
    av_frame_free(&d->frame);
    lf_video_source_close(&d->source);
    g_clear_pointer(&d->waiting, g_array_unref);
}

void lf_video_decoder_restart(LfVideoDecoder *d, int64_t from_us)
{
    avcodec_flush_buffers(d->context);
    av_frame_unref(d->frame);
    g_array_set_size(d->waiting, 0);
    d->first_us = d->last_us = LF_NO_TIME;
    d->from_us = from_us;
    d->read_status = 0;
}

/* --- times on their way through the decoder --- */

static void video_decode_wait_for(LfVideoDecoder *d, int64_t t_us, bool whole)
{
    const LfVideoWait wait = {t_us, whole};
    guint at = d->waiting->len;

    while (at > 0 && g_array_index(d->waiting, LfVideoWait, at - 1).t_us > t_us)
        at--;
    g_array_insert_val(d->waiting, at, wait);
}

/* Counts the first n times as damaged, where wanted, and forgets them. */
static void video_decode_miss(LfVideoDecoder *d, guint n)
{
    for (guint i = 0; i < n; i++)
        if (g_array_index(d->waiting, LfVideoWait, i).t_us >= d->from_us)
            d->damaged++;
    if (n > 0)
        g_array_remove_range(d->waiting, 0, n);
}

static void video_decode_miss_before(LfVideoDecoder *d, int64_t t_us)
{
    guint n = 0;

    while (n < d->waiting->len && g_array_index(d->waiting, LfVideoWait, n).t_us < t_us)
        n++;
    video_decode_miss(d, n);
}

/* The frame of t_us has come. False where its packet was not whole. */
static bool video_decode_arrive(LfVideoDecoder *d, int64_t t_us)
{
    bool whole = true;

    video_decode_miss_before(d, t_us);
    while (d->waiting->len > 0 && g_array_index(d->waiting, LfVideoWait, 0).t_us == t_us) {
        whole = g_array_index(d->waiting, LfVideoWait, 0).whole;
        g_array_remove_index(d->waiting, 0);
    }
    return whole;
}

int64_t lf_video_decoder_finish(LfVideoDecoder *d)
{
    if (d->waiting->len == 0)
        return 0;
    const int64_t begin_us = g_array_index(d->waiting, LfVideoWait, 0).t_us;
    const int64_t end_us = g_array_index(d->waiting, LfVideoWait, d->waiting->len - 1).t_us;
    video_decode_miss(d, d->waiting->len);
    return end_us - (d->last_us != LF_NO_TIME ? d->last_us : begin_us);
}

/* --- packets --- */

/* Notes the packet's time and prepares it for the decoder; false for one that leads nowhere. */
static bool video_decode_prepare(LfVideoDecoder *d)
{
    const bool key = (d->packet->flags & AV_PKT_FLAG_KEY) != 0;
    const bool decoded_stamps = d->source.stamps == LF_VIDEO_STAMPS_DECODED;
    const int64_t t_us = lf_video_time_of_packet(&d->source, d->packet);

    if (d->first_us == LF_NO_TIME) {
        if (!key || t_us == LF_NO_TIME)
            return false;
        d->first_us = t_us;
    }
    /* Pictures that no other picture needs may be left out on the way to the first frame wanted:
     * that changes nothing in what comes later. */
    d->context->skip_frame = AVDISCARD_DEFAULT;
    if (!decoded_stamps && !key && t_us != LF_NO_TIME && (d->sparse || t_us < d->from_us))
        d->context->skip_frame = AVDISCARD_NONREF;
    if (decoded_stamps)
        d->packet->pts = d->packet->dts; /* comes back with the frame: which packet it was */

    if (t_us != LF_NO_TIME && t_us >= d->first_us && (decoded_stamps || t_us >= d->from_us) &&
        lf_video_source_shows(&d->source, d->packet))
        video_decode_wait_for(d, t_us, (d->packet->flags & AV_PKT_FLAG_CORRUPT) == 0);
    return true;
}

/* Sends one packet, or the end of the file, to the decoder. Returns AVERROR(ENOMEM) or 0: any other
 * failure shows as a frame that never comes out. */
static int video_decode_feed(LfVideoDecoder *d)
{
    int status = 0;

    d->read_status = lf_video_source_read(&d->source, d->packet);
    if (d->read_status < 0)
        return avcodec_send_packet(d->context, NULL) == AVERROR(ENOMEM) ? AVERROR(ENOMEM) : 0;
    if (video_decode_prepare(d))
        status = avcodec_send_packet(d->context, d->packet);
    av_packet_unref(d->packet);
    return status == AVERROR(ENOMEM) ? status : 0;
}

/* --- frames --- */

/* The walk time of the decoded frame, LF_NO_TIME where it has none; *whole as its packet was. */
static int64_t video_decode_time(LfVideoDecoder *d, bool *whole)
{
    const int64_t stamp =
        d->frame->pts != AV_NOPTS_VALUE ? d->frame->pts : d->frame->best_effort_timestamp;
    int64_t t_us = lf_video_time_from_stamp(&d->source, stamp);

    *whole = true;
    if (t_us == LF_NO_TIME)
        return t_us;
    if (d->source.stamps == LF_VIDEO_STAMPS_DECODED) {
        /* Whatever stands before a key frame in the file is shown before it. */
        if (!d->source.reorders || d->frame->key_frame != 0)
            video_decode_miss_before(d, t_us);
        if (d->waiting->len == 0)
            return LF_NO_TIME;
        t_us = g_array_index(d->waiting, LfVideoWait, 0).t_us;
    }
    if (t_us >= d->first_us && t_us >= d->from_us)
        *whole = video_decode_arrive(d, t_us);
    else if (d->source.stamps == LF_VIDEO_STAMPS_DECODED)
        (void)video_decode_arrive(d, t_us);
    return t_us;
}

bool lf_video_decoder_next(LfVideoDecoder *d, int64_t *t_us, bool *good, bool *got, GError **error)
{
    int status = 0;
    bool whole = true;

    *got = *good = false;
    *t_us = LF_NO_TIME;
    while (*t_us == LF_NO_TIME) {
        status = avcodec_receive_frame(d->context, d->frame);
        if (status == AVERROR_EOF)
            return true;
        if (status == 0)
            *t_us = video_decode_time(d, &whole);
        else if (status == AVERROR(EAGAIN))
            status = video_decode_feed(d);
        if (status == AVERROR(ENOMEM)) {
            lf_video_error_set(error, LF_ERROR_MACHINE, status, "%s cannot be decoded further",
                               d->source.path);
            return false;
        }
        /* Any other failure is one frame less. */
    }
    *got = true;
    if (*t_us < d->first_us || *t_us < d->from_us ||
        (d->last_us != LF_NO_TIME && *t_us <= d->last_us))
        return true;
    *good = whole && (d->frame->flags & AV_FRAME_FLAG_CORRUPT) == 0 &&
            d->frame->decode_error_flags == 0;
    if (*good)
        d->last_us = *t_us;
    else
        d->damaged++;
    return true;
}
