/* AVI has no timestamps: a frame's time is its place in the file's index. */
#include "video/video_avi.h"

/* An index entry points to a chunk's header (a four-letter code and a 32-bit size), a packet to the
 * data after it. */
enum { VIDEO_AVI_HEADER_BYTES = 8 };

/* The entry at byte `pos` of the file, or NULL; entries lie in the order of the file. */
static const AVIndexEntry *video_avi_find(const AVStream *stream, int64_t pos)
{
    /* libavformat's index is not const-correct: reading changes nothing. */
    AVStream *s = (AVStream *)stream;
    int low = 0, high = avformat_index_get_entries_count(s) - 1;

    while (low <= high) {
        const int middle = low + (high - low) / 2;
        const AVIndexEntry *entry = avformat_index_get_entry(s, middle);
        if (entry->pos == pos)
            return entry;
        if (entry->pos < pos)
            low = middle + 1;
        else
            high = middle - 1;
    }
    return NULL;
}

void lf_video_avi_restamp(const AVStream *stream, AVPacket *packet)
{
    const AVIndexEntry *entry = video_avi_find(stream, packet->pos - VIDEO_AVI_HEADER_BYTES);

    if (entry == NULL || packet->dts == AV_NOPTS_VALUE || entry->timestamp == packet->dts)
        return;
    if (packet->pts != AV_NOPTS_VALUE)
        packet->pts += entry->timestamp - packet->dts;
    packet->dts = entry->timestamp;
    packet->flags = (entry->flags & AVINDEX_KEYFRAME) != 0 ? packet->flags | AV_PKT_FLAG_KEY
                                                           : packet->flags & ~AV_PKT_FLAG_KEY;
}
