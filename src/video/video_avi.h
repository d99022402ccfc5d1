/* AVI has no timestamps: a frame's time is its place in the file's index. */
#ifndef LF_VIDEO_AVI_H
#define LF_VIDEO_AVI_H

#include <libavformat/avformat.h>

/* Gives an AVI packet the time and key flag that the file's index has for the place it was read
 * from. libavformat counts the packets it meets instead, so that every one lost to damage would
 * make all later ones early. Without an entry for that place the packet stays as it is. */
void lf_video_avi_restamp(const AVStream *stream, AVPacket *packet);

#endif
