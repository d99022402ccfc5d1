/* The only place where libav's timestamps become walk time, and back. */
#include "video/video_time.h"

#include <libavutil/mathematics.h>

static const AVRational VIDEO_TIME_US = {1, 1000000};

int64_t lf_video_time_zero_us(const AVFormatContext *format)
{
    return format->start_time == AV_NOPTS_VALUE ? 0 : format->start_time; /* in AV_TIME_BASE: us */
}

int64_t lf_video_time_from_other(const LfVideoSource *source, const AVStream *stream, int64_t stamp)
{
    if (stamp == AV_NOPTS_VALUE)
        return LF_NO_TIME;
    return av_rescale_q(stamp, stream->time_base, VIDEO_TIME_US) - source->info.stamp_zero_us;
}

int64_t lf_video_time_from_stamp(const LfVideoSource *source, int64_t stamp)
{
    return lf_video_time_from_other(source, source->stream, stamp);
}

int64_t lf_video_time_to_stamp(const LfVideoSource *source, int64_t t_us)
{
    /* Stamps round to t_us from up to half a microsecond after it. */
    const AVRational half_us = {1, 2 * VIDEO_TIME_US.den};
    return av_rescale_q_rnd(2 * (t_us + source->info.stamp_zero_us) + 1, half_us,
                            source->stream->time_base, AV_ROUND_DOWN);
}

int64_t lf_video_time_duration_us(const LfVideoSource *source, int64_t duration)
{
    const AVRational rate = source->stream->avg_frame_rate;

    if (duration > 0)
        return av_rescale_q(duration, source->stream->time_base, VIDEO_TIME_US);
    if (rate.num > 0 && rate.den > 0)
        return av_rescale_q(1, av_inv_q(rate), VIDEO_TIME_US);
    return 0;
}

int64_t lf_video_time_of_packet(const LfVideoSource *source, const AVPacket *packet)
{
    if (source->stamps == LF_VIDEO_STAMPS_PRESENTED && packet->pts != AV_NOPTS_VALUE)
        return lf_video_time_from_stamp(source, packet->pts);
    return lf_video_time_from_stamp(source, packet->dts);
}
