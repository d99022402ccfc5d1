/* The columns every row about a span of a walk begins with. */
#ifndef LF_CLI_EXPORT_HEAD_H
#define LF_CLI_EXPORT_HEAD_H

#include "export_out.h"

/* For columns whose row begins with an LfMeasureHead. */
void export_head_text(GString *cell, const void *row, int which);
void export_head_number(GString *cell, const void *row, int which);

enum { HEAD_WALK, HEAD_PARTICIPANT, HEAD_GROUP, HEAD_SPAN };
enum {
    HEAD_SPAN_NUMBER,
    HEAD_FROM,
    HEAD_TO,
    HEAD_SPAN_S,
    HEAD_KNOWN,
    HEAD_ON_PHOTO,
    HEAD_BLOCKED,
    HEAD_UNKNOWN,
    HEAD_DOUBTFUL,
    HEAD_AWAY,
    HEAD_LOST,
    HEAD_UNCAST
};

/* clang-format off */
#define EXPORT_HEAD_COLUMNS \
    {"walk", "", "name of the walk", export_head_text, HEAD_WALK}, \
    {"participant", "", "who walked, as told when the walk was added", export_head_text, HEAD_PARTICIPANT}, \
    {"group", "", "group of participants, as told when the walk was added", export_head_text, HEAD_GROUP}, \
    {"span", "", "part of the walk: walk for all of it, or the rule that cut it out", export_head_text, HEAD_SPAN}, \
    {"span_number", "count", "of the spans this rule gave in the walk, from 1; 0 where it gave none", export_head_number, HEAD_SPAN_NUMBER}, \
    {"span_from_s", "s", "start of the span, from the start of the walk", export_head_number, HEAD_FROM}, \
    {"span_to_s", "s", "end of the span", export_head_number, HEAD_TO}

#define EXPORT_TIME_COLUMNS \
    {"span_s", "s", "length of the span: known_s + unknown_s", export_head_number, HEAD_SPAN_S}, \
    {"known_s", "s", "time in which it is known what was looked at: on_photo_s + blocked_s", export_head_number, HEAD_KNOWN}, \
    {"on_photo_s", "s", "time of samples that are sure or placed on a photo", export_head_number, HEAD_ON_PHOTO}, \
    {"blocked_s", "s", "time of samples on something in front of a photo", export_head_number, HEAD_BLOCKED}, \
    {"unknown_s", "s", "time about which nothing can be said: doubtful_s + away_s + lost_s + uncast_s", export_head_number, HEAD_UNKNOWN}, \
    {"doubtful_s", "s", "time of samples that are doubtful and not settled", export_head_number, HEAD_DOUBTFUL}, \
    {"away_s", "s", "time of samples on no photo", export_head_number, HEAD_AWAY}, \
    {"lost_s", "s", "time without gaze: blinks, gaps of the recording", export_head_number, HEAD_LOST}, \
    {"uncast_s", "s", "time of samples that are not cast", export_head_number, HEAD_UNCAST}
/* clang-format on */

#endif
