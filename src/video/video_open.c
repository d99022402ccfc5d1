/* Opening a video file: the shared beginning of the index and the reader.
 *
 * Only containers that say when each frame is shown are taken: a raw elementary stream has no times
 * (libav would make them up at 25 a second), a still picture is no walk, and a playlist could point
 * anywhere. */
#include "video/video_open.h"

#include <errno.h>
#include <sys/stat.h>

#include <glib/gstdio.h>
#include <libavutil/avstring.h>
#include <libavutil/display.h>

#include "video/video_avi.h"
#include "video/video_error.h"
#include "video/video_rotate.h"
#include "video/video_time.h"

/* Names of libavformat's demuxers, each a container with timestamps. */
static const char VIDEO_OPEN_CONTAINERS[] =
    "mov,matroska,avi,mpegts,mpeg,asf,flv,live_flv,ogg,mxf,nut,ivf,rm,dv,gif,apng,wtv,gxf";

static bool video_open_check_file(const char *path, GError **error)
{
    GStatBuf status;

    if (g_stat(path, &status) != 0) {
        const int reason = errno;
        if (reason == ENOENT || reason == ENOTDIR)
            g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "There is no file %s.", path);
        else
            lf_video_error_set(error, LF_ERROR_INPUT, AVERROR(reason), "%s cannot be read", path);
        return false;
    }
    if (!S_ISREG(status.st_mode)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s is not a file but a folder or a device.",
                    path);
        return false;
    }
    if (status.st_size == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s is empty: the file has no bytes in it.",
                    path);
        return false;
    }
    return true;
}

/* Finds out what the file is by its content; by its name, a text called .mp4 would be a video. */
static const AVInputFormat *video_open_probe(LfVideoSource *s, AVIOContext *io, GError **error)
{
    const AVInputFormat *container = NULL;
    const int status = av_probe_input_buffer2(io, &container, "", NULL, 0, 0);

    if (io->error < 0 && io->error != AVERROR_EOF) {
        lf_video_error_set(error, LF_ERROR_MACHINE, io->error, "%s cannot be read", s->path);
        return NULL;
    }
    if (status < 0 || container == NULL) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s is not a video: its content is of no known kind.", s->path);
        return NULL;
    }
    if (av_match_list(container->name, VIDEO_OPEN_CONTAINERS, ',') == 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s is not a video file that says when its frames were taken (it looks like "
                    "\"%s\"); give an MP4, MOV, MKV or AVI file.",
                    s->path, container->long_name != NULL ? container->long_name : container->name);
        return NULL;
    }
    return container;
}

static bool video_open_container(LfVideoSource *s, GError **error)
{
    /* The prefix keeps libav from reading a name such as "http:..." as an address. */
    g_autofree char *url = g_strconcat("file:", s->path, NULL);
    AVIOContext *io = NULL;
    int status = avio_open(&io, url, AVIO_FLAG_READ);

    if (status < 0) {
        lf_video_error_set(error, LF_ERROR_INPUT, status, "%s cannot be read", s->path);
        return false;
    }
    const AVInputFormat *container = video_open_probe(s, io, error);
    s->format = container != NULL ? avformat_alloc_context() : NULL;
    if (s->format == NULL) {
        if (container != NULL)
            lf_video_error_set(error, LF_ERROR_MACHINE, AVERROR(ENOMEM), "%s cannot be read",
                               s->path);
        avio_closep(&io);
        return false;
    }

    s->format->pb = io; /* from here on closed by lf_video_source_close */
    AVDictionary *options = NULL;
    av_dict_set(&options, "protocol_whitelist", "file", 0);
    status = avformat_open_input(&s->format, url, container, &options);
    av_dict_free(&options);
    if (status < 0) {
        const int io_error = io->error;
        avio_closep(&io); /* a failed avformat_open_input frees the context, not a given pb */
        if (io_error < 0 && io_error != AVERROR_EOF)
            lf_video_error_set(error, LF_ERROR_MACHINE, io_error, "%s cannot be read", s->path);
        else if (av_match_list(container->name, "mov", ',') != 0)
            g_set_error(
                error, LF_ERROR, LF_ERROR_INPUT,
                "%s looks cut off before it was finished: the list of its frames is missing "
                "or incomplete. Copy the file again, or repair it with the recorder's own "
                "software.",
                s->path);
        else
            lf_video_error_set(error, LF_ERROR_INPUT, status,
                               "%s begins like a %s file but cannot be read as one", s->path,
                               container->long_name);
        return false;
    }
    return true;
}

/* libav's choice among several, but never a cover picture. */
static bool video_open_pick_stream(LfVideoSource *s, GError **error)
{
    const int still = AV_DISPOSITION_ATTACHED_PIC | AV_DISPOSITION_TIMED_THUMBNAILS;
    int best = av_find_best_stream(s->format, AVMEDIA_TYPE_VIDEO, -1, -1, NULL, 0);

    if (best < 0 || (s->format->streams[best]->disposition & still) != 0) {
        best = -1;
        for (unsigned i = 0; i < s->format->nb_streams && best < 0; i++) {
            const AVStream *stream = s->format->streams[i];
            if (stream->codecpar->codec_type == AVMEDIA_TYPE_VIDEO &&
                (stream->disposition & still) == 0)
                best = (int)i;
        }
    }
    if (best < 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT, "%s has no video in it%s.", s->path,
                    s->format->nb_streams > 0 ? ", only other kinds of data such as sound" : "");
        return false;
    }
    for (unsigned i = 0; i < s->format->nb_streams; i++)
        if ((int)i != best)
            s->format->streams[i]->discard = AVDISCARD_ALL;
    s->stream = s->format->streams[best];
    s->codec = avcodec_find_decoder(s->stream->codecpar->codec_id);
    if (s->codec == NULL) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s holds %s video, which this machine's libavcodec cannot decode.", s->path,
                    avcodec_get_name(s->stream->codecpar->codec_id));
        return false;
    }
    return true;
}

static bool video_open_fill_info(LfVideoSource *s, GError **error)
{
    const AVCodecParameters *par = s->stream->codecpar;
    size_t matrix_size = 0;
    const uint8_t *matrix =
        av_stream_get_side_data(s->stream, AV_PKT_DATA_DISPLAYMATRIX, &matrix_size);

    if (par->width <= 0 || par->height <= 0) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s has a video stream, but no frame in it can be decoded.", s->path);
        return false;
    }
    if (matrix != NULL && matrix_size < 9 * sizeof(int32_t))
        matrix = NULL;
    if (!lf_video_rotate_from_matrix((const int32_t *)(const void *)matrix, &s->info.rotation)) {
        g_set_error(error, LF_ERROR, LF_ERROR_INPUT,
                    "%s is marked to be shown mirrored, so nothing in it would match a photo; "
                    "convert it to one that is stored as it is shown.",
                    s->path);
        return false;
    }
    const bool upright = s->info.rotation % 180 == 0;
    s->info.width = upright ? par->width : par->height;
    s->info.height = upright ? par->height : par->width;
    s->info.stamp_zero_us = lf_video_time_zero_us(s->format);
    s->info.frame_rate = av_q2d(av_guess_frame_rate(s->format, s->stream, NULL));
    if (s->stream->avg_frame_rate.num > 0 && s->stream->avg_frame_rate.den > 0)
        s->info.frame_rate = av_q2d(s->stream->avg_frame_rate);
    if (!(s->info.frame_rate > 0.0 && s->info.frame_rate < 1e6))
        s->info.frame_rate = 0.0;
    g_strlcpy(s->info.codec, avcodec_get_name(par->codec_id), sizeof s->info.codec);
    return true;
}

bool lf_video_source_open(LfVideoSource *s, const char *path, GError **error)
{
    *s = (LfVideoSource){.path = g_strdup(path)};
    lf_video_error_quiet();
    if (!video_open_check_file(path, error) || !video_open_container(s, error))
        return false;

    const int status = avformat_find_stream_info(s->format, NULL);
    if (status < 0) {
        lf_video_error_set(error, LF_ERROR_INPUT, status, "%s cannot be read as a video", path);
        return false;
    }
    if (!video_open_pick_stream(s, error) || !video_open_fill_info(s, error))
        return false;

    const AVCodecDescriptor *codec = avcodec_descriptor_get(s->stream->codecpar->codec_id);
    const bool may_reorder = codec != NULL && (codec->props & AV_CODEC_PROP_REORDER) != 0;
    s->reorders = may_reorder && s->stream->codecpar->video_delay > 0;
    /* libavformat fills in some of the presentation times that AVI lacks, but not those of
     * reordered frames; all or none is wanted. */
    s->is_avi = strcmp(s->format->iformat->name, "avi") == 0;
    s->stamps = may_reorder && s->is_avi ? LF_VIDEO_STAMPS_DECODED : LF_VIDEO_STAMPS_PRESENTED;
    return true;
}

void lf_video_source_close(LfVideoSource *s)
{
    if (s->format != NULL) {
        AVIOContext *io = s->format->pb;
        avformat_close_input(&s->format);
        avio_closep(&io);
    }
    g_free(s->path);
    *s = (LfVideoSource){0};
}

int lf_video_source_read(LfVideoSource *s, AVPacket *packet)
{
    for (;;) {
        const int status = av_read_frame(s->format, packet);
        if (status < 0) {
            const AVIOContext *io = s->format->pb;
            if (io->error < 0 && io->error != AVERROR_EOF)
                return io->error;
            /* Demuxers report the end of a file that breaks off inside an element in various ways,
             * Matroska's as an input/output error. */
            return io->eof_reached ? AVERROR_EOF : status;
        }
        /* An empty packet stands for "as before"; the decoder would take it for the end. Packets of
         * discarded streams come when they were read ahead while opening. */
        if (packet->size > 0 && s->format->streams[packet->stream_index]->discard < AVDISCARD_ALL) {
            if (s->is_avi && packet->stream_index == s->stream->index)
                lf_video_avi_restamp(s->stream, packet);
            return 0;
        }
        av_packet_unref(packet);
    }
}

bool lf_video_source_shows(const LfVideoSource *s, const AVPacket *packet)
{
    if (packet->stream_index != s->stream->index || (packet->flags & AV_PKT_FLAG_DISCARD) != 0)
        return false;
    /* VP8 has reference pictures that are never shown, as packets of their own: bit 4 of the first
     * byte is show_frame (RFC 6386, section 9.1). */
    if (s->stream->codecpar->codec_id == AV_CODEC_ID_VP8)
        return (packet->data[0] >> 4 & 1) != 0;
    return true;
}
