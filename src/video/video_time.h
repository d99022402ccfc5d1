/* The only place where libav's timestamps become walk time, and back.
 *
 * Walk time: integer microseconds, 0 at the file's start_time; LF_NO_TIME where there is none. */
#ifndef LF_VIDEO_TIME_H
#define LF_VIDEO_TIME_H

#include <stdint.h>

#include "video/video_open.h"

/* Which timestamp of the file walk time 0 stands for, microseconds. */
int64_t lf_video_time_zero_us(const AVFormatContext *format);

/* From the time base of the scene video's stream, or of another stream, rounded to the nearest
 * microsecond. */
int64_t lf_video_time_from_stamp(const LfVideoSource *source, int64_t stamp);
int64_t lf_video_time_from_other(const LfVideoSource *source, const AVStream *stream,
                                 int64_t stamp);

/* To the time base of the scene video's stream: the last stamp that is not after t_us (an exact
 * inverse wherever the stream's clock ticks slower than once a microsecond). */
int64_t lf_video_time_to_stamp(const LfVideoSource *source, int64_t t_us);

/* A duration in the time base of the scene video's stream; without one (0 or less) that of a frame
 * at the average rate; 0 where this is unknown too. */
int64_t lf_video_time_duration_us(const LfVideoSource *source, int64_t duration);

/* The time of the frame in the packet: when it is presented, or, where the file says only that,
 * decoded. */
int64_t lf_video_time_of_packet(const LfVideoSource *source, const AVPacket *packet);

#endif
